"""Remarks left of the title block: what the signs of a sheet mean."""

from __future__ import annotations

from collections.abc import Sequence

from .canvas import Sheet
from .frame import notes
from .marks import GREY
from .metrics import T18, pitch, wrap


def remark(sheet: Sheet, words: Sequence[str]) -> None:
    """Writes the sentences below each other, as many whole ones as the paper has room for."""
    room, block = notes(sheet), sheet.block()
    y = room.top + T18
    for sentence in words:
        lines = wrap(sentence, T18, room.width)
        if y + (len(lines) - 1) * pitch(T18) > room.bottom:
            return
        y = sheet.paragraph(room.left, y, lines, T18, colour=GREY, block=block)
