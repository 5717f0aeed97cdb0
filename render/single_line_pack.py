"""Pieces onto sheets: each as high as it goes, by what its rooms leave free, not by outlines.

A sheet's drawing area is a grid of cells; a piece is a set of cells, and a place for it is one
where no cell is taken twice.  Pieces come in the order power flows; one that does not fit the
sheets begun so far begins the next.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from ..dsl.records import record
from .marks import Box
from .single_line_parts import Bar, Open, Piece

CELL = 2.5
GAP_X, GAP_Y = 3.5, 2.5  # kept round every room, mm; two rooms are twice that apart
MARGIN = 4  # spare bits left of the area, for rooms grown over its edge
STEP = 4  # cells between the places tried across the sheet
SHIFT = (0.1, 0.5)  # cells down that a piece, a stretch of a bar rather goes than one aside
HANG = 0.25  # of what is free below all on a small sheet, how much goes above
UPHILL = 40  # cells a place costs where power would flow up to it


@dataclass(slots=True)
class Page:
    """One sheet's area and what stands on it; pieces are in sheet coordinates."""

    area: Box
    pieces: list[Piece] = field(default_factory=list)
    taken: dict[int, int] = field(default_factory=dict)
    ends: dict[str, Open] = field(default_factory=dict)
    rows: dict[str, int] = field(default_factory=dict)

    def put(self, piece: Piece, cells: Mapping[int, int], column: int, row: int, box: Box) -> None:
        """Stands a piece with its box's corner at a cell."""
        dx = self.area.left + column * CELL - box.left
        dy = self.area.top + row * CELL - box.top
        placed = piece.move(dx, dy)
        self.pieces.append(placed)
        self.rows[piece.name] = _bar_row(placed, self.area)
        for index, bits in cells.items():
            self.taken[row + index] = self.taken.get(row + index, 0) | (bits << column)
        self.ends.update({end.run.key: end for end in placed.opens(False)})


def pack(pieces: Sequence[Sequence[Piece]], area: Box) -> list[Page]:
    """All pieces on as few sheets as their order allows; every piece must fit one by itself.

    Each comes as a choice of shapes, of which the first that fits is taken.  A piece is tried
    first on the sheet of what feeds it, and the stretches of a bar never turn back to an earlier
    sheet.
    """
    pages: list[Page] = []
    reached: dict[str, int] = {}
    for shapes in pieces:
        name = shapes[0].name
        first = _sheet_of_feeders(pages, shapes[0])
        tries = range(reached.get(name, 0), len(pages))
        order = [*(i for i in tries if i >= first), *(i for i in tries if i < first)]
        at = next((i for i in order for s in shapes if _settle(pages[i], s)), len(pages))
        reached[name] = at
        if at < len(pages):
            continue
        page = Page(area)
        pages.append(page)
        if not any(_settle(page, shape) for shape in shapes):
            page.put(shapes[-1], _footprint(shapes[-1], shapes[-1].box), 0, 0, shapes[-1].box)
    return pages


def aside(pages: Sequence[Page], shapes: Sequence[Piece]) -> bool:
    """Puts a piece that nothing hangs on at the right of the emptiest sheet, if one has room."""
    for page in sorted(pages, key=lambda page: sum(row.bit_count() for row in page.taken.values())):
        for shape in shapes:
            if _settle_right(page, shape):
                return True
    return False


def _settle_right(page: Page, piece: Piece) -> bool:
    """Puts a piece as high, then as far to the right, as it goes."""
    box = piece.box
    columns = math.floor((page.area.width - box.width) / CELL + 0.01)
    rows = math.floor((page.area.height - box.height) / CELL + 0.01)
    cells = _footprint(piece, box)
    found = [
        (row, -column)
        for column in range(columns, -1, -1)
        if (row := _lowest(page, cells, column, 0, rows)) is not None
    ]
    if not found:
        return False
    row, column = min(found)
    page.put(piece, cells, -column, row, box)
    return True


def spread(page: Page) -> None:
    """Shares out what is free across a sheet: before, between and behind what stands apart.

    Nothing comes nearer to its neighbour, for there may be lines between them; only the legend,
    which stands at the sheet's right end, leaves that for its share.
    """
    groups = _apart(page)
    widths = sum(group.right - group.left for group in groups)
    gaps = [max(0.0, b.left - a.right) for a, b in pairwise(groups)]
    if groups and groups[-1].pieces[0].name == "legend" and gaps:
        gaps[-1] = 0.0
    step = (page.area.width - widths - sum(gaps)) / (len(groups) + 1)
    lowest = max((piece.box.bottom for piece in page.pieces), default=page.area.bottom)
    down = math.floor(HANG * (page.area.bottom - lowest) / CELL) * CELL
    at, moved = page.area.left + step, {}
    for group, gap in zip(groups, [*gaps, 0.0], strict=True):
        across = round((at - group.left) / CELL) * CELL
        moved.update({id(piece): piece.move(across, down) for piece in group.pieces})
        at += group.right - group.left + gap + step
    page.pieces = [moved[id(piece)] for piece in page.pieces]
    page.ends = {end.run.key: end for piece in page.pieces for end in piece.opens(False)}


@record
class _Group:
    """Pieces that no upright line parts."""

    left: float
    right: float
    pieces: tuple[Piece, ...]


def _apart(page: Page) -> list[_Group]:
    groups: list[_Group] = []
    for piece in sorted(page.pieces, key=lambda piece: piece.box.left):
        left, right = piece.box.left, piece.box.right
        pieces: tuple[Piece, ...] = (piece,)
        if groups and left < groups[-1].right + GAP_X:
            before = groups.pop()
            left, right = before.left, max(before.right, right)
            pieces = (*before.pieces, piece)
        groups.append(_Group(left, right, pieces))
    return groups


def _sheet_of_feeders(pages: Sequence[Page], piece: Piece) -> int:
    """The last sheet on which something stands that feeds the piece."""
    keys = {end.run.key for end in piece.opens(True)}
    return max((i for i, page in enumerate(pages) if keys & set(page.ends)), default=0)


def _settle(page: Page, piece: Piece) -> bool:
    """Puts a piece in the best free place of a sheet, if there is one."""
    box = piece.box
    wide = max([box.width, *(room.right - box.left for room in piece.spare)])
    wide = wide if wide <= page.area.width else box.width
    columns = math.floor((page.area.width - wide) / CELL + 0.01)
    rows = math.floor((page.area.height - box.height) / CELL + 0.01)
    if columns < 0 or rows < 0:
        return False
    cells = _footprint(piece, box)
    best: tuple[float, int, int] | None = None
    for column in _places(page, piece, box, columns):
        above = page.rows.get(piece.name, 0)
        for start in dict.fromkeys((above, max(above, _below(page, piece, box)))):
            found = _lowest(page, cells, column, start, rows)
            if found is not None:
                cost = _uphill(page, piece, box, found) + SHIFT[piece.index > 0] * column
                score = (found + cost, found, column)
                if best is None or score < best:
                    best = score
    if best is None:
        return False
    page.put(piece, cells, best[2], best[1], box)
    return True


def _bar_row(piece: Piece, area: Box) -> int:
    """The row of cells in which a piece's own bar lies."""
    bars = [part.y for part in piece.parts if isinstance(part, Bar) and part.node == piece.name]
    return math.floor((max(bars, default=area.top) - area.top) / CELL)


def _footprint(piece: Piece, box: Box) -> dict[int, int]:
    rows: dict[int, int] = {}
    for room in (*piece.rooms, *piece.spare):
        left = max(-MARGIN, math.floor((room.left - GAP_X - box.left) / CELL)) + MARGIN
        right = math.ceil((room.right + GAP_X - box.left) / CELL) + MARGIN
        bits = ((1 << (right - left)) - 1) << left
        top = math.floor((room.top - GAP_Y - box.top) / CELL)
        bottom = math.ceil((room.bottom + GAP_Y - box.top) / CELL)
        for row in range(top, bottom):
            rows[row] = rows.get(row, 0) | bits
    return rows


def _places(page: Page, piece: Piece, box: Box, columns: int) -> list[int]:
    """Columns to try: under the ends the piece hangs on first, then across the sheet."""
    wanted = []
    for end in piece.opens(True):
        start = page.ends.get(end.run.key)
        if start is not None:
            column = round((start.x - end.x + box.left - page.area.left) / CELL)
            wanted.append(min(max(column, 0), columns))
    return list(dict.fromkeys([*wanted, *range(0, columns + 1, STEP), columns]))


def _below(page: Page, piece: Piece, box: Box) -> int:
    """The row from which a piece stands below all it is fed from on the sheet."""
    lowest = 0.0
    for end in piece.opens(True):
        start = page.ends.get(end.run.key)
        if start is not None:
            lowest = max(lowest, start.y + 2.5 - end.y + box.top - page.area.top)
    return math.ceil(lowest / CELL)


def _lowest(
    page: Page, cells: Mapping[int, int], column: int, start: int, rows: int
) -> int | None:
    """The highest free row for a piece at a column, from a row on."""
    there = [(i, bits << column) for i, bits in cells.items()]
    taken = page.taken.get
    for row in range(start, rows + 1):
        if not any(taken(row + i, 0) & bits for i, bits in there):
            return row
    return None


def _uphill(page: Page, piece: Piece, box: Box, row: int) -> float:
    """The cost of a place where power would have to flow up, or far sideways, to get there."""
    cost = 0.0
    for end in piece.opens(True):
        start = page.ends.get(end.run.key)
        if start is not None and page.area.top + row * CELL + end.y - box.top < start.y + 2:
            cost += UPHILL
    return cost

