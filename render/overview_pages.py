"""Diagrams onto overview sheets: one that fills a sheet alone, several small ones side by side.

A sheet is a row of columns, a column a stack of diagrams.  A diagram goes, in the one of its
shapes and to the place where it widens a sheet least, on the first sheet with room; then columns
and stacks share out what is free, so that the frames cover the sheet and the diagrams fill their
frames.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from ..dsl.records import record, replace
from .marks import Box, Point
from .metrics import T25, width
from .overview_fit import Shape

HEAD, SIDE, FOOT = 8.0, 4.0, 3.5
"""Room in a frame above, beside and below its diagram, mm."""
APART = 4.0
"""Between two frames, mm."""
SPARSE = 0.3
"""A sheet of which less is taken counts as sparse."""


@record
class Block:
    """A diagram of a place, the ``part``th of so many ``of`` it, with the words above it.

    ``shapes``: its layouts, those with fewer strips first; ``shape`` is the one taken.
    """

    place: str
    part: int
    of: int
    heading: str
    shapes: tuple[Shape, ...]
    taken: int = 0

    @property
    def shape(self) -> Shape:
        return self.shapes[self.taken]

    @property
    def words(self) -> str:
        """The place's name and label, and which part of it this is."""
        return f"{self.heading} ({self.part} of {self.of})" if self.of > 1 else self.heading

    @property
    def width(self) -> float:
        """Of its frame in mm, which has room for its words."""
        return max(self.shape.width, width(self.words, T25, True)) + 2 * SIDE

    @property
    def height(self) -> float:
        return self.shape.height + HEAD + FOOT

    def lowered(self) -> Block:
        """The block with lower shapes to choose from, after those it has."""
        return replace(self, shapes=(*self.shapes, *(shape.lowered() for shape in self.shapes)))

    @property
    def forms(self) -> list[Block]:
        """The same diagram in each of its shapes."""
        return [replace(self, taken=at) for at in range(len(self.shapes))]


@record
class Spot:
    """A diagram on a sheet: its frame (None where it is alone), its final shape and its origin."""

    block: Block
    frame: Box | None
    shape: Shape
    origin: Point


@dataclass
class Page:
    """A sheet being filled, column by column."""

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

    def take(self, block: Block) -> bool:
        """Takes a block in its best shape, if there is room."""
        offers = [(offer, form.taken) for form in block.forms if (offer := self.offer(form))]
        if not offers:
            return False
        (_, column), shape = min(offers)
        if column == len(self.columns):
            self.columns.append([])
        self.columns[column].append(replace(block, taken=shape))
        return True

    def _total(self) -> float:
        return sum(_width(column) for column in self.columns) + APART * (len(self.columns) - 1)

    @property
    def blocks(self) -> list[Block]:
        return [block for column in self.columns for block in column]

    def spots(self, whole: Box) -> list[Spot]:
        """Where everything stands; a diagram alone stands below the sheet's heading."""
        if len(self.blocks) == 1:
            return [_spot(self.blocks[0], None, whole)]
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
    free = (box.height - _height(column)) / sum(block.height for block in column)
    found, top = [], box.top
    for block in column:
        frame = Box(box.left, top, box.right, top + block.height * (1 + free))
        inner = Box(
            frame.left + SIDE, frame.top + HEAD, frame.right - SIDE, frame.bottom - FOOT
        )  # fmt: skip
        found.append(_spot(block, frame, inner))
        top = frame.bottom + APART
    return found


def _spot(block: Block, frame: Box | None, room: Box) -> Spot:
    """A diagram in its clearest shape, or the one that fits its room best, filling that."""
    shapes = [s for s in block.shapes if s.width <= room.width and s.height <= room.height]
    best = min(shapes or [block.shape], key=lambda shape: (shape.tangle, _strange(shape, room)))
    shape = best.spread(room.width, room.height)
    across = max(0.0, room.width - shape.width) / 2
    down = max(0.0, room.height - shape.height) / 2
    return Spot(block, frame, shape, (room.left + across, room.top + down))


def _strange(shape: Shape, room: Box) -> float:
    """How far the proportions of a shape are from those of a room."""
    if not shape.width or not shape.height:
        return 0.0
    return abs(math.log(shape.width / shape.height * room.height / room.width))


def pages(blocks: Sequence[Block], box: Box) -> list[Page]:
    """Blocks on as few sheets with this room as some simple orders of filling find.

    Of two ways with as many sheets the one that scatters places less is taken, then the one that
    fills in the order given.  Sheets and columns follow the order of what is first on them.
    """
    number = {(block.place, block.part): at for at, block in enumerate(blocks)}

    def order(block: Block) -> int:
        return number[block.place, block.part]

    orders = (
        list(blocks),
        sorted(blocks, key=lambda block: -block.width),
        sorted(blocks, key=lambda block: -block.width * block.height),
    )
    ways = [_filled(order, box) for order in orders]
    best = min(ways, key=lambda found: (len(found), _far(found)))
    for page in best:
        for column in page.columns:
            column.sort(key=order)
        page.columns.sort(key=lambda column: order(column[0]))
    return sorted(best, key=lambda page: order(page.columns[0][0]))


def sparse(found: Sequence[Page]) -> bool:
    """Whether a sheet is so empty that lower diagrams might do without it."""
    return len(found) > 1 and min(map(_share, found)) < SPARSE


def _share(page: Page) -> float:
    """How much of its room a sheet's diagrams take with their frames."""
    taken = sum(block.width * block.height for block in page.blocks)
    return taken / (page.box.width * page.box.height)


def _filled(blocks: Sequence[Block], box: Box) -> list[Page]:
    """Blocks on sheets, each on the first sheet that has place for it."""
    found: list[Page] = []
    for block in blocks:
        for page in found:
            if page.take(block):
                break
        else:
            found.append(Page(box, [[_flattest(block)]]))
    return found


def _far(found: Sequence[Page]) -> int:
    """On how many sheets places are, counted place by place."""
    return sum(len({block.place for block in page.blocks}) for page in found)


def _flattest(block: Block) -> Block:
    """The block in the shape that leaves the most of a sheet's height to others."""
    return min(block.forms, key=lambda form: form.height)
