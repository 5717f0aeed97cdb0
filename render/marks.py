"""What a display list is made of: pens, boxes, marks, and symbols as stencils.

Lengths in mm, y downwards; angles in degrees, counter-clockwise as seen.  See ``canvas`` for use.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple, TypeAlias

from ..dsl.records import record
from .metrics import extent, width

Point: TypeAlias = tuple[float, float]

# Line widths of ISO 128-2 in mm.
HAIR, THIN, MEDIUM, THICK, FRAME, HEAVY, BUS = 0.18, 0.25, 0.35, 0.5, 0.7, 1.0, 1.4

BLACK, GREY, PALE, WHITE, BLUE = "#000000", "#5a5a5a", "#e8ecf1", "#ffffff", "#1f4e8c"
RED, GREEN, AMBER = "#b3161b", "#1b7a36", "#9a5b00"
TINTS = frozenset({PALE, WHITE, "#f4f6f9", "#fdf3e1", "#e9f3ea", "#fbe9e9"})

# Line types of ISO 128-2: dash and gap lengths in multiples of the line's width.
DASHES: Mapping[str, tuple[float, ...]] = {
    "solid": (),
    "dashed": (12, 3),
    "short": (6, 3),
    "fine": (3, 2),
    "dotted": (0.5, 3),
    "chain": (24, 3, 0.5, 3),
    "fine-chain": (8, 2, 0.5, 2),
}


class Pen(NamedTuple):
    """How a line is drawn; ``dash`` is a key of DASHES."""

    width: float = THIN
    colour: str = BLACK
    dash: str = "solid"
    cap: str = "round"

    def dashes(self) -> tuple[float, ...]:
        """Dash and gap lengths in mm."""
        base = max(self.width, HAIR)
        return tuple(part * base for part in DASHES[self.dash])


class Box(NamedTuple):
    """An upright rectangle in sheet coordinates; ``top`` < ``bottom``."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        return self.right - self.left

    @property
    def height(self) -> float:
        return self.bottom - self.top

    @property
    def centre(self) -> Point:
        return (self.left + self.right) / 2, (self.top + self.bottom) / 2

    def grown(self, by: float) -> Box:
        return Box(self.left - by, self.top - by, self.right + by, self.bottom + by)

    def moved(self, dx: float, dy: float) -> Box:
        return Box(self.left + dx, self.top + dy, self.right + dx, self.bottom + dy)

    def meets(self, other: Box) -> bool:
        """Whether the two share more than an edge."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def holds(self, other: Box, slack: float = 1e-6) -> bool:
        """Whether the other lies inside."""
        return (
            other.left >= self.left - slack
            and other.right <= self.right + slack
            and other.top >= self.top - slack
            and other.bottom <= self.bottom + slack
        )


def union(boxes: Sequence[Box]) -> Box:
    """The smallest box round all of them."""
    return Box(
        min(b.left for b in boxes),
        min(b.top for b in boxes),
        max(b.right for b in boxes),
        max(b.bottom for b in boxes),
    )


class Poly(NamedTuple):
    """A line through points, closed or not; ``pen`` None draws no outline."""

    points: tuple[Point, ...]
    closed: bool = False
    pen: Pen | None = Pen()
    fill: str | None = None


class Arc(NamedTuple):
    """An elliptical arc from ``start`` to ``end`` degrees; 0 to 360 is the whole ellipse."""

    x: float
    y: float
    rx: float
    ry: float
    start: float = 0.0
    end: float = 360.0
    pen: Pen | None = Pen()
    fill: str | None = None

    @property
    def whole(self) -> bool:
        return abs(self.end - self.start) >= 360

    def point(self, degrees: float) -> Point:
        angle = math.radians(degrees)
        return self.x + self.rx * math.cos(angle), self.y - self.ry * math.sin(angle)

    def flat(self, step: float = 15.0) -> tuple[Point, ...]:
        """The arc as a line through points, for measuring."""
        count = max(2, math.ceil(abs(self.end - self.start) / step))
        turn = (self.end - self.start) / count
        return tuple(self.point(self.start + turn * i) for i in range(count + 1))


class Text(NamedTuple):
    """A line of text on a baseline point; see the module's text for ``cell`` and ``block``."""

    x: float
    y: float
    text: str
    size: float
    bold: bool = False
    anchor: str = "start"
    rotate: int = 0
    colour: str = BLACK
    cell: bool = False
    block: int = 0

    @property
    def width(self) -> float:
        return width(self.text, self.size, self.bold)

    @property
    def start(self) -> float:
        """Distance from the anchor point back to the start of the text, along its baseline."""
        return self.width * {"start": 0.0, "middle": 0.5, "end": 1.0}[self.anchor]

    @property
    def box(self) -> Box:
        """The extents of the ink (advance wide, tallest to lowest glyph high)."""
        above, below = extent(self.text, self.size, self.bold)
        before, after = self.start, self.width - self.start
        if self.rotate == 90:
            return Box(self.x - above, self.y - after, self.x + below, self.y + before)
        return Box(self.x - before, self.y - above, self.x + after, self.y + below)


class Open(NamedTuple):
    """The beginning of a group; ``about`` is its id before a repeated one got a suffix."""

    id: str
    cls: str = ""
    title: str = ""
    href: str = ""
    about: str = ""


class Close(NamedTuple):
    """The end of the group opened last; ``link`` tells whether that one had a target."""

    link: bool = False


Mark: TypeAlias = Poly | Arc | Text
Item: TypeAlias = Mark | Open | Close


def box_of(mark: Mark) -> Box:
    """Extents of a mark, its line's width included."""
    if isinstance(mark, Text):
        return mark.box
    points = mark.points if isinstance(mark, Poly) else mark.flat()
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    half = mark.pen.width / 2 if mark.pen else 0.0
    return Box(min(xs), min(ys), max(xs), max(ys)).grown(half)


@record
class Placement:
    """Where a stencil goes: moved to (x, y), after a turn by quarters and a mirroring in x."""

    x: float
    y: float
    turn: int = 0
    mirror: bool = False

    def point(self, p: Point) -> Point:
        px, py = (-p[0] if self.mirror else p[0]), p[1]
        for _ in range(self.turn // 90 % 4):
            px, py = py, -px
        return self.x + px, self.y + py

    def mark(self, mark: Mark) -> Mark:
        """The mark in its place.  Letters stay upright and keep their middle."""
        if isinstance(mark, Poly):
            return mark._replace(points=tuple(self.point(p) for p in mark.points))
        if isinstance(mark, Text):
            if not (self.turn or self.mirror):
                return mark._replace(x=mark.x + self.x, y=mark.y + self.y)
            above, _ = extent("H", mark.size, mark.bold)
            x, y = self.point((mark.x, mark.y - above / 2))
            return mark._replace(x=x, y=y + above / 2)
        return self._arc(mark)

    def _arc(self, arc: Arc) -> Arc:
        x, y = self.point((arc.x, arc.y))
        rx, ry = (arc.ry, arc.rx) if self.turn // 90 % 2 else (arc.rx, arc.ry)
        start, end = arc.start, arc.end
        if self.mirror and not arc.whole:
            start, end = 180 - end, 180 - start
        if not arc.whole:
            start, end = start + self.turn, end + self.turn
        return arc._replace(x=x, y=y, rx=rx, ry=ry, start=start, end=end)


@record
class Stencil:
    """A symbol round its own origin.  Anchors are named points, among them ``top``/``bottom``."""

    name: str
    marks: tuple[Mark, ...]
    anchors: Mapping[str, Point]
    box: Box

    @property
    def height(self) -> float:
        """From the top anchor to the bottom one, mm."""
        return self.anchors["bottom"][1] - self.anchors["top"][1]


@record
class Placed:
    """A stencil on a sheet: its box and its anchors in sheet coordinates."""

    name: str
    box: Box
    anchors: Mapping[str, Point]
    first: int
    last: int

    def __getitem__(self, anchor: str) -> Point:
        return self.anchors[anchor]
