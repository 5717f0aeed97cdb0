"""Wires, cables, links and bonds: their ends and their cores."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from sys import intern

from .items import Given, size_and_cores
from .model import Cable, Conductor, End, Quantity, Size, Span, Value
from .parse import Token
from .records import record, replace
from .source import Statement
from .units import DIMENSIONS, Bad

KINDS = {"wire": "wire", "cable": "core", "link": "link", "bond": "bond"}
_WORD = re.compile(r"\S+")


@record
class Run:
    """A wire, cable, link or bond as its statement (and the changes to it) say."""

    word: str
    name: str
    label: str
    given: Given
    ends: tuple[tuple[End, End], ...]
    span: Span


def ends(statement: Statement, tokens: Iterable[Token]) -> Iterator[End]:
    """The terminals that a side of ``->`` names, in order: ``A.1 B.(L N)`` is A.1, B.L, B.N."""
    for token in tokens:
        device, _, terminal = token.partition(".")
        device, span = intern(device), statement.at(token)
        if terminal[0] != "(":
            yield End(device, intern(terminal), span)
            continue
        for word in _WORD.finditer(terminal, 1, len(terminal) - 1):
            start = span.column + len(device) + 1 + word.start()
            where = Span(span.file, span.line, start, span.line, start + len(word[0]))
            yield End(device, intern(word[0]), where)


def pairs(statement: Statement) -> tuple[tuple[End, End], ...]:
    """The ends left of ``->`` with those right of it; raises ``Bad`` where they do not match."""
    left = tuple(ends(statement, statement.ends))
    right = tuple(ends(statement, statement.far))
    if len(left) != len(right) or not left:
        raise Bad(f"{len(left)} ends before `->`, {len(right)} after it", "as many on each side")
    if statement.word != "cable" and len(left) > 1:
        raise Bad(
            f"a {statement.word} has one end on each side, not {len(left)}",
            "DEVICE.TERMINAL -> DEVICE.TERMINAL",
            "is it a cable?" if statement.word == "wire" else "",
        )
    return tuple(zip(left, right, strict=True))


def make(run: Run) -> tuple[list[Conductor], Cable | None]:
    """The conductors of a run, and its cable where it is one; raises ``Bad``."""
    size, cores = size_and_cores(run.given)
    length = run.given.attrs.get("length")
    metres = length.value if isinstance(length, Quantity) else None
    _complete(run, size, cores, metres)
    attrs = {k: v for k, v in run.given.attrs.items() if k not in ("size", "cores", "length")}
    colours = attrs.get("colours")
    if isinstance(colours, tuple) and len(colours) != len(run.ends):
        raise Bad(
            f"{len(colours)} colours for {len(run.ends)} conductors", "a colour for each core"
        )
    _both_ends(attrs)
    kind, metres, spans = KINDS[run.word], metres or 0.0, run.given.spans

    def laid(name: str, a: End, b: End, cable: str | None, core: int) -> Conductor:
        return Conductor(
            name, run.label, attrs, run.span, spans, kind, size, metres, a, b, cable, core
        )

    if run.word != "cable" or size is None:
        ((a, b),) = run.ends
        return [laid(run.name, a, b, None, 0)], None
    names = tuple(f"{run.name}/{n}" for n in range(1, len(run.ends) + 1))
    conductors = [
        laid(name, a, b, run.name, n)
        for n, (name, (a, b)) in enumerate(zip(names, run.ends, strict=True), 1)
    ]
    return conductors, Cable(run.name, run.label, attrs, run.span, spans, size, metres, names)


def _both_ends(attrs: Mapping[str, Value]) -> None:
    """Raises ``Bad`` where something is said of more ends than a conductor has."""
    for key in ("ends", "lug"):
        said = attrs.get(key)
        if isinstance(said, tuple) and len(said) > 2:
            raise Bad(f"{len(said)} words for `{key}`", "one for both ends, or one for each")


def _complete(run: Run, size: Size | None, cores: int, metres: float | None) -> None:
    """Raises ``Bad`` where a run lacks its size or length, or its cores are not its ends."""
    if run.word == "link":
        if size is not None or metres is not None:
            raise Bad("a link has no size and no length", "", "is it a wire?")
        return
    if size is None:
        what = "cores" if run.word == "cable" else "size"
        raise Bad(f"{run.word} {run.name} has no conductor size", DIMENSIONS[what])
    if not metres:
        raise Bad(f"{run.word} {run.name} has no length", DIMENSIONS["m"])
    if run.word != "cable":
        if cores:
            raise Bad(
                f"a {run.word} is one conductor, not {cores}", DIMENSIONS["size"], "is it a cable?"
            )
    elif cores != len(run.ends):
        said = f"{cores} cores" if cores else "no number of cores"
        raise Bad(
            f"cable {run.name} has {said} and {len(run.ends)} ends on each side",
            f"{len(run.ends)}x{size}, or as many ends as cores",
            about="cores" if cores else "size",
        )


def moved(run: Run, old: End, new: End) -> Run:
    """The run with one end on another terminal."""
    swapped = tuple((new if a is old else a, new if b is old else b) for a, b in run.ends)
    return replace(run, ends=swapped)
