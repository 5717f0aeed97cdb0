"""The parts a single-line diagram is composed of, and pieces: parts with the room they take.

Millimetres, y downwards.  A piece is rigid; it is moved as a whole, and two pieces are put beside
each other by their rooms (boxes that nothing else may enter), not by one outline round them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

from ..dsl.records import record, replace
from .marks import Box
from .metrics import T18, T25, pitch, width
from .single_line_graph import Run

Point: TypeAlias = tuple[float, float]
Options: TypeAlias = tuple[tuple[str, object], ...]
REFERENCE = 9.0  # height kept for a reference at an open end
LINK = 16.0  # width kept at the end of a bar for where it goes on
CONTINUED = "continued from 88/H88"
DESCENT = 0.32  # of the letters below their line, in lettering heights
GAP = 1.3  # between a text and whatever is next to it: more than the audit's 1 mm


@record
class Sign:
    """A node's symbol, its upper terminal at (x, y); ``turned`` stands it on its head."""

    node: str
    x: float
    y: float
    turned: bool = False


@record
class Label:
    """Lines of text, the capitals of the first with their top at y."""

    name: str
    x: float
    y: float
    lines: tuple[str, ...]
    bold: bool = False

    @property
    def box(self) -> Box:
        w, h = text_size(self.lines, self.bold)
        return Box(self.x, self.y, self.x + w, self.y + h)


@record
class Wire:
    """A conductor line through points."""

    run: Run
    points: tuple[Point, ...]


@record
class Bar:
    """A heavy line; ``index`` counts the stretches of one bar."""

    node: str
    x: float
    right: float
    y: float
    index: int = 0
    more: bool = False


@record
class Tally:
    """The strokes that count a run's conductors, their middle at (x, y)."""

    run: Run
    x: float
    y: float


@record
class Dot:
    """A joint of lines."""

    x: float
    y: float
    r: float = 0.7


@record
class Open:
    """The free end of a run: ``inward`` where it enters the head of a tree from elsewhere.

    ``width`` is what its reference may take to the right.
    """

    run: Run
    x: float
    y: float
    inward: bool
    width: float = 20.0

    @property
    def room(self) -> Box:
        """Where its reference stands: below an end that goes out, above one that comes in."""
        top = self.y - REFERENCE if self.inward else self.y
        return Box(self.x - 2, top, self.x + self.width, top + REFERENCE)


@record
class Link:
    """Where one stretch of a bar goes on: behind the end of stretch ``index``, or at the head
    of it what it continues."""

    node: str
    index: int
    x: float
    y: float
    outward: bool

    @property
    def room(self) -> Box:
        if self.outward:
            return Box(self.x, self.y - 3, self.x + LINK, self.y)
        return Box(self.x, self.y, self.x + text_size((CONTINUED,), False)[0], self.y + T18 + 0.5)

    @property
    def spot(self) -> Point:
        """Where its words begin, at half the height of their capitals."""
        return (self.x + 1.8, self.y - 1.0) if self.outward else (self.x, self.y + T18 / 2)


@record
class Glyph:
    """A symbol that is no node of the power path: of the legend, of the earth, a joint."""

    id: str
    symbol: str
    x: float
    y: float
    options: Options
    title: str
    cls: str = "symbol"


@record
class Plain:
    """A line that is no run of the power path."""

    points: tuple[Point, ...]


@record
class Rail:
    """A heavy line that stands for a neutral or the earth as a whole."""

    id: str
    title: str
    x: float
    right: float
    y: float


Part: TypeAlias = Sign | Label | Wire | Bar | Tally | Dot | Open | Link | Glyph | Plain | Rail


def text_size(lines: Sequence[str], bold: bool) -> tuple[float, float]:
    """Width and height in mm of lines in normal lettering, the first one bold and larger."""
    if not lines:
        return 0.0, 0.0
    first = T25 if bold else T18
    widths = [width(lines[0], first, bold), *(width(line, T18) for line in lines[1:])]
    last = T18 if lines[1:] else first
    return max(widths), first + (len(lines) - 1) * pitch(T18) + DESCENT * last


def moved(part: Part, dx: float, dy: float) -> Part:
    """The part, displaced."""
    if isinstance(part, Wire | Plain):
        return replace(part, points=tuple((x + dx, y + dy) for x, y in part.points))
    if isinstance(part, Bar | Rail):
        return replace(part, x=part.x + dx, right=part.right + dx, y=part.y + dy)
    return replace(part, x=part.x + dx, y=part.y + dy)


@dataclass(slots=True)
class Piece:
    """Parts and the boxes they keep clear.  ``name`` is its head; ``index`` its stretch.

    ``spare`` is room beside a bar's feeders for more of them; only other pieces keep out of it.
    """

    name: str
    parts: list[Part] = field(default_factory=list)
    rooms: list[Box] = field(default_factory=list)
    index: int = 0
    spare: tuple[Box, ...] = ()

    def add(self, part: Part, *rooms: Box) -> None:
        self.parts.append(part)
        self.rooms.extend(rooms)
        if isinstance(part, Label):
            self.rooms.append(part.box)
        elif isinstance(part, Open | Link):
            self.rooms.append(part.room)
        elif isinstance(part, Wire | Plain):
            self.rooms += [_thin(a, b) for a, b in zip(part.points, part.points[1:], strict=False)]

    def move(self, dx: float, dy: float) -> Piece:
        return Piece(
            self.name,
            [moved(part, dx, dy) for part in self.parts],
            [room.moved(dx, dy) for room in self.rooms],
            self.index,
            tuple(room.moved(dx, dy) for room in self.spare),
        )

    def take(self, other: Piece) -> None:
        """Everything of another piece becomes part of this one."""
        self.parts += other.parts
        self.rooms += other.rooms

    @property
    def box(self) -> Box:
        return Box(
            min(r.left for r in self.rooms), min(r.top for r in self.rooms),
            max(r.right for r in self.rooms), max(r.bottom for r in self.rooms),
        )

    def opens(self, inward: bool) -> list[Open]:
        return [p for p in self.parts if isinstance(p, Open) and p.inward is inward]


def _thin(a: Point, b: Point) -> Box:
    return Box(min(a[0], b[0]), min(a[1], b[1]), max(a[0], b[0]), max(a[1], b[1])).grown(0.3)


def shift_right(placed: Iterable[Box], rooms: Sequence[Box], gap: float) -> float:
    """The least displacement to the right that clears boxes already placed."""
    most = 0.0
    for fixed in placed:
        for room in rooms:
            if fixed.top - gap < room.bottom and room.top < fixed.bottom + gap:
                most = max(most, fixed.right + gap - room.left)
    return most
