"""Findings as workflow commands, which a hosted build shows beside the lines of a change."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ...checks.findings import ERROR, NOTE, WARNING, Finding
from ...dsl.model import Span
from ...dsl.problems import Problem, plain
from ..files import Outcome

LEVELS = {ERROR: "error", WARNING: "warning", NOTE: "notice"}


def write(outcomes: Sequence[Outcome], colour: bool = False) -> str:
    """One line a finding or mistake; nothing where there is none."""
    return "".join(f"{line}\n" for outcome in outcomes for line in _outcome(outcome))


def _outcome(outcome: Outcome) -> Iterator[str]:
    for problem in outcome.problems:
        yield _command("error", problem.span, "mistake in the text", _problem(problem))
    for finding in outcome.report.findings if outcome.report else ():
        level = LEVELS[finding.severity] if finding.accepted is None else "notice"
        title = f"{finding.rule} {finding.name}"
        yield _command(level, finding.span, title, _finding(finding))


def _finding(finding: Finding) -> str:
    where = f"stage {finding.stage}" + "".join(f", {mode}" for mode in finding.modes)
    accepted = f"accepted: {finding.accepted}" if finding.accepted is not None else ""
    parts = (finding.message, f"({where})", *finding.why, finding.clause, finding.fix, accepted)
    return "\n".join(part for part in parts if part)


def _problem(problem: Problem) -> str:
    expected = f"expected: {problem.expected}" if problem.expected else ""
    return "\n".join(part for part in (problem.message, expected, problem.hint) if part)


def _command(level: str, span: Span, title: str, message: str) -> str:
    keys = {"file": span.file, "line": str(span.line), "endLine": str(span.end_line)}
    if span.line == span.end_line:  # columns are taken only where both ends are on one line
        keys |= {"col": str(span.column), "endColumn": str(span.end_column)}
    keys["title"] = title
    marks = ",".join(f"{key}={_property(value)}" for key, value in keys.items())
    return f"::{level} {marks}::{_data(message)}"


def _data(text: str) -> str:
    return plain(text.replace("\r", "\n")).replace("%", "%25").replace("\n", "%0A")


def _property(text: str) -> str:
    return _data(text).replace(":", "%3A").replace(",", "%2C")
