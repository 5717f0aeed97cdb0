"""The findings of every stage by itself, and what they come to in each mode."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from ..dsl.model import Rig, Span
from ..dsl.records import replace
from .findings import SEVERITIES, Finding, Report
from .run import UNMATCHED, check_rigs


class Verdict(NamedTuple):
    """What stands in one mode of a stage; ``mode`` "": what no mode changes."""

    stage: str
    mode: str
    counts: dict[str, int]
    accepted: int

    @property
    def passes(self) -> bool:
        """Whether no error stands that nobody has accepted."""
        return not self.counts[SEVERITIES[0]]


class Told(NamedTuple):
    """A finding and the stages it holds in."""

    finding: Finding
    stages: tuple[str, ...]


def check_each(rigs: Sequence[Rig]) -> tuple[Report, ...]:
    """A report a stage.  An ``accept`` that any stage needs is not told of as needless."""
    reports = [check_rigs([rig]) for rig in rigs]
    needless = [{f.span for f in r.findings if f.rule == UNMATCHED} for r in reports]
    everywhere: set[Span] = set.intersection(*needless) if needless else set()
    return tuple(
        replace(
            report,
            findings=tuple(
                f for f in report.findings if f.rule != UNMATCHED or f.span in everywhere
            ),
        )
        for report in reports
    )


def verdicts(rig: Rig, report: Report) -> Iterator[Verdict]:
    """What no mode changes, then every mode of the stage."""
    yield _verdict(rig.stage, "", (f for f in report.findings if not f.modes))
    for mode in rig.modes:
        yield _verdict(rig.stage, mode, (f for f in report.findings if mode in f.modes))


def _verdict(stage: str, mode: str, findings: Iterable[Finding]) -> Verdict:
    found = list(findings)
    standing = [f.severity for f in found if f.accepted is None]
    counts = {severity: standing.count(severity) for severity in SEVERITIES}
    return Verdict(stage, mode, counts, len(found) - len(standing))


def told(reports: Sequence[Report], shown: str) -> list[Told]:
    """Every finding once, in the words of the stage shown where it holds there."""
    found: dict[tuple[object, ...], Told] = {}
    for report in reports:
        (stage,) = report.stages
        for finding in report.findings:
            key = (finding.rule, finding.on[0], finding.span)
            first = found.get(key)
            if first is None:
                found[key] = Told(finding, (stage,))
            else:
                best = finding if stage == shown else first.finding
                found[key] = Told(best, tuple(dict.fromkeys((*first.stages, stage))))
    return sorted(found.values(), key=lambda each: each.finding.sort_key())
