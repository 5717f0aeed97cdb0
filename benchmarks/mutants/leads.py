"""Classes the oracle decides about ratings of leads and devices, and about what uses what."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from math import inf

from ferrule.dsl.model import Conductor, Rig

from .figures import narrowest
from .net import LINES, OVERCURRENT, Net

USERS = ("load", "lamp", "motor", "heater", "socket")
STRONG = ("supply", "generator", "battery")
CONVERTERS = ("inverter", "charger", "dcdc", "transformer")
# Thinner than this no book has a fixed conductor of the mains, mm2: NFPA 70 310.3(A) 14 AWG,
# IEC 60364-5-52 table 52.2 1.5 mm2, ABYC E-11 16 AWG (from memory).
THINNEST = {"nfpa70": 2.0, "iec60364": 1.45, "abyc-e11": 1.25}


def device_too_small(net: Net) -> Iterator[str]:
    """A switch, changeover or residual-current device that one way to it can overload."""
    for device in net.devices.values():
        rating = device.number("rating")
        if device.kind not in ("switch", "contactor", "selector", "rcd") or not rating:
            continue
        for source in net.sources:
            for start in source.lines().values():
                for terminal in device.terminals:
                    node = f"{device.name}.{terminal.name}"
                    ways = net.paths(start, node, without=(device.name,))
                    if len(ways) == 1 and terminal.name in ("1", "a-L", "a-L1", "b-L", "a", "b"):
                        let = narrowest(net, source, ways[0])
                        behind = _taken(net, device.name, node)
                        if rating < 0.99 * min(let, behind) and let != inf:
                            yield f"{device.name}: {rating} A behind {let} A"


def _taken(net: Net, name: str, near: str) -> float:
    """What lies behind a device lets it carry, A: the first devices there, or anything at all."""
    seen = {near}
    todo = [near]
    for edge in net.edges:
        if edge.name == name and near in (edge.a, edge.b):
            todo = [edge.b if edge.a == near else edge.a]
            break
    else:
        return 0.0
    seen |= set(todo)
    total = 0.0
    while todo:
        at = todo.pop()
        for other, edge in net.near.get(at, ()):
            if other in seen or edge.name == name:
                continue
            seen.add(other)
            found = net.devices.get(edge.name)
            if found and found.kind in OVERCURRENT:
                total += found.number("rating") or inf
            else:
                todo.append(other)
    return total


def main_above_inlet(net: Net) -> Iterator[str]:
    """All that is directly behind an inlet of the mains is rated above it."""
    over = [d.name for d in net.devices.values() if d.kind in OVERCURRENT]
    for inlet in net.devices.values():
        rating = inlet.number("rating")
        if inlet.kind != "inlet" or not rating or inlet.terminal("+"):
            continue
        line = next(t.name for t in inlet.terminals if t.name in LINES)
        node = f"{inlet.name}.{line}"
        if not any(s.ac and node in net.reach(n) for s in net.sources for n in s.lines().values()):
            continue
        cell = net.reach(node, without=(*over, inlet.name))
        first = [
            d
            for d in net.devices.values()
            if d.kind in OVERCURRENT
            and any(f"{d.name}.{t.name}" in cell for t in d.terminals)
        ]
        ratings = [d.number("rating") or 0.0 for d in first]
        if ratings and min(ratings) > 1.05 * rating:
            yield f"{inlet.name}: {rating} A before {min(ratings)} A"


def below_minimum(net: Net) -> Iterator[str]:
    """A fixed line of the mains thinner than its book's smallest."""
    least = THINNEST.get(net.rig.book, 0.0)
    live = {n for s in net.sources if s.ac for x in s.lines().values() for n in net.reach(x)}
    for wire in net.wires.values():
        cord = wire.flag("cord") or wire.flag("plug")
        if wire.size and wire.size.mm2 < least and not cord and net.end(wire, 0) in live:
            yield f"{wire.name}: {wire.size.text}"


def _place(net: Net, wire: Conductor) -> frozenset[str]:
    """What a conductor joins, a bar as a whole."""
    ends = []
    for which, end in enumerate((wire.a, wire.b)):
        bar = net.devices[end.device].kind == "bus"
        ends.append(end.device if bar else net.end(wire, which))
    return frozenset(ends)


def unlike_beside(net: Net) -> Iterator[str]:
    """Two live conductors between the same two places, of different size or length."""
    live = {n for s in net.sources for x in s.lines().values() for n in net.reach(x)}
    sized = [w for w in net.wires.values() if w.size and w.kind != "bond"]
    by_place: dict[frozenset[str], list[Conductor]] = {}
    for wire in sized:
        if net.end(wire, 0) in live:
            by_place.setdefault(_place(net, wire), []).append(wire)
    for place, wires in by_place.items():
        for one, two in combinations(wires, 2):
            assert one.size and two.size
            unlike = abs(one.size.mm2 / two.size.mm2 - 1) > 0.05 or one.length_m != two.length_m
            if len(place) == 2 and unlike:
                yield f"{one.name} beside {two.name}"


def output_above(net: Net) -> Iterator[str]:
    """What limits itself gives more than the only device in its lead holds."""
    over = [d.name for d in net.devices.values() if d.kind in OVERCURRENT]
    for source in net.sources:
        device = net.devices[source.name]
        if device.kind not in ("alternator", "charger", "dcdc") or not source.limit:
            continue
        posts = [f"{d.name}.+" for d in net.devices.values() if d.kind == "battery"]
        if not net.reach(source.nodes["+"]).intersection(posts):
            continue  # what it feeds takes what it takes
        cell = net.reach(source.nodes["+"], without=over)
        held, others = 0.0, False
        for other in net.devices.values():
            ends = {f"{other.name}.{t.name}" for t in other.terminals} & cell
            if ends and other.kind in OVERCURRENT:
                held += other.number("rating") or inf
            elif ends and other.kind not in ("joint", "block", "bus", "switch", "contactor"):
                others |= other.name != source.name
        if held and not others and held < 0.95 * source.limit:
            yield f"{source.name}: {source.limit} A into {held} A"


def other_frequency(net: Net) -> Iterator[str]:
    """A device that states a frequency, on a source of another one."""
    for source in net.sources:
        own = net.devices[source.name].number("frequency")
        nodes = {n for start in source.lines().values() for n in net.reach(start)}
        for device in net.devices.values():
            asked = device.number("frequency")
            on = any(f"{device.name}.{n}" in nodes for n in LINES)
            if own and asked and on and device.kind in USERS and abs(own - asked) > 1:
                yield f"{device.name}: {asked} Hz on {own} Hz"


def into_a_socket(net: Net) -> Iterator[str]:
    """A supply or a generator that is on, wired straight to a socket that feeds on."""
    for wire in net.wires.values():
        ends = [net.devices[e.device] for e in (wire.a, wire.b)]
        for one, other in (ends, ends[::-1]):
            plugged = one.kind in ("supply", "generator") and other.kind == "socket"
            if plugged and net.state(one) == net.state(other) == "on":
                yield f"{one.name} into {other.name}"


def feeds_nothing(rig: Rig, nets: list[Net]) -> Iterator[str]:
    """A supply, generator or battery whose lines reach nothing that uses them in any mode."""
    if any(d.status != "installed" for d in rig.devices.values()):
        return
    kinds = ("supply", "generator", "battery")
    for device in rig.devices.values():
        if device.kind not in kinds:
            continue
        reached: set[str] = set()
        for net in nets:
            starts = [n for s in net.sources if s.name == device.name for n in s.lines().values()]
            reached |= {node.split(".")[0] for start in starts for node in net.reach(start)}
        others = {n for n in reached if n != device.name}
        found = [rig.devices[n].kind for n in others]
        if reached and not any(k in (*USERS, *CONVERTERS, *kinds) for k in found):
            yield f"{device.name} feeds nothing"


def in_one_cable(rig: Rig, nets: list[Net]) -> Iterator[str]:
    """A cable with a core of the mains and one of direct current."""
    kinds: dict[str, set[bool]] = {}
    for net in nets:
        for source in net.sources:
            for start in source.lines().values():
                nodes = net.reach(start)
                for wire in net.wires.values():
                    if wire.cable and net.end(wire, 0) in nodes:
                        kinds.setdefault(wire.cable, set()).add(source.ac)
    yield from (f"{cable}: mains and direct current" for cable, k in kinds.items() if len(k) == 2)


def essential_off(rig: Rig, nets: list[Net]) -> Iterator[str]:
    """An essential load that a battery feeds in one mode and nothing in another, battery on."""
    for device in rig.devices.values():
        if not device.flag("essential") or device.terminal("+") is None:
            continue
        node = f"{device.name}.+"
        by = {
            s.name
            for net in nets
            for s in net.sources
            if net.devices[s.name].kind == "battery" and node in net.reach(s.nodes["+"])
        }
        for net in nets:
            on = {s.name for s in net.sources} & by
            if on and not net.live(node) and net.state(device) == "on":
                yield f"{device.name} is dead in {net.mode.name}"


def figure_unsaid(net: Net) -> Iterator[str]:
    """A device that protects and says nothing of what it interrupts, on a source that does not
    limit itself."""
    strong = [s for s in net.sources if net.devices[s.name].kind in STRONG]
    live = {n for s in strong for x in s.lines().values() for n in net.reach(x)}
    for device in net.devices.values():
        fed = any(f"{device.name}.{t.name}" in live for t in device.terminals)
        if fed and device.kind in OVERCURRENT and not device.number("breaks"):
            yield f"{device.name} says no breaks="



def ring(net: Net) -> Iterator[str]:
    """A charger on the output of an inverter alone, that charges the inverter's battery."""
    for charger in net.devices.values():
        if charger.kind != "charger" or net.state(charger) != "on":
            continue
        feeds = [
            s.name
            for s in net.sources
            for n in s.lines().values()
            if s.ac and f"{charger.name}.L" in net.reach(n)
        ]
        for name in feeds:
            alone = net.devices[name].kind == "inverter" and len(feeds) == 1
            if alone and f"{name}.+" in net.reach(f"{charger.name}.+"):
                yield f"{charger.name} charges what {name} runs on"


OF_A_RIG = {
    "source feeds nothing": feeds_nothing,
    "mains and low voltage in one cable": in_one_cable,
    "essential load dead": essential_off,
}
OF_A_MODE = {
    "device overloaded": device_too_small,
    "main above inlet": main_above_inlet,
    "below the smallest size": below_minimum,
    "unlike side by side": unlike_beside,
    "output above its device": output_above,
    "another frequency": other_frequency,
    "source into a socket": into_a_socket,
    "interrupting unsaid": figure_unsaid,
    "converters in a ring": ring,
}
