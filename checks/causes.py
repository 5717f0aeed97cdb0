"""One cause, one finding: what several findings share, and which of them follow from another.

A rule says the cause of a hit as a word (``Hit.cause``): the device that is too large, the
conductor that loses the voltage, the source that is at odds.  Findings of one rule with one cause
become one.  A rule that ``follows`` another is left out where that one has found the same cause,
and is told there in a line, so that nothing is lost.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from ..dsl.model import Accept
from ..dsl.records import replace
from .findings import SEVERITIES, Finding, Related
from .registry import Rule
from .tracing.bonding import listed

MOST_RELATED = 6
MOST_LINES = 4


def matches(accept: Accept, finding: Finding) -> bool:
    """Whether an ``accept`` means this finding: the rule, and one of its names (or its cable)."""
    names = {part for name in finding.on for part in (name, name.split("/")[0])}
    return accept.rule in (finding.rule, finding.name) and accept.on in names


class Accepts:
    """Accepts by the thing that they are on: looked up for a finding, not searched through."""

    def __init__(self, accepts: Iterable[Accept]) -> None:
        self._on: dict[str, list[tuple[int, Accept]]] = {}
        for number, accept in enumerate(accepts):
            self._on.setdefault(accept.on, []).append((number, accept))

    def of(self, finding: Finding) -> dict[int, Accept]:
        """Those that mean a finding, by their number, the first of them first."""
        if not self._on:
            return {}
        names = dict.fromkeys(part for name in finding.on for part in (name, name.split("/")[0]))
        every = (pair for name in names for pair in self._on.get(name, ()))
        return dict(sorted((n, accept) for n, accept in every if matches(accept, finding)))


def without_followers(findings: Sequence[Finding], table: Mapping[str, Rule]) -> list[Finding]:
    """Leave out what follows from a finding of the same cause, and say it there in a line."""
    causes = {(f.rule, f.cause): f for f in findings if f.cause}
    lines: dict[int, list[str]] = {}
    kept = []
    for finding in findings:
        rule = table.get(finding.rule)
        codes = rule.follows if rule and finding.cause else ()
        cause = next(
            (causes[c, finding.cause] for c in codes if (c, finding.cause) in causes), None
        )
        if cause is None:
            kept.append(finding)
        else:
            lines.setdefault(id(cause), []).append(f"so too {finding.rule}: {finding.message}")
    return [
        replace(f, why=(*f.why, *lines[id(f)][:MOST_LINES])) if id(f) in lines else f for f in kept
    ]


def by_cause(findings: Iterable[Finding], accepts: Sequence[Accept]) -> list[Finding]:
    """One finding for all of a rule that have one cause; what is accepted stays by itself."""
    groups: dict[tuple[object, ...], list[Finding]] = {}
    taken = Accepts(accepts)
    for number, finding in enumerate(findings):
        own = finding.cause or number
        accepted = tuple(taken.of(finding))
        groups.setdefault((finding.rule, own, accepted), []).append(finding)
    return [_one(found) if len(found) > 1 else found[0] for found in groups.values()]


def _one(found: Sequence[Finding]) -> Finding:
    """The gravest of them, naming the others."""
    first = max(found, key=_gravity)
    rest = [finding for finding in found if finding is not first]
    common = set(first.on).intersection(*(f.on for f in rest))
    own = [next((name for name in f.on if name not in common), f.on[0]) for f in rest]
    names = [name for name in dict.fromkeys(own) if name not in first.on]
    likewise = tuple(Related(f.span, "likewise") for f in rest if f.span != first.span)
    return replace(
        first,
        on=tuple(dict.fromkeys(name for f in (first, *rest) for name in f.on)),
        modes=tuple(dict.fromkeys(mode for f in found for mode in f.modes)),
        message=first.message + (f"; likewise {listed(names)}" if names else ""),
        related=(*first.related, *likewise)[:MOST_RELATED],
    )


def _gravity(finding: Finding) -> tuple[int, float]:
    """By severity, then by how far the two numbers are apart."""
    value, limit = abs(finding.value or 0.0), abs(finding.limit or 0.0)
    apart = max(value / limit, limit / value) if value and limit else 0.0
    return -SEVERITIES.index(finding.severity), apart
