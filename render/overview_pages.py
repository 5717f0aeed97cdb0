"""Diagrams onto overview sheets: one that fills a sheet alone, several small ones side by side.

A sheet is a row of columns, a column a stack of diagrams.  A diagram goes where it widens a
sheet least, on the first sheet with room; then columns and stacks share out what is free, so
that the frames of the diagrams cover the sheet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from .marks import Box, Point
from .metrics import T25, width
from .overview_layout import Layout

HEAD, SIDE, FOOT = 8.0, 4.0, 3.5
"""Room in a frame above, beside and below its diagram, mm."""
APART = 4.0
"""Between two frames, mm."""


@dataclass(frozen=True, slots=True)
class Block:
    """A diagram of a place, the ``part``th of so many ``of`` it, with the words above it."""

    place: str
    part: int
    of: int
    heading: str
    lay: Layout

    @property
    def words(self) -> str:
        """The place's name and label, and which part of it this is."""
        return f"{self.heading} ({self.part} of {self.of})" if self.of > 1 else self.heading

    @property
    def width(self) -> float:
        """Of its frame in mm, which has room for its words."""
        return max(self.lay.width, width(self.words, T25, True)) + 2 * SIDE

    @property
    def height(self) -> float:
        return self.lay.height + HEAD + FOOT


@dataclass(frozen=True, slots=True)
class Spot:
    """A block on a sheet: its frame (None where it is alone) and its diagram's origin."""

    block: Block
    frame: Box | None
    origin: Point


@dataclass
class Page:
    """A sheet being filled, column by column; ``alone`` takes no second diagram."""

    box: Box
    columns: list[list[Block]] = field(default_factory=list)

    def offer(self, block: Block) -> tuple[float, int] | None:
        """How much wider the sheet gets with a block, in which column; None without room."""
        grown = [
            (max(0.0, block.width - _width(column)), index)
            for index, column in enumerate(self.columns)
            if _height([*column, block]) <= self.box.height
        ]
        grown.append((block.width + APART, len(self.columns)))
        best = min(grown)
        fits = block.height <= self.box.height and self._total() + best[0] <= self.box.width
        return best if fits else None

    def take(self, block: Block, column: int) -> None:
        if column == len(self.columns):
            self.columns.append([])
        self.columns[column].append(block)

    def _total(self) -> float:
        return sum(_width(column) for column in self.columns) + APART * (len(self.columns) - 1)

    @property
    def blocks(self) -> list[Block]:
        return [block for column in self.columns for block in column]

    def spots(self, whole: Box) -> list[Spot]:
        """Where everything stands; a diagram alone is centred below the sheet's heading."""
        if len(self.blocks) == 1:
            block = self.blocks[0]
            return [Spot(block, None, _centred(block, whole))]
        found: list[Spot] = []
        spare = (self.box.width - self._total()) / len(self.columns)
        left = self.box.left
        for column in self.columns:
            right = left + _width(column) + spare
            found += _stacked(column, Box(left, self.box.top, right, self.box.bottom))
            left = right + APART
        return found


def _width(column: Sequence[Block]) -> float:
    return max(block.width for block in column)


def _height(column: Sequence[Block]) -> float:
    return sum(block.height for block in column) + APART * (len(column) - 1)


def _stacked(column: Sequence[Block], box: Box) -> list[Spot]:
    """The blocks of a column, each with its share of what is free in height."""
    spare = (box.height - _height(column)) / len(column)
    found, top = [], box.top
    for block in column:
        frame = Box(box.left, top, box.right, top + block.height + spare)
        inner = Box(frame.left, frame.top + HEAD, frame.right, frame.bottom - FOOT)
        found.append(Spot(block, frame, _centred(block, inner)))
        top = frame.bottom + APART
    return found


def _centred(block: Block, room: Box) -> Point:
    across = max(0.0, room.width - block.lay.width) / 2
    down = max(0.0, room.height - block.lay.height) / 2
    return room.left + across, room.top + down


def pages(blocks: Sequence[Block], box: Box) -> list[Page]:
    """Blocks on as few sheets with this room as some simple orders of filling find.

    Of two ways with as many sheets the one that scatters places less is taken, then the one that
    fills in the order given.  Sheets and columns follow the order of what is first on them.
    """
    number = {id(block): at for at, block in enumerate(blocks)}
    orders = (
        list(blocks),
        sorted(blocks, key=lambda block: -block.width),
        sorted(blocks, key=lambda block: -block.width * block.height),
    )
    ways = [_filled(order, box) for order in orders]
    best = min(ways, key=lambda found: (len(found), _far(found)))
    for page in best:
        for column in page.columns:
            column.sort(key=lambda block: number[id(block)])
        page.columns.sort(key=lambda column: number[id(column[0])])
    return sorted(best, key=lambda page: number[id(page.columns[0][0])])


def _filled(blocks: Sequence[Block], box: Box) -> list[Page]:
    """Blocks on sheets, each on the first sheet that has place for it."""
    found: list[Page] = []
    for block in blocks:
        for page in found:
            offer = page.offer(block)
            if offer is not None:
                page.take(block, offer[1])
                break
        else:
            found.append(Page(box))
            found[-1].take(block, 0)
    return found


def _far(found: Sequence[Page]) -> int:
    """On how many sheets places are, counted place by place."""
    return sum(len({block.place for block in page.blocks}) for page in found)
