"""The bill of material: devices, conductors by the metre, ends and small parts, with quantities."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from math import ceil

from ..checks.tracing.trace import Stage
from ..dsl.model import Device
from .ends import preparation
from .labels import devices, markers
from .schedule import RIGHT, TICK, Column, Row, Schedule, Section
from .schedule_cuts import ABSENT, Piece, pieces
from .units import spaced, spaced_size
from .wiring import landings, natural, place_name, rating_text

DOC = "Bill of material"
COLUMNS = (
    Column("Item", bold=True),
    Column("Description"),
    Column("Quantity", "", RIGHT),
    Column("Unit"),
    Column("Spare", "", RIGHT),
    Column("Where used"),
    Column("Order", "number"),
    Column("In stock", fill=TICK),
    Column("Ordered", fill=TICK),
)
NOT_BOUGHT = ("supply", "panel")
"""Kinds that are no item to buy: the site's supply; a panel is counted as what it holds."""
SPARE, LEAST_SPARE = 0.10, 2
"""What is crimped or lost once too often: this share on top, at least so many; common practice."""
BARS = ("bus", "block", "earth")
REMARKS = (
    "Lengths as in the cut list, allowances in them, to the next 0.1 m. Ferrules (end sleeves): "
    "DIN 46228-4, section and sleeve. Lugs: stud and section; M? where the text does not say the "
    "stud. Assumed: the text does not say how the terminal holds.",
    f"Spare: {SPARE:.0%} of ends and small parts, at least {LEAST_SPARE} (common practice, no "
    "published source). Nuts and washers: a set for each stud of a bar in use; devices bring their "
    "own. Heat-shrink: one over each lug.",
    "What is planned or removed, and ends at the site's supply, are not counted.",
)


def schedule(stage: Stage) -> Schedule:
    """Everything to buy for this stage of the build, from nothing."""
    ends = list(_ends(stage))
    sections = (
        Section("Devices", (*_panels(stage), *_devices(stage))),
        Section("Cable and wire", tuple(_reels(stage))),
        Section("Ends", tuple(map(_end, ends))),
        Section("Small parts", (*_shrink(ends), *_nuts(stage), *_markers(stage))),
    )
    return Schedule("Bill of material", DOC, COLUMNS, sections, REMARKS)


def _row(
    item: str, described: str, count: int | str, where: str, *, unit: str = "", spare: str = "",
    order: str = "", subject: str = "",
) -> Row:  # fmt: skip
    return Row((item, described, str(count), unit, spare, where, order, TICK, TICK), subject)


def _small(item: str, described: str, count: int, where: str) -> Row:
    """A part of which some are bought more."""
    return _row(item, described, count, where, spare=str(max(LEAST_SPARE, ceil(count * SPARE))))


def _panels(stage: Stage) -> Iterator[Row]:
    """Enclosures by the ways they have."""
    alike: dict[str, list[str]] = {}
    for panel in stage.rig.panels.values():
        words = (f"{panel.ways} ways" if panel.ways else "", "metal" if panel.flag("metal") else "")
        alike.setdefault(" ".join(filter(None, words)), []).append(panel.name)
    for described, names in alike.items():
        where = ", ".join(names)
        yield _row("panel", described, len(names), where)


def _devices(stage: Stage) -> Iterator[Row]:
    """Like devices counted together, in the order of the kinds' first appearance."""
    alike: dict[tuple[str, str, str], list[Device]] = {}
    for device in stage.rig.devices.values():
        if device.kind not in NOT_BOUGHT and device.status not in ABSENT:
            order = " ".join(filter(None, (device.text("maker"), device.text("order"))))
            alike.setdefault((device.kind, _described(device), order), []).append(device)
    for (kind, described, order), found in alike.items():
        where = ", ".join(sorted((d.name for d in found), key=natural))
        yield _row(kind, described, len(found), where, order=order, subject=f"dev-{found[0].name}")


def _described(device: Device) -> str:
    """What distinguishes it in a shop: its figures, its part, what its terminals take."""
    bar = device.kind in BARS
    kind = f"type {device.text('type')}" if "type" in device.attrs else ""
    words = (
        rating_text(device), "DC" if device.flag("dc") else "", device.text("chemistry"), kind,
        f"{len(device.terminals)} positions" if bar else "", _holds(device) if bar else "",
        _opening(device) if device.kind == "entry" else "", device.text("standard"),
    )  # fmt: skip
    return " ".join(filter(None, words))


def _opening(device: Device) -> str:
    """The hole of an entry, and the cable that it grips."""
    hole, clamp = device.text("hole"), device.text("clamp")
    words = f"for a hole of {spaced(hole)}" if hole else ""
    return ", ".join(filter(None, (words, f"cable {_range(clamp)}" if clamp else "")))


def _holds(device: Device) -> str:
    """What the terminals of a bar take: lugs on studs, or conductors in clamps."""
    stud, clamp = device.text("stud"), device.text("clamp")
    return f"studs {stud}" if stud else f"clamps {_range(clamp)}" if clamp else ""


def _range(text: str) -> str:
    """A range as printed: 1.5–16 mm², 13–18 mm."""
    return spaced(text.replace("..", "\u2013"))


def _reels(stage: Stage) -> Iterator[Row]:
    """What comes off a reel by the metre, ready-made cords by the piece."""
    alike: dict[tuple[str, float], list[Piece]] = {}
    for piece in sorted(pieces(stage), key=lambda p: (-p.rank[0], p.rank[1:])):
        alike.setdefault((piece.reel, piece.length_m if piece.ready else 0.0), []).append(piece)
    for (reel, each_m), found in alike.items():
        where = ", ".join(piece.name for piece in found)
        if each_m:
            yield _row("cord", f"{reel}, {each_m:g} m", len(found), where)
            continue
        metres = ceil(round(sum(piece.cut_m for piece in found) * 10, 6)) / 10
        item = "wire" if "single" in reel.split() else "cable"
        yield _row(item, reel, f"{metres:.1f}", where, unit="m")


@dataclass(slots=True)
class Ends:
    """Ends made alike: how many, how many of them assumed, and in which places."""

    fitting: str
    words: str
    count: int = 0
    assumed: int = 0
    places: dict[str, None] = field(default_factory=dict)


def _ends(stage: Stage) -> list[Ends]:
    """Ferrules and lugs by size."""
    found: dict[tuple[str, str], Ends] = {}
    for conductor in stage.rig.conductors.values():
        if conductor.status in ABSENT:
            continue
        for end in (conductor.a, conductor.b):
            device = stage.rig.devices.get(end.device)
            made = preparation(conductor, device, end.terminal)
            if device is None or device.kind == "supply" or not made.size:
                continue
            key = (made.fitting, f"{made.size} {made.colour}".strip())
            ends = found.setdefault(key, Ends(*key))
            ends.count += 1
            ends.assumed += made.assumed
            ends.places[place_name(stage.rig, end.device)] = None
    return [found[key] for key in sorted(found, key=lambda key: (key[0], natural(key[1])))]


def _end(ends: Ends) -> Row:
    where = ", ".join(filter(None, ends.places))
    where += f" ({ends.assumed} assumed)" if ends.assumed else ""
    return _small(ends.fitting, ends.words, ends.count, where.strip())


def _shrink(ends: Sequence[Ends]) -> Iterator[Row]:
    """A piece of heat-shrink sleeve over each lug, by its section."""
    counts: Counter[str] = Counter()
    for each in ends:
        if each.fitting in ("lug", "ring"):
            counts[each.words.rpartition("-")[2]] += each.count
    for section in sorted(counts, key=natural):
        size = section if section.endswith("AWG") else f"{section}mm2"
        yield _small("sleeve", f"heat-shrink, {spaced_size(size)}", counts[section], "lugs")


def _nuts(stage: Stage) -> Iterator[Row]:
    """Nuts and washers for the studs of bars that something lands on, by their thread."""
    used: dict[str, dict[str, int]] = {}
    at = landings(stage.rig)
    for device in stage.rig.devices.values():
        if device.kind not in BARS or device.status in ABSENT:
            continue
        for terminal in device.terminals:
            if terminal.stud and (device.name, terminal.name) in at:
                bars = used.setdefault(terminal.stud, {})
                bars[device.name] = bars.get(device.name, 0) + 1
    for stud, bars in used.items():
        yield _small("nuts", f"{stud}, with washers", sum(bars.values()), ", ".join(bars))


def _markers(stage: Stage) -> Iterator[Row]:
    """What is printed on label stock."""
    for item, printed, where in (
        ("marker", markers(stage), "both ends of each conductor"),
        ("label", devices(stage), "each device"),
    ):
        if printed:
            yield _row(item, "on label stock", len(printed), where)
