"""Findings for people: the line of the rig with carets, the why, the clause and what to do."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from ...checks.findings import ERROR, NOTE, WARNING, Finding, Report
from ...dsl.model import Span
from ...dsl.problems import BLUE, BOLD, PLAIN, RED, excerpt, plain, render_problem
from .. import lazy
from ..files import Outcome

YELLOW, GREEN = "\x1b[33;1m", "\x1b[32;1m"
TINTS = {ERROR: RED, WARNING: YELLOW, NOTE: BLUE}
INDENT, WIDTH = " " * 6, 100


class Pen:
    """Puts colour round words, or leaves them alone."""

    def __init__(self, colour: bool) -> None:
        self.colour = colour

    def __call__(self, tint: str, words: str) -> str:
        return f"{tint}{words}{PLAIN}" if self.colour and words else words


def write(outcomes: Sequence[Outcome], colour: bool = False) -> str:
    """The findings of every file that could be read, each file with its count at the end."""
    pen = Pen(colour)
    blocks = [
        block
        for outcome in outcomes
        if outcome.report is not None
        for block in _report(outcome.report, outcome.sources, pen)
    ]
    return "".join(f"{block}\n" for block in blocks)


def refusal(outcome: Outcome, colour: bool = False) -> str:
    """The mistakes of a file that could not be read, for standard error."""
    blocks = [render_problem(p, outcome.sources, colour) + "\n" for p in outcome.problems]
    count = _plural(len(outcome.problems), "mistake")
    red = Pen(colour)(RED, "not usable")
    return "\n".join([*blocks, f"{plain(outcome.file)}: {red}: {count} in the text\n"])


def _report(report: Report, sources: Mapping[str, str], pen: Pen) -> Iterator[str]:
    for finding in report.findings:
        yield "\n".join(_finding(finding, sources, pen)) + "\n"
    yield _total(report, pen)


def _finding(finding: Finding, sources: Mapping[str, str], pen: Pen) -> Iterator[str]:
    waived = finding.accepted is not None
    tint = GREEN if waived else TINTS[finding.severity]
    severity = f"accepted {finding.severity}" if waived else finding.severity
    head = plain(f"{severity} {finding.rule} {finding.name}:")
    place, message = plain(f"{finding.span}:"), plain(finding.message)
    yield f"{pen(BOLD, place)} {pen(tint, head)} {pen(BOLD, message)}"
    yield from _excerpt(finding.span, sources, pen, tint)
    yield from _entry("where", _where(finding), pen)
    for number, line in enumerate(finding.why):
        yield from _entry("" if number else "why", line, pen)
    for related in finding.related:
        yield from _entry("see", f"{related.span}: {related.text}", pen)
        yield from _excerpt(related.span, sources, pen, BLUE)
    yield from _entry("clause", finding.clause, pen)
    yield from _entry("fix", finding.fix, pen)
    yield from _entry("accepted", finding.accepted or "", pen)


def _where(finding: Finding) -> str:
    if not finding.modes:
        return f"stage {finding.stage}"
    word = "mode" if len(finding.modes) == 1 else "modes"
    return f"stage {finding.stage}, {word} {', '.join(finding.modes)}"


def _entry(key: str, words: str, pen: Pen) -> Iterator[str]:
    """A line with its key in front, folded to the width, the rest of it hanging."""
    if not words:
        return
    head = f"{key + ':' if key else '':<10}"
    hang = INDENT + " " * len(head)
    lines = lazy.folded(plain(words), WIDTH - len(hang)) or [""]
    yield INDENT + pen(BOLD, head) + lines[0]
    yield from (hang + line for line in lines[1:])


def _excerpt(span: Span, sources: Mapping[str, str], pen: Pen, tint: str) -> Iterator[str]:
    shown = excerpt(span, sources)
    if shown is None:
        return
    line, carets = shown
    yield f"{pen(BLUE, f'{span.line:>5} |')} {line}".rstrip()
    yield f"{pen(BLUE, '      |')} {pen(tint, carets)}"


def _total(report: Report, pen: Pen) -> str:
    stages = _plural(len(report.stages), "stage")
    standing = [f.severity for f in report.findings if f.accepted is None]
    waived = len(report.findings) - len(standing)
    parts = [
        pen(TINTS[severity], _plural(standing.count(severity), severity))
        for severity in (ERROR, WARNING, NOTE)
        if severity in standing
    ]
    parts += [f"{waived} accepted"] * bool(waived)
    return f"{plain(report.file)}: {', '.join(parts) or pen(GREEN, 'no findings')} in {stages}"


def _plural(count: int, word: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'}"
