"""What a statement adds to the rig: a part, a place, a panel, a device, conductors, a mode."""

from __future__ import annotations

from sys import intern

from . import conductors, devices
from .complaints import KEYWORDS
from .conductors import Run
from .devices import Draft
from .items import Given
from .kinds import kinds
from .model import Accept, Device, Mode, Panel, Part, Place, Revision, Setting
from .problems import did_you_mean, listed
from .site import Site
from .source import Statement
from .units import Bad


def part(site: Site, statement: Statement) -> None:
    """``part NAME KIND item…``; it may start from a part above it."""
    name, kind = str(statement.name), str(statement.items[0])
    if kind not in kinds():
        site.spoiled.add(name)
        expected, hint = "one of: " + listed(kinds(), 40), did_you_mean(kind, kinds())
        site.problem(
            statement.at(statement.items[0]), f"`{kind}` is no kind of device", expected, hint
        )
        return
    del statement.items[0]
    given = site.given(statement, kind)
    if not given.sound or given.part in site.spoiled:
        site.spoiled.add(name)
    if site.is_free(statement, site.parts):
        full = devices.with_part(Draft(kind, name, "", given, statement.span), site.parts)
        site.parts[name] = Part(name, "", full.attrs, statement.span, full.spans, kind)


def place(site: Site, statement: Statement) -> None:
    """``place NAME LABEL item…`` and ``route NAME LABEL item…``."""
    given = site.given(statement, "place")
    if site.is_free(statement, site.places, site.routes, site.panels):
        shelf = site.places if statement.word == "place" else site.routes
        name, label = str(statement.name), statement.text_of_label()
        shelf[name] = Place(name, label, given.attrs, statement.span, given.spans, statement.word)


def panel(site: Site, statement: Statement) -> None:
    """``panel NAME LABEL ways=N item…``."""
    given = site.given(statement, "panel")
    if site.is_free(statement, site.panels, site.places, site.routes, site.drafts, site.runs):
        name, label = str(statement.name), statement.text_of_label()
        put_panel(site, Draft("panel", name, label, given, statement.span))


def put_panel(site: Site, draft: Draft) -> None:
    """Puts up a panel, new or changed; a metal one is a device too."""
    given = devices.with_part(draft, site.parts)
    ways = given.attrs.get("ways")
    if not isinstance(ways, int):
        if given.sound:
            site.problem(draft.span, f"how many ways has the panel {draft.name}?", "ways=N")
        site.spoiled.add(draft.name)
        ways = 1
    where = _place_of_panel(site, given)
    site.drafts[draft.name] = draft
    site.panels[draft.name] = Panel(
        draft.name, draft.label, given.attrs, draft.span, given.spans, ways, where
    )
    if not given.attrs.get("metal"):
        site.devices.pop(draft.name, None)
    else:
        kind = kinds()["panel"]
        variant = kind.choose(given.attrs)
        landings = devices.terminals(kind, variant, given)
        site.devices[draft.name] = Device(
            draft.name, draft.label, given.attrs, draft.span, given.spans,
            "panel", variant.name, landings, where,
        )  # fmt: skip


def _place_of_panel(site: Site, given: Given) -> str | None:
    name = str(given.attrs.get("at", ""))
    if name in site.places:
        return name
    if name and site.unknown(name):
        expected, hint = "one of: " + listed(site.places), did_you_mean(name, site.places)
        site.problem(given.spans["at"], f"there is no place `{name}`", expected, hint)
    return None


def device(site: Site, statement: Statement) -> None:
    """``KIND NAME LABEL? item…``."""
    given = site.given(statement, statement.word)
    if site.is_free(statement, site.drafts, site.runs):
        name, label = intern(str(statement.name)), statement.text_of_label()
        put_device(site, Draft(statement.word, name, label, given, statement.span))


def put_device(site: Site, draft: Draft) -> None:
    """Puts up a device, new or changed."""
    site.drafts[draft.name] = draft
    if not draft.given.sound or not _part_fits(site, draft):
        _spoil(site, draft)
        return
    try:
        built = devices.build(draft, site.parts, site.places, site.panels)
        site.count(len(built.terminals))
        site.devices[draft.name] = built
    except devices.Nowhere as bad:
        _spoil(site, draft)
        if site.unknown(bad.place):
            site.bad(draft.given.spans.get("at", draft.span), bad)
    except Bad as bad:
        _spoil(site, draft)
        site.bad(draft.span, bad)


def _spoil(site: Site, draft: Draft) -> None:
    """A device that cannot be put up is known by name, so that nothing follows from it."""
    site.spoiled.add(draft.name)
    site.devices.pop(draft.name, None)


def _part_fits(site: Site, draft: Draft) -> bool:
    name = draft.given.part
    known = site.parts.get(name)
    if name in site.spoiled or known is None or known.kind == draft.kind:
        return name not in site.spoiled
    site.problem(
        draft.given.part_span or draft.span,
        f"the part {name} is a {known.kind}, {draft.name} is a {draft.kind}",
        f"a part of kind {draft.kind}",
        f"{name} is declared at {known.span}",
    )
    return False


def run(site: Site, statement: Statement) -> None:
    """``wire``, ``cable``, ``link`` and ``bond``."""
    given = site.given(statement, "conductor")
    if not site.is_free(statement, site.drafts, site.runs, site.panels):
        return
    name = str(statement.name)
    try:
        pairs = conductors.pairs(statement)
    except Bad as bad:
        site.spoiled.add(name)
        site.bad(statement.span, bad)
        return
    for a, b in pairs:
        site.check_end(a)
        site.check_end(b)
    site.check_routes(given)
    site.check_entries(given)
    put_run(
        site, Run(statement.word, name, statement.text_of_label(), given, pairs, statement.span)
    )


def put_run(site: Site, new: Run) -> None:
    """Lays a run of conductors, new or changed."""
    site.runs[new.name] = new
    if not new.given.sound:
        site.spoiled.add(new.name)
        return
    try:
        made, cable = conductors.make(new)
    except Bad as bad:
        site.spoiled.add(new.name)
        site.bad(new.given.spans.get(bad.about, new.span), bad)
        return
    site.conductors.update((conductor.name, conductor) for conductor in made)
    if cable:
        site.cables[new.name] = cable


def mode(site: Site, statement: Statement) -> None:
    """``mode NAME LABEL? { DEVICE=STATE … }``; a later stage's replaces an earlier one."""
    settings: dict[str, Setting] = {}
    for token in statement.items:
        name, _, state = token.partition("=")
        span = statement.at(token)
        if name not in site.drafts and site.unknown(name):
            site.no_device(name, span)
        if name in settings:
            site.problem(span, f"the mode {statement.name} sets {name} twice", "one state a device")
        settings[name] = Setting(name, state, span)
    name = str(statement.name)
    site.modes[name] = Mode(
        name, statement.text_of_label(), tuple(settings.values()), statement.span
    )


def revision(site: Site, statement: Statement) -> None:
    """``revision NAME LABEL attr…``: a line of the table of revisions, from this stage on."""
    given = site.given(statement, "revision")
    if site.is_free(statement, site.revisions):
        name, label = str(statement.name), statement.text_of_label()
        site.revisions[name] = Revision(name, label, given.attrs, statement.span, given.spans)


def accept(site: Site, statement: Statement) -> None:
    """``accept RULE on NAME because LABEL``."""
    for token, word in ((statement.tokens[2], "on"), (statement.tokens[4], "because")):
        if token != word:
            form = f"its form is: {KEYWORDS['accept']}"
            site.problem(statement.at(token), f"`{token}` does not belong here", f"`{word}`", form)
    rule, _, on = (str(token) for token in statement.tokens[1:4])
    site.accepts.append(Accept(rule, on, statement.text_of_label(), statement.span))
