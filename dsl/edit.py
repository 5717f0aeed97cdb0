"""What a later stage does to what is there: remove, move, change."""

from __future__ import annotations

from . import conductors, declare
from .conductors import Run
from .items import Given
from .model import End, Span
from .problems import listed
from .records import replace
from .site import Site
from .source import Statement


def remove(site: Site, statement: Statement) -> None:
    """``remove NAME…``; conductors that end on a removed device stay, with that end unlanded."""
    for token in statement.tokens[1:]:
        name = str(token)
        if name in site.drafts or name in site.runs:
            site.gone[name] = statement.at(token)
            _drop(site, name)
        elif site.unknown(name):
            hint = site.elsewhere(name, [*site.drafts, *site.runs])
            expected = "a device, panel or conductor that is there"
            site.problem(statement.at(token), f"there is no {name} to remove", expected, hint)


def _drop(site: Site, name: str) -> None:
    site.drafts.pop(name, None)
    site.devices.pop(name, None)
    site.panels.pop(name, None)
    site.cables.pop(name, None)
    site.conductors.pop(name, None)
    run = site.runs.pop(name, None)
    for core in range(1, len(run.ends) + 1 if run else 1):
        site.conductors.pop(f"{name}/{core}", None)


def move(site: Site, statement: Statement) -> None:
    """``move CONDUCTOR END -> END``: lifts an end off one terminal, lands it on another."""
    token = statement.tokens[1]
    name, _, core = token.partition("/")
    run = site.runs.get(name)
    if run is None:
        if site.unknown(name):
            hint = site.elsewhere(name, site.runs)
            what = f"there is no conductor {name} to move"
            site.problem(statement.at(token), what, "a wire, cable, link or bond", hint)
        return
    froms = list(conductors.ends(statement, statement.ends))
    tos = list(conductors.ends(statement, statement.far))
    if len(froms) != 1 or len(tos) != 1:
        form = "move CONDUCTOR DEVICE.TERMINAL -> DEVICE.TERMINAL"
        site.problem(statement.span, "a move lifts one end at a time", form)
        return
    old = _end_of(site, run, core, froms[0], statement.at(token))
    if old:
        site.check_end(tos[0])
        declare.put_run(site, conductors.moved(run, old, tos[0]))


def _end_of(site: Site, run: Run, core: str, end: End, span: Span) -> End | None:
    """The end of a run that lies on a terminal; a problem where none or several do."""
    rows = run.ends
    if core:
        number = int(core[:4])
        if run.word != "cable" or not 1 <= number <= len(rows):
            has = (
                f"cores 1 to {len(rows)}" if run.word == "cable" else f"{run.name} is a {run.word}"
            )
            site.problem(span, f"{run.name} has no core {core[:4]}", has)
            return None
        rows = (rows[number - 1],)
    there = [e for pair in rows for e in pair if e.name == end.name]
    if len(there) > 1:
        hint = f"name the core, like {run.name}/1"
        site.problem(end.span, f"several ends of {run.name} lie on {end.name}", "one core", hint)
    elif not there and run.name not in site.spoiled:
        ends = listed(e.name for pair in rows for e in pair)
        site.problem(end.span, f"{run.name} does not end on {end.name}", f"one of its ends: {ends}")
    return there[0] if len(there) == 1 else None


def change(site: Site, statement: Statement) -> None:
    """``change NAME item…`` of anything but a conductor: its new items stand over the old ones."""
    name = str(statement.name)
    if name in site.panels or name in site.drafts:
        draft = site.drafts[name]
        given = site.given(statement, draft.kind).over(draft.given)
        label = statement.text_of_label() or draft.label
        put = declare.put_panel if name in site.panels else declare.put_device
        put(site, replace(draft, given=given, label=label))
    elif name in site.places or name in site.routes:
        _change_place(site, statement, name)
    elif not _is_run(site, name) and site.unknown(name):
        known = [*site.drafts, *site.runs, *site.places, *site.routes]
        span = statement.at(statement.name) if statement.name else statement.span
        expected = "a device, conductor, panel, place or route that is there"
        site.problem(span, f"there is no {name} to change", expected, site.elsewhere(name, known))


def _is_run(site: Site, name: str) -> bool:
    return name in site.runs or name in site.laid


def _change_place(site: Site, statement: Statement, name: str) -> None:
    shelf = site.places if name in site.places else site.routes
    old = shelf[name]
    given = site.given(statement, "place").over(Given(dict(old.attrs), dict(old.attr_spans)))
    label = statement.text_of_label() or old.label
    shelf[name] = replace(old, attrs=given.attrs, attr_spans=given.spans, label=label)


def change_run(site: Site, statement: Statement) -> None:
    """``change NAME item…`` of a wire, cable, link or bond."""
    run = site.runs.get(str(statement.name))
    if run:
        given = site.given(statement, "conductor").over(run.given)
        site.check_routes(given)
        site.check_entries(given)
        label = statement.text_of_label() or run.label
        declare.put_run(site, replace(run, given=given, label=label))
