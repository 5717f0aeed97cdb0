"""B: earth, chassis and hull are no conductors of load current."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from ...dsl.model import Device
from ..bonding import (
    earth_reach,
    ends_of,
    passed,
    span_of,
    way_between,
    wire_names,
)
from ..findings import WARNING
from ..network import Edge, carries
from ..registry import Hit, rule
from ..trace import GROUNDED, UNGROUNDED, ModeView, Stage, wanted


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
        for device, terminal in suspects:
            node = view.wiring.node(device.name, terminal)
            if node not in through or through[node]:
                yield _returned(view, device, terminal)


def _returns_in_earth(view: ModeView) -> list[tuple[Device, str]]:
    """Return terminals that are joined to earth, on purpose or not: (device, terminal)."""
    reach, node = earth_reach(view), view.wiring.node
    return [
        (device, terminal)
        for device in view.wiring.rig.devices.values()
        for terminal in _returns(view, device)
        if view.net[node(device.name, terminal)] in reach
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


def _returned(view: ModeView, device: Device, terminal: str) -> Hit:
    wires = wire_names(view, device.name, terminal)
    direct = wanted(terminal) == "-"
    bar = "negative bar" if direct else "neutral bar"
    node = view.wiring.node(device.name, terminal)
    return Hit(
        on=(*wires, device.name, *_far(view, wires, device.name)),
        span=span_of(view, wires[0] if wires else device.name),
        mode=view.name,
        severity=WARNING if direct else "",
        message=f"{device.name}.{terminal} returns over earth: {_landing(view, wires)}",
        fix=f"move the return of {device.name} to the {bar} that belongs to its feed",
        why=_to_earth(view, node),
    )


def _far(view: ModeView, wires: tuple[str, ...], device: str) -> tuple[str, ...]:
    return tuple(n for wire in wires for n in ends_of(view, wire) if n != device)


def _landing(view: ModeView, wires: tuple[str, ...]) -> str:
    if not wires:
        return "it is joined to earth inside"
    conductor = view.wiring.rig.conductors[wires[0]]
    return f"{conductor.name} runs from {conductor.a.name} to {conductor.b.name}"


def _to_earth(view: ModeView, node: int) -> tuple[str, ...]:
    """The way from a return terminal to the nearest earth device, or to a PE terminal."""
    kinds, names = view.wiring.kinds, view.wiring.names
    reached = view.network.walk([node])
    earths = [n for n in reached if kinds[names[n][0]].acts == "earth"]
    earths += [n for n in reached if wanted(names[n][1]) == "PE"]
    return way_between(view, node, earths[0]) if earths else ()
