"""Tables of the page: the wiring chart, the schedules, and what the caller brings of figures.

    Table("Figures", "mode shore: conductors", head, (Line(cells, "W1"),), notes)

A line says what it is about, so that choosing a name marks its lines, and a filter leaves the
others out.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

from ..checks.tracing.trace import Stage
from .chart_rows import cells as chart_cells
from .markup import Markup, el, join
from .report_sheets import subjects
from .schedule import TICK, Schedule
from .schedules import SCHEDULES, made

CHART = "Wiring chart"
SCHEDULED = "Schedules"
LONG = 40


class Line(NamedTuple):
    """A row: its texts, the name it is about ("" for none), and whether it is a sum or a title."""

    cells: tuple[str, ...]
    about: str = ""
    strong: bool = False


class Table(NamedTuple):
    """A table with its headings (units in them); ``notes`` stand below it."""

    group: str
    title: str
    head: tuple[str, ...]
    lines: tuple[Line, ...]
    notes: tuple[str, ...] = ()


def wiring(stage: Stage) -> list[Table]:
    """The chart and every schedule of the stage."""
    head, *rows = chart_cells(stage)
    lines = tuple(Line(row, row[0]) for row in rows)
    about = subjects(stage.rig)
    schedules = (_scheduled(made(name, stage), about) for name in SCHEDULES)
    return [Table(CHART, CHART, head, lines), *schedules]


def _scheduled(schedule: Schedule, about: Mapping[str, str]) -> Table:
    keep = [i for i, column in enumerate(schedule.columns) if column.fill != TICK]
    head = tuple(schedule.columns[i].title for i in keep)
    lines: list[Line] = []
    for section in schedule.sections:
        if section.title:
            lines.append(Line((section.title,), strong=True))
        lines += (
            Line(tuple(row.cells[i] for i in keep), about.get(row.subject, ""), row.strong)
            for row in section.rows
        )
    return Table(SCHEDULED, schedule.title, head, tuple(lines), schedule.remarks)


def block(table: Table, key: str) -> Markup:
    """A table as a part of the page under an id, scrollable by itself."""
    head = el("tr", join(el("th", text, scope="col") for text in table.head))
    body = join(_row(line, len(table.head)) for line in table.lines)
    title = f"{table.group}: {table.title}" if table.title != table.group else table.title
    grid = el("table", el("thead", head), el("tbody", body))
    return el(
        "section",
        el("h3", title),
        el("div", grid, cls="scroll", tabindex="0", role="region", aria_label=title)
        if table.lines
        else el("p", "Nothing of this kind."),
        *notes(table.notes),
        cls="table",
        id=key,
        data_group=table.group,
        data_title=table.title,
    )


def _row(line: Line, columns: int) -> Markup:
    about = line.about or None
    strong = "strong" if line.strong else None
    if len(line.cells) == 1 and columns > 1:
        title = el("th", line.cells[0], colspan=columns, scope="colgroup")
        return el("tr", title, cls="title")
    first, *rest = line.cells
    subject = el("th", _choice(first, about), scope="row") if about else _cell(first)
    return el("tr", subject, join(map(_cell, rest)), cls=strong, data_n=about)


@lru_cache(maxsize=1 << 13)
def _cell(text: str) -> Markup:
    """A cell; a long text may fill several lines."""
    return el("td", text, cls="long" if len(text) > LONG else None)


def _choice(text: str, about: str | None) -> Markup:
    return el("button", text, type="button", data_pick=about)


def notes(lines: Sequence[str]) -> Iterator[Markup]:
    """Sentences below a table; many of them fold away."""
    if len(lines) > 4:
        yield el("details", el("summary", f"{len(lines)} notes"), _listed(lines))
    elif lines:
        yield _listed(lines)


def _listed(lines: Sequence[str]) -> Markup:
    return el("ul", join(el("li", line) for line in lines), cls="notes")
