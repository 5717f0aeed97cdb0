"""A schedule: a table that is a document, on ruled sheets, as CSV and as Markdown.

    columns = (Column("Cable", bold=True), Column("Length", "m", RIGHT))
    rows = (Row(("C1", "4.2"), "con-C1"), Row(("Total", "4.2"), strong=True))
    schedule = Schedule("Cable cut list", "Cut list", columns, (Section("3x14AWG", rows),))

    csv_text(schedule)                  one heading line, the section's title in the first column
    markdown(schedule, rig)             a table a section
    schedule_sheet.sheets(schedule, options)

What stands in the rows is found elsewhere, a module a schedule; here is only what a table is.
"""

from __future__ import annotations

from collections.abc import Sequence

from ..dsl.model import Rig
from ..dsl.records import record
from .texts import plain, written
from .wiring import CAUTION

LEFT, RIGHT, TICK, ASIDE = "left", "right", "tick", "aside"
"""How a column is filled: text set left or right, or a box to tick where the cell says TICK (on
sheets only); ASIDE: in texts only, on a sheet the section's title says it."""


@record
class Column:
    """A column: heading over unit; ``least`` is its width at least, in mm."""

    heading: str
    unit: str = ""
    fill: str = LEFT
    bold: bool = False
    least: float = 0.0

    @property
    def title(self) -> str:
        """Heading and unit on one line, for texts."""
        return f"{self.heading} {self.unit}".strip()


@record
class Row:
    """Its texts and the id of what it is about (``con-W1``, ``dev-Q1``); ``strong``: a total."""

    cells: tuple[str, ...]
    subject: str = ""
    strong: bool = False


@record
class Section:
    """Rows under a title of their own, which may be empty; ``aside`` stands right of it."""

    title: str
    rows: tuple[Row, ...]
    aside: str = ""


@record
class Schedule:
    """A table as a document; ``remarks`` stand below it on every sheet.

    ``titled``: texts say the sections' titles too; not where columns tell the same.  ``tall``: the
    least height of a row, mm, where something is to be written in.
    """

    title: str
    doc: str
    columns: tuple[Column, ...]
    sections: tuple[Section, ...]
    remarks: tuple[str, ...] = ()
    titled: bool = True
    tall: float = 0.0


def _kept(schedule: Schedule) -> list[int]:
    """The columns that hold text."""
    return [i for i, column in enumerate(schedule.columns) if column.fill != TICK]


def _titled(schedule: Schedule) -> bool:
    return schedule.titled and any(section.title for section in schedule.sections)


def cells(schedule: Schedule) -> list[tuple[str, ...]]:
    """The whole table as texts, headings first; sections are a column of their own."""
    keep, titled = _kept(schedule), _titled(schedule)
    head = tuple(schedule.columns[i].title.lower() for i in keep)
    table = [("group", *head) if titled else head]
    for section in schedule.sections:
        title = f"{section.title} {section.aside}".strip()
        for row in section.rows:
            texts = tuple(row.cells[i] for i in keep)
            table.append((title, *texts) if titled else texts)
    return table


def csv_text(schedule: Schedule) -> str:
    """The table as CSV, units in the headings."""
    return written(cells(schedule))


def markdown(schedule: Schedule, rig: Rig) -> str:
    """The table as Markdown, a heading a section, with the caution."""
    keep, titled = _kept(schedule), _titled(schedule)
    lines = [f"# {schedule.title}: {plain(rig.label)}, stage {plain(rig.stage)}", ""]
    for index, section in enumerate(schedule.sections):
        if titled or index == 0:
            title = plain(f"{section.title} {section.aside}".strip()) if titled else ""
            lines += [f"## {title}", ""] if title else []
            lines += [_md([plain(schedule.columns[i].title) for i in keep])]
            lines += ["|" + " --- |" * len(keep)]
        lines += [_md([_strong(row, row.cells[i]) for i in keep]) for row in section.rows]
        lines += [""] if titled else []
    remarks = [f"- {plain(text)}" for text in (*schedule.remarks, CAUTION)]
    return "\n".join([*lines, *([] if titled else [""]), *remarks, ""])


def _strong(row: Row, text: str) -> str:
    return f"**{plain(text)}**" if row.strong and text else plain(text)


def _md(texts: Sequence[str]) -> str:
    return "| " + " | ".join(texts) + " |"
