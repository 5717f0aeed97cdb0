"""Further classes the oracle decides: ties to the chassis, bars, returns, inlets, outlets."""

from __future__ import annotations

from collections.abc import Iterator
from math import inf

from ferrule.dsl.model import Rig

from .figures import allowed, narrowest
from .net import LINES, OPENING, OVERCURRENT, Net, Source

LOADS = ("load", "lamp", "motor", "heater")
THINNEST_TIE = 2.4  # mm2; NFPA 70 551.56(C) 8 AWG, IEC 60364-7-721 4 mm2, ABYC more (from memory)


def _earths(net: Net) -> list[str]:
    return [f"{d.name}.{d.terminals[0].name}" for d in net.devices.values() if d.kind == "earth"]


def untied(net: Net) -> Iterator[str]:
    """A chassis that the battery's negative, or the earth of what is on board, does not reach."""
    starts = _earths(net)
    if not starts:
        return
    ends = {n for start in starts for n in net.reach(start)}
    joined = ends | {
        n
        for bond in net.bonds
        for one, two in ((net.end(bond, 0), net.end(bond, 1)),)
        if {one, two} & ends
        for end in (one, two)
        for n in net.reach(end)
    }
    for source in net.sources:
        kind = net.devices[source.name].kind
        if kind == "battery" and source.nodes["-"] not in joined and _lowest(net, source):
            yield f"{source.name}.- is not joined to the chassis"
    for device in net.devices.values():
        live = any(
            f"{device.name}.L" in net.reach(s.nodes["L"])
            for s in net.sources
            if s.ac and "L" in s.nodes
        )
        if device.kind in (*LOADS, "socket") and device.terminal("PE") and live:
            apart = net.devices.values()
            if f"{device.name}.PE" not in ends and not any(d.flag("separated") for d in apart):
                yield f"{device.name}.PE is not joined to the chassis"


def _lowest(net: Net, source: Source) -> bool:
    """Whether no other battery's plus lies on this one's minus."""
    minus = net.reach(source.nodes["-"])
    return not any(s.nodes["+"] in minus for s in net.sources if "+" in s.nodes)


def joined_twice(net: Net) -> Iterator[str]:
    """Two bonds from one negative to the chassis."""
    for source in net.sources:
        if "-" not in source.nodes:
            continue
        minus = net.reach(source.nodes["-"])
        bonds = [b.name for b in net.bonds if minus & {net.end(b, 0), net.end(b, 1)}]
        if len(bonds) > 1:
            yield f"{source.name}: bonds {bonds}"


def thin_tie(rig: Rig, nets: list[Net]) -> Iterator[str]:
    """A conductor from a bar to the chassis thinner than any book takes."""
    for wire in nets[0].wires.values():
        kinds = {nets[0].devices[e.device].kind for e in (wire.a, wire.b)}
        if kinds == {"bus", "earth"} and wire.size and wire.size.mm2 < THINNEST_TIE:
            yield f"{wire.name}: {wire.size.mm2} mm2"


def bar_too_small(net: Net) -> Iterator[str]:
    """A bar that one feed can load above its rating, and what it feeds can take."""
    for bar in net.devices.values():
        rating = bar.number("rating")
        if bar.kind != "bus" or not rating:
            continue
        node = f"{bar.name}.{bar.terminals[0].name}"
        for source in net.sources:
            for start in source.lines().values():
                ways = net.paths(start, node)
                fed = max((narrowest(net, source, way) for way in ways), default=0.0)
                if fed > rating and len(ways) == 1 and _taken(net, bar.name, ways[0]) > rating:
                    yield f"{bar.name}: {fed} A on {rating} A"


def _taken(net: Net, bar: str, way: list) -> float:
    """What the first devices behind a bar let it give, A."""
    passed = {edge.name for edge in way} - {bar}
    names = {t.name for t in net.devices[bar].terminals}
    seen, todo, total = {f"{bar}.{n}" for n in names}, [f"{bar}.{n}" for n in names], 0.0
    while todo:
        for other, edge in net.near.get(todo.pop(), ()):
            device = net.devices.get(edge.name)
            if other in seen or edge.name in passed:
                continue
            seen.add(other)
            if device and device.kind in OVERCURRENT:
                total += device.number("rating") or inf
            else:
                todo.append(other)
    return total


def return_too_thin(net: Net) -> Iterator[str]:
    """A return that all the current of one circuit takes, thinner than its line's device asks."""
    for device in net.devices.values():
        if device.kind not in LOADS:
            continue
        for line, back in (("L", "N"), ("+", "-")):
            if not (device.terminal(line) and device.terminal(back)):
                continue
            for source in net.sources:
                if line not in source.lines():
                    continue
                there = net.paths(source.nodes[line], f"{device.name}.{line}")
                home = net.paths(source.back(), f"{device.name}.{back}")
                if len(there) == len(home) == 1:
                    amps = narrowest(net, source, there[0])
                    for edge in home[0]:
                        wire = net.wires.get(edge.name)
                        if wire and amps != inf and amps > allowed(net.rig, wire):
                            yield f"{wire.name}: {amps} A come back through it"


def backfed(net: Net) -> Iterator[str]:
    """The pins of an inlet, or a source that is off, live from inside."""
    for device in net.devices.values():
        lines = [t.name for t in device.terminals if t.name in LINES]
        if device.kind == "inlet":
            for line in lines:
                pin = f"{device.name}.{line}!"
                for source in net.sources:
                    for start in source.lines().values():
                        if (
                            source.ac
                            and pin in net.reach(start)
                            and pin not in net.reach(start, without=(device.name,))
                        ):
                            yield f"{pin} is live from {source.name}"
        off = device.kind in ("supply", "generator") and net.state(device) == "off"
        if off and any(net.live(f"{device.name}.{line}") for line in lines):
            yield f"{device.name} is off and live"


def no_residual(net: Net) -> Iterator[str]:
    """A socket of the mains without a 30 mA device (IEC 60364-4-41 411.3.3, -7-721)."""
    if net.rig.book != "iec60364":
        return
    fine = [
        d.name
        for d in net.devices.values()
        if 0 < (d.number("rcd") or d.number("gfci") or 0) <= 0.03
    ]
    for source in net.sources:
        if not source.ac or net.devices[source.name].flag("separated"):
            continue
        for device in net.devices.values():
            for role, start in source.lines().items():
                node = f"{device.name}.{role}"
                if role != "L" and device.terminal(role) is None:
                    node = f"{device.name}.L"
                if device.kind == "socket" and node in net.reach(start, without=fine):
                    yield f"{device.name} has none"


def one_pole_only(net: Net) -> Iterator[str]:
    """An overcurrent device that opens one pole behind a plug that goes in either way."""
    for source in net.sources:
        if not net.devices[source.name].flag("unpolarised") or "L" not in source.nodes:
            continue
        live = net.reach(source.nodes["L"])
        for device in net.devices.values():
            ends = {f"{device.name}.{t.name}" for t in device.terminals}
            if device.kind in OPENING and len(ends) == 2 and ends & live:
                yield f"{device.name} opens one pole"


OF_A_RIG = {"tie too thin": thin_tie}
OF_A_MODE = {
    "chassis untied": untied,
    "negative joined twice": joined_twice,
    "bar too small": bar_too_small,
    "return too thin": return_too_thin,
    "live from inside": backfed,
    "residual device missing": no_residual,
    "one pole only": one_pole_only,
}
