"""Lines across a sheet from one tree to another: square, short, few bends, few crossings.

A shortest path on the sheet's grid.  Boxes of symbols and texts are closed to it; a line that is
there may be crossed square but not followed.  No way, or too crooked a one, is an answer: then
both ends get references.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from .marks import Box
from .single_line_parts import Bar, Open, Piece, Plain, Point, Rail, Wire

GRID = 2.5
CLEAR = 1.2  # mm kept from texts and symbols
BEND, CROSS = 12, 14  # what a bend and a crossing cost, in steps of the grid
MOST_BENDS, MOST_CROSSINGS = 4, 4
MOST_UP = 25.0  # mm a line may go up: more only for what couples two systems, crossing once
ALONG = 1.4  # nearer than this to a line of the same direction is following it
_MOVES = ((0, 1), (1, 0), (0, -1), (-1, 0))  # down, right, up, left


@dataclass(slots=True)
class Streets:
    """What of a sheet is closed, and which lines are there to be crossed."""

    area: Box
    boxes: list[Box]
    lines: list[tuple[Point, Point]]

    def add(self, points: Sequence[Point]) -> None:
        self.lines += pairwise(points)


def streets(area: Box, pieces: Iterable[Piece]) -> Streets:
    """The free ways of a sheet between its pieces."""
    found = Streets(area, [], [])
    for piece in pieces:
        for line in piece.parts:
            if isinstance(line, Bar | Rail):
                found.add(((line.x, line.y), (line.right, line.y)))
            elif isinstance(line, Wire | Plain):
                found.add(line.points)
        found.boxes += [r for r in piece.rooms if min(r.width, r.height) > 1.0]
    return found


def route(
    ways: Streets, start: Open, end: Open, coupling: bool = False
) -> tuple[Point, ...] | None:
    """A square line down from one end and down into another; None where none is good enough.

    A ``coupling`` joins two systems, and may go round what lies between them.  The room kept for
    their references is theirs to cross; a line that is found is there for the next ones.
    """
    kept = ways.boxes
    own = (start.room, end.room)
    ways.boxes = [box for box in kept if not any(_same(box, room) for room in own)]
    points = _good(ways, (start.x, start.y), (end.x, end.y), coupling)
    if points is None:
        ways.boxes = kept
    else:
        ways.add(points)
    return points


def _same(a: Box, b: Box) -> bool:
    """Whether two boxes are one, but for the rounding of displacements."""
    return max(abs(a.left - b.left), abs(a.top - b.top), abs(a.right - b.right)) < 1e-6


def _good(
    ways: Streets, start: Point, end: Point, coupling: bool
) -> tuple[Point, ...] | None:
    grid = _Grid(ways, start, end)
    path = grid.path()
    if path is None:
        return None
    points = _corners(path)
    crossings = sum(grid.crossed(a, b) for a, b in pairwise(points))
    up = sum(max(0.0, a[1] - b[1]) for a, b in pairwise(points))
    straying = up > MOST_UP and (crossings > 1 or not coupling)
    if len(points) - 2 > MOST_BENDS or crossings > MOST_CROSSINGS or straying:
        return None
    return tuple(points)


class _Grid:
    def __init__(self, ways: Streets, start: Point, end: Point) -> None:
        self.ways = ways
        area = ways.area
        self.xs = _axis(area.left, area.right, (start[0], end[0]))
        self.ys = _axis(area.top, area.bottom, (start[1], end[1]))
        self.start = (self.xs.index(start[0]), self.ys.index(start[1]))
        self.end = (self.xs.index(end[0]), self.ys.index(end[1]))
        own = {start, end}
        self.closed = self._closed()
        self.along = self._followed(own)
        self.cross = self._crossings()

    def _closed(self) -> set[tuple[int, int]]:
        """Grid points inside a box that is closed."""
        found = set()
        for box in self.ways.boxes:
            grown = box.grown(CLEAR)
            columns = [i for i, x in enumerate(self.xs) if grown.left < x < grown.right]
            rows = [i for i, y in enumerate(self.ys) if grown.top < y < grown.bottom]
            found |= {(i, j) for i in columns for j in rows}
        return found - {self.start, self.end}

    def _followed(self, own: set[Point]) -> tuple[set[tuple[int, int]], set[tuple[int, int]]]:
        """Grid points where going across, and where going down, would follow a line."""
        across: set[tuple[int, int]] = set()
        down: set[tuple[int, int]] = set()
        for a, b in self.ways.lines:
            if a[1] == b[1]:
                across |= self._near(min(a[0], b[0]), max(a[0], b[0]), a[1] - ALONG, a[1] + ALONG)
            else:
                down |= self._near(a[0] - ALONG, a[0] + ALONG, min(a[1], b[1]), max(a[1], b[1]))
        return across, down - {self.start, self.end}

    def _near(self, x0: float, x1: float, y0: float, y1: float) -> set[tuple[int, int]]:
        columns = [i for i, x in enumerate(self.xs) if x0 - 0.5 <= x <= x1 + 0.5]
        rows = [i for i, y in enumerate(self.ys) if y0 - 0.5 <= y <= y1 + 0.5]
        return {(i, j) for i in columns for j in rows}

    def _crossings(self) -> tuple[set[tuple[int, int]], set[tuple[int, int]]]:
        """Grid points on a line that goes down, and on one that goes across."""
        down: set[tuple[int, int]] = set()
        across: set[tuple[int, int]] = set()
        half = GRID / 2
        for a, b in self.ways.lines:
            if a[1] == b[1]:
                across |= self._near(min(a[0], b[0]), max(a[0], b[0]), a[1] - half, a[1] + half)
            else:
                down |= self._near(a[0] - half, a[0] + half, min(a[1], b[1]), max(a[1], b[1]))
        return down, across

    def path(self) -> list[Point] | None:
        """The cheapest way, leaving and arriving downwards."""
        best: dict[tuple[int, int, int], int] = {}
        before: dict[tuple[int, int, int], tuple[int, int, int]] = {}
        heap = [(0, 0, (*self.start, 0))]
        count = 0
        best[(*self.start, 0)] = 0
        goal = (*self.end, 0)
        while heap:
            cost, _, state = heapq.heappop(heap)
            if state == goal:
                return self._unroll(state, before)
            if cost > best[state]:
                continue
            for after, step in self._steps(state):
                total = cost + step
                if total < best.get(after, 10**9):
                    best[after] = total
                    before[after] = state
                    count += 1
                    heapq.heappush(heap, (total + self._far(after), count, after))
                    best[after] = total
        return None

    def _far(self, state: tuple[int, int, int]) -> int:
        return 0

    def _steps(self, state: tuple[int, int, int]) -> list[tuple[tuple[int, int, int], int]]:
        i, j, way = state
        found = []
        for turn, (di, dj) in enumerate(_MOVES):
            if (turn - way) % 4 == 2:
                continue
            at = (i + di, j + dj)
            if not (0 <= at[0] < len(self.xs) and 0 <= at[1] < len(self.ys)) or at in self.closed:
                continue
            along = self.along[turn % 2 == 0]
            if at in along or ((i, j) in along and turn != way):
                continue
            cost = 1 + (BEND if turn != way else 0)
            cost += CROSS if at in self.cross[turn % 2 == 0] else 0
            found.append(((*at, turn), cost))
        return found

    def _unroll(
        self, state: tuple[int, int, int],
        before: dict[tuple[int, int, int], tuple[int, int, int]],
    ) -> list[Point]:  # fmt: skip
        path = [state]
        while path[-1] in before:
            path.append(before[path[-1]])
        return [(self.xs[i], self.ys[j]) for i, j, _ in reversed(path)]

    def crossed(self, a: Point, b: Point) -> int:
        """How many lines a straight stretch crosses."""
        return sum(_cut(a, b, *line) for line in self.ways.lines)


def _axis(low: float, high: float, more: Sequence[float]) -> list[float]:
    """Grid lines from low to high, and exactly those asked for."""
    count = int((high - low) / GRID)
    lines = [low + GRID * k for k in range(count + 1)]
    kept = [x for x in lines if all(abs(x - m) > 0.6 for m in more)]
    return sorted({*kept, *more})


def _corners(path: Sequence[Point]) -> list[Point]:
    """A path without the points on its straight stretches."""
    kept = [path[0]]
    for a, b, c in zip(path, path[1:], path[2:], strict=False):
        if (a[0] == b[0]) != (b[0] == c[0]):
            kept.append(b)
    return [*kept, path[-1]]


def _cut(a: Point, b: Point, c: Point, d: Point) -> bool:
    """Whether two square stretches cross each other inside both."""
    if (a[0] == b[0]) == (c[0] == d[0]):
        return False
    if a[0] != b[0]:
        a, b, c, d = c, d, a, b
    return min(a[1], b[1]) < c[1] < max(a[1], b[1]) and min(c[0], d[0]) < a[0] < max(c[0], d[0])
