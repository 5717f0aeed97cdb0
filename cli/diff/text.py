"""A comparison at a terminal: verdict, work, changes by panel and place, what follows."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence

from ...checks.figures.effects import TOPICS, Effect
from ...checks.findings import ERROR, WARNING, Finding
from ...dsl.problems import BLUE, BOLD, RED
from ...render.change_rows import Line, grouped
from ..terminal import printable
from ..writers.text import GREEN, YELLOW, Pen
from .comparison import Comparison
from .words import (
    CAUTION,
    GAINED,
    TO_PRINT,
    changing,
    effect_rows,
    findings,
    gone,
    kind_of,
    mode_words,
    tests,
    verdicts,
)

TINTS = {"added": GREEN, "removed": RED}
WIDTH = 100


def write(comparisons: Sequence[Comparison], colour: bool = False) -> str:
    """All comparisons, with one caution at the end."""
    pen = Pen(colour)
    some, unchanged = changing(comparisons)
    blocks = ["\n".join(_blocks(comparison, pen)) for comparison in some]
    if verdicts(some):
        blocks.insert(0, "\n".join(line for v in verdicts(some) for line in _folded("", v)))
    rest = f"\n\n{textwrap.fill(unchanged, WIDTH)}" if unchanged else ""
    return "\n\n\n".join(blocks) + f"{rest}\n\n{textwrap.fill(CAUTION, WIDTH)}\n"


def _blocks(comparison: Comparison, pen: Pen) -> Iterator[str]:
    rig = comparison.new.rig
    yield pen(BOLD, printable(comparison.title))
    yield f"{rig.label}{f': {rig.stage_label}' if rig.stage_label else ''}"
    yield pen(_tint(comparison), comparison.verdict)
    if comparison.changes:
        yield comparison.size
        yield from _findings(comparison, pen)
        yield from _work(comparison, pen)
        yield from _changes(comparison.lines, pen)
        yield from _effects(comparison, pen)
        yield from _tests(comparison, pen)


def _tint(comparison: Comparison) -> str:
    for severity, tint in ((ERROR, RED), (WARNING, YELLOW)):
        if comparison.standing(severity):
            return tint
    return GREEN


def _findings(comparison: Comparison, pen: Pen) -> Iterator[str]:
    for title, rows in findings(comparison):
        yield f"\n{pen(BOLD, title)}"
        for finding in rows:
            yield from _finding(finding, title == GAINED)


def _finding(finding: Finding, gained: bool) -> Iterator[str]:
    severity = finding.severity if finding.accepted is None else f"accepted {finding.severity}"
    modes = f" [{', '.join(finding.modes)}]" if finding.modes else ""
    yield from _folded(f"  {severity} {finding.rule} ", f"{finding.message}{modes}")
    if gained and finding.accepted is not None:
        yield from _folded("    because ", finding.accepted)
    elif gained and finding.fix:
        yield from _folded("    fix: ", finding.fix)


def _folded(head: str, words: str) -> Iterator[str]:
    lines = textwrap.wrap(words, WIDTH - len(head), break_long_words=False) or [""]
    yield head + lines[0]
    yield from (" " * len(head) + line for line in lines[1:])


def _work(comparison: Comparison, pen: Pen) -> Iterator[str]:
    rows = [(row.task, ", ".join(row.names)) for row in comparison.work]
    rows += [(f"{row.task} now take", ", ".join(row.names)) for row in comparison.crowded]
    rows += [(f"{TO_PRINT} {row.task} of", ", ".join(row.names)) for row in comparison.reprint]
    if rows:
        yield f"\n{pen(BOLD, 'To do')} (what, not in which order; prove dead before you touch)"
        yield from _two(rows)


def _two(rows: Sequence[tuple[str, str]]) -> Iterator[str]:
    """Two columns, the second folded."""
    wide = min(max(len(task) for task, _ in rows), 38)
    for task, words in rows:
        if len(task) > wide:
            yield f"  {task}"
            task = ""
        yield from _folded(f"  {task:<{wide}}  ", words)


def _tests(comparison: Comparison, pen: Pen) -> Iterator[str]:
    for title, due in tests(comparison):
        steps: dict[str, dict[str, None]] = {}
        for each in due:
            steps.setdefault(kind_of(each), {})[each.trial.where] = None
        yield f"\n{pen(BOLD, title)} (what the readings may be: --format markdown)"
        yield from _two([(step, "; ".join(where)) for step, where in steps.items()])


def _changes(some: Iterable[Line], pen: Pen) -> Iterator[str]:
    """Devices and the like in a table with their labels, conductors in one without."""
    for title, group in grouped(some):
        yield f"\n{pen(BOLD, title)}"
        every = list(group)
        for labelled in (True, False):
            yield from _rows([row for row in every if bool(row.label) is labelled], pen)


def _rows(rows: Sequence[Line], pen: Pen) -> Iterator[str]:
    keys = ("verb", "name", "label")
    wide = [max((len(getattr(row, key)) for row in rows), default=0) for key in keys]
    for row in rows:
        verb = pen(TINTS.get(row.verb, BLUE), row.verb) + " " * (wide[0] - len(row.verb))
        label = f"{row.label:<{wide[2]}}  " if row.label else ""
        yield f"  {verb}  {row.name:<{wide[1]}}  {label}{row.said}".rstrip()


def _effects(comparison: Comparison, pen: Pen) -> Iterator[str]:
    for topic, effects in comparison.found.topics.items():
        yield f"\n{pen(BOLD, TOPICS[topic])}"
        yield from _table(effects, comparison)


def _table(effects: Sequence[Effect], comparison: Comparison) -> Iterator[str]:
    rows = [(names, mode_words(e, comparison), gone(e)) for names, e in effect_rows(effects)]
    wide = [min(max(len(row[n]) for row in rows), 40) for n in (0, 1)]
    for names, modes, words in rows:
        yield from _folded(f"  {names:<{wide[0]}}  {modes:<{wide[1]}}  ", words)
