"""Findings back from the JSON that they were written as (``findings.schema.json``)."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from math import isfinite
from typing import Any

from ...checks.findings import SEVERITIES, Finding, Related, Report
from ...dsl.library import is_shipped, locate
from ...dsl.model import Span
from ...dsl.problems import Problem
from ...dsl.reader import load
from ..files import Outcome

# Halves of a character, but those that stand for the bytes of a file's name.
_HALF = re.compile("[\ud800-\udc7f\udd00-\udfff]")


class Unfit(ValueError):
    """JSON that is no document of findings."""


def loads(text: str) -> Any:
    """JSON as its standard has it: no NaN, nothing beyond all numbers.  Raises ``ValueError``."""
    return json.loads(text, parse_constant=_no_number, parse_float=_finite)


def _no_number(word: str) -> float:
    raise Unfit(f"{word} is no number")


def _finite(word: str) -> float:
    value = float(word)
    return value if isfinite(value) else _no_number(word[:20])


def outcome(document: object) -> Outcome:
    """What became of one file, with the texts that its findings point into, as they are now.

    Raises ``Unfit``.
    """
    fields = _object(document)
    name = _text(fields, "file")
    if "problems" in fields:
        problems = tuple(_problem(_object(p)) for p in _list(fields, "problems"))
        return Outcome(name, texts(p.span for p in problems), problems)
    findings = tuple(_finding(_object(f)) for f in _list(fields, "findings"))
    report = Report(name, _texts(fields, "stages"), findings)
    spans = [span for f in findings for span in (f.span, *(r.span for r in f.related))]
    figures = _object(fields.get("figures"))
    return Outcome(name, texts(spans), report=report, figures=figures)


def texts(spans: Any) -> dict[str, str]:
    """The texts that spans point into, by the names that the spans use."""
    found: dict[str, str] = {}
    for name in dict.fromkeys(span.file for span in spans):
        path = locate(name.partition(":")[2], "")[1] if is_shipped(name) else name
        text = load(path)
        if isinstance(text, str):
            found[name] = text  # a finding without its line of text is still a finding
    return found


def _finding(fields: Mapping[str, Any]) -> Finding:
    if fields.get("severity") not in SEVERITIES:
        raise Unfit(f"a finding of severity {fields.get('severity')!r}")
    accepted = fields.get("accepted")
    return Finding(
        rule=_text(fields, "rule"),
        name=_text(fields, "name"),
        severity=_text(fields, "severity"),
        stage=_text(fields, "stage"),
        modes=_texts(fields, "modes"),
        on=_texts(fields, "on"),
        span=_span(fields),
        message=_text(fields, "message"),
        value=_number(fields, "value"),
        limit=_number(fields, "limit"),
        unit=_text(fields, "unit"),
        why=_texts(fields, "why"),
        related=tuple(
            Related(_span(_object(r)), _text(_object(r), "text")) for r in _list(fields, "related")
        ),
        clause=_text(fields, "clause"),
        fix=_text(fields, "fix"),
        accepted=None if accepted is None else _text(fields, "accepted"),
    )


def _problem(fields: Mapping[str, Any]) -> Problem:
    words = (_text(fields, key) for key in ("message", "expected", "hint"))
    return Problem(_span(fields), *words)


def _span(fields: Mapping[str, Any]) -> Span:
    places = [fields.get(key) for key in ("line", "column", "end_line", "end_column")]
    if not all(type(place) is int for place in places):
        raise Unfit("a place without lines and columns")
    line, column, end_line, end_column = (int(place) for place in places if place is not None)
    return Span(_text(fields, "file"), line, column, end_line, end_column)


def _object(value: object) -> Mapping[str, Any]:
    if not isinstance(value, dict):
        raise Unfit("no object where one should be")
    return value


def _list(fields: Mapping[str, Any], key: str) -> list[Any]:
    value = fields.get(key)
    if not isinstance(value, list):
        raise Unfit(f"no list `{key}`")
    return value


def _text(fields: Mapping[str, Any], key: str) -> str:
    value = fields.get(key)
    if not isinstance(value, str) or _HALF.search(value):
        raise Unfit(f"no text `{key}`")
    return value


def _texts(fields: Mapping[str, Any], key: str) -> tuple[str, ...]:
    values = _list(fields, key)
    if not all(isinstance(value, str) for value in values):
        raise Unfit(f"not only texts in `{key}`")
    return tuple(values)


def _number(fields: Mapping[str, Any], key: str) -> float | None:
    value = fields.get(key)
    if value is not None and (type(value) not in (int, float) or not isfinite(value)):
        raise Unfit(f"no number `{key}`")
    return value
