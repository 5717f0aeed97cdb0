"""Remarks left of the title block: what the signs and the colours of a sheet mean."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ..checks.trade.colours import Colour
from .canvas import Sheet
from .frame import area, notes
from .marks import GREY
from .metrics import T18, pitch, width, wrap
from .swatch import swatch

SWATCH, APART, GAP = 7.0, 4.0, 2.0


def remark(sheet: Sheet, words: Sequence[str], rest: bool = False) -> float:
    """Writes the sentences below each other, as many whole ones as the paper has room for.

    ``rest``: those without room there stand at the bottom of the drawing, for which the layout has
    kept ``below`` free.  Returns the next free baseline left of the title block, mm.
    """
    room, block = notes(sheet), sheet.block()
    y = room.top + T18
    placed = _placed(sheet, words)
    for sentence in words[:placed]:
        lines = wrap(sentence, T18, room.width)
        y = sheet.paragraph(room.left, y, lines, T18, colour=GREY, block=block)
    if rest and words[placed:]:
        floor = area(sheet)
        top = floor.bottom - below(sheet, words) + GAP + T18
        sheet.paragraph(floor.left, top, _rest(sheet, words), T18, colour=GREY)
    return y


def _placed(sheet: Sheet, words: Sequence[str]) -> int:
    """How many of the sentences have room left of the title block."""
    room = notes(sheet)
    y = room.top + T18
    for index, sentence in enumerate(words):
        lines = wrap(sentence, T18, room.width)
        if y + (len(lines) - 1) * pitch(T18) > room.bottom:
            return index
        y += len(lines) * pitch(T18)
    return len(words)


def _rest(sheet: Sheet, words: Sequence[str]) -> list[str]:
    """The lines of the other sentences, as wide as the drawing."""
    left = " ".join(words[_placed(sheet, words) :])
    return wrap(left, T18, area(sheet).width)


def below(sheet: Sheet, words: Sequence[str]) -> float:
    """What the sentences without room beside the title block take of the drawing's height, mm."""
    lines = len(_rest(sheet, words))
    return GAP + lines * pitch(T18) if lines else 0.0


def colour_key(sheet: Sheet, y: float, colours: Iterable[Colour]) -> None:
    """A bar, the letter code and the name of each colour, side by side from a baseline on."""
    room = notes(sheet)
    x = room.left
    for colour in sorted(set(colours), key=lambda colour: colour.code):
        words = f"{colour.code} {colour.name}"
        wide = SWATCH + 1.5 + width(words, T18)
        if x + wide > room.right:
            x, y = room.left, y + pitch(T18) + 0.6
        if y > room.bottom:
            return
        swatch(sheet, x, x + SWATCH, y - T18 / 2, colour, "")
        sheet.text(x + SWATCH + 1.5, y, words, T18, colour=GREY, cell=True)
        x += wide + APART
