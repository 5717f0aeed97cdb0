"""The text of the rig on the page: numbered lines, what findings are about marked within them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

from ..checks.verdicts import Told
from ..dsl.model import Rig, Span
from .markup import Markup, el, join

Stretch = tuple[int, int, int]
"""Columns from, to (exclusive, from 0), and the number of the finding."""


def listing(rig: Rig, told: Sequence[Told]) -> Markup:
    """Every file that the rig was read from."""
    return join(
        _file(number, name, text, rig, told)
        for number, (name, text) in enumerate(rig.sources.items(), 1)
    )


def _file(number: int, name: str, text: str, rig: Rig, told: Sequence[Told]) -> Markup:
    marks = _marks(name, text.split("\n"), told)
    names = _names(name, rig)
    lines = (
        _line(number, at, line, names.get(at, ""), marks.get(at, []), told)
        for at, line in enumerate(text.rstrip("\n").split("\n"), 1)
    )
    listed = el(
        "div", join(lines, "\n"), cls="listing scroll", tabindex="0", role="region",
        aria_label=f"Text of {name}",
    )  # fmt: skip
    return el("section", el("h3", name), listed)


def _names(file: str, rig: Rig) -> Mapping[int, str]:
    """The lines on which a device, a cable or a conductor is declared."""
    found: dict[int, str] = {}
    for each in (*rig.devices.values(), *rig.cables.values(), *rig.conductors.values()):
        if each.span.file == file:
            found.setdefault(each.span.line, each.name)
    return found


def _marks(file: str, lines: Sequence[str], told: Sequence[Told]) -> Mapping[int, list[Stretch]]:
    """By line, what findings are about."""
    found: dict[int, list[Stretch]] = {}
    for index, each in enumerate(told):
        span = each.finding.span
        if span.file != file:
            continue
        for line in range(span.line, min(span.end_line, len(lines)) + 1):
            found.setdefault(line, []).append((*_columns(span, line, lines), index))
    return found


def _columns(span: Span, line: int, lines: Sequence[str]) -> tuple[int, int]:
    text = lines[line - 1]
    indent = len(text) - len(text.lstrip())
    start = span.column - 1 if line == span.line else indent
    end = span.end_column - 1 if line == span.end_line else len(text)
    return start, max(end, start)


def _line(
    number: int, at: int, text: str, name: str, marks: Sequence[Stretch], told: Sequence[Told]
) -> Markup:
    label = f"line {at}: {name}" if name else None
    count = (
        el("button", str(at), type="button", cls="no", data_pick=name, aria_label=label)
        if name
        else el("span", str(at), cls="no")
    )
    links = (
        el("a", told[i].finding.rule, href=f"#finding-{i + 1}", cls="flag")
        for i in dict.fromkeys(index for _, _, index in marks)
    )
    return el(
        "div", count, el("code", *_stretches(text, marks, told)), join(links, " "),
        cls="line", id=f"line-{number}-{at}",
    )  # fmt: skip


def _stretches(text: str, marks: Sequence[Stretch], told: Sequence[Told]) -> Iterator[str]:
    """The line in pieces, each in the tint of the gravest finding on it."""
    cuts = sorted({0, len(text), *(min(c, len(text)) for a, b, _ in marks for c in (a, b))})
    for a, b in pairwise(cuts):
        over = [told[i].finding for start, end, i in marks if start <= a and b <= end]
        if not over:
            yield text[a:b]
            continue
        waived = all(finding.accepted is not None for finding in over)
        tint = "clean" if waived else min(over, key=lambda f: ORDER[f.severity]).severity
        yield el("mark", text[a:b], cls=tint)


ORDER = {"error": 0, "warning": 1, "note": 2}
