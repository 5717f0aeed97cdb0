"""A work order as a schedule: sheets with boxes to tick, CSV."""

from __future__ import annotations

from ..checks.rework import Plan
from .rework_line import Line
from .rework_rows import sections
from .schedule import TICK, Column, Row, Schedule, Section
from .wiring import conductor_id

DOC = "Work order"
COLUMNS = (
    Column("Done", fill=TICK),
    Column("Where"),
    Column("Do", bold=True),
    Column("What"),
    Column("Terminal", bold=True),
    Column("Marker"),
    Column("How"),
    Column("Reading", least=16.0),
)
REMARKS = (
    "Before every job: isolate, lock, prove the tester on a live point, prove dead each pole to "
    "each other and to earth, prove the tester again. Inverters and batteries are sources too.",
    "In brackets: a usual torque, an assumed end, where the text gives none. Ends made anew where "
    "the old one does not fit. After a job, what is new stays off until the last one is done.",
    "The order was checked state by state, in all modes, against the rules of the book; what was "
    "built otherwise than the old text says, no order knows. Stop where something is not as drawn.",
)


def schedule(plan: Plan) -> Schedule:
    """The work order, a section for each step of each job."""
    found = tuple(
        Section(section.title, tuple(_row(plan, line) for line in section.lines))
        for section in sections(plan)
    )
    title = f"Work order, from {plan.old.stage_label or plan.old.stage}"
    if plan.old.stage == plan.new.stage:
        title = "Work order"
    return Schedule(title, DOC, COLUMNS, found, REMARKS)


def _row(plan: Plan, line: Line) -> Row:
    cells = (TICK, line.where, line.do, line.what, line.at, line.marker, line.made, "")
    known = line.what in plan.new.conductors
    return Row(cells, conductor_id(line.what) if known else "")
