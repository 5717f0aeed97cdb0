"""A schedule: a table that is a document, as ruled sheets, CSV, Markdown and aligned text.

    columns = (Column("Cable", bold=True), Column("Length", "m", RIGHT))
    rows = (Row(("C1", "4.2"), "con-C1"), Row(("total", "4.2"), strong=True))
    schedule = Schedule("Cable cut list", "Cut list", columns, (Section("3x14AWG", rows),))

    sheets(schedule, rig, options)      ruled sheets; a long text wraps within its column
    csv_text(schedule)                  one heading line, the section's title in the first column
    markdown(schedule, rig)             a table a section

What stands in the rows is found elsewhere, a module a schedule; here is only how a table looks.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise

from ..dsl.model import Rig
from .canvas import Sheet
from .frame import area, blank
from .marks import BLACK, GREY, HAIR, MEDIUM, PALE, THIN, Box, Pen
from .metrics import T18, T25, pitch, width, wrap
from .options import Options
from .remarks import remark
from .texts import plain, written
from .wiring import CAUTION

LEFT, RIGHT, TICK = "left", "right", "tick"
"""How a column is filled: text set left or right, or a box to tick where the cell says TICK."""

PAD, HEAD, TITLE_ROW, LEAD = 0.9, 10.0, 6.0, 1.7
BAND = "#f4f6f9"
BOX = 2.2


@dataclass(frozen=True, slots=True)
class Column:
    """A column: heading over unit; ``least`` is its width at least, in mm.

    ``once``: on a sheet, what stands in the row above is not said again.
    """

    heading: str
    unit: str = ""
    fill: str = LEFT
    bold: bool = False
    least: float = 0.0
    once: bool = False

    @property
    def title(self) -> str:
        """Heading and unit on one line, for texts."""
        return f"{self.heading} {self.unit}".strip()


@dataclass(frozen=True, slots=True)
class Row:
    """Its texts and the id of what it is about (``con-W1``, ``dev-Q1``); ``strong``: a total."""

    cells: tuple[str, ...]
    subject: str = ""
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Section:
    """Rows under a title of their own; the title may be empty."""

    title: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Schedule:
    """A table as a document; ``remarks`` stand below it on every sheet."""

    title: str
    doc: str
    columns: tuple[Column, ...]
    sections: tuple[Section, ...]
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Line:
    """A line of a sheet: a section's title (``row`` None) or a row with its cells wrapped."""

    title: str
    row: Row | None
    cells: tuple[tuple[str, ...], ...]
    height: float
    banded: bool = False


def sheets(schedule: Schedule, rig: Rig, options: Options) -> list[Sheet]:
    """As many ruled sheets as it needs; at least one, so that an empty schedule shows as such."""
    room = area(blank(options.paper, schedule.title, schedule.doc))
    edges = list(accumulate(_widths(schedule, room.width), initial=room.left))
    lines = list(_lines(schedule, edges))
    return [_sheet(schedule, options, edges, page) for page in _pages(lines, room.height - HEAD)]


def _widths(schedule: Schedule, room: float) -> list[float]:
    """Column widths: what the widest text asks, the widest cut back, or the spare shared out."""
    wide = []
    for index, column in enumerate(schedule.columns):
        if column.fill == TICK:
            wide.append(max(width(column.heading, T18, True), column.least) + 2 * PAD)
            continue
        heads = max(width(column.heading, T18, True), width(column.unit, T18), column.least)
        rows = (row for section in schedule.sections for row in section.rows)
        texts = (width(row.cells[index], T18, column.bold or row.strong) for row in rows)
        wide.append(max([heads, *texts]) + 2 * PAD)
    while sum(wide) > room:
        longest = max(range(len(wide)), key=lambda index: wide[index])
        wide[longest] -= min(1.0, sum(wide) - room)
    spare = min(room - sum(wide), 0.35 * sum(wide)) / len(wide)
    return [each + spare for each in wide]


def _lines(schedule: Schedule, edges: Sequence[float]) -> Iterator[_Line]:
    for section in schedule.sections:
        if section.title:
            yield _Line(section.title, None, (), TITLE_ROW)
        above: Row | None = None
        for index, row in enumerate(section.rows):
            cells = tuple(_wrapped(schedule, edges, row, above))
            above = row
            tall = max((len(cell) for cell in cells), default=1)
            yield _Line("", row, cells, pitch(T18) * tall + LEAD, index % 2 == 1)


def _wrapped(
    schedule: Schedule, edges: Sequence[float], row: Row, above: Row | None
) -> Iterator[tuple[str, ...]]:
    for index, (column, (a, b)) in enumerate(zip(schedule.columns, pairwise(edges), strict=True)):
        text = row.cells[index]
        said = column.once and above is not None and above.cells[index] == text
        lines = wrap(text, T18, b - a - 2 * PAD, column.bold or row.strong)
        yield ("",) if said or not lines else tuple(lines)


def _pages(lines: Sequence[_Line], room: float) -> Iterator[list[_Line]]:
    """The lines by sheet; a section's title stays with its first row and is said again overleaf."""
    page: list[_Line] = []
    used, title = 0.0, ""
    for index, line in enumerate(lines):
        after = lines[index + 1].height if line.title and index + 1 < len(lines) else 0.0
        if page and used + line.height + after > room:
            yield page
            again = bool(title) and not line.title
            page = [_Line(f"{title} (continued)", None, (), TITLE_ROW)] if again else []
            used = sum(each.height for each in page)
        title = line.title or title
        page.append(line)
        used += line.height
    yield page


def _sheet(
    schedule: Schedule, options: Options, edges: Sequence[float], page: Sequence[_Line]
) -> Sheet:
    sheet = blank(options.paper, schedule.title, schedule.doc)
    top = area(sheet).top
    table = Box(edges[0], top, edges[-1], top + HEAD + sum(line.height for line in page))
    _heads(sheet, schedule, edges, table)
    y = top + HEAD
    for line in page:
        _draw(sheet, schedule, edges, line, y)
        y += line.height
    sheet.rect(table, Pen(MEDIUM))
    remark(sheet, schedule.remarks)
    return sheet


def _heads(sheet: Sheet, schedule: Schedule, edges: Sequence[float], table: Box) -> None:
    sheet.rect(Box(table.left, table.top, table.right, table.top + HEAD), None, PALE)
    for column, (a, b) in zip(schedule.columns, pairwise(edges), strict=True):
        x, anchor = (b - PAD, "end") if column.fill == RIGHT else (a + PAD, "start")
        for text, down, bold, colour in (
            (column.heading, 3.2, True, BLACK),
            (column.unit, 7.0, False, GREY),
        ):
            sheet.text(
                x, table.top + down, text, T18, bold=bold, anchor=anchor, level="middle",
                colour=colour, cell=True,
            )  # fmt: skip
    for x in edges[1:-1]:
        sheet.line([(x, table.top), (x, table.top + HEAD)], Pen(HAIR, GREY))
    y = table.top + HEAD
    sheet.line([(table.left, y), (table.right, y)], Pen(THIN))


def _draw(
    sheet: Sheet, schedule: Schedule, edges: Sequence[float], line: _Line, top: float
) -> None:
    bottom = top + line.height
    if line.row is None:
        sheet.text(edges[0] + PAD, bottom - 1.6, line.title, T25, bold=True, cell=True)
        sheet.line([(edges[0], bottom), (edges[-1], bottom)], Pen(HAIR, GREY))
        return
    said = " ".join(filter(None, line.row.cells))
    with sheet.group(line.row.subject or "row", "row", said):
        if line.banded:
            sheet.rect(Box(edges[0], top, edges[-1], bottom), None, BAND)
        for x in edges[1:-1]:
            sheet.line([(x, top), (x, bottom)], Pen(HAIR, GREY))
        if line.row.strong:
            sheet.line([(edges[0], top), (edges[-1], top)], Pen(THIN))
        for column, cell, (a, b) in zip(schedule.columns, line.cells, pairwise(edges), strict=True):
            _cell(sheet, column, cell, Box(a, top, b, bottom), line.row.strong)


def _cell(sheet: Sheet, column: Column, lines: Sequence[str], box: Box, strong: bool) -> None:
    if column.fill == TICK:
        if lines != (TICK,):
            return
        x, y = box.left + PAD, box.top + (LEAD + pitch(T18) - BOX) / 2
        sheet.rect(Box(x, y, x + BOX, y + BOX), Pen(HAIR, BLACK))
        return
    x, anchor = (box.right - PAD, "end") if column.fill == RIGHT else (box.left + PAD, "start")
    block = sheet.block()
    y = box.top + (LEAD + pitch(T18)) / 2
    for index, text in enumerate(lines):
        sheet.text(
            x, y + index * pitch(T18), text, T18, bold=column.bold or strong, anchor=anchor,
            level="middle", cell=True, block=block,
        )  # fmt: skip


def _written(schedule: Schedule) -> list[int]:
    """The columns that hold text: a box to tick is for paper only."""
    return [i for i, column in enumerate(schedule.columns) if column.fill != TICK]


def _titled(schedule: Schedule) -> bool:
    return any(section.title for section in schedule.sections)


def cells(schedule: Schedule) -> list[tuple[str, ...]]:
    """The whole table as texts, headings first; sections are a column of their own."""
    keep, titled = _written(schedule), _titled(schedule)
    head = tuple(schedule.columns[i].title.lower() for i in keep)
    table = [("group", *head) if titled else head]
    for section in schedule.sections:
        for row in section.rows:
            texts = tuple(row.cells[i] for i in keep)
            table.append((section.title, *texts) if titled else texts)
    return table


def csv_text(schedule: Schedule) -> str:
    """The table as CSV (RFC 4180 with line feeds), units in the headings."""
    return written(cells(schedule))


def markdown(schedule: Schedule, rig: Rig) -> str:
    """The table as Markdown, a heading a section, with the caution."""
    keep = _written(schedule)
    head = _md([plain(schedule.columns[i].title) for i in keep])
    lines = [f"# {schedule.title}: {plain(rig.label)}, stage {plain(rig.stage)}", ""]
    for section in schedule.sections:
        if section.title:
            lines += [f"## {plain(section.title)}", ""]
        lines += [head, "|" + " --- |" * len(keep)]
        lines += [_md([_strong(row, row.cells[i]) for i in keep]) for row in section.rows]
        lines.append("")
    return "\n".join([*lines, *(f"- {text}" for text in schedule.remarks), f"- {CAUTION}", ""])


def _strong(row: Row, text: str) -> str:
    return f"**{plain(text)}**" if row.strong and text else plain(text)


def _md(texts: Sequence[str]) -> str:
    return "| " + " | ".join(texts) + " |"
