"""Lines across a sheet from one tree to another: square, short, few bends, few crossings.

A shortest path on the sheet's grid.  Boxes of symbols and texts are closed to it; a line that is
there may be crossed square but not followed.  No way, or too crooked a one, is an answer: then
both ends get references.
"""

from __future__ import annotations

import heapq
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeAlias

from .marks import Box
from .single_line_parts import Bar, Open, Piece, Plain, Point, Rail, Wire

Spot: TypeAlias = tuple[int, int]  # a point of the grid
State: TypeAlias = tuple[int, int, int]  # a point, and the way it was reached

GRID = 2.5
CLEAR = 1.2  # mm kept from texts and symbols
BEND, CROSS = 12, 14  # what a bend and a crossing cost, in steps of the grid
MOST_BENDS, MOST_CROSSINGS = 4, 4
MOST_UP = 25.0  # mm a line may go up: more only for what couples two systems, crossing once
ALONG = 1.9  # nearer than this to a line of the same direction is following it
END = 1.5  # nearer than this to the end of a line a crossing would look like a joint
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
        self.closed = self._closed()
        self.along = self._lines(ALONG)
        self.cross = self._lines(GRID / 2)[::-1]

    def _closed(self) -> set[Spot]:
        """Grid points inside a box that is closed, or where a crossing would look like a joint."""
        ends = [Box(x, y, x, y).grown(END) for line in self.ways.lines for x, y in line]
        found: set[Spot] = set()
        for box in (*(box.grown(CLEAR) for box in self.ways.boxes), *ends):
            found |= self._inside(box)
        return found - {self.start, self.end}

    def _inside(self, box: Box) -> set[Spot]:
        """Grid points inside a box, its edge left out."""
        columns = range(bisect_right(self.xs, box.left), bisect_left(self.xs, box.right))
        rows = range(bisect_right(self.ys, box.top), bisect_left(self.ys, box.bottom))
        return {(i, j) for i in columns for j in rows}

    def _lines(self, beside: float) -> tuple[set[Spot], set[Spot]]:
        """Grid points on or near the lines that go across, and those that go down."""
        across: set[Spot] = set()
        down: set[Spot] = set()
        for (ax, ay), (bx, by) in self.ways.lines:
            box = Box(min(ax, bx), min(ay, by), max(ax, bx), max(ay, by))
            if ay == by:
                across |= self._inside(_wider(box, END, beside))
            else:
                down |= self._inside(_wider(box, beside, END))
        return across, down - {self.start, self.end}

    def path(self) -> list[Point] | None:
        """The cheapest way, leaving and arriving downwards (A*, Hart, Nilsson, Raphael 1968)."""
        start, goal = (*self.start, 0), (*self.end, 0)
        best: dict[State, int] = {start: 0}
        before: dict[State, State] = {}
        done: set[State] = set()
        heap = [(0, 0, start)]
        count = 0
        while heap:
            _, _, state = heapq.heappop(heap)
            if state == goal:
                return self._unroll(state, before)
            if state in done:
                continue
            done.add(state)
            for after, step in self._steps(state):
                total = best[state] + step
                if total < best.get(after, 10**9):
                    best[after] = total
                    before[after] = state
                    count += 1
                    heapq.heappush(heap, (total + self._least(after), count, after))
        return None

    def _least(self, state: State) -> int:
        """What a way on from a state costs at least: its steps and the bends it cannot avoid."""
        i, j, way = state
        across, down = abs(i - self.end[0]), self.end[1] - j
        upwards = down < 0
        if way == 0:
            bends = 4 if upwards else 2 if across else 0
        else:
            bends = 2 if way == 2 else 3 if upwards else 1
        return across + abs(down) + BEND * bends

    def _steps(self, state: State) -> list[tuple[State, int]]:
        """The states one step on, and what each costs."""
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

    def _unroll(self, state: State, before: Mapping[State, State]) -> list[Point]:
        path = [state]
        while path[-1] in before:
            path.append(before[path[-1]])
        return [(self.xs[i], self.ys[j]) for i, j, _ in reversed(path)]

    def crossed(self, a: Point, b: Point) -> int:
        """How many lines a straight stretch crosses."""
        return sum(_cut(a, b, *line) for line in self.ways.lines)


def _wider(box: Box, x: float, y: float) -> Box:
    return Box(box.left - x, box.top - y, box.right + x, box.bottom + y)


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
