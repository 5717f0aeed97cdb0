"""Which devices share an overview: a place, or parts of a place that is too large for a sheet."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from ..dsl.model import Rig
from .overview_graph import Shown, joined
from .wiring import NO_PLACE

Unit = tuple[str, tuple[str, ...]]
"""A device with the terminals shown of it."""
Fits = Callable[[Shown], bool]
BALANCE = 0.3
"""A cut leaves at least this share of the devices on either side."""
MOST_DEVICES = 60
"""A sheet never holds more devices than this."""
LONGEST, STRETCH = 24, 8
"""A device with more terminals than LONGEST may be shown in stretches of STRETCH."""


def homes(rig: Rig) -> dict[str, str]:
    """By device the place on whose sheet it is drawn.

    A device without a place (a supply from outside) is drawn where the first conductor on it
    leads to, so that it stands beside its inlet.
    """
    home = {
        name: rig.place_of(device) or NO_PLACE
        for name, device in rig.devices.items()
        if device.kind != "entry"  # a hole in a wall: the panel's own sheet shows it
    }
    for conductor in rig.conductors.values():
        a, b = conductor.a.device, conductor.b.device
        for loose, other in ((a, b), (b, a)):
            if home.get(loose) == NO_PLACE:
                home[loose] = home.get(other, NO_PLACE)
    return home


def parts(rig: Rig, fits: Fits) -> list[tuple[str, Shown]]:
    """Place and devices of each diagram, places in the order of the text.

    A place is cut until every piece fits a sheet; places without devices have none.
    """
    home = homes(rig)
    found = []
    for place in (*rig.places, NO_PLACE):
        units = _units(rig, [name for name in rig.devices if home.get(name) == place])
        pieces = _merged(units, _pieces(rig, units, fits), fits) if units else []
        found += [(place, shown(piece)) for piece in pieces]
    return found


def shown(units: Sequence[Unit]) -> Shown:
    """Units as devices, the stretches of one device together."""
    found: dict[str, tuple[str, ...]] = {}
    for name, terminals in units:
        found[name] = found.get(name, ()) + terminals
    return found


def _units(rig: Rig, names: Sequence[str]) -> list[Unit]:
    """Loose devices first, then panel by panel, each in the order of the text."""
    panels = ["", *rig.panels]
    ordered = sorted(names, key=lambda name: panels.index(rig.devices[name].panel or ""))
    found: list[Unit] = []
    for name in ordered:
        terminals = tuple(terminal.name for terminal in rig.devices[name].terminals)
        found += _stretches((name, terminals), STRETCH if len(terminals) > LONGEST else LONGEST)
    return found


def _stretches(unit: Unit, most: int) -> list[Unit]:
    """A device in stretches of at most so many terminals."""
    name, own = unit
    return [(name, own[at : at + most]) for at in range(0, max(1, len(own)), most)]


def _fit(units: Sequence[Unit], fits: Fits) -> bool:
    return len(units) <= MOST_DEVICES and fits(shown(units))


def _pieces(rig: Rig, units: list[Unit], fits: Fits) -> list[list[Unit]]:
    if _fit(units, fits):
        return [units]
    if len(units) == 1:
        own = len(units[0][1])
        return [[unit] for unit in _stretches(units[0], max(1, own // 2))] if own > 1 else [units]
    first, second = _cut(rig, units)
    return _pieces(rig, first, fits) + _pieces(rig, second, fits)


def _cut(rig: Rig, units: list[Unit]) -> tuple[list[Unit], list[Unit]]:
    """Two halves that few conductors join.

    The best cut of two sequences (as given, and with what conductors join brought together),
    then single devices moved over while that separates fewer conductors.
    """
    pairs = _pairs(rig, units)
    plain = list(range(len(units)))
    groups = joined([str(i) for i in plain], [(str(a), str(b)) for a, b in pairs])
    apart = [int(i) for group in groups for i in group]
    least = max(1, int(len(units) * BALANCE))
    cuts = range(least, len(units) - least + 1)
    halves = [frozenset(order[:cut]) for order in (plain, apart) for cut in cuts]
    best = min(halves, key=lambda half: (_lost(half, pairs), abs(2 * len(half) - len(units))))
    first = _improved(best, pairs, len(units), least)
    return [units[i] for i in plain if i in first], [units[i] for i in plain if i not in first]


def _pairs(rig: Rig, units: Sequence[Unit]) -> list[tuple[int, int]]:
    """The numbers of the units that each conductor between two of them joins."""
    at = {(name, terminal): i for i, (name, own) in enumerate(units) for terminal in own}
    both = [
        [at.get((end.device, end.terminal)) for end in (c.a, c.b)] for c in rig.conductors.values()
    ]
    return [(a, b) for a, b in both if a is not None and b is not None]


def _lost(half: frozenset[int], pairs: Sequence[tuple[int, int]]) -> int:
    return sum((a in half) != (b in half) for a, b in pairs)


def _improved(
    half: frozenset[int], pairs: Sequence[tuple[int, int]], count: int, least: int
) -> frozenset[int]:
    """The half after moving units over while that separates fewer conductors, in balance."""
    near: list[list[int]] = [[] for _ in range(count)]
    for a, b in pairs:
        near[a].append(b)
        near[b].append(a)

    def gain(unit: int) -> int:
        here = unit in half
        return sum(1 if (other in half) != here else -1 for other in near[unit] if other != unit)

    while True:
        free = [
            unit
            for unit in range(count)
            if least <= len(half) + (-1 if unit in half else 1) <= count - least
        ]
        best = max(free, key=gain, default=None)
        if best is None or gain(best) <= 0:
            return half
        half = half ^ {best}


def _merged(units: list[Unit], pieces: list[list[Unit]], fits: Fits) -> list[list[Unit]]:
    """Neighbouring pieces joined again where they fit one sheet together, in the order given."""
    kept: list[list[Unit]] = []
    for piece in pieces:
        both = {*kept[-1], *piece} if kept else set()
        ordered = [unit for unit in units if unit in both]
        if len(ordered) == len(both) > 0 and _fit(ordered, fits):
            kept[-1] = ordered
        else:
            kept.append(piece)
    return kept
