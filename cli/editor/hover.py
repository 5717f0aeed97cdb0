"""What an editor shows of the word under the pointer: figures and their derivation, or meanings."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from ...checks.figures.derivation import derivation
from ...checks.figures.derivation import told as derived
from ...checks.registry import find
from ...checks.tracing.trace import Stage, analyse
from ...dsl.complaints import KEYWORDS
from ...dsl.kinds import Words, kinds
from ...dsl.kinds import words as words_of
from ...dsl.model import Rig, Span
from ...dsl.parse import Token
from ...dsl.source import Statement
from ..terminal import printable
from .desk import Desk
from .names import PART, PLACE, RUNS, THING, Mention, mentions
from .spots import Lines
from .words_at import rig_with, stage_at

MOST_LINES = 70
CAUTION = (
    "Figures of what the text says, no proof that the rig was built to it. "
    "Local codes and a licensed person decide."
)


class Hover(NamedTuple):
    """Markdown, and the word it is about."""

    markdown: str
    span: Span


class Traced:
    """The last rig that was traced for figures, so that the next word needs no new tracing."""

    def __init__(self) -> None:
        self.stage: Stage | None = None

    def of(self, rig: Rig) -> Stage:
        """The rig as a traced stage."""
        if self.stage is None or self.stage.rig is not rig:
            self.stage = analyse(rig)
        return self.stage


def hover(desk: Desk, file: str, offset: int, traced: Traced) -> Hover | None:
    """What is known of the word at a place; the last readable text counts while this one is not."""
    lines = Lines(desk.text(file))
    for statement in desk.parsed(file):
        if not isinstance(statement, Statement):
            continue
        for token in statement.tokens:
            span = statement.at(token)
            start, end = lines.within(span)
            if start <= offset < end or offset == end == start + len(token):
                words = _of_name(desk, file, statement, offset, lines, traced)
                words = words or _of_word(statement, token)
                return Hover(words, span) if words else None
    return None


# -- names ----------------------------------------------------------------------------------------


def _of_name(
    desk: Desk, file: str, statement: Statement, offset: int, lines: Lines, traced: Traced
) -> str:
    root = desk.roots(file)[0]
    every = mentions(s for other in desk.uses(root) for s in desk.parsed(other))
    for mention in every:
        if mention.span.file == file and mention.statement.line == statement.line:
            start, end = lines.within(mention.span)
            if start <= offset <= end:
                return _of_mention(desk, root, mention, every, traced)
    return ""


def _of_mention(
    desk: Desk, root: str, mention: Mention, every: list[Mention], traced: Traced
) -> str:
    if mention.space == THING:
        stage = stage_at(desk.parsed(mention.span.file), mention.span.line)
        figures = _figures(desk.rigs(root), stage or "base", _core(mention), traced)
        if figures:
            return figures
    own = next((m for m in every if m.declares and _same(m, mention)), None)
    if own is None:
        return ""
    rows = [" ".join(str(token) for token in own.statement.tokens)]
    if mention.space in (PLACE, PART):
        uses = [m for m in every if not m.declares and _same(m, mention)]
        rows.append(f"named in {len(uses)} place{'' if len(uses) == 1 else 's'}")
    return fenced(rows)


def _same(one: Mention, other: Mention) -> bool:
    return (one.space, one.name) == (other.space, other.name)


def _core(mention: Mention) -> str:
    """The name of the core that a statement names, or the name itself."""
    named = mention.statement.tokens
    core = next((t for t in named if t.type == "CORE" and t.startswith(mention.name + "/")), None)
    return str(core or mention.name)


def _figures(rigs: tuple[Rig, ...], stage: str, name: str, traced: Traced) -> str:
    rig = rig_with(rigs, stage, name)
    if rig is None:
        return ""
    found = traced.of(rig)
    rows = list(derived(derivation(found, found.modes, name)))
    left = len(rows) - MOST_LINES
    if left > 0:
        rows = [*rows[:MOST_LINES], f"… and {left} lines more: ferrule figures --on {name}"]
    head = f"**{name}**, stage {rig.stage}\n\n" if len(rig.stages) > 1 else ""
    return f"{head}{fenced(rows)}\n\n{CAUTION}"


# -- words of the language ------------------------------------------------------------------------


def _of_word(statement: Statement, token: Token) -> str:
    word = str(token)
    if token is statement.tokens[0]:
        return meaning(word)
    if statement.word == "accept" and token is statement.name:
        return of_rule(word)
    if statement.word == "part" and statement.items and token is statement.items[0]:
        return meaning(word)
    known = vocabulary(statement)
    if known is None:
        return ""
    key = word.partition("=")[0] if token.type == "ATTR" else _headline(known, token)
    if key in known.attrs:
        attr = known.attrs[key]
        return f"`{key}=` {attr.type}\n\n{attr.doc}"
    return f"`{word}` {known.flags[word]}" if word in known.flags else ""


def _headline(known: Words, token: Token) -> str:
    """The attribute that a bare quantity is."""
    unit = re.sub(r"^[-+0-9./x]*", "", token) if token.type == "AMOUNT" else ""
    return known.headline.get(unit, known.headline.get(unit.lstrip("mk"), ""))


def vocabulary(statement: Statement) -> Words | None:
    """What a statement may say of itself; None for one that has no items."""
    word = statement.word
    if word == "part" and statement.items:
        word = str(statement.items[0])
    return vocabulary_of(word)


def vocabulary_of(word: str) -> Words | None:
    """What may be said after a keyword or a kind; None where nothing may."""
    if word in kinds() or word == "rig":
        return words_of(word)
    if word in RUNS:
        return words_of("conductor")
    return words_of("place") if word in ("place", "route") else None


def meaning(word: str) -> str:
    """What a keyword or a kind of device means."""
    if word not in kinds():
        return fenced([KEYWORDS[word]]) if word in KEYWORDS else ""
    kind = kinds()[word]
    rows = [kind.doc]
    if kind.headline:
        said = ", ".join(f"{unit} ({key})" for unit, key in kind.headline.items())
        rows.append(f"Without a key: {said}.")
    rows += [f"Terminals: {line}." for line in _terminals(word)]
    if kind.states:
        rows.append(f"States, the usual first: {' '.join(kind.states)}.")
    return f"**{word}**\n\n" + "  \n".join(rows)


def _terminals(word: str) -> Iterator[str]:
    for variant in kinds()[word].variants:
        names = " ".join(variant.terminals) or ("1 to positions" if variant.numbered else "")
        if names:
            yield f"`{names}`" + (f" with {' '.join(variant.when)}" if variant.when else "")


def of_rule(word: str) -> str:
    """What a rule of the check means and why it matters."""
    rule = find(word)
    if rule is None:
        return ""
    rows = [line.strip() for line in rule.doc.strip().split("\n")]
    return f"**{rule.code} {rule.name}**\n\n{fenced(rows)}"


def fenced(rows: Iterable[str]) -> str:
    """Lines of text that Markdown shows as they are, whatever stands in them."""
    text = "\n".join(printable(row) for row in rows)
    longest = max((len(run) for run in re.findall("`+", text)), default=0)
    fence = "`" * max(3, longest + 1)
    return f"{fence}text\n{text}\n{fence}"
