"""Figures and capacity of every mode as tables of the report."""

from __future__ import annotations

from collections.abc import Iterator

from ..checks.capacity.limits import capacity
from ..checks.tracing.trace import ModeView, Stage
from ..render.report_sheets import named
from ..render.report_tables import Line, Table
from . import capacity_words, figures_data

NOMINAL = "Figures of what the text says; measure before you rely on them."


def tables(stage: Stage) -> list[Table]:
    """What ``ferrule figures`` and ``ferrule capacity`` tell, mode by mode."""
    names = frozenset((*stage.rig.devices, *stage.rig.conductors, *stage.rig.cables))
    found = [t for view in stage.modes for t in _figures(stage, view, names)]
    return found + [t for view in stage.modes for t in _capacity(stage, view, names)]


def _figures(stage: Stage, view: ModeView, names: frozenset[str]) -> Iterator[Table]:
    for table in figures_data.tables(stage, view):
        rows = (tuple(map(figures_data.said, row)) for row in table.rows)
        lines = tuple(Line(row, named(row[0], names)) for row in rows)
        notes = tuple(f"not worked out: {note}" for note in table.notes)
        title = f"{table.title}, mode {table.mode}"
        yield Table("Figures", title, table.head, lines, (*notes, NOMINAL))


def _capacity(stage: Stage, view: ModeView, names: frozenset[str]) -> Iterator[Table]:
    for section in capacity_words.sections(capacity(view), stage.rig):
        lines = tuple(Line(row, named(row[0], names)) for row in section.rows)
        notes = (*section.lines, *capacity_words.ASSUMED)
        title = f"{section.title}, mode {view.name}"
        yield Table("Capacity", title, section.head, lines, notes)
