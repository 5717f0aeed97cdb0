"""What a check has to say: one frozen record, rendered by many writers."""

from __future__ import annotations

from ..dsl.model import Span
from ..dsl.records import record, replace

ERROR, WARNING, NOTE = "error", "warning", "note"
SEVERITIES = (ERROR, WARNING, NOTE)


@record
class Related:
    """A second place in the text, with its own words ("fed from here", "declared there")."""

    span: Span
    text: str


@record
class Finding:
    """One cause, said once.

    ``on`` names what it is about, the culprit first.  ``modes`` are all modes it holds in (empty:
    it does not depend on the mode).  ``value`` and ``limit`` are the two numbers that disagree,
    in ``unit``.  ``why`` is the traced path or the cut, a line each; ``clause`` whose rule it is;
    ``fix`` what to do.  ``accepted`` is the author's reason where an ``accept`` covers it.
    ``cause`` tells the checker which findings are of one cause; it is not written anywhere.
    """

    rule: str
    name: str
    severity: str
    stage: str
    modes: tuple[str, ...]
    on: tuple[str, ...]
    span: Span
    message: str
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    why: tuple[str, ...] = ()
    related: tuple[Related, ...] = ()
    clause: str = ""
    fix: str = ""
    accepted: str | None = None
    cause: str = ""

    def sort_key(self) -> tuple[object, ...]:
        """By place in the text, then by rule."""
        s = self.span
        return (s.file, s.line, s.column, self.rule, self.on, self.stage)


@record
class Report:
    """All findings of the stages of one file, in the order of the text."""

    file: str
    stages: tuple[str, ...]
    findings: tuple[Finding, ...]

    @property
    def failed(self) -> bool:
        """Whether an error stands that nobody has accepted."""
        return any(f.severity == ERROR and f.accepted is None for f in self.findings)


def accepted(finding: Finding, because: str) -> Finding:
    """The finding with the author's reason on it."""
    return replace(finding, accepted=because)
