"""A work order as CSV: a row a line, its group in the first column."""

from __future__ import annotations

from ...checks.rework import Plan
from ...render.schedule import csv_text
from ...render.schedule_rework import schedule


def write(plan: Plan, title: str, colour: bool = False) -> str:
    """The work order as one table."""
    return csv_text(schedule(plan))
