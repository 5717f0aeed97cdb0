"""Diagrams in the room of a sheet: what nothing joins side by side, and what is free shared out.

A graph falls into groups that no conductor joins.  They stand below each other in strips, strips
side by side, in the order of the text: the devices of a strip share their columns.  What a sheet
has to spare then goes between the rows and into the channels.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise, takewhile

from ..dsl.records import record, replace
from .marks import Box, Point
from .overview_graph import Graph, joined_nodes, part_of, union_of
from .overview_layout import Layout, crossed, layout, lowered, rows_needed, tangle
from .overview_look import Look, evened

APART = 9.0
"""Between two strips, mm."""
MOST_STRIPS = 8
MANY = 4
"""So many groups are drawn evenly."""
TALLER, STEP = 1.4, 0.05
"""Rows are at most so much further apart than the least distance, in such steps."""
WIDER = 14.0
"""The most that a channel is widened, mm."""


@record
class Shape:
    """Strips of a diagram side by side, ``apart`` mm from each other, their tops level."""

    strips: tuple[Layout, ...]
    apart: float = APART

    @property
    def width(self) -> float:
        return sum(strip.width for strip in self.strips) + self.apart * (len(self.strips) - 1)

    @property
    def height(self) -> float:
        return max(strip.height for strip in self.strips)

    @property
    def crossings(self) -> int:
        """How often lines cross."""
        return sum(1 for strip in self.strips for _ in crossed(strip.paths))

    @property
    def tangle(self) -> int:
        """Crossings and bends."""
        return sum(map(tangle, self.strips))

    def lowered(self) -> Shape:
        """The strips as low as they can be."""
        return Shape(tuple(map(lowered, self.strips)))

    def spread(self, width: float, height: float) -> Shape:
        """Rows and columns further apart, as far as a room of this size lets them."""
        steps = max(0, int((height / self.height - 1) / STEP)) if self.height else 0
        taller = min(1 + steps * STEP, TALLER)
        gaps = sum(len(strip.columns) for strip in self.strips) - 1
        wider = float(min(max(0, int((width - self.width) / gaps)), WIDER)) if gaps > 0 else 0.0
        strips = tuple(_spread(strip, wider, taller) for strip in self.strips)
        return Shape(strips, self.apart + wider)

    def placed(self, origin: Point) -> Iterator[tuple[Layout, Point]]:
        """Every strip with its own origin, when the shape has the one given."""
        left = origin[0]
        for strip in self.strips:
            yield strip, (left, origin[1])
            left += strip.width + self.apart


def arranged(
    graph: Graph,
    looks: Mapping[str, Look],
    most: int,
    broad: float,
    *,
    folded: bool = False,
) -> Iterator[Shape]:
    """The layouts within ``most`` rows and ``broad`` mm, those with fewer strips first.

    Of many groups the devices have their words equally high, if there is room for that.
    """
    parts = [part_of(graph, names) for names in joined_nodes(graph)]
    ways = (evened(looks), looks) if len(parts) >= MANY else (looks,)
    for own in ways:
        found = False
        for shape in _stripped(parts, own, most, broad, folded):
            found = True
            yield shape
        if found:
            return


def _stripped(
    parts: Sequence[Graph], looks: Mapping[str, Look], most: int, broad: float, folded: bool
) -> Iterator[Shape]:
    """The groups in one strip, in two, and so on."""
    rows = [rows_needed(part, looks, most) for part in parts] if len(parts) > 1 else [1]
    for count in range(1, min(len(parts), MOST_STRIPS) + 1):
        cuts = _cuts(rows, count)
        if len(cuts) != count or max(sum(rows[a:b]) for a, b in cuts) > 2 * most:
            continue
        found = (layout(union_of(parts[a:b]), looks, most, broad, folded=folded) for a, b in cuts)
        strips = tuple(takewhile(lambda strip: strip is not None, found))
        shape = Shape(tuple(filter(None, strips)))
        if len(strips) < count:
            continue
        if shape.width > broad:
            return
        yield shape


def _cuts(rows: Sequence[int], count: int) -> list[tuple[int, int]]:
    """So many stretches of the numbers, or fewer, whose largest sum is the least."""
    low, high = max(rows), sum(rows)
    while low < high:
        middle = (low + high) // 2
        if len(_filled(rows, middle)) <= count:
            high = middle
        else:
            low = middle + 1
    return _filled(rows, low)


def _filled(rows: Sequence[int], most: int) -> list[tuple[int, int]]:
    """Stretches filled one after the other up to a sum."""
    starts, total = [0], 0
    for index, own in enumerate(rows):
        if total + own > most and index > starts[-1]:
            starts.append(index)
            total = 0
        total += own
    return list(pairwise([*starts, len(rows)]))


def _spread(lay: Layout, wider: float, taller: float) -> Layout:
    """A strip with its columns so many mm further apart, and its rows so many times."""
    gaps = len(lay.columns) - 1

    def at(point: Point) -> Point:
        return point[0] + _pushed(lay.columns, point[0], wider), point[1] * taller

    def outline(name: str, box: Box) -> Box:
        rise = lay.looks[name].rise
        (left, top), (right, bottom) = (
            at((box.left, box.top + rise)), at((box.right, box.bottom - rise))
        )  # fmt: skip
        return Box(left, top - rise, right, bottom + rise)

    return replace(
        lay,
        columns=tuple((a + k * wider, b + k * wider) for k, (a, b) in enumerate(lay.columns)),
        outlines={name: outline(name, box) for name, box in lay.outlines.items()},
        spots={where: at(spot) for where, spot in lay.spots.items()},
        paths={name: tuple(map(at, path)) for name, path in lay.paths.items()},
        width=lay.width + max(gaps, 0) * wider,
        height=lay.height * taller,
    )


def _pushed(columns: Sequence[tuple[float, float]], x: float, by: float) -> float:
    """How far right a point goes when every gap between columns is widened by so much."""
    passed = sum(right < x for _, right in columns)
    inside = passed < len(columns) and columns[passed][0] <= x
    if inside or passed in (0, len(columns)):
        return min(passed, len(columns) - 1) * by
    return (passed - 0.5) * by
