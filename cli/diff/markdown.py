"""A comparison as Markdown, fit for a comment on a proposed change: what matters first.

The verdict, what to do, findings, what is not simply new or gone; the rest is folded.  Labels and
other free text are inert: they are shown as they are, mention nobody and link nowhere.  The whole
stays within MOST characters: tables are cut, and say how much is left out.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

from ...checks.figures.effects import TOPICS
from ...checks.findings import ERROR, WARNING, Finding
from ...render.change_rows import Line, grouped
from ...render.texts import plain
from ..terminal import printable
from .comparison import Comparison, counted, few
from .words import (
    CAUTION,
    GAINED,
    TO_PRINT,
    changing,
    effect_rows,
    figure,
    findings,
    gone,
    kind_of,
    mode_words,
    tests,
    verdicts,
)

MOST = 60_000
"""Characters; a comment on the usual hosts may have 65,536."""
ROWS = (60, 25, 10, 4, 1)
"""Rows of a table, the first number with which the whole stays within MOST."""
LEFT_OUT = "`ferrule diff` on the text shows all of it."
JOINER = "\u2060"
LINKED = re.compile(r"[@#](?=\w)|(?<=\w)(?=://)|(?<=www)(?=[.])|(?<=GH)(?=-)", re.I)
"""Where hosts make a mention or a link of plain text: broken by a joiner of no width."""
ICONS = {ERROR: "**error**", WARNING: "**warning**"}


def inert(text: str) -> str:
    """A text that is shown as it is, whatever stands in it.

    >>> inert("[a](b) _c_")
    '\\\\[a\\\\](b) \\\\_c\\\\_'
    """
    words = " ".join(text.split()).replace("->", "→")
    escaped = re.sub(r"(?<!\\)_|\$", lambda found: "\\" + found[0], plain(words))
    return LINKED.sub(lambda found: found[0] + JOINER, printable(escaped))


def write(comparisons: Sequence[Comparison], colour: bool = False) -> str:
    """All comparisons, as many rows of each table as there is room for."""
    some, unchanged = changing(comparisons)
    foot = f"{inert(unchanged)} {CAUTION}\n".lstrip()
    for most in ROWS:
        blocks = ["\n".join(_blocks(comparison, most)) for comparison in some]
        if verdicts(some):
            blocks.insert(0, "\n".join(f"- **{inert(verdict)}**" for verdict in verdicts(some)))
        whole = "\n\n---\n\n".join([*blocks, foot])
        if len(whole) <= MOST:
            return whole
    lines = [inert(f"{c.title}: {c.verdict}") for c in some[:100]]
    return "\n\n".join([*lines, f"Too large to be told here. {LEFT_OUT}", foot])


def _blocks(comparison: Comparison, most: int) -> Iterator[str]:
    rig = comparison.new.rig
    yield f"## {inert(rig.label)}{f': {inert(rig.stage_label)}' if rig.stage_label else ''}"
    yield f"\n**{inert(comparison.verdict)}**"
    yield f"\n{inert(comparison.title)}"
    if comparison.changes:
        yield f"\n{comparison.size}."
        yield from _work(comparison)
        yield from _findings(comparison, most)
        yield from _changes(comparison, most)
        yield from _effects(comparison, most)
        yield from _tests(comparison, most)


def _work(comparison: Comparison) -> Iterator[str]:
    rows = [(row.task, row.names) for row in comparison.work]
    rows += [(f"{row.task} now take", row.names) for row in comparison.crowded]
    rows += [(f"{TO_PRINT} {row.task} of", row.names) for row in comparison.reprint]
    if rows:
        yield "\n### What to do\n"
        yield "What, not in which order; prove dead before you touch.\n"
        for task, names in rows:
            yield f"- {inert(task)}: {inert(few(names, 60))}"


def _findings(comparison: Comparison, most: int) -> Iterator[str]:
    for title, rows in findings(comparison):
        yield f"\n### {title}\n"
        head = ("", "rule", "what", "modes", "to do" if title == GAINED else "")
        yield from _table(head, [_finding(finding) for finding in rows], most)


def _finding(finding: Finding) -> tuple[str, ...]:
    severity = ICONS.get(finding.severity, finding.severity)
    to_do = inert(finding.fix)
    if finding.accepted is not None:
        severity, to_do = f"accepted {finding.severity}", f"accepted: {inert(finding.accepted)}"
    modes = inert(", ".join(finding.modes))
    return severity, finding.rule, inert(finding.message), modes, to_do


def _changes(comparison: Comparison, most: int) -> Iterator[str]:
    """Open what has moved or is otherwise than it was; folded what is new or gone."""
    every = comparison.lines
    moved = [line for line in every if line.verb not in ("added", "removed")]
    if moved:
        yield "\n### Moved and altered"
        yield from _groups(moved, most)
    for verb, title in (("removed", "Removed"), ("added", "Added")):
        lines = [line for line in every if line.verb == verb]
        if lines:
            yield from _folded(f"{title}: {len(lines)}", _groups(lines, most))


def _groups(lines: Sequence[Line], most: int) -> Iterator[str]:
    for title, rows in grouped(lines):
        yield f"\n**{inert(title)}**\n"
        if {row.verb for row in rows} <= {"added", "removed"}:
            told = [(row.name, row.label, row.old or row.new) for row in rows]
            yield from _table(("name", "label", "what"), _inert(told), most)
        else:
            cells = [(r.verb, r.name, r.label, r.old, r.new, r.more) for r in rows]
            head = ("", "name", "label", "was", "is", "")
            yield from _table(head, _inert(cells), most)


def _effects(comparison: Comparison, most: int) -> Iterator[str]:
    topics = comparison.found.topics
    if topics:
        count = sum(len(effect_rows(effects)) for effects in topics.values())
        yield from _folded(
            f"What follows electrically: {counted(count, 'figure')}",
            _topics(comparison, most),
        )


def _topics(comparison: Comparison, most: int) -> Iterator[str]:
    for topic, effects in comparison.found.topics.items():
        yield f"\n**{TOPICS[topic]}**\n"
        rows = [(names, mode_words(e, comparison), gone(e)) for names, e in effect_rows(effects)]
        yield from _table(("of", "modes", "was → is"), _inert(rows), most)


def _tests(comparison: Comparison, most: int) -> Iterator[str]:
    head = ("test", "mode", "where", "what", "reading")
    for title, due in tests(comparison):
        rows = [(kind_of(d), d.trial.mode, d.trial.where, d.trial.task, figure(d.trial))
                for d in due]  # fmt: skip
        yield from _folded(f"{title}: {len(due)}", _table(head, _inert(rows), most))


def _inert(rows: Iterable[Iterable[str]]) -> list[tuple[str, ...]]:
    return [tuple(map(inert, row)) for row in rows]


def _folded(summary: str, body: Iterator[str]) -> Iterator[str]:
    yield f"\n<details><summary>{summary}</summary>\n"
    yield from body
    yield "\n</details>"


def _table(head: Sequence[str], rows: Sequence[Sequence[str]], most: int) -> Iterator[str]:
    """A table of at most so many rows; columns that hold nothing are left out."""
    keep = [n for n in range(len(head)) if any(row[n] for row in rows)]
    yield _cells([head[n] for n in keep])
    yield "|" + " --- |" * len(keep)
    yield from (_cells([row[n] for n in keep]) for row in rows[:most])
    if len(rows) > most:
        yield f"\nand {len(rows) - most} more. {LEFT_OUT}"


def _cells(texts: Sequence[str]) -> str:
    return "| " + " | ".join(texts) + " |"
