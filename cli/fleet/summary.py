"""The findings of a fleet in two short tables: by rig and by rule."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence

from ...checks.findings import ERROR, NOTE, SEVERITIES, WARNING, Finding
from ...dsl.problems import plain
from ..files import Outcome

ACCEPTED = "accepted"
COLUMNS = (ERROR, WARNING, NOTE, ACCEPTED)
HEADS = ("errors", "warnings", "notes", ACCEPTED)


def summary(outcomes: Sequence[Outcome]) -> str:
    """The tables and the totals of all rigs."""
    lines = [*_by_rig(outcomes), *_by_rule(outcomes), _totals(outcomes)]
    return "".join(f"{line}\n" for line in lines)


def kept(rigs: int, fresh: int, trouble: str) -> str:
    """How much of a run was known from an earlier one, for standard error."""
    said = f"ferrule: {fresh} of {_plural(rigs, 'rig')} looked at, {rigs - fresh} as before\n"
    if trouble:
        said += f"ferrule: nothing is kept for the next run: {trouble}\n"
    return said


def _weight(finding: Finding) -> str:
    return ACCEPTED if finding.accepted is not None else finding.severity


def _by_rig(outcomes: Iterable[Outcome]) -> Iterator[str]:
    rows: list[tuple[str, ...]] = []
    for outcome in outcomes:
        if outcome.report is None:
            rows.append((outcome.file, "not usable", "", "", ""))
        elif outcome.report.findings:
            counts = Counter(map(_weight, outcome.report.findings))
            rows.append((outcome.file, *(_count(counts[column]) for column in COLUMNS)))
    if rows:
        yield "By rig"
        yield from _table(("rig", *HEADS), rows)
        yield ""


def _by_rule(outcomes: Iterable[Outcome]) -> Iterator[str]:
    found: dict[tuple[str, str], Counter[str]] = {}
    rigs: Counter[tuple[str, str]] = Counter()
    for outcome in outcomes:
        findings = outcome.report.findings if outcome.report else ()
        rigs.update({(f.rule, f.name) for f in findings})
        for finding in findings:
            found.setdefault((finding.rule, finding.name), Counter())[_weight(finding)] += 1
    if found:
        rows = [
            (" ".join(rule), str(rigs[rule]), *(_count(counts[column]) for column in COLUMNS))
            for rule, counts in sorted(found.items())
        ]
        yield "By rule"
        yield from _table(("rule", "rigs", *HEADS), rows)
        yield ""


def _totals(outcomes: Sequence[Outcome]) -> str:
    worst = Counter(map(_worst, outcomes))
    parts = [
        f"{count} {words}"
        for kind, words in (
            ("", "without findings"),
            (ACCEPTED, "with accepted ones only"),
            (NOTE, "with notes"),
            (WARNING, "with warnings"),
            (ERROR, "with errors"),
            ("unread", "not usable"),
        )
        if (count := worst[kind])
    ]
    return f"{_plural(len(outcomes), 'rig')}: {', '.join(parts) or 'none in this shard'}"


def _worst(outcome: Outcome) -> str:
    """The gravest of what was found in a rig."""
    if outcome.report is None:
        return "unread"
    weights = {_weight(finding) for finding in outcome.report.findings}
    return next((w for w in (*SEVERITIES, ACCEPTED) if w in weights), "")


def _count(number: int) -> str:
    return str(number) if number else "-"


def _plural(count: int, word: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'}"


def _table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """Rows under their heads: the first column to the left, the others to the right."""
    heads, *rows = [[plain(cell) for cell in row] for row in (heads, *rows)]
    every = [heads, *rows]
    widths = [max(len(row[n]) for row in every) for n in range(len(heads))]
    for row in every:
        cells = [row[0].ljust(widths[0])]
        cells += [cell.rjust(width) for cell, width in zip(row[1:], widths[1:], strict=True)]
        yield ("  " + "  ".join(cells)).rstrip()
