"""Remarks left of the title block: what the signs and the colours of a sheet mean."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ..checks.colours import Colour
from .canvas import Sheet
from .frame import notes
from .marks import GREY
from .metrics import T18, pitch, width, wrap
from .swatch import swatch

SWATCH, APART = 7.0, 4.0


def remark(sheet: Sheet, words: Sequence[str]) -> float:
    """Writes the sentences below each other, as many whole ones as the paper has room for.

    Returns the next free baseline, mm.
    """
    room, block = notes(sheet), sheet.block()
    y = room.top + T18
    for sentence in words:
        lines = wrap(sentence, T18, room.width)
        if y + (len(lines) - 1) * pitch(T18) > room.bottom:
            break
        y = sheet.paragraph(room.left, y, lines, T18, colour=GREY, block=block)
    return y


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
