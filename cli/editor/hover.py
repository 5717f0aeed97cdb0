"""What an editor shows of the word under the pointer: figures and their derivation, or meanings."""

from __future__ import annotations

from typing import NamedTuple

from ...checks.figures.derivation import derivation
from ...checks.figures.derivation import told as derived
from ...checks.tracing.trace import Stage, analyse
from ...dsl.model import Rig, Span
from ...dsl.parse import Token
from ...dsl.source import Statement
from .desk import Desk
from .hover_terminal import terminal_at, told
from .meanings import fenced, of_state, of_word
from .names import PART, PLACE, STAGE, THING, Mention, mentions
from .spots import Lines
from .words_at import rig_at, rig_with, stage_at

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


class Word(NamedTuple):
    """A word of a statement, its stage, and how far into it the place is."""

    file: str
    stage: str
    statement: Statement
    token: Token
    into: int


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
                stage = stage_at(desk.parsed(file), statement.line) or "base"
                word = Word(file, stage, statement, token, offset - start)
                words = _of_place(desk, word, traced) or _of_name(desk, word, traced)
                words = words or of_word(statement, token)
                return Hover(words, span) if words else None
    return None


def _of_place(desk: Desk, word: Word, traced: Traced) -> str:
    """A terminal, behind its device's point; a state, behind the device's name in a mode."""
    device, point, rest = word.token.partition("." if word.token.type == "END" else "=")
    if not point or word.into <= len(device):
        return ""
    rig = rig_with(desk.rigs(desk.roots(word.file)[0]), word.stage, device)
    if rig is None or device not in rig.devices:
        return ""
    if word.token.type == "END":
        name = terminal_at(rest, word.into - len(device) - 1)
        return f"{told(traced.of(rig), device, name)}\n\n{CAUTION}" if name else ""
    if word.statement.word != "mode":
        return ""
    return of_state(device, rig.devices[device].kind, rest)


def _of_name(desk: Desk, word: Word, traced: Traced) -> str:
    root = desk.roots(word.file)[0]
    every = mentions(s for other in desk.uses(root) for s in desk.parsed(other))
    lines = Lines(desk.text(word.file))
    at = lines.within(word.statement.at(word.token))[0] + word.into
    for mention in every:
        if mention.span.file == word.file and mention.statement.line == word.statement.line:
            start, end = lines.within(mention.span)
            if start <= at <= end:
                return _of_mention(desk, root, mention, every, word, traced)
    return ""


def _of_mention(
    desk: Desk, root: str, mention: Mention, every: list[Mention], word: Word, traced: Traced
) -> str:
    rigs = desk.rigs(root)
    if mention.space == THING:
        core = str(word.token) if word.token.type == "CORE" else mention.name
        figures = _figures(rigs, word.stage, core, traced)
        if figures:
            return figures
    own = next((m for m in every if m.declares and _same(m, mention)), None)
    if own is None:
        return ""
    rows = [" ".join(str(token) for token in own.statement.tokens)]
    if mention.space in (PLACE, PART):
        uses = [m for m in every if not m.declares and _same(m, mention)]
        rows.append(f"named in {len(uses)} place{'' if len(uses) == 1 else 's'}")
    if mention.space == STAGE:
        rows += _counted(rig_at(rigs, mention.name))
    return fenced(rows)


def _same(one: Mention, other: Mention) -> bool:
    return (one.space, one.name) == (other.space, other.name)


def _counted(rig: Rig | None) -> list[str]:
    """What there is in a stage."""
    if rig is None:
        return []
    modes = " ".join(rig.modes)
    return [f"{len(rig.devices)} devices, {len(rig.conductors)} conductors; modes {modes}"]


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
