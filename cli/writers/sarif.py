"""Findings as SARIF 2.1.0 (OASIS, Static Analysis Results Interchange Format)."""

from __future__ import annotations

import json
from collections.abc import Sequence
from inspect import cleandoc
from pathlib import Path
from typing import Any
from urllib.parse import quote

from ...checks.findings import ERROR, NOTE, WARNING, Finding
from ...checks.registry import Rule, rules
from ...dsl import VERSION
from ...dsl.model import Span
from ...dsl.problems import Problem
from ..files import Outcome

SCHEMA = "https://json.schemastore.org/sarif-2.1.0-rtm.5.json"
LEVELS = {ERROR: "error", WARNING: "warning", NOTE: "note"}


def write(outcomes: Sequence[Outcome], colour: bool = False) -> str:
    """One log with one run over all files, in plain ASCII."""
    problems = [problem for outcome in outcomes for problem in outcome.problems]
    findings = [f for outcome in outcomes if outcome.report for f in outcome.report.findings]
    run = {
        "tool": {"driver": _driver()},
        "columnKind": "unicodeCodePoints",
        "invocations": [_invocation(problems)],
        "results": [_result(finding) for finding in findings],
    }
    return json.dumps({"$schema": SCHEMA, "version": "2.1.0", "runs": [run]}, indent=2) + "\n"


def _driver() -> dict[str, Any]:
    return {"name": "ferrule", "version": VERSION, "rules": [_rule(rule) for rule in rules()]}


def _rule(rule: Rule) -> dict[str, Any]:
    return {
        "id": rule.code,
        "name": rule.name,
        "shortDescription": {"text": rule.summary},
        "fullDescription": {"text": cleandoc(rule.doc)},
        "defaultConfiguration": {"level": LEVELS[rule.severity]},
    }


def _invocation(problems: Sequence[Problem]) -> dict[str, Any]:
    """Whether every file could be read; what could not is a notification, not a result."""
    notes = [
        {
            "level": "error",
            "message": {"text": _problem(problem)},
            "locations": [_location(problem.span)],
        }
        for problem in problems
    ]
    return {"executionSuccessful": not notes, "toolExecutionNotifications": notes}


def _problem(problem: Problem) -> str:
    expected = f"expected: {problem.expected}" if problem.expected else ""
    return "\n".join(part for part in (problem.message, expected, problem.hint) if part)


def _result(finding: Finding) -> dict[str, Any]:
    result: dict[str, Any] = {
        "ruleId": finding.rule,
        "level": LEVELS[finding.severity],
        "message": {"text": finding.message},
        "locations": [_location(finding.span)],
        "relatedLocations": [_location(r.span, r.text) for r in finding.related],
        "partialFingerprints": {"ferrule/v1": _fingerprint(finding)},
        "properties": _properties(finding),
    }
    if finding.accepted is not None:
        suppression = {"kind": "inSource", "justification": finding.accepted}
        result["suppressions"] = [suppression]
    return result


def _fingerprint(finding: Finding) -> str:
    """What makes it the same finding after lines have moved: rule, stage and names."""
    return "/".join((finding.rule, finding.stage, *finding.on))


def _properties(finding: Finding) -> dict[str, Any]:
    return {
        "stage": finding.stage,
        "modes": list(finding.modes),
        "on": list(finding.on),
        "value": finding.value,
        "limit": finding.limit,
        "unit": finding.unit,
        "why": list(finding.why),
        "clause": finding.clause,
        "fix": finding.fix,
    }


def _location(span: Span, text: str = "") -> dict[str, Any]:
    region = {
        "startLine": span.line,
        "startColumn": span.column,
        "endLine": span.end_line,
        "endColumn": span.end_column,
    }
    place = {"artifactLocation": {"uri": _uri(span.file)}, "region": region}
    location: dict[str, Any] = {"physicalLocation": place}
    if text:
        location["message"] = {"text": text}
    return location


def _uri(file: str) -> str:
    path = Path(file)
    name = path.as_posix().encode("utf-8", "surrogateescape")
    return path.as_uri() if path.is_absolute() else quote(name)
