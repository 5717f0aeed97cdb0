"""A schedule as ruled sheets: columns as wide as their texts, narrow tables side by side.

A long text wraps within its column and is never cut.  A section's title stays with its first row
and is said again where the section goes on.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import accumulate, groupby, pairwise, takewhile
from math import ceil

from ..dsl.records import record
from .canvas import Sheet
from .frame import area, blank
from .marks import BLACK, GREY, HAIR, MEDIUM, PALE, THIN, Box, Pen
from .metrics import T18, pitch, width, wrap
from .options import Options
from .remarks import below, remark
from .schedule import ASIDE, RIGHT, TICK, Column, Row, Schedule, Section

PAD, HEAD, TITLE, LEAD, APART = 0.9, 9.0, 5.6, 1.7, 6.0
"""Room in mm: beside a text, the head of a table, a section's title, above and below a row's
lines, between tables side by side."""
BAND, BOX = "#f4f6f9", 2.2
SHORT = 45.0
"""A section not higher than this, mm, is not broken."""
ROUNDING = 1e-6
SQUEEZE = 0.86
"""How far columns may be narrowed for one more table to stand beside."""


Asked = tuple[float, float]
"""What a column would have, and the least it needs, mm."""


@record
class Line:
    """A line of a table: a row with its cells wrapped, or a section's title (no row).

    A title's cells are its own lines and those of what stands beside it, ``below`` it if so many.
    """

    section: Section
    row: Row | None
    cells: tuple[tuple[str, ...], ...]
    height: float
    banded: bool = False
    below: int = 0


@record
class Table:
    """The columns that a sheet shows, by their number in the schedule, and their widths in mm."""

    schedule: Schedule
    shown: tuple[int, ...]
    widths: tuple[float, ...]

    @property
    def width(self) -> float:
        return sum(self.widths)

    def edges(self, left: float) -> list[float]:
        return list(accumulate(self.widths, initial=left))

    def column(self, index: int) -> Column:
        return self.schedule.columns[self.shown[index]]


def sheets(schedule: Schedule, options: Options) -> list[Sheet]:
    """As many sheets as it needs; at least one, so that an empty schedule shows as such."""
    empty = blank(options.paper, schedule.title, schedule.doc)
    free = area(empty)
    room = free._replace(bottom=free.bottom - below(empty, schedule.remarks))
    shown = [i for i, column in enumerate(schedule.columns) if column.fill != ASIDE]
    asked = {index: _asked(schedule, index) for index in shown}
    bands = [
        band
        for part in _parts(asked, room.width)
        for band in _bands(schedule, {index: asked[index] for index in part}, room)
    ]
    pages = list(_pages(bands, room.height))
    return [_sheet(schedule, options, page, i, len(pages)) for i, page in enumerate(pages)]


def height(schedule: Schedule, room: float) -> float:
    """How high the schedule is as one table of so much width, mm."""
    return HEAD + sum(line.height for line in _lines(_whole(schedule, room)))


def place(sheet: Sheet, schedule: Schedule, room: Box) -> Box:
    """The schedule as one table at the top of a part of a sheet; returns the room it took."""
    table = _whole(schedule, room.width)
    lines = list(_lines(table))
    _table(sheet, table, lines, room.left, room.top)
    bottom = room.top + HEAD + sum(line.height for line in lines)
    return Box(room.left, room.top, room.left + table.width, bottom)


def _whole(schedule: Schedule, room: float) -> Table:
    """The schedule as one table, as wide as it needs to be within a room."""
    shown = tuple(i for i, column in enumerate(schedule.columns) if column.fill != ASIDE)
    asked = [_asked(schedule, index) for index in shown]
    return Table(schedule, shown, tuple(_fitted(asked, room)))


def _parts(asked: Mapping[int, Asked], room: float) -> list[list[int]]:
    """The columns in parts that fit the sheet, about as wide one as the other.

    The first column is in each part.
    """
    first, *rest = asked
    own = room - asked[first][1]
    total = sum(asked[index][1] for index in rest)
    even = min(own, total / max(1, ceil(total / own)) + 8.0)
    parts = [[first]]
    used = 0.0
    for index in rest:
        if used + asked[index][1] > even and len(parts[-1]) > 1:
            parts.append([first])
            used = 0.0
        parts[-1].append(index)
        used += asked[index][1]
    return parts


@record
class Band:
    """Tables of the same columns side by side, as many as a sheet has room for."""

    table: Table
    stacks: tuple[list[Line], ...]

    @property
    def height(self) -> float:
        return HEAD + max(sum(line.height for line in stack) for stack in self.stacks)


def _bands(schedule: Schedule, asked: Mapping[int, Asked], room: Box) -> Iterator[Band]:
    """One table a sheet, or as many narrow ones side by side as it has room for."""
    widths = list(asked.values())
    stacks: list[list[Line]] = []
    most = _most_beside(widths, room.width)
    for beside in (most,) if _surely_higher(schedule, room.height) else (1, most):
        each = (room.width + APART) / beside - APART
        table = Table(schedule, tuple(asked), tuple(_fitted(widths, each)))
        stacks = list(_stacks(table, list(_lines(table)), room.height - HEAD))
        if len(stacks) == 1:
            break
    for start in range(0, len(stacks), beside):
        yield Band(table, tuple(stacks[start : start + beside]))


def _surely_higher(schedule: Schedule, room: float) -> bool:
    """Whether it is higher than a sheet even where no cell takes a second line."""
    row = max(pitch(T18) + LEAD, schedule.tall)
    titles = sum(bool(section.title) for section in schedule.sections)
    rows = sum(len(section.rows) for section in schedule.sections)
    return HEAD + titles * TITLE + rows * row > room


def _pages(bands: Sequence[Band], room: float) -> Iterator[list[Band]]:
    """Bands below each other as far as a sheet goes."""
    page: list[Band] = []
    for band in bands:
        if page and sum(each.height + APART for each in page) + band.height > room:
            yield page
            page = []
        page.append(band)
    yield page


def _most_beside(asked: Sequence[Asked], room: float) -> int:
    """How many tables stand side by side, none narrowed much, no word broken."""
    natural, least = (sum(widths) for widths in zip(*asked, strict=True))
    return max(1, int((room + APART) // (max(least, natural * SQUEEZE) + APART)))


def _asked(schedule: Schedule, index: int) -> Asked:
    """The width that a column's head and its widest text ask, and its longest word."""
    column = schedule.columns[index]
    heads = max(width(column.heading, T18, True), width(column.unit, T18), column.least) + 2 * PAD
    if column.fill == TICK:
        return heads, heads
    natural = least = heads
    for row in (row for section in schedule.sections for row in section.rows):
        bold, text = column.bold or row.strong, row.cells[index]
        natural = max(natural, width(text, T18, bold) + 2 * PAD)
        least = max([least, *(width(word, T18, bold) + 2 * PAD for word in text.split())])
    return natural, least


def _fitted(asked: Sequence[Asked], room: float) -> list[float]:
    """The widest columns cut back until all fit, or what is spare shared out.

    A word is broken only where the columns' longest words together have no room.
    """
    wide = [natural for natural, _ in asked]
    while sum(wide) > room:
        can = [i for i, (_, least) in enumerate(asked) if wide[i] > least] or range(len(wide))
        longest = max(can, key=lambda index: wide[index])
        wide[longest] -= min(1.0, sum(wide) - room)
    spare = min(room - sum(wide), 0.35 * sum(wide)) / len(wide)
    return [each + spare for each in wide]


def _lines(table: Table) -> Iterator[Line]:
    for section in table.schedule.sections:
        if section.title:
            yield _heading(table, section)
        for index, row in enumerate(section.rows):
            cells = tuple(_wrapped(table, row))
            tall = max((len(cell) for cell in cells), default=1)
            height = max(pitch(T18) * max(tall, 1) + LEAD, table.schedule.tall)
            yield Line(section, row, cells, height, index % 2 == 1)


def _heading(table: Table, section: Section, again: bool = False) -> Line:
    """A section's title, wrapped where it must be, with what stands beside or else below it."""
    room = table.width - 2 * PAD
    said = f"{section.title} (continued)" if again else section.title
    title, aside = wrap(said, T18, room, True), wrap(section.aside, T18, room)
    beside = len(aside) == 1 and width(title[-1], T18, True) + width(aside[0], T18) + 3 <= room
    below = 0 if beside else len(aside)
    more = (len(title) + below - 1) * pitch(T18)
    return Line(section, None, (tuple(title), tuple(aside)), TITLE + more, below=below)


def _wrapped(table: Table, row: Row) -> Iterator[tuple[str, ...]]:
    for index, room in enumerate(table.widths):
        text, bold = row.cells[table.shown[index]], table.column(index).bold or row.strong
        fits = width(text, T18, bold) <= room - 2 * PAD + ROUNDING
        yield ((text,) if text else ()) if fits else tuple(wrap(text, T18, room - 2 * PAD, bold))


def _stacks(table: Table, lines: Sequence[Line], room: float) -> Iterator[list[Line]]:
    """The lines by the height of a sheet."""
    stack: list[Line] = []
    used = 0.0
    for index, line in enumerate(lines):
        if stack and used + _together(lines, index) > room:
            yield stack
            again = line.row is not None and bool(line.section.title)
            stack = [_heading(table, line.section, again=True)] if again else []
            used = sum(each.height for each in stack)
        stack.append(line)
        used += line.height
    yield stack


def _together(lines: Sequence[Line], index: int) -> float:
    """The height, mm, that stays on one sheet from a line on.

    A total stays with the row above it, a title with two rows, a short section in one piece.
    """
    line = lines[index]
    run = [line, *takewhile(lambda each: each.row is not None, lines[index + 1 :])]
    if line.row is None:
        whole = sum(each.height for each in run)
        return whole if whole <= SHORT else sum(each.height for each in run[:3])
    total = run[1:2] if run[1:2] and run[1].row and run[1].row.strong else []
    return line.height + sum(each.height for each in total)


def _sheet(
    schedule: Schedule, options: Options, page: Sequence[Band], index: int, of: int
) -> Sheet:
    title = schedule.title if of == 1 else f"{schedule.title}, {index + 1} of {of}"
    sheet = blank(options.paper, title, schedule.doc)
    room = area(sheet)
    top = room.top
    for band in page:
        for beside, stack in enumerate(band.stacks):
            left = room.left + beside * (band.table.width + APART)
            _table(sheet, band.table, stack, left, top)
        top += band.height + APART
    remark(sheet, schedule.remarks, rest=True)
    return sheet


def _table(sheet: Sheet, table: Table, stack: Sequence[Line], left: float, top: float) -> None:
    edges = table.edges(left)
    box = Box(left, top, edges[-1], top + HEAD + sum(line.height for line in stack))
    _heads(sheet, table, edges, box)
    y = top + HEAD
    for titled, run in groupby(stack, key=lambda line: line.row is None):
        start = y
        for line in run:
            draw = _title if titled else _row
            draw(sheet, table, edges, line, y)
            y += line.height
        if not titled:
            for x in edges[1:-1]:
                sheet.line([(x, start), (x, y)], Pen(HAIR, GREY))
    sheet.rect(box, Pen(MEDIUM))


def _heads(sheet: Sheet, table: Table, edges: Sequence[float], box: Box) -> None:
    sheet.rect(Box(box.left, box.top, box.right, box.top + HEAD), None, PALE)
    for index, span in enumerate(pairwise(edges)):
        column = table.column(index)
        x, anchor = _start(column, span)
        for text, down, bold, colour in (
            (column.heading, 2.9, True, BLACK),
            (column.unit, 6.4, False, GREY),
        ):
            sheet.text(
                x, box.top + down, text, T18, bold=bold, anchor=anchor, level="middle",
                colour=colour, cell=True,
            )  # fmt: skip
    for x in edges[1:-1]:
        sheet.line([(x, box.top), (x, box.top + HEAD)], Pen(HAIR, GREY))
    y = box.top + HEAD
    sheet.line([(box.left, y), (box.right, y)], Pen(THIN))


def _start(column: Column, span: tuple[float, float]) -> tuple[float, str]:
    """Where a cell's text stands, and which of its points that is."""
    if column.fill == TICK:
        return (span[0] + span[1]) / 2, "middle"
    return (span[1] - PAD, "end") if column.fill == RIGHT else (span[0] + PAD, "start")


def _title(sheet: Sheet, table: Table, edges: Sequence[float], line: Line, top: float) -> None:
    """A section's title, and what stands beside it."""
    for y in (top, top + line.height):
        sheet.line([(edges[0], y), (edges[-1], y)], Pen(THIN))
    title, aside = line.cells
    block, y = sheet.block(), top + TITLE / 2
    for index, text in enumerate(title):
        down = y + index * pitch(T18)
        sheet.text(
            edges[0] + PAD, down, text, T18, bold=True, level="middle", cell=True, block=block
        )
    for index, text in enumerate(aside):
        down = y + (index + len(title) - (0 if line.below else 1)) * pitch(T18)
        sheet.text(
            edges[-1] - PAD, down, text, T18, anchor="end", level="middle", cell=True,
            colour=GREY, block=block,
        )  # fmt: skip


def _row(sheet: Sheet, table: Table, edges: Sequence[float], line: Line, top: float) -> None:
    row, bottom = line.row, top + line.height
    assert row is not None
    with sheet.group(row.subject or "row", "row"):
        if line.banded:
            sheet.rect(Box(edges[0], top, edges[-1], bottom), None, BAND)
        if row.strong:
            sheet.line([(edges[0], top), (edges[-1], top)], Pen(THIN))
        for index, (lines, span) in enumerate(zip(line.cells, pairwise(edges), strict=True)):
            _cell(sheet, table.column(index), lines, Box(span[0], top, span[1], bottom), row.strong)


def _cell(sheet: Sheet, column: Column, lines: Sequence[str], box: Box, strong: bool) -> None:
    if not lines:
        return
    x, anchor = _start(column, (box.left, box.right))
    y = box.top + (LEAD + pitch(T18)) / 2
    if column.fill == TICK:
        if lines == (TICK,):
            half = BOX / 2
            sheet.rect(Box(x - half, y - half, x + half, y + half), Pen(HAIR, BLACK))
        return
    block = sheet.block() if len(lines) > 1 else 0
    for index, text in enumerate(lines):
        sheet.text(
            x, y + index * pitch(T18), text, T18, bold=column.bold or strong, anchor=anchor,
            level="middle", cell=True, block=block,
        )  # fmt: skip
