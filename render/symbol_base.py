"""What a symbol is built of: a schemdraw element, one unit a millimetre, power flowing down.

The only module that imports schemdraw.  schemdraw imports matplotlib where it finds it, which takes
half a second; its matplotlib backend is therefore blocked while it is imported (it draws on our
own ``Recorder``, never through a backend) and left free for later.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Literal, TypeAlias

from .marks import MEDIUM, Mark, Point, Stencil, Text, box_of, union
from .metrics import T18
from .recorder import Recorder

_BACKEND = "schemdraw.backends.mpl"
_blocked = "schemdraw" not in sys.modules and _BACKEND not in sys.modules
if _blocked:
    sys.modules[_BACKEND] = None  # type: ignore[assignment]
from schemdraw.elements import Element  # noqa: E402
from schemdraw.segments import (  # noqa: E402
    Segment,
    SegmentArc,
    SegmentCircle,
    SegmentPoly,
)
from schemdraw.transform import Transform  # noqa: E402

if _blocked:
    del sys.modules[_BACKEND]


Dash: TypeAlias = Literal["-", "--", ":", "-."]


class Symbol(Element):  # type: ignore[no-untyped-call]
    """An element under construction.  x to the right, **y down**, origin at the top terminal."""

    def __init__(self, **options: Any) -> None:
        super().__init__()
        self.options: Mapping[str, Any] = options
        self.letters: list[Text] = []
        self.points: dict[str, Point] = {"top": (0.0, 0.0)}

    def line(self, *points: Point, pen: float = MEDIUM, dash: Dash = "-") -> None:
        """A line through points; it closes where it returns to its first point."""
        self.segments.append(Segment([(x, -y) for x, y in points], lw=pen, ls=dash))

    def shape(self, *points: Point, fill: str | None = None, pen: float = MEDIUM) -> None:
        """A closed polygon."""
        self.segments.append(SegmentPoly([(x, -y) for x, y in points], lw=pen, fill=fill))

    def box(self, left: float, top: float, right: float, bottom: float, **how: Any) -> None:
        """An upright rectangle."""
        self.shape((left, top), (right, top), (right, bottom), (left, bottom), **how)

    def circle(self, x: float, y: float, r: float, fill: str | None = None) -> None:
        self.segments.append(SegmentCircle((x, -y), r, lw=MEDIUM, fill=fill))

    def arc(
        self, x: float, y: float, rx: float, ry: float, start: float, end: float,
        dash: Dash = "-",
    ) -> None:  # fmt: skip
        """An elliptical arc, counter-clockwise as seen."""
        arc = SegmentArc((x, -y), 2 * rx, 2 * ry, theta1=start, theta2=end, lw=MEDIUM, ls=dash)
        self.segments.append(arc)

    def letter(self, x: float, y: float, text: str, size: float = T18, bold: bool = False) -> None:
        """Letters with their middle at (x, y); they stay upright however the symbol is turned."""
        self.letters.append(
            Text(x, y + size / 2, text, size, bold=bold, anchor="middle", cell=True)
        )

    def sine(self, x: float, y: float, r: float = 0.8) -> None:
        """The sign of alternating current, its middle at (x, y)."""
        self.arc(x - r, y, r, r * 1.1, 0, 180)
        self.arc(x + r, y, r, r * 1.1, 180, 360)

    def direct(self, x: float, y: float, r: float = 1.5) -> None:
        """The sign of direct current: a line over a broken line."""
        self.line((x - r, y - 0.55), (x + r, y - 0.55))
        for part in (-1, -0.2, 0.6):
            self.line((x + part * r, y + 0.55), (x + (part + 0.4) * r, y + 0.55))

    def ends(self, bottom: float, **points: Point) -> None:
        """The bottom terminal on the axis, and further named points."""
        self.points |= {"bottom": (0.0, bottom), **points}


Builder: TypeAlias = Callable[[Symbol], None]


def stencil(name: str, build: Builder, options: Mapping[str, Any]) -> Stencil:
    """The symbol drawn once, as marks."""
    symbol = Symbol(**options)
    build(symbol)
    recorder, home = Recorder(), Transform(0, (0, 0))
    for segment in symbol.segments:
        segment.draw(recorder, home)
    marks: Sequence[Mark] = [*recorder.marks, *symbol.letters]
    return Stencil(name, tuple(marks), symbol.points, union([box_of(mark) for mark in marks]))
