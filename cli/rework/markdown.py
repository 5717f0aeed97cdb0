"""A work order as Markdown: a list of tasks a heading; labels in it are inert."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from ...checks.rework import Plan
from ...render.rework_line import Line
from ...render.rework_rows import Section, sections
from ...render.schedule_rework import REMARKS
from ..diff.markdown import inert
from .words import CAUTION, summary


def write(plan: Plan, title: str, colour: bool = False) -> str:
    """The whole work order."""
    blocks = [
        f"## Work order: {inert(plan.new.label)}",
        f"**{inert(summary(plan))}**",
        inert(title),
    ]
    if plan.jobs:
        blocks.append("\n".join(f"- {inert(remark)}" for remark in REMARKS))
    blocks += ["\n".join(_lines(section)) for section in sections(plan)]
    return "\n\n".join([*blocks, CAUTION]) + "\n"


def _lines(section: Section) -> Iterator[str]:
    yield f"### {inert(section.title)}\n"
    for where, some in groupby(section.lines, key=lambda line: line.where):
        if where:
            yield f"\n{inert(where)}\n"
        yield from (_task(line) for line in some)


def _task(line: Line) -> str:
    at = f" at **{inert(line.at)}**" if line.at else ""
    marker = f" · marker {inert(line.marker)}" if line.marker else ""
    made = f": {inert(line.made)}" if line.made else ""
    return f"- [ ] {inert(line.do)} **{inert(line.what)}**{at}{marker}{made}"
