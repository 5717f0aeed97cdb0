"""The termination sheet: device by device, what lands on each terminal and how its end is made."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

from ..checks.tracing.trace import Stage
from ..checks.trade.fittings import NM_PER_LBIN, usual_torque
from ..dsl.model import Conductor, Device, Rig, Terminal
from .colours import colours_of
from .ends import ASSUMED, READY, preparation
from .schedule import ASIDE, RIGHT, TICK, Column, Row, Schedule, Section
from .wiring import (
    Landing,
    conductor_id,
    landings,
    named,
    natural,
    place_name,
    rating_text,
    size_text,
    where,
)

DOC = "Termination sheet"
COLUMNS = (
    Column("Place", fill=ASIDE),
    Column("Device", fill=ASIDE),
    Column("Terminal", bold=True),
    Column("Conductor"),
    Column("Size"),
    Column("Colour"),
    Column("Far end", "(place)"),
    Column("Strip", "mm", RIGHT),
    Column("End", "section, sleeve or stud"),
    Column("Collar", "DIN"),
    Column("Torque", "N·m", RIGHT),
    Column("Torque", "lb·in", RIGHT),
    Column("Landed", fill=TICK),
    Column("Torqued", fill=TICK),
    Column("Marked", fill=TICK),
)
REMARKS = (
    "Ferrules: section and sleeve as in DIN 46228-4, with the colour of the collar (IEC 60757). "
    "Lugs: stud and section; M? where the text does not say the stud. Places of far ends where "
    "they are others.",
    ASSUMED,
    "Torque in brackets: a usual one (screws: NFPA 70 Informative Annex I, narrow slot; studs: a "
    "maker of brass bolts) where the text gives none; the device maker's sheet goes before it.",
    "Dead, isolated and proved dead before a terminal is opened.",
)


def schedule(stage: Stage) -> Schedule:
    """Every terminal of every device, the free ones too, place by place."""
    rig = stage.rig
    at = landings(rig)
    order = {place: index for index, place in enumerate(rig.places)}
    found = sorted(
        rig.devices.values(),
        key=lambda d: (order.get(place_name(rig, d.name), len(order)), natural(d.name)),
    )
    sections = [
        Section(named(device), tuple(_rows(stage, device, at)), _aside(rig, device))
        for device in found
        if device.terminals
    ]
    return Schedule("Terminations by device", DOC, COLUMNS, tuple(sections), REMARKS, titled=False)


def _aside(rig: Rig, device: Device) -> str:
    return " · ".join(filter(None, (rating_text(device), where(rig, device))))


def _rows(
    stage: Stage, device: Device, at: Mapping[tuple[str, str], tuple[Landing, ...]]
) -> Iterator[Row]:
    """The rows of one device; free terminals one after the other are one row."""
    landed = [(terminal, at.get((device.name, terminal.name), ())) for terminal in device.terminals]
    for free, run in groupby(landed, key=lambda pair: not pair[1]):
        if free:
            yield _free(stage.rig, device, [terminal.name for terminal, _ in run])
            continue
        for terminal, ends in run:
            for landing in ends:
                yield _row(stage, device, terminal, landing)


def _free(rig: Rig, device: Device, names: Sequence[str]) -> Row:
    said = names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}"
    cells = (place_name(rig, device.name), device.name, said, "free", *[""] * 11)
    return Row(cells, f"dev-{device.name}")


def _row(stage: Stage, device: Device, terminal: Terminal, landing: Landing) -> Row:
    conductor, _, far = landing.parts
    made = preparation(conductor, device, terminal.name)
    strip = "" if made.strip_mm is None else f"{made.strip_mm:g}"
    colour = colours_of(stage)[conductor.name]
    tight = ("", "") if made.fitting == READY else torques(conductor, terminal)
    cells = (
        place_name(stage.rig, device.name), device.name, terminal.name, conductor.name,
        size_text(conductor), colour.code or colour.name, _far(stage.rig, device, far.name),
        made.marked(strip), made.marked(f"{made.fitting} {made.size}".strip()),
        made.marked(made.colour), *tight, TICK, TICK if tight[0] else "", TICK,
    )  # fmt: skip
    return Row(cells, conductor_id(conductor.name))


def torques(conductor: Conductor, terminal: Terminal) -> tuple[str, str]:
    """Torque in N·m and lb·in; a usual one in brackets where the text gives none."""
    if terminal.torque is not None:
        return torque(terminal.torque.value), torque(terminal.torque.value / NM_PER_LBIN)
    usual = None if terminal.grip == "spring" else usual_torque(conductor.size, terminal.stud)
    if usual is None:
        return "", ""
    return f"({torque(usual[0])})", f"({torque(usual[0] / NM_PER_LBIN)})"


def torque(value: float) -> str:
    """Three figures, below ten always one decimal.

    >>> torque(2.0), torque(0.85), torque(17.7015), torque(106.21)
    ('2.0', '0.85', '17.7', '106')
    """
    text = f"{value:.3g}"
    return text if "." in text or value >= 10 else f"{text}.0"


def _far(rig: Rig, here: Device, end: str) -> str:
    """The far end, and its place where that is another."""
    place = place_name(rig, end.partition(".")[0])
    return end if place in ("", place_name(rig, here.name)) else f"{end} ({place})"
