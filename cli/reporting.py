"""From a rig that was read to its report: what ``report`` and ``watch`` have in common."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from ..checks.trace import analyse
from ..checks.verdicts import check_each
from ..dsl.model import Rig
from ..render.draw import draw
from ..render.report import Content, Page, laid_out
from .report_tables import tables

Step = Callable[[int, int, str], None]
STEPS = ("checking", "drawing", "figures", "the page")


def _silent(done: int, total: int, what: str) -> None:
    """Progress that nobody watches."""


def report(rigs: Sequence[Rig], rig: Rig, step: Step = _silent) -> Page:
    """The page of one stage, with the verdicts of all; ``step`` is told of progress."""

    def now(index: int) -> None:
        step(index, len(STEPS), STEPS[index])

    now(0)
    reports = check_each(rigs)
    now(1)
    stage = analyse(rig)
    sheets = draw(stage)
    now(2)
    figures = tables(stage)
    now(3)
    return laid_out(Content(stage, rigs, reports, sheets, figures))
