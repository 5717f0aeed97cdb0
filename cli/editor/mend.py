"""Changes that an editor offers to make: only such as are sure to mend what they are offered for.

Each is tried on the text first.  A near miss is offered where the mistake is gone with it and none
comes; a mending of a finding where that finding is gone and nothing else is found.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from ...checks.findings import Finding
from ...checks.run import check_rigs
from ...dsl.library import is_shipped
from ...dsl.model import Span
from ...dsl.problems import Problem, near
from ...dsl.reader import Reading
from ...dsl.records import record
from ...dsl.source import Statement
from .desk import Desk, Judgement
from .spots import Edit, Lines, edited
from .ways import ways

_MEANT = re.compile(r"(?:did you mean|write) `([^`]+)`")
_ACCEPTABLE = re.compile(r"[A-Za-z][A-Za-z0-9_-]*(?:/[0-9]+)?")
_PIECES = re.compile(r'[^\s="(),.{}]+|"[^"]*"')
UNACCEPTED = ("D10", "X01")
REASON = "…"


@record
class Mending:
    """A change to offer: its title, the edits, whether it is the one to prefer, its complaint."""

    title: str
    edits: tuple[Edit, ...]
    preferred: bool
    code: str
    span: Span


def mendings(desk: Desk, file: str, start: int, end: int) -> list[Mending]:
    """What can be mended between two indices of a file, in any rig that it belongs to."""
    lines = Lines(desk.text(file))

    def here(span: Span) -> bool:
        first, last = lines.within(span)
        return span.file == file and first <= end and start <= last

    found: list[Mending] = []
    for root in () if is_shipped(file) else desk.roots(file):
        judgement = desk.judged(root)
        for problem in judgement.problems:
            if here(problem.span):
                found += _of_problem(desk, root, problem)
        for finding in judgement.report.findings if judgement.report else ():
            if here(finding.span) and finding.accepted is None:
                found += _of_finding(desk, root, judgement, finding)
    return list(dict.fromkeys(found))


# -- mistakes in the text -------------------------------------------------------------------------


def _of_problem(desk: Desk, root: str, problem: Problem) -> Iterator[Mending]:
    """The near miss that the problem's hint names, in the place of what stands there."""
    meant = _MEANT.search(problem.hint)
    if meant is None:
        return
    before = desk.reading(root).problems
    for edit in _replacements(desk, problem, meant[1]):
        after = _read_with(desk, root, [edit]).problems
        if len(after) < len(before) and _without_place(after) <= _without_place(before):
            title = f"write `{meant[1]}`"
            yield Mending(title, (edit,), True, "text", problem.span)
            return


def _without_place(problems: tuple[Problem, ...]) -> set[str]:
    return {p.message.partition("; it is named on")[0] for p in problems}


def _replacements(desk: Desk, problem: Problem, meant: str) -> Iterator[Edit]:
    """Ways to write what was meant, likely ones first."""
    file = problem.span.file
    lines = Lines(desk.text(file))
    start, end = lines.within(problem.span)
    text = lines.text[start:end]
    pieces = {m[0].strip('"'): m for m in _PIECES.finditer(text)}
    close = near(meant, [piece for piece in pieces if piece != meant])
    if close:
        at = start + pieces[close].start() + pieces[close][0].startswith('"')
        yield Edit(lines.span(file, at, at + len(close)), meant)
    yield Edit(problem.span, meant)
    unit = re.match(r"[ \t]+\w+", lines.text[end:])
    if unit:
        yield Edit(lines.span(file, start, end + unit.end()), meant)


def _read_with(desk: Desk, root: str, edits: list[Edit]) -> Reading:
    """The reading of a rig as the edits of one file would have it."""
    file = edits[0].span.file
    return desk.read_as(root, {file: edited(desk.text(file), edits)})


# -- findings -------------------------------------------------------------------------------------


def _of_finding(desk: Desk, root: str, judgement: Judgement, finding: Finding) -> Iterator[Mending]:
    reached: set[str] = set()
    for way in ways(desk, finding, desk.rigs(root)[0].book):
        if way.aim not in reached and _mends(desk, root, judgement, finding, way.edit):
            reached |= {way.aim} - {""}
            yield Mending(way.title, (way.edit,), way.sure, finding.rule, finding.span)
    name = finding.on[0] if finding.on else ""
    if finding.rule not in UNACCEPTED and _ACCEPTABLE.fullmatch(name):
        title = f"accept {finding.rule} on {name} because …"
        edit = _acceptance(desk, finding, name)
        yield Mending(title, (edit,), False, finding.rule, finding.span)


def _acceptance(desk: Desk, finding: Finding, name: str) -> Edit:
    """An ``accept`` on a line of its own after the statement that the finding is about."""
    file, row = finding.span.file, finding.span.end_line
    lines = Lines(desk.text(file))
    for statement in desk.parsed(file):
        if isinstance(statement, Statement) and statement.line <= finding.span.line:
            row = max(row, statement.span.end_line)
    indent = re.match(r"[ \t]*", lines.line(finding.span.line - 1))
    words = f'{indent[0] if indent else ""}accept {finding.rule} on {name} because "{REASON}"'
    at = lines.index(row, len(lines.line(row - 1)) + 1)
    return Edit(lines.span(file, at, at), f"\n{words}")


def _mends(desk: Desk, root: str, judgement: Judgement, finding: Finding, edit: Edit) -> bool:
    """Whether a finding is gone with an edit, and nothing is found that was not found before."""
    reading = _read_with(desk, root, [edit])
    if not reading.rigs or judgement.report is None:
        return False
    after = {_told(f) for f in check_rigs(reading.rigs).findings}
    return after <= {_told(f) for f in judgement.report.findings} - {_told(finding)}


def _told(finding: Finding) -> tuple[str, str, str, bool]:
    return finding.rule, " ".join(finding.on), finding.severity, finding.accepted is not None
