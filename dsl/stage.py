"""One stage after another: what the statements of each do to what is there, and the whole of it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from . import declare, devices, edit
from .items import Given
from .kinds import kinds
from .model import Conductor, Device, Panel
from .problems import listed
from .records import replace
from .site import Site
from .source import Spoiled, Statement

Act = Callable[[Site, Statement], None]
RUNS: dict[str, Act] = dict.fromkeys(("wire", "cable", "link", "bond"), declare.run)


def phases() -> tuple[dict[str, Act], ...]:
    """What is done first and what later; within a phase, statements are taken in text order."""
    return (
        {"remove": edit.remove},
        {"part": declare.part},
        {"place": declare.place, "route": declare.place},
        {"panel": declare.panel},
        {kind: declare.device for kind in kinds() if kind != "panel"},
        {"change": edit.change},
        RUNS,
        {"move": edit.move, "change": edit.change_run},
        {"mode": declare.mode},
        {"accept": declare.accept},
        {"revision": declare.revision},
    )


def apply(site: Site, statements: Iterable[Statement | Spoiled]) -> None:
    """Applies the statements of one stage, whatever their order in the text."""
    groups: dict[str, list[tuple[int, Statement]]] = {}
    for order, statement in enumerate(statements):
        if isinstance(statement, Spoiled):
            site.spoiled.add(statement.name)
        else:
            groups.setdefault(statement.word, []).append((order, statement))
    site.laid = {str(s.name) for word in RUNS for _, s in groups.get(word, ())}
    for phase in phases():
        rows = [row for word in phase for row in groups.get(word, ())]
        for _, statement in sorted(rows, key=lambda row: row[0]):
            phase[statement.word](site, statement)
    _same_modes(site, [s for _, s in groups.get("mode", ())])
    site.check_joined()
    _check_ways(site)
    site.devices.update(landed_on_joints(site.devices, site.conductors.values()))


def _same_modes(site: Site, statements: list[Statement]) -> None:
    first: dict[str, Statement] = {}
    for statement in statements:
        other = first.setdefault(str(statement.name), statement)
        if other is not statement and statement.name:
            where = f"first declared at {other.span}"
            span = statement.at(statement.name)
            site.problem(span, f"the name {statement.name} is taken", "a name of its own", where)


def check_landings(site: Site) -> None:
    """Conductors of earlier stages whose device this stage has replaced or changed."""
    for run in site.runs.values():
        for end in (end for pair in run.ends for end in pair):
            if end.device in site.devices:
                site.check_end(end)


def _check_ways(site: Site) -> None:
    taken: dict[tuple[str, int], Device] = {}
    for device in site.devices.values():
        if device.panel is None:
            continue
        panel = site.panels.get(device.panel)
        if panel is not None:
            _check_ways_of(site, device, panel, taken)
        elif site.unknown(device.panel):
            hint = site.elsewhere(device.panel, site.panels)
            what = f"{device.name} stands in {device.panel}, which is not there"
            site.problem(device.span_of("at"), what, "a panel", hint)


def _check_ways_of(
    site: Site, device: Device, panel: Panel, taken: dict[tuple[str, int], Device]
) -> None:
    span = device.span_of("at")
    if panel.name in site.spoiled or not device.ways:
        return
    takes = f"{device.name} takes {_ways(device)} of {panel.name}"
    if any(not 1 <= way <= panel.ways for way in device.ways):
        what = f"{takes}, which has ways 1 to {panel.ways}"
        site.problem(span, what, _free(site, panel, device))
        return
    others = [taken.setdefault((panel.name, way), device) for way in device.ways]
    other = next((o for o in others if o is not device), None)
    if other:
        what = f"{takes}, where {other.name} has {_ways(other)}"
        site.problem(span, what, _free(site, panel, device), f"{other.name} is at {other.span}")


def _ways(device: Device) -> str:
    first, last = device.ways[0], device.ways[-1]
    return f"way {first}" if first == last else f"ways {first}-{last}"


def _free(site: Site, panel: Panel, but: Device) -> str:
    used = {
        w for d in site.devices.values() if d.panel == panel.name and d is not but for w in d.ways
    }
    free = [str(w) for w in range(1, panel.ways + 1) if w not in used]
    return "free ways: " + listed(free) if free else "the panel is full"


def landed_on_joints(there: Mapping[str, Device], wires: Iterable[Conductor]) -> dict[str, Device]:
    """The devices, with the terminals on joints that conductors end on: a joint has no others."""
    used: dict[str, dict[str, None]] = {n: {} for n, d in there.items() if d.kind == "joint"}
    for conductor in wires if used else ():
        for end in (conductor.a, conductor.b):
            if end.device in used:
                used[end.device][end.terminal] = None
    kind = kinds()["joint"]
    landed = dict(there)
    for name, names in used.items():
        device = landed[name]
        attrs = {**device.attrs, "terminals": ("",)}
        like = devices.terminals(kind, replace(kind.variants[0], terminals=("",)), Given(attrs))[0]
        landings = tuple(replace(like, name=n) for n in names)
        landed[name] = replace(device, terminals=landings)
    return landed
