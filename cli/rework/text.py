"""A work order at a terminal: job by job, a box to tick before each line."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

from ...checks.rework import Plan
from ...dsl.problems import BOLD
from ...render.rework_line import Line
from ...render.rework_rows import Section, sections
from ...render.schedule_rework import REMARKS
from ..terminal import printable
from ..writers.text import Pen
from .words import CAUTION, summary

WIDTH = 100
MOST, LEAST, BELOW = 34, 40, 12
"""Columns of what is worked on that set the table's, room for words beside it, indent below it."""


def write(plan: Plan, title: str, colour: bool = False) -> str:
    """The whole work order."""
    pen = Pen(colour)
    found = sections(plan)
    head = [pen(BOLD, line) for line in textwrap.wrap(printable(title), WIDTH)]
    head += [printable(plan.new.label), *textwrap.wrap(summary(plan), WIDTH), ""]
    if plan.jobs:
        head += [line for remark in REMARKS for line in textwrap.wrap(remark, WIDTH)] + [""]
    blocks = ["\n".join((pen(BOLD, s.title), *_lines(s))) for s in found]
    return "\n".join(head) + "\n" + "\n\n".join([*blocks, textwrap.fill(CAUTION, WIDTH)]) + "\n"


def _lines(section: Section) -> Iterator[str]:
    """The lines by where they are done."""
    for where, some in groupby(section.lines, key=lambda line: line.where):
        if where:
            yield f"  {where}"
        yield from _rows(list(some))


def _rows(lines: Sequence[Line]) -> Iterator[str]:
    wide = [_widest(cells) for cells in zip(*map(_cells, lines), strict=True)]
    for line in lines:
        cells = (f"{cell:<{w}}" for cell, w in zip(_cells(line), wide, strict=True) if w)
        yield from _folded(f"    [ ] {'  '.join(cells)}  ", printable(line.made))


def _cells(line: Line) -> tuple[str, str, str]:
    what = " ".join(filter(None, (line.what, line.at and f"at {line.at}")))
    return line.do, printable(what), line.marker


def _widest(cells: Iterable[str]) -> int:
    return min(max(map(len, cells)), MOST)


def _folded(head: str, words: str) -> Iterator[str]:
    """A head and its words beside it, or below where there is no room."""
    if len(head.rstrip()) <= WIDTH and not words:
        yield head.rstrip()
        return
    if len(head) + min(len(words), LEAST) > WIDTH:
        below = " " * BELOW
        yield from textwrap.wrap(head.strip(), WIDTH - 4, initial_indent="    ",
                                 subsequent_indent=below, break_long_words=False)  # fmt: skip
        head = below
    lines = textwrap.wrap(words, WIDTH - len(head), break_long_words=False)
    for line in lines:
        yield (head + line).rstrip()
        head = " " * len(head)
