"""The legend beside a single-line diagram: the symbols of the set, as a piece like any other."""

from __future__ import annotations

from collections.abc import Sequence

from .legend import SHOWN, names_of
from .metrics import T18, wrap
from .single_line_look import Look
from .single_line_parts import Glyph, Label, Options, Piece, text_size
from .symbols import NAMES

COLUMN, TEXT = 51.0, 32.0
AXIS = 8.0  # of the symbols in a column
TOP, HEAD = 2.0, 6.0
MOST_COLUMNS = 6


def legend(look: Look, also: Sequence[str], most: float) -> list[Piece]:
    """The symbols used, here or as ``also`` says, in one to six columns, within ``most`` mm."""
    used = names_of({*look.used, *also})
    shapes = [_legend(look, used, across) for across in range(1, MOST_COLUMNS + 1)]
    return [shape for shape in shapes if shape.box.width <= most]


def _legend(look: Look, used: Sequence[str], across: int) -> Piece:
    piece = Piece("legend")
    piece.add(Label("legend", 0.0, TOP, ("Legend",), True))
    per = -(-len(used) // across)
    for column in range(across):
        y = TOP + HEAD
        for name in used[column * per : (column + 1) * per]:
            y = _entry(piece, look, name, column * COLUMN + AXIS, y)
    return piece


def _entry(piece: Piece, look: Look, name: str, x: float, y: float) -> float:
    """One symbol with its meaning; returns where the next begins."""
    base, _, marked = name.partition("+")
    options: Options = tuple(SHOWN.get(name, {marked: True} if marked else {}).items())
    stencil = look.glyph(base, options)
    lines = tuple(wrap(NAMES[name], T18, TEXT))
    text_high = text_size(lines, False)[1]
    high = max(stencil.box.height, text_high)
    left = x - stencil.box.centre[0] if base == "bus" else x
    top = y - stencil.box.top + (high - stencil.box.height) / 2
    sign = Glyph(f"legend-{name}", base, left, top, options, NAMES[name], "legend")
    piece.add(sign, stencil.box.moved(left, top))
    piece.add(Label(f"legend-{name}", x + 8, y + (high - text_high) / 2, lines))
    return y + high + 1.2
