"""B: protective earth reaches everything that can become live, and the bond of what feeds it."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Device
from ..findings import Related
from ..registry import Hit, rule
from ..tracing.bonding import (
    ac_sources,
    bond_earths,
    bond_ends,
    bonds_of,
    earth_reach,
    exposed,
    holds_neutral,
    line_sources,
    listed,
    neutral_net,
    passed,
    span_of,
    way_between,
    wires_at,
)
from ..tracing.network import PLUG, Edge
from ..tracing.trace import EARTH, LINES, ModeView, Source, Stage


@rule(
    "B10",
    "earth-missing",
    clauses={
        "nfpa70": "NFPA 70 551.54, 551.55, 250.110 (from memory)",
        "abyc-e11": "ABYC E-11, grounding conductor to every exposed part (from memory)",
        "iec60364": "IEC 60364-4-41 411.3.1.1 (from memory)",
    },
    yields_to=("B04", "D02"),
)
def earth_missing(stage: Stage) -> Iterator[Hit]:
    """A protective earth terminal that reaches no earth.

    Why: at the first fault inside, the case takes the line's voltage and stays there; nothing
    opens, because no current flows until somebody touches it.
    Breaks it: a two-core cable to a socket; an earth core not landed; a metal panel, an inverter
    or an inlet whose PE is left empty; a break in a chain, for all behind it; a line landed on PE.
    Does not: every PE joined to the earth bar; a double insulated load (`class2`), which has none.
    """
    members = _panels(stage)
    for view in stage.modes:
        reach = earth_reach(view)
        cut: dict[int, list[tuple[Device, str]]] = {}
        for device, terminal in _needing(view, members):
            node = view.wiring.node(device.name, terminal)
            net = view.net[node]
            landed = bool(view.network.neighbours[node])
            if not landed or (net not in reach and not holds_neutral(view, net)):
                cut.setdefault(net, []).append((device, terminal))
        for group in cut.values():
            yield _missing(view, group)


def _panels(stage: Stage) -> dict[str, list[Device]]:
    """The devices in each panel."""
    members: dict[str, list[Device]] = {}
    for device in stage.rig.devices.values():
        if device.panel is not None:
            members.setdefault(device.panel, []).append(device)
    return members


def _needing(view: ModeView, members: dict[str, list[Device]]) -> Iterator[tuple[Device, str]]:
    """Everything that needs protective earth in this mode: (device, its PE terminal)."""
    for device, terminal, sources in exposed(view):
        if not _all_separated(view, sources):
            yield device, terminal
    for device in view.wiring.rig.devices.values():
        for terminal in view.wiring.variants[device.name].pe:
            on_line = bool(_line_on(view, device, terminal))
            if on_line or (
                device.kind == "panel" and _has_line(view, members.get(device.name, []))
            ):
                yield device, terminal


def _line_on(view: ModeView, device: Device, terminal: str) -> tuple[str, ...]:
    """The sources whose line lies on a PE terminal that is joined to no earth."""
    if view.net[view.wiring.node(device.name, terminal)] in view.earth_nets:
        return ()
    return line_sources(view, device.name, [terminal])


def _all_separated(view: ModeView, sources: tuple[str, ...]) -> bool:
    return all(view.live[name].device.flag("separated") for name in sources)


def _has_line(view: ModeView, devices: list[Device]) -> bool:
    return any(view.role(d.name, t.name) in LINES for d in devices for t in d.terminals)


def _missing(view: ModeView, group: list[tuple[Device, str]]) -> Hit:
    device, terminal = group[0]
    names = list(dict.fromkeys(d.name for d, _ in group))
    live = _line_on(view, device, terminal)
    node = view.wiring.node(device.name, terminal)
    own = wires_at(view, node)
    bars = [] if live else _bars(view, view.net[node])
    return Hit(
        on=tuple(dict.fromkeys((*(own[:1] if live else bars[:1]), *names, *own))),
        span=span_of(view, (*(own if live else bars), device.name)[0]),
        mode=view.name,
        message=f"the protective earth of {listed(names)} "
        + (f"is on the line of {listed(live)}" if live else "reaches no earth"),
        fix=f"join {listed(bars)} to the earth of what feeds it, and to the chassis"
        if bars
        else _earthing(view, device, terminal, own, bool(live)),
        why=_how_far(view, device, terminal),
        related=tuple(Related(d.span, "on the same cut-off earth") for d, _ in group[1:4]),
    )


def _bars(view: ModeView, net: int) -> list[str]:
    """The bars on a net."""
    names = {n for node, (n, _) in enumerate(view.wiring.names) if view.net[node] == net}
    return sorted(n for n in names if view.wiring.kinds[n].acts == "distribution")


def _earthing(view: ModeView, device: Device, terminal: str, own: list[str], live: bool) -> str:
    """How the earth gets to one case: by a core that is exchanged, or by a new run."""
    here = f"{device.name}.{terminal}"
    if live and own:
        conductors = view.wiring.rig.conductors
        cable = view.wiring.rig.cables.get(conductors[own[0]].cable or "")
        mates = [core for core in cable.cores if core != own[0]] if cable else []
        earth = next((c for c in mates if view.conductor_role(c) == EARTH), "")
        return (
            f"exchange {own[0]} and {earth} at {device.name}"
            if earth
            else f"take {own[0]} off {here}, and bring the earth there, beside line and neutral"
        )
    return f"run protective earth from the earth bar to {here}, beside its line and neutral"


def _how_far(view: ModeView, device: Device, terminal: str) -> tuple[str, ...]:
    node = view.wiring.node(device.name, terminal)
    reached = [view.wiring.say(n) for n in view.network.walk([node])]
    if len(reached) == 1:
        return (f"nothing is landed on {reached[0]}",)
    return (f"{reached[0]} is joined to {listed(reached[1:], most=6)}, and to no earth",)


@rule(
    "B11",
    "earth-not-to-bond",
    clauses={
        "nfpa70": "NFPA 70 250.4(A)(5) (from memory)",
        "abyc-e11": "ABYC E-11, grounding conductor back to the source (from memory)",
        "iec60364": "IEC 60364-4-41 411.4.2 (from memory)",
    },
    yields_to=("B04", "B07", "B08", "B10"),
)
def earth_not_to_bond(stage: Stage) -> Iterator[Hit]:
    """Protective earth reaches the chassis or an electrode, but not the bond of what feeds it.

    Why: fault current can return only where neutral and earth are joined.  Through soil or water
    it is too small to open a breaker; the whole chassis then stands at line voltage.
    Breaks it: the shore's earth core left off to stop corrosion; an inverter's PE not on the bar.
    Does not: an isolating transformer that ends the shore's earth and has a bond of its own.
    """
    for view in stage.modes:
        reach = earth_reach(view)
        earths = {
            source.name: {view.net[node] for node in bond_earths(view, source)}
            for source in ac_sources(view)
        }
        found: dict[tuple[str, int], list[str]] = {}
        for device, terminal, sources in exposed(view):
            net = view.net[view.wiring.node(device.name, terminal)]
            for name in sources:
                if net in reach and earths[name] and net not in earths[name]:
                    found.setdefault((name, net), []).append(device.name)
        for (name, net), devices in found.items():
            yield _astray(view, view.live[name], net, devices)


def _astray(view: ModeView, source: Source, net: int, devices: list[str]) -> Hit:
    head = _head(view, net)
    bond = bonds_of(view, source)[0]
    earth = view.wiring.say(bond_earths(view, source)[0])
    wires = (wire for node in bond_earths(view, source) for wire in wires_at(view, node))
    return Hit(
        on=tuple(dict.fromkeys((source.name, head, *devices[:1], *wires))),
        span=span_of(view, devices[0]),
        mode=view.name,
        message=f"the protective earth of {listed(devices)} reaches {head}, and not the earth of "
        f"{source.name}, which feeds it",
        fix=f"join the earth bar to {earth}, with the protective earth beside the feeding line",
        why=(
            f"the neutral of {source.name} meets earth at {earth} ({bond.owner})",
            f"{head} and {earth} are not joined",
        ),
        related=(Related(source.device.span, "fed from here"),),
    )


def _head(view: ModeView, net: int) -> str:
    """A name for an earth net: an earth device in it, else a bar, else its first device."""
    best: dict[str, str] = {}
    for node, (device, _) in enumerate(view.wiring.names):
        if view.net[node] == net:
            best.setdefault(view.wiring.kinds[device].acts, device)
    return best.get("earth") or best.get("distribution") or next(iter(best.values()))


@rule(
    "B13",
    "earth-through-plug",
    clauses={
        "nfpa70": "NFPA 70 250.124(A) (from memory)",
        "abyc-e11": "ABYC E-11, grounding path continuous (from memory)",
        "iec60364": "IEC 60364-5-54 543.3.3 (from memory)",
    },
    yields_to=("B04", "B10", "B11", "S01", "S02"),
)
def earth_through_plug(stage: Stage) -> Iterator[Hit]:
    """Protective earth comes through a plug that does not carry the line as well.

    Why: pull the plug and the case loses its earth while the line stays on; nothing shows it.
    Breaks it: a fixed heater that borrows its earth from a socket; an inverter's circuits earthed
    over the shore's cord alone.
    Does not: a plug that opens line, neutral and earth together; a fixed earth beside it.
    """
    for view in stage.modes:
        if not any(edge.kind == PLUG for edge in view.network.edges):
            continue
        found: dict[tuple[str, ...], list[str]] = {}
        for source in ac_sources(view):
            if neutral_net(view, source) in view.earth_nets:
                continue  # earth runs over the neutral as well: B04 says so
            earth = passed(view.network, _own_earths(view, source), _plug)
            plugged = [
                (device, passes)
                for device, terminal, sources in exposed(view)
                if (passes := earth.get(view.wiring.node(device.name, terminal)))
                and source.name in sources
            ]
            lines = _line_plugs(view, source) if plugged else {}
            for device, passes in plugged:
                nodes = (view.wiring.node(device.name, t.name) for t in device.terminals)
                also = frozenset[str]().union(*(lines[n] for n in nodes if n in lines))
                if passes - also:
                    found.setdefault(tuple(sorted(passes - also)), []).append(device.name)
        for plugs, devices in found.items():
            yield _plugged(view, plugs, devices)


def _line_plugs(view: ModeView, source: Source) -> dict[int, frozenset[str]]:
    """The plugs a source's lines pass on their way to every node."""
    return passed(view.network, [source.nodes[role] for role in source.lines], _plug)


def _own_earths(view: ModeView, source: Source) -> list[int]:
    """The earth of a source's own bond; where it has none inside, that of every bond it has."""
    points = bonds_of(view, source)
    own = [point for point in points if point.owner == source.name] or points
    return [bond_ends(view, source, point)[1] for point in own]


def _plug(edge: Edge) -> bool:
    return edge.kind == PLUG


def _plugged(view: ModeView, plugs: tuple[str, ...], devices: list[str]) -> Hit:
    device = view.wiring.rig.devices[devices[0]]
    node = view.wiring.node(device.name, view.wiring.variants[device.name].pe[0])
    inside = view.wiring.node(plugs[0], view.wiring.variants[plugs[0]].pe[0])
    return Hit(
        on=tuple(dict.fromkeys((devices[0], *plugs, *devices))),
        span=device.span,
        mode=view.name,
        message=f"the earth of {listed(devices)} comes through the plug at {listed(plugs)}, "
        "and the line does not",
        fix="run a fixed protective earth conductor beside the line",
        why=way_between(view, inside, node),
        related=(Related(span_of(view, plugs[0]), "pulled here, the earth is gone"),),
    )
