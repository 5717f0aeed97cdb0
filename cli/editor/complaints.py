"""What an editor underlines: mistakes in the text, and findings of the check, by file."""

from __future__ import annotations

from collections.abc import Iterator

from ...checks.findings import ERROR, NOTE, WARNING, Finding
from ...checks.registry import find
from ...dsl.model import Span
from ...dsl.problems import Problem
from ...dsl.records import record
from ..terminal import printable
from .desk import Judgement

HINT = "hint"
MISTAKE = "text"
"""The code of whatever keeps a text from being read."""
MOST = 500


@record
class Complaint:
    """Something to underline.

    ``about`` is what a code stands for, in a sentence; ``related`` are other places with words.
    """

    span: Span
    severity: str
    code: str
    message: str
    about: str
    related: tuple[tuple[Span, str], ...] = ()


def complaints(judgement: Judgement) -> dict[str, list[Complaint]]:
    """What to underline in each file; a file where all is well has an empty list."""
    found: dict[str, list[Complaint]] = {file: [] for file in judgement.files}
    for complaint in _all(judgement):
        shown = found.setdefault(complaint.span.file, [])
        if len(shown) < MOST:
            shown.append(complaint)
    return found


def _all(judgement: Judgement) -> Iterator[Complaint]:
    yield from map(of_problem, judgement.problems)
    if judgement.report is not None:
        yield from map(of_finding, judgement.report.findings)


def of_problem(problem: Problem) -> Complaint:
    """A mistake in the text: what is wrong, what was expected, what to do."""
    rows = [problem.message]
    rows += [f"expected: {problem.expected}"] if problem.expected else []
    rows += [f"hint: {problem.hint}"] if problem.hint else []
    about = "a mistake in the text: it cannot be read, and nothing is checked before it is mended"
    return Complaint(problem.span, ERROR, MISTAKE, shown(rows), about)


def of_finding(finding: Finding) -> Complaint:
    """A finding; an accepted one is a hint, with the author's reason."""
    rule = find(finding.rule)
    rows = [finding.message, *_where(finding), *(f"why: {line}" for line in finding.why)]
    rows += [f"clause: {finding.clause}"] if finding.clause else []
    rows += [f"fix: {finding.fix}"] if finding.fix else []
    severity = finding.severity
    if finding.accepted is not None:
        rows.append(f"accepted: {finding.accepted}")
        severity = HINT
    return Complaint(
        finding.span,
        severity if severity in (ERROR, WARNING, NOTE) else HINT,
        finding.rule,
        shown(rows),
        f"{finding.name}: {rule.summary if rule else finding.message}",
        tuple((related.span, shown([related.text])) for related in finding.related),
    )


def _where(finding: Finding) -> Iterator[str]:
    stage = "" if finding.stage == "base" else f"stage {finding.stage}"
    modes = f"mode {', '.join(finding.modes)}" if finding.modes else ""
    where = ", ".join(part for part in (stage, modes) if part)
    if where:
        yield f"where: {where}"


def shown(rows: list[str]) -> str:
    """Lines of text with nothing in them that a screen would act on."""
    return "\n".join(printable(" ".join(row.split())) for row in rows)
