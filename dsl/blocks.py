"""A text as its statements, each with the lines it stands on and the comments above it.

Nothing is lost: the lines of all items, one after another, are the text.  What an item *says* is
kept apart from how it is laid out, so that two texts can be held against each other statement by
statement.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

from .problems import Problem
from .reader import cleaned
from .source import Chunk, Statement, chunks, statements
from .writer import Unreadable, comment_of, format_text, tidy

Key = tuple[str, ...]
ALONE = ("rig", "rules", "ambient")
OWN_SHELF = {
    **{word: word for word in ("part", "place", "mode", "stage", "revision")},
    "route": "place",
}


@dataclass(frozen=True, slots=True)
class Item:
    """A statement: its key, its words, its lines, and the comments and blank lines above it.

    ``key`` is what makes it the same statement in another version of the text.  ``comment`` is the
    one on its own line; a statement carried on over several lines keeps those in ``words``.
    A stage has its statements in ``block``, and its closing brace in ``close``.
    """

    key: Key
    words: Key
    lines: Key
    lead: Key
    comment: str
    statement: Statement
    block: Block | None = None
    close: str = ""

    def says_same(self, other: Item) -> bool:
        """Whether both say the same, whatever their layout and their comments."""
        if self.words != other.words:
            return False
        if self.block is None or other.block is None:
            return self.block is other.block
        mine, its = self.block.items, other.block.items
        return len(mine) == len(its) and all(a.says_same(b) for a, b in zip(mine, its, strict=True))

    def told(self) -> Iterator[str]:
        """Its lines as they stand, without what stands above it."""
        yield from self.lines
        if self.block is not None:
            yield from self.block.told()
            yield self.close


@dataclass(frozen=True, slots=True)
class Block:
    """The statements of a text or of a stage, and what stands after the last of them."""

    items: tuple[Item, ...] = ()
    tail: Key = ()

    def told(self) -> Iterator[str]:
        """Its lines as they stand."""
        for item in self.items:
            yield from item.lead
            yield from item.told()
        yield from self.tail

    def comments(self) -> set[str]:
        """The comments that stand on lines of their own."""
        lines = [line.strip() for item in self.items for line in item.lead]
        return {line for line in (*lines, *(line.strip() for line in self.tail)) if line}


def blocks(text: str, file: str = "<text>") -> Block:
    """A text as statements; raises ``Unreadable`` where it does not parse or braces do not pair."""
    text = cleaned(text)
    found = list(chunks(text))
    if any(one.line + one.text.count("\n") >= two.line for one, two in pairwise(found)):
        text = format_text(text, file)  # several statements on a line: each needs its own
        found = list(chunks(text))
    problems: list[Problem] = []
    parsed = [s for s in statements(text, file, problems) if isinstance(s, Statement)]
    if problems:
        raise Unreadable(problems)
    lines = text.removesuffix("\n").split("\n") if text else []
    return _Reader(lines).read(list(zip(found, parsed, strict=True)))


class _Reader:
    """Puts statements into blocks, with the lines between them."""

    def __init__(self, lines: list[str]) -> None:
        self.lines = lines
        self.done = 0

    def read(self, rows: list[tuple[Chunk, Statement]]) -> Block:
        base: list[Item] = []
        inner: list[Item] | None = None
        for chunk, statement in rows:
            lead = tuple(self.lines[self.done : chunk.line - 1])
            last = chunk.line + chunk.text.count("\n")
            own = tuple(self.lines[chunk.line - 1 : last])
            self.done = last
            if statement.word == "}":
                if inner is None:
                    raise self._unpaired(statement)
                block = Block(_numbered(inner), lead)
                base[-1] = replace(base[-1], block=block, close="\n".join(own))
                inner = None
                continue
            if statement.word == "stage" and inner is not None:
                raise self._unpaired(statement)
            (base if inner is None else inner).append(_item(statement, own, lead))
            if statement.word == "stage":
                inner = []
        if inner is not None:
            raise self._unpaired(base[-1].statement)
        return Block(_numbered(base), tuple(self.lines[self.done :]))

    @staticmethod
    def _unpaired(statement: Statement) -> Unreadable:
        return Unreadable([Problem(statement.span, "braces that do not pair", "stage NAME { … }")])


def _item(statement: Statement, lines: Key, lead: Key) -> Item:
    words = tuple(tidy(token) for token in statement.tokens)
    comment = ""
    if len(lines) == 1:
        comment = comment_of(lines[0])
    else:
        words += tuple(found for line in lines if (found := comment_of(line)))
    return Item(_key(statement), words, lines, lead, comment, statement)


def _key(statement: Statement) -> Key:
    """What makes a statement the same one in another version of the text."""
    word, tokens = statement.word, [tidy(token) for token in statement.tokens]
    if word in ALONE:
        return (word,)
    if word in OWN_SHELF:
        return (OWN_SHELF[word], str(statement.name))
    if word == "accept":
        return (word, *tokens[1:4])
    if word == "move":
        return tuple(tokens[:3])
    if word in ("use", "remove"):
        return tuple(tokens)
    if word == "change":
        return (word, str(statement.name))
    return ("thing", str(statement.name))


def _numbered(items: Iterable[Item]) -> tuple[Item, ...]:
    """Items of one key told apart by which of them comes first."""
    seen: dict[Key, int] = {}
    told = []
    for item in items:
        seen[item.key] = seen.get(item.key, 0) + 1
        told.append(replace(item, key=(*item.key, str(seen[item.key]))))
    return tuple(told)
