"""From a rig that was read to its report: what ``report`` and ``watch`` have in common."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from ..checks.tracing.trace import analyse
from ..checks.verdicts import check_each
from ..dsl.model import Rig
from ..render.draw import DOCUMENTS, draw
from ..render.report import Content, Page, laid_out
from .report_tables import tables

Step = Callable[[int, int, str], None]


def _silent(done: int, total: int, what: str) -> None:
    """Progress that nobody watches."""


def report(rigs: Sequence[Rig], rig: Rig, step: Step = _silent) -> Page:
    """The page of one stage, with the verdicts of all; ``step`` is told of progress."""
    total = len(DOCUMENTS) + 3  # checking before, figures and the page after
    step(0, total, "checking")
    reports = check_each(rigs)
    stage = analyse(rig)
    sheets = draw(stage, step=lambda done, _, document: step(done + 1, total, document))
    step(total - 2, total, "figures")
    figures = tables(stage)
    step(total - 1, total, "page")
    return laid_out(Content(stage, rigs, reports, sheets, figures))
