"""The outline of a file: its stages, and in each what stands in panels and places, and the rest."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from ...dsl.kinds import kinds
from ...dsl.model import Span
from ...dsl.records import record, replace
from ...dsl.source import NAME, Spoiled, Statement
from .complaints import shown
from .names import PLACES, RUNS

GROUPED = {"part": "Parts", "mode": "Modes", **dict.fromkeys(RUNS, "Conductors")}


@record
class Symbol:
    """An entry of the outline; ``span`` covers all beneath it, ``at`` is what to show of it."""

    name: str
    detail: str
    what: str
    span: Span
    at: Span
    children: tuple[Symbol, ...] = ()


def outline(parsed: Iterable[Statement | Spoiled]) -> list[Symbol]:
    """The outline of a file's statements; what stands in no stage is at the top."""
    base: list[Statement] = []
    stages: list[tuple[Statement, list[Statement], Span]] = []
    inside = base
    for statement in parsed:
        if not isinstance(statement, Statement):
            continue
        if statement.word == "stage":
            inside = []
            stages.append((statement, inside, statement.span))
        elif statement.word == "}" and stages and inside is not base:
            stages[-1] = (*stages[-1][:2], statement.span)
            inside = base
        elif statement.name is not None:
            inside.append(statement)
    return [*_within(base), *(_stage(*stage) for stage in stages)]


def _stage(head: Statement, inside: list[Statement], end: Span) -> Symbol:
    symbol = _symbol(head, "stage")
    return replace(symbol, span=hull([head.span, end]), children=tuple(_within(inside)))


def _within(inside: list[Statement]) -> Iterator[Symbol]:
    """Panels and places with what stands in them, devices that stand nowhere, then the rest."""
    holders = {str(s.name): s for s in inside if s.word in (*PLACES, "panel")}
    held: dict[str, list[Symbol]] = {name: [] for name in holders}
    groups: dict[str, list[Symbol]] = {}
    single = []
    for statement in inside:
        where = _stands_in(statement)
        if statement.word in GROUPED:
            groups.setdefault(GROUPED[statement.word], []).append(_symbol(statement))
        elif statement.word not in kinds() or statement.word == "panel":
            continue
        elif where in held:
            held[where].append(_symbol(statement))
        elif where:
            groups.setdefault(f"in {where}", []).append(_symbol(statement))
        else:
            single.append(_symbol(statement))
    for name, holder in holders.items():
        yield _holding(_symbol(holder), held[name])
    yield from single
    for name, symbols in sorted(groups.items(), key=lambda row: row[1][0].span.line):
        first = symbols[0]
        yield _holding(Symbol(name, "", "group", first.span, first.at), symbols)


def _holding(symbol: Symbol, held: list[Symbol]) -> Symbol:
    spans = [symbol.span, *(child.span for child in held)]
    return replace(symbol, span=hull(spans), children=tuple(held))


def _symbol(statement: Statement, what: str = "") -> Symbol:
    word = statement.word
    label = statement.text_of_label()
    what = what or ("device" if word in kinds() and word != "panel" else word)
    at = statement.at(statement.name) if statement.name is not None else statement.span
    return Symbol(str(statement.name), shown([f"{word} {label}"]), what, statement.span, at)


def _stands_in(statement: Statement) -> str:
    for token in statement.items:
        if token.startswith("at="):
            found = NAME.match(token, 3)
            return found[0] if found else ""
    return ""


def hull(spans: list[Span]) -> Span:
    """The least span that covers all of some file's."""
    first = min(spans, key=lambda s: (s.line, s.column))
    last = max(spans, key=lambda s: (s.end_line, s.end_column))
    return Span(first.file, first.line, first.column, last.end_line, last.end_column)
