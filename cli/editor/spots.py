"""Places in a text: what the language counts (lines and characters from 1) and what editors count.

Editors count lines and columns from 0, columns in code units of UTF-16 unless they agree to others.
"""

from __future__ import annotations

from bisect import bisect_right
from typing import NamedTuple

from ...dsl.model import Span

UNITS = {"utf-8": "utf-8", "utf-16": "utf-16-le", "utf-32": "utf-32-le"}
WIDTH = {"utf-8": 1, "utf-16": 2, "utf-32": 4}


class Spot(NamedTuple):
    """A place as an editor counts it: line and column from 0, the column in code units."""

    line: int
    column: int


class Edit(NamedTuple):
    """A stretch of a file's text to be replaced."""

    span: Span
    text: str


class Lines:
    """A text, with the way between its characters and an editor's places.

    Places beyond the end of a line or of the text are taken for that end.
    """

    def __init__(self, text: str, encoding: str = "utf-16") -> None:
        self.text = text
        self.encoding, self.width = UNITS[encoding], WIDTH[encoding]
        self.starts = [0]
        for line in text.split("\n"):
            self.starts.append(self.starts[-1] + len(line) + 1)
        self.count = len(self.starts) - 1

    def line(self, number: int) -> str:
        """A line of the text, from 0, without its end."""
        return self.text[self.starts[number] : self.starts[number + 1] - 1]

    def offset(self, spot: Spot) -> int:
        """The index in the text of an editor's place."""
        if spot.line >= self.count:
            return len(self.text)
        line = self.line(max(spot.line, 0))
        taken = line.encode(self.encoding, "surrogatepass")[: max(spot.column, 0) * self.width]
        return self.starts[max(spot.line, 0)] + len(taken.decode(self.encoding, "ignore"))

    def spot(self, offset: int) -> Spot:
        """An editor's place of an index in the text."""
        offset = min(max(offset, 0), len(self.text))
        number = bisect_right(self.starts, offset) - 1
        before = self.text[self.starts[number] : offset].encode(self.encoding, "surrogatepass")
        return Spot(number, len(before) // self.width)

    def index(self, line: int, column: int) -> int:
        """The index in the text of a place as the language counts it."""
        if line > self.count:
            return len(self.text)
        number = max(line, 1) - 1
        end = self.starts[number + 1] - 1
        return min(self.starts[number] + max(column, 1) - 1, end)

    def within(self, span: Span) -> tuple[int, int]:
        """A span as indices: its start, and its end, which is not within it."""
        return self.index(span.line, span.column), self.index(span.end_line, span.end_column)

    def spots(self, span: Span) -> tuple[Spot, Spot]:
        """A span as an editor counts it."""
        start, end = self.within(span)
        return self.spot(start), self.spot(end)

    def span(self, file: str, start: int, end: int) -> Span:
        """Two indices as a span of a file."""
        first, last = (bisect_right(self.starts, at) - 1 for at in (start, end))
        column, end_column = start - self.starts[first] + 1, end - self.starts[last] + 1
        return Span(file, first + 1, column, last + 1, end_column)


def edited(text: str, edits: list[Edit]) -> str:
    """The text with the edits made, whatever their order; they do not overlap."""
    lines = Lines(text)
    for start, end, new in sorted(((*lines.within(e.span), e.text) for e in edits), reverse=True):
        text = text[:start] + new + text[end:]
    return text
