"""Strips of a panel's picture: pieces that lie below each other and stay in one piece.

A strip knows its size, so that panels can be laid out before anything is drawn.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import partial

from ..dsl.records import record
from .canvas import Sheet
from .metrics import T18, pitch, width, wrap

GAP = 5.0


@record
class Strip:
    """A piece of so many mm; ``draw(sheet, x, y)`` draws it with its upper left corner there."""

    width: float
    height: float
    draw: Callable[[Sheet, float, float], None]


def lines(words: str, room: float, bold: bool = False) -> Iterator[Strip]:
    """A sentence in lines of at most so many mm; nothing where there are no words."""
    texts = wrap(words, T18, room, bold)
    if texts:
        height = pitch(T18) * len(texts) + 1
        wide = max(width(text, T18, bold) for text in texts)
        yield Strip(wide, height, partial(_lines, texts, bold))


def _lines(texts: Sequence[str], bold: bool, sheet: Sheet, x: float, y: float) -> None:
    sheet.paragraph(x, y + T18 + 0.4, texts, T18, bold_first=bold)


def flowed(parts: Sequence[Strip], room: float) -> Iterator[Strip]:
    """Parts beside each other, as many on a line as fit."""
    line: list[Strip] = []
    for part in parts:
        if line and sum(each.width + GAP for each in line) + part.width > room:
            yield _beside(line)
            line = []
        line.append(part)
    if line:
        yield _beside(line)


def _beside(line: Sequence[Strip]) -> Strip:
    wide = sum(part.width + GAP for part in line) - GAP
    return Strip(wide, max(part.height for part in line), partial(_row, tuple(line)))


def _row(line: Sequence[Strip], sheet: Sheet, x: float, y: float) -> None:
    for part in line:
        part.draw(sheet, x, y)
        x += part.width + GAP
