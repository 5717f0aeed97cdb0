"""The termination sheet: device by device, what lands on each terminal and how its end is made."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from ..checks.trace import Stage
from ..dsl.model import Device, Rig, Terminal
from .colours import colour_of
from .ends import preparation
from .schedule import RIGHT, TICK, Column, Row, Schedule, Section
from .wiring import (
    Landing,
    conductor_id,
    landings,
    natural,
    place_heading,
    place_name,
    rating_text,
    size_text,
)

DOC = "Termination sheet"
LBIN = 8.8507
"""Pound-force inches in a newton metre."""

COLUMNS = (
    Column("Device", bold=True, once=True),
    Column("Terminal", bold=True, once=True),
    Column("Conductor"),
    Column("Size"),
    Column("Colour"),
    Column("Far end"),
    Column("Strip", "mm", RIGHT),
    Column("Ferrule or lug", "section, sleeve or stud"),
    Column("Collar", "DIN"),
    Column("Torque", "N·m", RIGHT),
    Column("Torque", "lb·in", RIGHT),
    Column("Landed", fill=TICK),
    Column("Torqued", fill=TICK),
    Column("Marked", fill=TICK),
)
REMARKS = (
    "Ferrules: section and sleeve as in DIN 46228-4, with the colour of the collar (IEC 60757). "
    "Lugs: stud and section. No torque: see the maker's sheet.",
    "Dead, isolated and proved dead before a terminal is opened.",
)


def schedule(stage: Stage) -> Schedule:
    """Every terminal of every device, the free ones too, place by place."""
    rig = stage.rig
    at = landings(rig)
    places: dict[str, list[Row]] = {}
    for device in sorted(rig.devices.values(), key=lambda d: natural(d.name)):
        places.setdefault(place_name(rig, device.name), []).extend(_device(stage, device, at))
    order = [*rig.places, *(p for p in places if p not in rig.places)]
    sections = (Section(place_heading(rig, p), tuple(places[p])) for p in order if p in places)
    return Schedule("Terminations by device", DOC, COLUMNS, tuple(sections), REMARKS)


def _device(
    stage: Stage, device: Device, at: Mapping[tuple[str, str], tuple[Landing, ...]]
) -> Iterator[Row]:
    """The rows of one device, named with its rating."""
    said = " ".join(filter(None, (device.name, rating_text(device))))
    for terminal in device.terminals:
        for landing in at.get((device.name, terminal.name), ()) or (None,):
            yield _row(stage, device, terminal, landing, said)


def _row(
    stage: Stage, device: Device, terminal: Terminal, landing: Landing | None, said: str
) -> Row:
    torque = terminal.torque.value if terminal.torque else None
    tight = ("", "") if torque is None else (f"{torque:g}", f"{torque * LBIN:.0f}")
    if landing is None:
        cells = (said, terminal.name, "free", *[""] * 11)
        return Row(cells, f"dev-{device.name}")
    conductor, _, far = landing.parts
    made = preparation(conductor, device, terminal.name)
    strip = "" if made.strip_mm is None else f"{made.strip_mm:g}"
    colour = colour_of(conductor, stage.rig, stage.conductor_role(conductor.name))
    cells = (
        said, terminal.name, conductor.name, size_text(conductor), colour.code or colour.name,
        _far(stage.rig, far.name), strip, f"{made.fitting} {made.size}".strip(), made.colour,
        *tight, TICK, TICK if torque else "", TICK,
    )  # fmt: skip
    return Row(cells, conductor_id(conductor.name))


def _far(rig: Rig, end: str) -> str:
    """The far end, and its place where that is another."""
    place = place_name(rig, end.partition(".")[0])
    return f"{end} ({place})" if place else end
