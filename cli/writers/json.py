"""Findings as JSON, in the shape described by ``findings.schema.json``.

One file gives one object, several or a folder give an array of them.  A file that could not be
read gives ``{"file", "problems"}`` in place of its findings.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from ...checks.findings import Finding, Related, Report
from ...dsl.model import Span
from ...dsl.problems import Problem
from ..files import Outcome


def write(outcomes: Sequence[Outcome], colour: bool = False) -> str:
    """The outcomes as one JSON document in plain ASCII."""
    documents = [document(outcome) for outcome in outcomes]
    return json.dumps(documents[0] if len(documents) == 1 else documents, indent=2) + "\n"


def array(outcomes: Sequence[Outcome]) -> str:
    """The outcomes as an array, however many there are: what a fleet gives."""
    return json.dumps([document(outcome) for outcome in outcomes], indent=2) + "\n"


def document(outcome: Outcome) -> dict[str, Any]:
    """One file's outcome as an object."""
    if outcome.report is None:
        problems = [_problem(problem) for problem in outcome.problems]
        return {"file": outcome.file, "problems": problems}
    return _report(outcome.report, outcome.figures)


def _report(report: Report, figures: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "file": report.file,
        "stages": list(report.stages),
        "findings": [_finding(finding) for finding in report.findings],
        "figures": dict(figures),
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "rule": finding.rule,
        "name": finding.name,
        "severity": finding.severity,
        "stage": finding.stage,
        "modes": list(finding.modes),
        "on": list(finding.on),
        **_place(finding.span),
        "message": finding.message,
        "value": finding.value,
        "limit": finding.limit,
        "unit": finding.unit,
        "why": list(finding.why),
        "related": [_related(related) for related in finding.related],
        "clause": finding.clause,
        "fix": finding.fix,
        "accepted": finding.accepted,
    }


def _related(related: Related) -> dict[str, Any]:
    return {**_place(related.span), "text": related.text}


def _problem(problem: Problem) -> dict[str, Any]:
    return {
        **_place(problem.span),
        "message": problem.message,
        "expected": problem.expected,
        "hint": problem.hint,
    }


def _place(span: Span) -> dict[str, Any]:
    return {
        "file": span.file,
        "line": span.line,
        "column": span.column,
        "end_line": span.end_line,
        "end_column": span.end_column,
    }
