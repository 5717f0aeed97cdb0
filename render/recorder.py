"""The figure that schemdraw draws on: it keeps marks instead of writing a file."""

from __future__ import annotations

import math
from collections.abc import Sequence

from .marks import BLACK, THIN, WHITE, Arc, Mark, Pen, Poly


class Recorder:
    """The figure schemdraw draws on: keeps marks, y turned downwards.  Text is not accepted."""

    def __init__(self) -> None:
        self.marks: list[Mark] = []

    def plot(
        self, x: Sequence[float], y: Sequence[float], color: str = BLACK, ls: str = "-",
        lw: float = THIN, fill: str | None = None, **_: object,
    ) -> None:  # fmt: skip
        """A line; closed if it returns to its first point."""
        points = [(float(px), -float(py)) for px, py in zip(x, y, strict=True)]
        closed = len(points) > 2 and math.dist(points[0], points[-1]) < 1e-9
        marked = tuple(points[:-1] if closed else points)
        self.marks.append(Poly(marked, closed, _pen(color, ls, lw), _fill(fill)))

    def poly(
        self, verts: Sequence[Sequence[float]], closed: bool = True, color: str = BLACK,
        fill: str | None = None, lw: float = THIN, ls: str = "-", **_: object,
    ) -> None:  # fmt: skip
        """A polygon."""
        points = tuple((float(p[0]), -float(p[1])) for p in verts)
        self.marks.append(Poly(points, closed, _pen(color, ls, lw), _fill(fill)))

    def circle(
        self, center: Sequence[float], radius: float, color: str = BLACK,
        fill: str | None = None, lw: float = THIN, ls: str = "-", **_: object,
    ) -> None:  # fmt: skip
        """A whole circle."""
        pen = _pen(color, ls, lw)
        x, y = float(center[0]), -float(center[1])
        self.marks.append(Arc(x, y, radius, radius, 0, 360, pen, _fill(fill)))

    def arc(
        self, center: Sequence[float], width: float, height: float, theta1: float = 0,
        theta2: float = 90, angle: float = 0, color: str = BLACK, lw: float = THIN,
        ls: str = "-", **_: object,
    ) -> None:  # fmt: skip
        """An arc counter-clockwise; schemdraw's angles already see y upwards, as ours do."""
        end = theta2 if theta2 > theta1 else theta2 + 360
        x, y = float(center[0]), -float(center[1])
        self.marks.append(Arc(x, y, width / 2, height / 2, theta1, end, _pen(color, ls, lw)))

    def text(self, *_: object, **__: object) -> None:
        """Letters are the sheet's own: schemdraw's text handling loses "&" and "$"."""
        raise TypeError("a symbol's letters are added by the symbol table, not by schemdraw")


def _pen(colour: str, dash: str, width: float) -> Pen:
    named = {"-": "solid", "--": "fine", ":": "dotted", "-.": "fine-chain"}
    return Pen(width, BLACK if colour == "black" else colour, named.get(dash, "solid"))


def _fill(fill: str | None) -> str | None:
    return {"black": BLACK, "white": WHITE}.get(fill or "", fill or None)
