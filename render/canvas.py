"""The sheet: a display list in millimetres that every output and the audit replay.

Coordinates: mm, origin at the top left of the trimmed sheet, x to the right, **y downwards**.
Angles: degrees, counter-clockwise as seen on the sheet, 0 to the right.

    sheet = Sheet(420, 297, title="AC distribution", doc="single-line")
    with sheet.group("dev-Q1", "device breaker", title="Q1 Reading lamps, 15 A"):
        at = sheet.put(symbol("breaker"), x, y)      # y is the symbol's top terminal
        sheet.text(at.box.right + 1.2, y + 5, "Q1", T18, bold=True)
    sheet.line([(x, y), (x, y + 20)], Pen(MEDIUM))
    sheet.text(x, y, "W1  3×10 AWG", T18, rotate=90, anchor="middle")

Text: ``x, y`` is a point of the *baseline*; ``anchor`` says which (start, middle, end);
``level="middle"`` puts the middle of the capitals at y instead, ``level="top"`` their top.
``rotate=90`` reads from below (baseline to the right of the letters).  ``size`` is the height of
the capitals (metrics.T18 …); nothing smaller than 1.8 mm passes the audit.

Clearance, as the audit asks for it: 1 mm between a text and any other text, stroke or symbol;
``cell=True`` (a text between ruling lines of a table, or beside a swatch in its row) asks 0.35 mm;
lines of one ``paragraph`` (same ``block``) must not touch each other, no more.  Fills in ``TINTS``
are ground that text may lie on.

A ``Stencil`` is a symbol drawn once around its own origin; ``put`` translates its marks (and may
turn them by quarters or mirror them) and returns a ``Placed`` with the box and the anchors in sheet
coordinates.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field

from .marks import (
    AMBER,
    BLACK,
    BLUE,
    BUS,
    DASHES,
    FRAME,
    GREEN,
    GREY,
    HAIR,
    HEAVY,
    MEDIUM,
    PALE,
    RED,
    THICK,
    THIN,
    TINTS,
    WHITE,
    Arc,
    Box,
    Close,
    Item,
    Mark,
    Open,
    Pen,
    Placed,
    Placement,
    Point,
    Poly,
    Stencil,
    Text,
    box_of,
    union,
)  # fmt: skip
from .metrics import T18, pitch

__all__ = [
    "AMBER", "BLACK", "BLUE", "BUS", "DASHES", "FRAME", "GREEN", "GREY", "HAIR", "HEAVY", "MEDIUM",
    "PALE", "RED", "THICK", "THIN", "TINTS", "WHITE", "Arc", "Box", "Close", "Item", "Mark", "Open",
    "Pen", "Placed", "Placement", "Point", "Poly", "Sheet", "Stencil", "Text", "box_of", "union",
]  # fmt: skip


LINE = Pen()


@dataclass
class Sheet:
    """One sheet being drawn.  ``number`` and ``of`` are set when the whole set is known.

    ``framed``: it gets frame and title block; a sheet of stock labels has neither.  ``links``:
    boxes that lead to another sheet of the set, by its number.
    """

    width: float
    height: float
    title: str = ""
    doc: str = ""
    number: int = 0
    of: int = 0
    framed: bool = True
    items: list[Item] = field(default_factory=list)
    placed: list[Placed] = field(default_factory=list)
    links: list[tuple[Box, int]] = field(default_factory=list)
    _ids: dict[str, int] = field(default_factory=dict, repr=False)
    _blocks: int = field(default=0, repr=False)

    @property
    def box(self) -> Box:
        return Box(0, 0, self.width, self.height)

    @contextmanager
    def group(self, id: str, cls: str = "", title: str = "", href: str = "") -> Iterator[None]:
        """Everything drawn inside belongs to one named group; a repeated id gets a suffix."""
        seen = self._ids[id] = self._ids.get(id, 0) + 1
        self.items.append(Open(id if seen == 1 else f"{id}-{seen}", cls, title, href, id))
        yield
        self.items.append(Close(bool(href)))

    def line(self, points: Sequence[Point], pen: Pen = LINE) -> None:
        """An open line through points."""
        self.items.append(Poly(tuple(points), False, pen))

    def poly(
        self, points: Sequence[Point], pen: Pen | None = LINE, fill: str | None = None
    ) -> None:
        """A closed polygon."""
        self.items.append(Poly(tuple(points), True, pen, fill))

    def rect(self, box: Box, pen: Pen | None = LINE, fill: str | None = None) -> None:
        """An upright rectangle."""
        x0, y0, x1, y1 = box.left, box.top, box.right, box.bottom
        self.poly(((x0, y0), (x1, y0), (x1, y1), (x0, y1)), pen, fill)

    def circle(
        self, x: float, y: float, r: float, pen: Pen | None = LINE, fill: str | None = None
    ) -> None:
        """A circle of radius ``r``."""
        self.items.append(Arc(x, y, r, r, 0, 360, pen, fill))

    def arc(
        self, x: float, y: float, rx: float, ry: float, start: float, end: float,
        pen: Pen = LINE,
    ) -> None:  # fmt: skip
        """An arc counter-clockwise from ``start`` to ``end`` degrees."""
        self.items.append(Arc(x, y, rx, ry, start, end if end > start else end + 360, pen))

    def text(
        self, x: float, y: float, text: str, size: float = T18, *, bold: bool = False,
        anchor: str = "start", level: str = "base", rotate: int = 0, colour: str = BLACK,
        cell: bool = False, block: int = 0,
    ) -> Text | None:  # fmt: skip
        """One line of text; returns the mark (its ``box`` is its extents), None if it is empty."""
        if not text.strip():
            return None
        drop = {"base": 0.0, "middle": size / 2, "top": size}[level]
        x, y = (x + drop, y) if rotate == 90 else (x, y + drop)
        mark = Text(x, y, text, size, bold, anchor, rotate, colour, cell, block)
        self.items.append(mark)
        return mark

    def block(self) -> int:
        """A new number for texts that belong together (``block=``)."""
        self._blocks += 1
        return self._blocks

    def paragraph(
        self, x: float, y: float, lines: Sequence[str], size: float = T18, *,
        bold_first: bool = False, anchor: str = "start", colour: str = BLACK, cell: bool = False,
        block: int = 0,
    ) -> float:  # fmt: skip
        """Lines below each other, the first baseline at ``y``; returns the next free baseline."""
        block = block or self.block()
        for index, line in enumerate(lines):
            bold = bold_first and index == 0
            self.text(
                x, y, line, size, bold=bold, anchor=anchor, colour=colour, cell=cell, block=block
            )
            y += pitch(size)
        return y

    def put(
        self, stencil: Stencil, x: float, y: float, turn: int = 0, mirror: bool = False
    ) -> Placed:
        """A symbol with its origin at (x, y), turned counter-clockwise by 0, 90, 180 or 270."""
        where = Placement(x, y, turn, mirror)
        first = len(self.items)
        self.items += [where.mark(mark) for mark in stencil.marks]
        corners = [
            where.point((px, py))
            for px in (stencil.box.left, stencil.box.right)
            for py in (stencil.box.top, stencil.box.bottom)
        ]
        xs, ys = [p[0] for p in corners], [p[1] for p in corners]
        placed = Placed(
            stencil.name,
            Box(min(xs), min(ys), max(xs), max(ys)),
            {name: where.point(p) for name, p in stencil.anchors.items()},
            first,
            len(self.items),
        )
        self.placed.append(placed)
        return placed
