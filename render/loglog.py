"""A plot on logarithmic axes, drawn with the canvas's own primitives.

axes = LogLog(box, (1, 1e4), (0.01, 1e4))
axes.grid(sheet, "Current, A", "Time, s")
sheet.line(piece, pen)          for each of axes.pieces(curve)
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from math import ceil, floor, log10

from ..dsl.records import record
from .canvas import Sheet
from .marks import GREY, HAIR, MEDIUM, Box, Pen, Point
from .metrics import T18

Curve = Sequence[tuple[float, float]]
GRID = Pen(HAIR, "#d4d9e0", cap="butt")
DECADE = Pen(HAIR, "#9aa4b1", cap="butt")


@record
class LogLog:
    """A window of values (``low``, ``high`` on each axis) in a box of the sheet, in mm."""

    box: Box
    across: tuple[float, float]
    up: tuple[float, float]

    def x(self, value: float) -> float:
        low, high = (log10(end) for end in self.across)
        return self.box.left + (log10(value) - low) / (high - low) * self.box.width

    def y(self, value: float) -> float:
        low, high = (log10(end) for end in self.up)
        return self.box.bottom - (log10(value) - low) / (high - low) * self.box.height

    def points(self, curve: Curve) -> list[Point]:
        """Values as points of the sheet."""
        return [(self.x(a), self.y(b)) for a, b in curve]

    def area(self, curve: Curve) -> list[Point]:
        """A closed curve as a polygon, cut to the box (Sutherland and Hodgman 1974)."""
        polygon = self.points(curve)
        for axis, limit, sign in _sides(self.box):
            polygon = list(_cut(polygon, axis, limit, sign))
        return polygon

    def pieces(self, curve: Curve) -> Iterator[list[Point]]:
        """An open curve as the lines that lie in the box."""
        line: list[Point] = []
        points = self.points(curve)
        for a, b in pairwise(points):
            kept = _inside(self.box, a, b)
            if kept is None:
                continue
            if not line or line[-1] != kept[0]:
                if len(line) > 1:
                    yield line
                line = [kept[0]]
            line.append(kept[1])
        if len(line) > 1:
            yield line

    def grid(self, sheet: Sheet, across: str, up: str) -> None:
        """Lines at 1 to 9 of every decade, the decades named, a frame, and the axes' titles."""
        box = self.box
        with sheet.group("axes", "axes", f"{across}; {up}"):
            for value, decade in _ticks(self.across):
                x = self.x(value)
                sheet.line([(x, box.top), (x, box.bottom)], DECADE if decade else GRID)
                if decade:
                    sheet.text(x, box.bottom + 2.2, _say(value), T18, anchor="middle", level="top")
            for value, decade in _ticks(self.up):
                y = self.y(value)
                sheet.line([(box.left, y), (box.right, y)], DECADE if decade else GRID)
                if decade:
                    sheet.text(box.left - 1.6, y, _say(value), T18, anchor="end", level="middle")
            sheet.rect(box, Pen(MEDIUM, cap="butt"))
            x, y = box.centre
            sheet.text(x, box.bottom + 6.4, across, T18, anchor="middle", level="top", colour=GREY)
            sheet.text(
                box.left - 12.5, y, up, T18, anchor="middle", level="middle", rotate=90, colour=GREY
            )


def _ticks(ends: tuple[float, float]) -> Iterator[tuple[float, bool]]:
    low, high = ends
    for power in range(floor(log10(low) + 1e-9), ceil(log10(high) - 1e-9) + 1):
        for digit in range(1, 10):
            value = digit * 10.0**power
            if low * 0.999 <= value <= high * 1.001:
                yield value, digit == 1


def _say(value: float) -> str:
    return f"{value:g}" if value < 1e4 else f"{value / 1000:g}k"


def _sides(box: Box) -> tuple[tuple[int, float, int], ...]:
    return ((0, box.left, 1), (0, box.right, -1), (1, box.top, 1), (1, box.bottom, -1))


def _cut(polygon: Sequence[Point], axis: int, limit: float, sign: int) -> Iterator[Point]:
    """A polygon's part on one side of an upright or level line."""
    for index, b in enumerate(polygon):
        a = polygon[index - 1]
        a_in, b_in = ((p[axis] - limit) * sign >= -1e-9 for p in (a, b))
        if a_in != b_in:
            share = (limit - a[axis]) / (b[axis] - a[axis])
            yield a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])
        if b_in:
            yield b


def _inside(box: Box, a: Point, b: Point) -> tuple[Point, Point] | None:
    """The part of a straight piece that lies in the box (Liang and Barsky 1984)."""
    low, high = 0.0, 1.0
    dx, dy = b[0] - a[0], b[1] - a[1]
    for step, room in (
        (-dx, a[0] - box.left),
        (dx, box.right - a[0]),
        (-dy, a[1] - box.top),
        (dy, box.bottom - a[1]),
    ):
        if abs(step) < 1e-12:
            if room < -1e-9:
                return None
        elif step < 0:
            low = max(low, room / step)
        else:
            high = min(high, room / step)
    if low > high:
        return None
    return (a[0] + low * dx, a[1] + low * dy), (a[0] + high * dx, a[1] + high * dy)
