"""What stands where on the face of a panel: devices on their ways, bars, entries, free ways.

Nothing is drawn here; lengths of real things are in mm as built (a module is 18 mm wide).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from ..checks.trade.fittings import MODULE_MM
from ..checks.trade.housing import diameter_mm, entries_of, panel_of, statements
from ..dsl.model import Conductor, Device, Panel, Quantity, Rig
from ..dsl.records import record
from .units import spaced_size
from .wiring import Landing, natural

BARS = ("bus", "block")


@record
class Pole:
    """A terminal at the upper or lower edge of a device, and the conductors on it."""

    terminal: str
    conductors: tuple[str, ...]


@record
class OnRail:
    """A device on the rail, from its first way; ``width_mm`` is its own."""

    device: Device
    way: int
    width_mm: float
    upper: tuple[Pole, ...]
    lower: tuple[Pole, ...]


@record
class Bar:
    """A bar or block in the panel: its positions with the conductors on each."""

    device: Device
    positions: tuple[Pole, ...]


@record
class Through:
    """A wire or cable through an entry: its size, its diameter in mm, and whether that is told."""

    name: str
    size: str
    mm: float
    told: bool


@record
class Hole:
    """A way in, with the cables through it; no device: not said which."""

    device: Device | None
    hole_mm: float | None
    cables: tuple[Through, ...]


@record
class Face:
    """A panel as its face shows it; ``others`` stand in it, neither on the rail nor bars.

    ``notes``: sentences to stand on its sheet.
    """

    panel: Panel
    rail: tuple[OnRail, ...]
    free: tuple[int, ...]
    bars: tuple[Bar, ...]
    others: tuple[Device, ...]
    holes: tuple[Hole, ...]
    notes: tuple[str, ...] = ()


def faces(rig: Rig, at: Mapping[tuple[str, str], Sequence[Landing]]) -> list[Face]:
    """Every panel of a stage, in the order of the text."""
    return [_face(rig, panel, at) for panel in rig.panels.values()]


def _face(rig: Rig, panel: Panel, at: Mapping[tuple[str, str], Sequence[Landing]]) -> Face:
    inside = [d for d in rig.devices.values() if d.panel == panel.name]
    rail = sorted((d for d in inside if d.ways), key=lambda d: d.ways)
    taken = {way for device in rail for way in device.ways}
    bars = [d for d in inside if not d.ways and d.kind in BARS]
    others = [d for d in inside if not d.ways and d.kind not in (*BARS, "entry", "panel")]
    return Face(
        panel,
        tuple(_on_rail(device, at) for device in rail),
        tuple(way for way in range(1, panel.ways + 1) if way not in taken),
        tuple(Bar(d, tuple(_pole(d, t.name, at) for t in d.terminals)) for d in bars),
        tuple(others),
        tuple(_holes(rig, panel)),
    )


def _on_rail(device: Device, at: Mapping[tuple[str, str], Sequence[Landing]]) -> OnRail:
    modules = device.attrs.get("modules")
    count = modules if isinstance(modules, int) else len(device.ways)
    upper, lower = _edges([t.name for t in device.terminals])
    return OnRail(
        device,
        device.ways[0],
        count * MODULE_MM,
        tuple(_pole(device, name, at) for name in upper),
        tuple(_pole(device, name, at) for name in lower),
    )


def _edges(names: Sequence[str]) -> tuple[list[str], list[str]]:
    """Terminals by edge: odd numbers above, even ones below (EN 50005); others half and half."""
    if all(name[-1:].isdigit() for name in names):
        odd = [name for name in names if int(name[-1]) % 2]
        return odd, [name for name in names if name not in odd]
    half = (len(names) + 1) // 2
    return list(names[:half]), list(names[half:])


def _pole(device: Device, name: str, at: Mapping[tuple[str, str], Sequence[Landing]]) -> Pole:
    found = at.get((device.name, name), ())
    return Pole(name, tuple(landing.conductor.name for landing in found))


def _holes(rig: Rig, panel: Panel) -> Iterator[Hole]:
    """Each entry with its cables, and a last one for cables that name none."""
    entries = entries_of(rig).get(panel.name, [])
    placed: set[str] = set()
    runs = _runs_in(rig, panel)
    for entry in entries:
        mine = [run for run in runs if entry.name in _said(run[0])]
        placed.update(run[0].statement for run in mine)
        hole = entry.attrs.get("hole")
        size = hole.value * 1000 if isinstance(hole, Quantity) else None
        yield Hole(entry, size, _cables(mine))
    rest = [run for run in runs if run[0].statement not in placed]
    if rest:
        yield Hole(None, None, _cables(rest))


def _said(conductor: Conductor) -> tuple[str, ...]:
    entries = conductor.attrs.get("entries", ())
    return entries if isinstance(entries, tuple) else ()


def _runs_in(rig: Rig, panel: Panel) -> list[list[Conductor]]:
    """Wires and cables with one side inside and the other out."""
    found = []
    for run in statements(rig).values():
        sides = {panel_of(rig, end.device) == panel.name for c in run for end in (c.a, c.b)}
        if len(sides) == 2:
            found.append(run)
    return sorted(found, key=lambda run: natural(run[0].statement))


def _cables(runs: Sequence[list[Conductor]]) -> tuple[Through, ...]:
    return tuple(_through(run) for run in runs)


def _through(run: list[Conductor]) -> Through:
    mm, told = diameter_mm(run)
    size = run[0].size.text if run[0].size else ""
    count = f"{len(run)}×" if run[0].cable else ""
    return Through(run[0].statement, spaced_size(f"{count}{size}"), mm, told)
