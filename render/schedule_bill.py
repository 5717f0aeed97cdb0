"""The bill of material: devices, conductors by the metre, ferrules and lugs, with quantities."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from ..checks.tracing.trace import Stage
from ..dsl.model import Device
from .ends import preparation
from .schedule import RIGHT, TICK, Column, Row, Schedule, Section
from .schedule_cuts import ABSENT, pieces
from .wiring import natural, place_name, rating_text

DOC = "Bill of material"
COLUMNS = (
    Column("Item", bold=True),
    Column("Description"),
    Column("Quantity", "", RIGHT),
    Column("Unit"),
    Column("Where used"),
    Column("Order", "as the text says"),
    Column("In stock", fill=TICK),
    Column("Ordered", fill=TICK),
)
NOT_BOUGHT = ("supply", "panel")
"""Kinds that are no item to buy: the site's supply; a panel is counted as what it holds."""
REMARKS = (
    "Lengths as in the cut list, allowances in them. Ferrules: DIN 46228-4, section and sleeve. "
    "Lugs: stud and section; M? where the text does not say the stud.",
    "What is planned or removed, and ends at the site's supply, are not counted.",
)


def schedule(stage: Stage) -> Schedule:
    """Everything to buy for this stage of the build, from nothing."""
    sections = (
        Section("Devices", (*_panels(stage), *_devices(stage))),
        Section("Cable and wire", tuple(_reels(stage))),
        Section("Ends", tuple(_ends(stage))),
    )
    return Schedule("Bill of material", DOC, COLUMNS, sections, REMARKS)


def _panels(stage: Stage) -> Iterator[Row]:
    """Enclosures by the ways they have."""
    alike: dict[str, list[str]] = {}
    for panel in stage.rig.panels.values():
        words = (f"{panel.ways} ways" if panel.ways else "", "metal" if panel.flag("metal") else "")
        alike.setdefault(" ".join(filter(None, words)), []).append(panel.name)
    for described, names in alike.items():
        where = ", ".join(names)
        yield Row(("panel", described, str(len(names)), "", where, "", TICK, TICK))


def _devices(stage: Stage) -> Iterator[Row]:
    """Like devices counted together, in the order of the kinds' first appearance."""
    alike: dict[tuple[str, str, str], list[Device]] = {}
    for device in stage.rig.devices.values():
        if device.kind not in NOT_BOUGHT and device.status not in ABSENT:
            order = " ".join(filter(None, (device.text("maker"), device.text("order"))))
            alike.setdefault((device.kind, _described(device), order), []).append(device)
    for (kind, described, order), found in alike.items():
        where = ", ".join(sorted((d.name for d in found), key=natural))
        subject = f"dev-{found[0].name}"
        cells = (kind, described, str(len(found)), "", where, order, TICK, TICK)
        yield Row(cells, subject)


def _described(device: Device) -> str:
    """What distinguishes it in a shop: its figures, its part, its terminals' number on a bar."""
    ways = f"{len(device.terminals)} positions" if device.kind in ("bus", "block", "earth") else ""
    kind = f"type {device.text('type')}" if "type" in device.attrs else ""
    current = "DC" if device.flag("dc") else ""
    chemistry = device.text("chemistry")
    words = (rating_text(device), current, chemistry, kind, ways, device.text("standard"))
    return " ".join(filter(None, words))


def _reels(stage: Stage) -> Iterator[Row]:
    metres: dict[str, float] = {}
    names: dict[str, list[str]] = {}
    for piece in sorted(pieces(stage), key=lambda p: (-p.rank[0], p.rank[1:])):
        metres[piece.reel] = metres.get(piece.reel, 0.0) + piece.cut_m
        names.setdefault(piece.reel, []).append(piece.name)
    for reel, length in metres.items():
        item = "wire" if "single" in reel.split() else "cable"
        where = ", ".join(names[reel])
        yield Row((item, reel, f"{length:.1f}", "m", where, "", TICK, TICK))


def _ends(stage: Stage) -> Iterator[Row]:
    """Ferrules and lugs by size, with the places they are used in."""
    counts: Counter[tuple[str, str, str]] = Counter()
    places: dict[tuple[str, str, str], dict[str, None]] = {}
    for conductor in stage.rig.conductors.values():
        if conductor.status in ABSENT:
            continue
        for end in (conductor.a, conductor.b):
            device = stage.rig.devices.get(end.device)
            if device is None or device.kind == "supply":
                continue
            made = preparation(conductor, device, end.terminal)
            if made.size:
                key = (made.fitting, made.size, made.colour)
                counts[key] += 1
                places.setdefault(key, {})[place_name(stage.rig, end.device)] = None
    for key in sorted(counts, key=lambda k: (k[0], natural(k[1]))):
        fitting, size, colour = key
        where = ", ".join(filter(None, places[key]))
        words = " ".join(filter(None, (size, colour)))
        yield Row((fitting, words, str(counts[key]), "", where, "", TICK, TICK))
