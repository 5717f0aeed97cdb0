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
LONGEST = 48
"""A device with more terminals than this is shown in stretches."""


def homes(rig: Rig) -> dict[str, str]:
    """By device the place on whose sheet it is drawn.

    A device without a place (a supply from outside) is drawn where the first conductor on it
    leads to, so that it stands beside its inlet.
    """
    home = {name: rig.place_of(device) or NO_PLACE for name, device in rig.devices.items()}
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
        units = _units(rig, [name for name in rig.devices if home[name] == place])
        pieces = _merged(_pieces(rig, units, fits), fits) if units else []
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
        starts = range(0, max(1, len(terminals)), LONGEST)
        found += [(name, terminals[at : at + LONGEST]) for at in starts]
    return found


def _fit(units: Sequence[Unit], fits: Fits) -> bool:
    return len(units) <= MOST_DEVICES and fits(shown(units))


def _pieces(rig: Rig, units: list[Unit], fits: Fits) -> list[list[Unit]]:
    if len(units) == 1 or _fit(units, fits):
        return [units]
    first, second = _cut(rig, units)
    return _pieces(rig, first, fits) + _pieces(rig, second, fits)


def _cut(rig: Rig, units: list[Unit]) -> tuple[list[Unit], list[Unit]]:
    """The cut of the sequence of units that separates the fewest conductors.

    Two sequences are tried: as given, and with what conductors join brought together.
    """
    at = {(name, terminal): i for i, (name, own) in enumerate(units) for terminal in own}
    ends = ((c.a, c.b) for c in rig.conductors.values())
    both = [(at.get((a.device, a.terminal)), at.get((b.device, b.terminal))) for a, b in ends]
    pairs = [(a, b) for a, b in both if a is not None and b is not None]
    plain = list(range(len(units)))
    groups = joined([str(i) for i in plain], [(str(a), str(b)) for a, b in pairs])
    apart = [int(i) for group in groups for i in group]

    def lost(order: list[int], cut: int) -> int:
        first = set(order[:cut])
        return sum((a in first) != (b in first) for a, b in pairs)

    least = max(1, int(len(units) * BALANCE))
    candidates = [(o, cut) for o in (plain, apart) for cut in range(least, len(units) - least + 1)]
    order, cut = min(candidates, key=lambda c: (lost(*c), abs(2 * c[1] - len(units))))
    return [units[i] for i in order[:cut]], [units[i] for i in order[cut:]]


def _merged(pieces: list[list[Unit]], fits: Fits) -> list[list[Unit]]:
    """Neighbouring pieces joined again where they fit one sheet together."""
    kept: list[list[Unit]] = []
    for piece in pieces:
        if kept and _fit(kept[-1] + piece, fits):
            kept[-1] = kept[-1] + piece
        else:
            kept.append(piece)
    return kept
