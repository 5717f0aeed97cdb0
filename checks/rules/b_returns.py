"""B: earth, chassis and hull are no conductors of load current."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from ...dsl.model import Device
from ..findings import WARNING, Related
from ..registry import Hit, rule
from ..tracing.across import Way, culprits, way
from ..tracing.bonding import (
    earth_reach,
    ends_of,
    joints,
    listed,
    passed,
    span_of,
    way_between,
    wire_names,
)
from ..tracing.network import POLE, Edge, carries
from ..tracing.trace import EARTH, GROUNDED, UNGROUNDED, ModeView, Stage, wanted

Return = tuple[Device, str, int]
"""A device, its return terminal, and that terminal's node."""


@rule(
    "B12",
    "earth-as-neutral",
    clauses={
        "nfpa70": "NFPA 70 250.4(A)(5), 250.142(B), 551.54(C) (from memory)",
        "abyc-e11": "ABYC E-11, no return through hull or bonding system (from memory)",
        "iec60364": "IEC 60364-5-54 543.4, 60364-7-721 (from memory)",
    },
    yields_to=("B04",),
)
def earth_as_neutral(stage: Stage) -> Iterator[Hit]:
    """The return of a circuit goes over protective earth, the chassis or the hull.

    Why: cases and chassis then carry load current and stand off earth by its voltage drop; where
    the path opens, at line voltage.  On direct current it corrodes and heats what was no conductor.
    Breaks it: a neutral core on the earth bar; a two-wire load with PE as its neutral; a pump's
    negative on the nearest chassis bolt (on direct current a warning).
    Does not: every return on the neutral or negative bar, the chassis tied to it once.
    """
    for view in stage.modes:
        suspects = _returns_in_earth(view)
        if not suspects:
            continue
        starts = [s.nodes[s.grounded] for s in view.live.values()]
        through = passed(view.network, starts, _touching_earth(view))
        astray = [row for row in suspects if row[2] not in through or through[row[2]]]
        crossings = set(joints(view, {view.net[row[2]] for row in astray})) if astray else set()
        parts = view.network.groups(edge for edge in view.network.edges if edge not in crossings)
        groups: dict[int, list[Return]] = {}
        for row in astray:
            groups.setdefault(parts[row[2]], []).append(row)
        for part, group in groups.items():
            ends = [e for e in crossings if part in (parts[e.a], parts[e.b])]
            yield _returned(view, group, tuple(sorted({edge.owner for edge in ends})))


def _returns_in_earth(view: ModeView) -> list[Return]:
    """Return terminals that are joined to earth, on purpose or not."""
    reach = earth_reach(view)
    return [
        (device, terminal, node)
        for device in view.wiring.rig.devices.values()
        for terminal in _returns(view, device)
        if view.net[node := view.wiring.node(device.name, terminal)] in reach
    ]


def _touching_earth(view: ModeView) -> Callable[[Edge], bool]:
    """Whether an edge has an end on a chassis, a hull or an electrode."""
    kinds, names = view.wiring.kinds, view.wiring.names
    earths = {node for node, (device, _) in enumerate(names) if kinds[device].acts == "earth"}
    return lambda edge: edge.a in earths or edge.b in earths


def _returns(view: ModeView, device: Device) -> list[str]:
    """The return terminals of a device whose line or positive is live."""
    if not carries(device):
        return []
    terminals = view.takes(device.name)
    if device.kind == "socket":
        terminals = view.wiring.variants[device.name].terminals
    roles = {t: wanted(t) for t in terminals}
    lines = [t for t, role in roles.items() if role in UNGROUNDED]
    if not any(view.roles_at(device.name, t) for t in lines):
        return []
    return [t for t, role in roles.items() if role in GROUNDED]


def _returned(view: ModeView, group: list[Return], crossing: tuple[str, ...]) -> Hit:
    device, terminal, node = group[0]
    crossing = crossing or wire_names(view, device.name, terminal)
    names = [row[0].name for row in group]
    ends = [name for owner in crossing for name in ends_of(view, owner)]
    direct = wanted(terminal) == "-"
    openers = _openers(view, [row[2] for row in group], crossing)
    return Hit(
        on=tuple(dict.fromkeys((*crossing, *names, *ends, *openers))),
        span=span_of(view, crossing[0] if crossing else device.name),
        mode=view.name,
        severity=WARNING if direct else "",
        message=f"{listed(names)}: the return goes over earth{_landing(view, crossing)}",
        fix=_homeward(view, group[0], crossing),
        why=_to_earth(view, node),
        related=tuple(Related(row[0].span, "returns this way too") for row in group[1:4]),
    )


def _homeward(view: ModeView, row: Return, crossing: tuple[str, ...]) -> str:
    """Which end of the one conductor to move where; else in general."""
    device, terminal, node = row
    side = "minus" if wanted(terminal) == "-" else "neutral"
    lines = [t for t in view.wiring.variants[device.name].terminals if wanted(t) in UNGROUNDED]
    feeds = [name for t in lines for name in view.sources(device.name, t)]
    run = view.wiring.rig.conductors.get(crossing[0]) if len(crossing) == 1 else None
    if run is None or not feeds:
        return f"move the return to the {side} of what feeds {device.name}"
    inside = view.network.walk([node], lambda edge: edge.owner != run.name)
    ends = [end for end in (run.a, run.b) if view.wiring.find(end.device, end.terminal) in inside]
    earth = run.other(ends[0]) if len(ends) == 1 else run.a
    place = _beside_the_line(view, device.name, lines) or f"the {side} of {feeds[0]}"
    return f"move {run.name} from {earth.name} to {place}"


def _beside_the_line(view: ModeView, user: str, lines: list[str]) -> str:
    """The neutral terminal, left empty, of the device that a user's line comes from."""
    wiring = view.wiring
    for terminal in lines:
        for wire in wire_names(view, user, terminal):
            run = wiring.rig.conductors[wire]
            opener = run.b.device if run.a.device == user else run.a.device
            for end in wiring.rig.devices[opener].terminals:
                edges = view.network.neighbours[wiring.node(opener, end.name)]
                if wanted(end.name) == "N" and all(edge.kind == POLE for edge in edges):
                    return f"{opener}.{end.name}"
    return ""


def _openers(view: ModeView, nodes: list[int], crossing: tuple[str, ...]) -> list[str]:
    """The devices that open these conductors: what they open is earth because of the crossing."""
    reached = view.network.walk(nodes, lambda edge: edge.owner not in crossing)
    poles = (e for node in reached for e in view.network.neighbours[node] if e.kind == POLE)
    return sorted({edge.owner for edge in poles})


def _landing(view: ModeView, crossing: tuple[str, ...]) -> str:
    conductors = [view.wiring.rig.conductors.get(name) for name in crossing]
    runs = [f"{c.name} runs from {c.a.name} to {c.b.name}" for c in conductors if c]
    return f"; {listed(runs)}" if runs else ""


def _to_earth(view: ModeView, node: int) -> tuple[str, ...]:
    """The way from a return terminal to the nearest earth device, or to a PE terminal."""
    kinds, names = view.wiring.kinds, view.wiring.names
    reached = view.network.walk([node])
    earths = [n for n in reached if kinds[names[n][0]].acts == "earth"]
    earths += [n for n in reached if wanted(names[n][1]) == "PE"]
    return way_between(view, node, earths[0]) if earths else ()


@rule(
    "B19",
    "line-terminal-on-earth",
    clauses={
        "nfpa70": "NFPA 70 250.119, 200.11 (from memory)",
        "iec60364": "IEC 60364-5-54 543.4 (from memory)",
        "": "common practice, no published source",
    },
    yields_to=("B04", "B10", "S15"),
)
def line_terminal_on_earth(stage: Stage) -> Iterator[Hit]:
    """The line or plus terminal of something that is fed lies on protective earth.

    All that lies there because of one conductor is one finding.
    Why: it does nothing, and whoever searches for the missing feed and brings it to the same bar
    shorts the supply to the chassis.
    Breaks it: the feed of a line bar landed on the earth bar; line and earth core exchanged at a
    breaker whose line is dead.
    Does not: a line on earth while it is live, a short circuit (see S15).
    """
    for view in stage.modes:
        found: dict[str, list[int]] = {}
        for node, steps in _lines_on_earth(view):
            suspects = culprits(view, steps, (EARTH,), UNGROUNDED)
            if suspects:
                found.setdefault(suspects[0], []).append(node)
        for conductor, nodes in found.items():
            yield _on_earth(view, conductor, nodes)


def _lines_on_earth(view: ModeView) -> Iterator[tuple[int, Way]]:
    """The line nodes of what is fed that lie on earth and are not live, with the way there."""
    wiring = view.wiring
    earths = {name for name, kind in wiring.kinds.items() if kind.acts == "earth"}
    roots = [node for node, (device, _) in enumerate(wiring.names) if device in earths]
    for node, (device, _) in enumerate(wiring.names):
        net, kind = view.net[node], wiring.kinds[device]
        if net not in view.earth_nets or kind.acts not in ("load", "outlet", "converter"):
            continue
        if wanted(wiring.kind_name(node)) in UNGROUNDED and not view.roles.get(net):
            steps = next((s for root in roots if (s := way(view, root, node))), [])
            if steps:
                yield node, steps


def _on_earth(view: ModeView, conductor: str, nodes: list[int]) -> Hit:
    names = list(dict.fromkeys(view.wiring.names[node][0] for node in nodes))
    run = view.wiring.rig.conductors[conductor]
    openers = _openers(view, nodes, (conductor,))
    return Hit(
        on=tuple(dict.fromkeys((conductor, *names, run.a.device, run.b.device, *openers))),
        span=run.span,
        mode=view.name,
        message=f"{conductor} puts the line of {listed(names)} on earth: it runs from {run.a.name} "
        f"to {run.b.name}",
        fix=f"land {conductor} on the line that is to feed {listed(names)}",
        why=_to_earth(view, nodes[0]),
        related=tuple(
            Related(view.wiring.rig.devices[name].span, "fed from earth") for name in names[:3]
        ),
    )
