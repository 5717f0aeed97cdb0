"""From a rig that was read to its report: what ``report`` and ``watch`` have in common."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from ..checks.trace import analyse
from ..checks.verdicts import check_each
from ..dsl.model import Rig
from ..render.draw import draw
from ..render.report import Content, page
from .report_tables import tables

Step = Callable[[int, int, str], None]
STEPS = ("checking", "drawing", "figures", "the page")


def content(rigs: Sequence[Rig], rig: Rig, step: Step) -> Content:
    """Everything that the report of a stage shows; ``step`` is told of progress."""

    def now(index: int) -> None:
        step(index, len(STEPS), STEPS[index])

    now(0)
    reports = check_each(rigs)
    now(1)
    stage = analyse(rig)
    sheets = draw(stage)
    now(2)
    return Content(stage, rigs, reports, sheets, tables(stage))


def report(rigs: Sequence[Rig], rig: Rig, step: Step, watching: bool = False) -> str:
    """The page of one stage, with the verdicts of all."""
    found = content(rigs, rig, step)
    step(len(STEPS) - 1, len(STEPS), STEPS[-1])
    return page(found, watching)
