"""The audit of a finished sheet: nothing may lie on, or too near to, what it should be read from.

    audit(sheet) -> [Fault("text/stroke", "W1 3×10 AWG", "line", 120.4, 88.0), ...]

The rules, all in mm, with the extents of ``metrics``:

- a text keeps ``CLEAR`` (1 mm) from any other text, from any stroke and from any filled shape that
  is not a ground tint (``canvas.TINTS``); a text marked ``cell`` (between the ruling lines of a
  table, or in a title block's field) keeps ``CELL`` (0.35 mm, a medium line's width); between two
  texts the greater counts;
- lines of one ``block`` (a paragraph) must only not overlap each other;
- no text lies inside the box of a symbol it does not belong to; a symbol's own letters are exempt
  from its own strokes;
- no line passes through the inside of a symbol (those that a line is meant to pass are named in
  ``PASSED``);
- everything but the frame itself lies inside the frame and outside the title block (on a sheet
  without a frame: on the paper);
- no text is smaller than 1.8 mm, the least height of ISO 3098.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from typing import Generic, TypeVar

from ..dsl.records import record
from .canvas import Sheet
from .frame import block_of, frame_of
from .marks import TINTS, Arc, Box, Close, Open, Point, Poly, Text, box_of
from .metrics import T18, missing

CLEAR, CELL = 1.0, 0.35
SLACK = 0.01  # rounding in the third decimal of a coordinate is no fault
PASSED = frozenset({"strokes", "joint", "bus"})
INSIDE = 0.6  # how deep in a symbol's box a line passes through it
MESH = 8.0  # mesh of the search grid, mm
NOBODY = -1

T = TypeVar("T")


@record
class Fault:
    """One breach: its kind, the text (or thing) at fault, what it meets, and where."""

    kind: str
    what: str
    other: str
    x: float
    y: float

    def __str__(self) -> str:
        return f"{self.kind}: {self.what!r} and {self.other!r} at {self.x:.1f}, {self.y:.1f} mm"


@record
class Stroke:
    """A straight piece of a line, half its width, and the symbol it belongs to."""

    a: Point
    b: Point
    half: float
    owner: int

    @property
    def box(self) -> Box:
        (ax, ay), (bx, by) = self.a, self.b
        return Box(min(ax, bx), min(ay, by), max(ax, bx), max(ay, by))

    def crosses(self, box: Box, by: float = 0.0) -> bool:
        """Whether the line of no width has a point inside the box grown ``by`` (Liang, Barsky)."""
        (ax, ay), (bx, end_y) = self.a, self.b
        low, high = 0.0, 1.0
        for step, near, far in (
            (bx - ax, box.left - by - ax, box.right + by - ax),
            (end_y - ay, box.top - by - ay, box.bottom + by - ay),
        ):
            if abs(step) < 1e-12:
                if near >= 0 or far <= 0:
                    return False
                continue
            enter, leave = (near / step, far / step) if step > 0 else (far / step, near / step)
            low, high = max(low, enter), min(high, leave)
        return low < high


@record
class Label:
    """A text with its box and the symbol it belongs to."""

    text: Text
    box: Box
    owner: int

    @property
    def clear(self) -> float:
        return CELL if self.text.cell else CLEAR


class Grid(Generic[T]):
    """Things by the meshes their boxes touch."""

    def __init__(self) -> None:
        self.meshes: dict[tuple[int, int], list[T]] = defaultdict(list)

    def add(self, thing: T, box: Box) -> None:
        for mesh in _meshes(box):
            self.meshes[mesh].append(thing)

    def near(self, box: Box) -> list[T]:
        """Everything whose box may touch this one, each once, in the order it was added."""
        found = [thing for mesh in _meshes(box) for thing in self.meshes.get(mesh, ())]
        return list({id(thing): thing for thing in found}.values())


def _meshes(box: Box) -> Iterator[tuple[int, int]]:
    for column in range(int(box.left // MESH), int(box.right // MESH) + 1):
        for row in range(int(box.top // MESH), int(box.bottom // MESH) + 1):
            yield column, row


class _Contents:
    """What is on a sheet, sorted for the audit."""

    def __init__(self, sheet: Sheet) -> None:
        self.labels: list[Label] = []
        self.strokes: list[Stroke] = []
        self.solids: list[tuple[Box, int]] = []
        self.free: list[tuple[str, Box]] = []
        owners = [NOBODY] * len(sheet.items)
        for index, placed in enumerate(sheet.placed):
            owners[placed.first : placed.last] = [index] * (placed.last - placed.first)
        groups: list[str] = []
        for item, owner in zip(sheet.items, owners, strict=True):
            if isinstance(item, Open):
                groups.append(item.id)
            elif isinstance(item, Close):
                groups.pop()
            else:
                self._take(item, owner, "frame" in groups)

    def _take(self, item: Poly | Arc | Text, owner: int, framed: bool) -> None:
        box = box_of(item)
        if not framed:
            self.free.append((item.text if isinstance(item, Text) else "line", box))
        if isinstance(item, Text):
            self.labels.append(Label(item, box, owner))
            return
        if item.pen:
            half = item.pen.width / 2
            self.strokes += [Stroke(a, b, half, owner) for a, b in _pieces(item)]
        if item.fill and item.fill not in TINTS:
            self.solids.append((box, owner))


def _pieces(item: Poly | Arc) -> Iterable[tuple[Point, Point]]:
    points = item.points if isinstance(item, Poly) else item.flat()
    ring = (*points, points[0]) if isinstance(item, Poly) and item.closed else points
    return zip(ring, ring[1:], strict=False)  # noqa: RUF007


def audit(sheet: Sheet) -> list[Fault]:
    """Every breach of the rules above, in the order of the sheet's texts."""
    contents = _Contents(sheet)
    return [
        *_texts(contents),
        *_strokes(sheet, contents),
        *_symbols(sheet, contents),
        *_bounds(sheet, contents),
        *_sizes(contents),
    ]


def missing_glyphs(sheet: Sheet) -> str:
    """Characters on the sheet that the bundled font lacks; a viewer may have none for them."""
    return missing("".join(item.text for item in sheet.items if isinstance(item, Text)))


def _texts(contents: _Contents) -> Iterator[Fault]:
    grid: Grid[Label] = Grid()
    for label in contents.labels:
        around = label.box.grown(CLEAR)
        for other in grid.near(around):
            if not around.meets(other.box):
                continue
            if label.box.grown(_between(label, other) - SLACK).meets(other.box):
                yield _fault("text/text", label, other.text.text)
        grid.add(label, label.box)


def _between(a: Label, b: Label) -> float:
    """The clearance two texts keep."""
    together = a.text.block and a.text.block == b.text.block
    same_symbol = a.owner == b.owner != NOBODY
    return 0.0 if together or same_symbol else max(a.clear, b.clear)


def _strokes(sheet: Sheet, contents: _Contents) -> Iterator[Fault]:
    grid: Grid[Stroke] = Grid()
    for stroke in contents.strokes:
        grid.add(stroke, stroke.box)
    solids: Grid[tuple[Box, int]] = Grid()
    for solid in contents.solids:
        solids.add(solid, solid[0])
    for label in contents.labels:
        reach = label.clear - SLACK
        for stroke in grid.near(label.box.grown(label.clear + 1)):
            if stroke.owner == label.owner != NOBODY:
                continue
            if stroke.crosses(label.box, reach + stroke.half):
                yield _fault("text/stroke", label, _owner_name(sheet, stroke.owner))
                break
        around = label.box.grown(reach)
        for solid in solids.near(around):
            box, owner = solid
            if box.meets(around) and not owner == label.owner != NOBODY:
                yield _fault("text/fill", label, _owner_name(sheet, owner))


def _symbols(sheet: Sheet, contents: _Contents) -> Iterator[Fault]:
    labels: Grid[Label] = Grid()
    strokes: Grid[Stroke] = Grid()
    for label in contents.labels:
        labels.add(label, label.box)
    for stroke in contents.strokes:
        strokes.add(stroke, stroke.box)
    for index, placed in enumerate(sheet.placed):
        for label in labels.near(placed.box):
            if label.owner != index and label.box.meets(placed.box):
                yield _fault("text/symbol", label, placed.name)
        inside = placed.box.grown(-INSIDE)
        if placed.name.partition("+")[0] in PASSED or inside.width <= 0 or inside.height <= 0:
            continue
        for stroke in strokes.near(inside):
            if stroke.owner == NOBODY and stroke.crosses(inside):
                yield Fault("line/symbol", "line", placed.name, *inside.centre)
                break


def _bounds(sheet: Sheet, contents: _Contents) -> Iterator[Fault]:
    frame, block = (frame_of(sheet), block_of(sheet)) if sheet.framed else (sheet.box, None)
    for name, box in contents.free:
        if not frame.holds(box, SLACK):
            yield Fault("outside", name, "frame" if block else "paper", *box.centre)
        if block and box.meets(block):
            yield Fault("outside", name, "title block", *box.centre)


def _sizes(contents: _Contents) -> Iterator[Fault]:
    for label in contents.labels:
        if label.text.size < T18 - 1e-9:
            yield _fault("small", label, f"{label.text.size} mm")


def _owner_name(sheet: Sheet, owner: int) -> str:
    return "line" if owner == NOBODY else sheet.placed[owner].name


def _fault(kind: str, label: Label, other: str) -> Fault:
    return Fault(kind, label.text.text, other, *label.box.centre)
