"""Sums against limits: in each mode, what is connected behind each limit and what it gives."""

from __future__ import annotations

from ..checks.capacity.limits import Capacity, capacity
from ..checks.capacity.limits import Row as Held
from ..checks.tracing.trace import Stage
from .schedule import RIGHT, Column, Row, Schedule, Section
from .schedule_loads import figure

DOC = "Load schedule"
COLUMNS = (
    Column("Limit", bold=True),
    Column("What it is"),
    Column("Line"),
    Column("Gives", "", RIGHT),
    Column("Unit"),
    Column("Connected", "", RIGHT),
    Column("Counted", "", RIGHT),
    Column("Left", "", RIGHT),
    Column("Used", "%", RIGHT),
    Column("Verdict"),
    Column("Loads behind it"),
)
OVER, HOLDS = "overload", "holds"
REMARKS = (
    "Connected: the plain sum. Counted: with `demand=` and the book's factor for continuous loads; "
    "a charger that makes room for loads counts nothing. Overload, in bold: more is counted than "
    "it gives, so not all may run at once.",
    "A limit for the same loads as a tighter one is left out. What may run together: `ferrule "
    "capacity`.",
)


def schedule(stage: Stage) -> Schedule:
    """A section a mode: sources first, then devices, each with the sum of its loads."""
    sections = tuple(_section(stage, capacity(view)) for view in stage.modes)
    return Schedule("Loads against every limit, by mode", DOC, COLUMNS, sections, REMARKS)


def _section(stage: Stage, found: Capacity) -> Section:
    rows = tuple(_row(stage, found, held) for held in found.limits)
    unknown = ", ".join(device.name for device in found.unknown)
    aside = f"not counted, no power stated: {unknown}" if unknown else ""
    title = f"Mode {found.mode}" + (f" \u2013 {found.label}" if found.label else "")
    return Section(title, rows, aside)


def _row(stage: Stage, found: Capacity, held: Held) -> Row:
    point = held.point
    device = stage.rig.devices.get(point.name)
    loads = sorted(point.draws, key=lambda name: -found.demand.counted(point, name))
    over = held.counted > point.gives
    line = point.role if point.role not in ("L", "+") else ""
    cells = (
        point.name, device.label if device else "", line, figure(point.gives), point.unit,
        figure(held.connected), figure(held.counted), figure_signed(held.left),
        figure(held.counted / point.gives * 100 if point.gives else None), OVER if over else HOLDS,
        ", ".join(loads),
    )  # fmt: skip
    return Row(cells, f"dev-{point.name}", strong=over)


def figure_signed(value: float) -> str:
    """A figure that may be below nothing."""
    return f"\u2212{figure(-value)}" if value < 0 else figure(value)
