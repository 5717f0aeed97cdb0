"""The oracle's figures: protection, fault current, voltage drop, each along enumerated ways.

Ampacities are the unadjusted ones of copper for the warmest insulation that is used; a finding of
the oracle is sure because every correction only makes them smaller.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import inf

from ferrule.dsl.model import Conductor, Device, Rig

from .net import LINES, OVERCURRENT, Edge, Net, Source

# Largest sensible rating ahead of copper of so many mm2, whatever book, insulation and method:
# NFPA 70 table 310.17 (free air, 90 degC, 30 degC ambient), next size up; from memory, rounded up.
# ABYC E-11 (105 degC, outside engine spaces) is higher and stands beside it; from memory.
MOST = {
    "nfpa70": ((0.9, 18), (1.4, 24), (2.2, 15), (3.5, 20), (5.5, 30), (8.5, 60), (14, 90),
               (22, 150), (35, 200)),
    "abyc-e11": ((0.9, 20), (1.4, 25), (2.2, 40), (3.5, 50), (5.5, 70), (8.5, 90), (14, 130),
                 (22, 175), (35, 250)),
    "iec60364": ((0.8, 20), (1.1, 25), (1.6, 25), (2.6, 35), (4.1, 50), (6.1, 63), (10.1, 100),
                 (16.1, 150), (25.1, 200), (35.1, 250)),
}  # fmt: skip
# Farther from its source than this no book lets a lead run without a device, in metres:
# NFPA 70 240.21(B)(2) 25 ft, ABYC E-11 72 in (a battery's own lead), IEC 60364-4-43 433.2.2 3 m.
FARTHEST = {"nfpa70": 7.7, "abyc-e11": 1.9, "iec60364": 3.1}
RHO = 0.0175  # ohm mm2/m of copper at 20 degC (IEC 60228)


def allowed(rig: Rig, wire: Conductor) -> float:
    """The rating that no book exceeds for a conductor, A; infinite where it is not tabled."""
    if wire.size is None or rig.ambient_c < 30:
        return inf
    return (
        next((amps for mm2, amps in MOST[rig.book] if wire.size.mm2 <= mm2), inf)
        if rig.book in MOST
        else inf
    )


def narrowest(net: Net, source: Source, way: list[Edge]) -> float:
    """What a way lets through: the least of its devices' ratings and the source's own limit."""
    ratings = [source.limit] if source.limit else []
    for edge in way:
        device = net.devices.get(edge.name)
        if device and device.text("standard") == "UL1077" and net.rig.book == "nfpa70":
            continue  # a supplementary protector protects no conductor (NFPA 70 240.10)
        if device and device.kind in OVERCURRENT and not edge.b.split(".")[1].startswith("N"):
            ratings.append(device.number("rating") or inf)
    return min(ratings, default=inf)


def too_thin(rig: Rig, nets: list[Net]) -> Iterator[str]:
    """A conductor that one way to it alone can load above what it may carry."""
    for net in nets:
        for wire in net.wires.values():
            most = allowed(rig, wire)
            if most == inf or wire.kind == "bond":
                continue
            for source in net.sources:
                for amps, far in _into(net, source, wire):
                    if amps > most and not _held_behind(net, far, wire, most):
                        yield f"{wire.name}: {amps} A let through, {most} A at most"


def _into(net: Net, source: Source, wire: Conductor) -> Iterator[tuple[float, str]]:
    """What each end of a conductor is fed with round it, and its far end."""
    ends = net.end(wire, 0), net.end(wire, 1)
    for near, far in (ends, ends[::-1]):
        for start in source.lines().values():
            ways = net.paths(start, near, without=(wire.name,))
            if ways:
                yield max(narrowest(net, source, way) for way in ways), far


def _held_behind(net: Net, node: str, wire: Conductor, most: float) -> bool:
    """Whether anything behind a conductor may hold its current: any device, converter or source."""
    seen, todo = {node}, [node]
    while todo:
        at = todo.pop()
        device = net.devices[at.split(".")[0]]
        if device.kind in OVERCURRENT or device.kind in ("inverter", "dcdc", "transformer"):
            return True
        if device.kind in ("battery", "solar", "alternator", "charger", "supply", "generator"):
            return True
        for other, edge in net.near.get(at, ()):
            if other not in seen and edge.name != wire.name:
                seen.add(other)
                todo.append(other)
    return False


def unprotected(net: Net) -> Iterator[str]:
    """A line conductor that a source reaches through no device, beyond any allowed distance."""
    farthest = FARTHEST.get(net.rig.book, inf)
    for source in net.sources:
        device = net.devices[source.name]
        if source.limit or device.kind not in ("battery", "supply", "generator"):
            continue
        if device.flag("internal") or device.kind != "battery":
            continue
        over = [d.name for d in net.devices.values() if d.kind in OVERCURRENT]
        bare = net.reach(source.lines().get("+", ""), without=over)
        for wire in net.wires.values():
            if {net.end(wire, 0), net.end(wire, 1)} <= bare and wire.length_m > farthest:
                yield f"{wire.name}: {wire.length_m} m from {source.name} and no device"
        for user in net.devices.values():
            if user.kind in ("load", "lamp", "motor", "heater") and f"{user.name}.+" in bare:
                yield f"{user.name} on {source.name} without a device"


def wrong_voltage(net: Net) -> Iterator[str]:
    """A load made for another voltage, or a device rated below that of its circuit."""
    for source in net.sources:
        for role, start in source.lines().items():
            nodes = net.reach(start)
            for device in net.devices.values():
                mine = {t.name for t in device.terminals if f"{device.name}.{t.name}" in nodes}
                volts = device.number("voltage")
                if not mine or not volts or not source.volts:
                    continue
                yield from _against(device, role, mine, volts, source)


def _against(
    device: Device, role: str, mine: set[str], volts: float, source: Source
) -> Iterator[str]:
    between = {source.volts, source.volts / 2, source.volts / 3**0.5}
    loads = ("load", "lamp", "motor", "heater")
    if device.kind in loads and not any(0.7 < volts / v < 1.4 for v in between):
        yield f"{device.name}: {volts} V on {source.volts} V"
    if device.kind in ("breaker", "fuse", "switch", "rcd") and volts < 0.55 * source.volts:
        yield f"{device.name}: rated {volts} V on {source.volts} V"


def ohms(net: Net, way: list[Edge]) -> float:
    """Resistance of a way, ohm; links, bars and devices count nothing."""
    total = 0.0
    for edge in way:
        wire = net.wires.get(edge.name)
        if wire and wire.size:
            total += RHO * wire.length_m / wire.size.mm2
    return total


def breaks_too_little(net: Net) -> Iterator[str]:
    """A device whose own source alone gives it more fault current than it interrupts."""
    for source in net.sources:
        if not source.fault or not source.volts:
            continue
        many = len(source.lines()) > 1
        for device in net.devices.values():
            breaks = device.number("breaks")
            if device.kind not in OVERCURRENT or not breaks:
                continue
            start = next(iter(source.lines().values()))
            first = f"{device.name}.{device.terminals[0].name}"
            for way in net.paths(start, first, without=(device.name,))[:3]:
                volts = source.volts / (2 if many else 1)
                loop = volts / source.fault + 2.5 * ohms(net, way)
                if breaks < 0.5 * volts / loop and not _limiting(net, way):
                    yield f"{device.name}: {breaks} A of {volts / loop:.0f} A"


def _limiting(net: Net, way: list[Edge]) -> bool:
    """Whether a fuse ahead may limit the current, or a breaker back the device up."""
    return any(d and d.kind in OVERCURRENT for d in (net.devices.get(e.name) for e in way))


def load_above(net: Net) -> Iterator[str]:
    """A load that draws more than all ways to it together let through."""
    for device in net.devices.values():
        if device.kind not in ("load", "lamp", "motor", "heater"):
            continue
        amps = _draws(device)
        lines = [t.name for t in device.terminals if t.name in LINES]
        if not amps or len(lines) != 1 or any(len(s.lines()) > 1 for s in net.sources):
            continue
        ways = [
            narrowest(net, s, way)
            for s in net.sources
            for way in net.paths(s.lines().get(lines[0], ""), f"{device.name}.{lines[0]}")
        ]
        if ways and sum(ways) < 0.95 * amps:
            yield f"{device.name}: {amps:.1f} A behind {sum(ways)} A"


def _draws(device: Device) -> float:
    volts = device.number("voltage") or 0.0
    watts = device.number("power") or device.number("apparent") or 0.0
    return device.number("current") or (watts / volts if volts else 0.0)


def drop(net: Net) -> Iterator[str]:
    """A load alone on its way that loses more than a tenth of its voltage there and back."""
    for device in net.devices.values():
        if device.kind not in ("load", "lamp", "motor", "heater"):
            continue
        lines = [t.name for t in device.terminals if t.name in LINES]
        amps, volts = _draws(device), device.number("voltage") or 0.0
        if not amps or len(lines) != 1:
            continue
        other = "N" if lines[0] == "L" else "-"
        lost = []
        for source in net.sources:
            there = net.paths(source.lines().get(lines[0], ""), f"{device.name}.{lines[0]}")
            back = net.paths(source.back(), f"{device.name}.{other}")
            if len(there) == len(back) == 1:
                lost.append(amps * (ohms(net, there[0]) + ohms(net, back[0])) / volts)
        if len(lost) == 1 and lost[0] > 0.105:
            yield f"{device.name}: {100 * lost[0]:.0f} % lost"


def reversed_device(net: Net) -> Iterator[str]:
    """A device with a supply side that is fed from its other one, and from that alone."""
    for device in net.devices.values():
        if not device.flag("polarised"):
            continue
        first, second = (f"{device.name}.{t.name}" for t in device.terminals[:2])
        live = {
            n
            for s in net.sources
            for start in s.lines().values()
            for n in net.reach(start, without=(device.name,))
        }
        if second in live and first not in live:
            yield f"{device.name} is fed from below"
