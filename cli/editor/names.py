"""Every place in the texts where a name stands, and what it is the name of."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from ...dsl.kinds import kinds, words
from ...dsl.model import Span
from ...dsl.parse import Token
from ...dsl.source import NAME, Spoiled, Statement

RUNS = ("wire", "cable", "link", "bond")
PLACES = ("place", "route")
THING, PLACE, PART, MODE, STAGE = "thing", "place", "part", "mode", "stage"
SPACES = (THING, PLACE, PART, MODE, STAGE)
"""Names are told apart within each: devices, conductors and panels; places and routes; the rest."""
ACCEPTED = (THING, PLACE, PART, MODE)
NAMING = {"at": (PLACE, THING), "via": (PLACE,), "joins": (PLACE,), "entries": (THING,)}
NAMING["stack"] = (THING,)
_WORD = re.compile(r"[A-Za-z0-9_+-]+")


class Mention(NamedTuple):
    """A name in a text: in which space, where, and whether it is declared there."""

    space: str
    name: str
    span: Span
    declares: bool
    statement: Statement


class Place(NamedTuple):
    """A word of a statement that may be a name, and the spaces it may be of, likely ones first."""

    spaces: tuple[str, ...]
    token: Token
    declares: bool = False
    sure: bool = True


def space_of(word: str) -> str:
    """The space of the name that a statement declares; empty where it declares none."""
    if word in RUNS or word in kinds():
        return THING
    if word in PLACES:
        return PLACE
    return word if word in (PART, MODE, STAGE) else ""


def mentions(parsed: Iterable[Statement | Spoiled]) -> list[Mention]:
    """All names in the statements of some files, in their order."""
    sound = [statement for statement in parsed if isinstance(statement, Statement)]
    known = {
        (space, str(s.name)) for s in sound if (space := space_of(s.word)) and s.name is not None
    }
    found = []
    for statement in sound:
        for place in _places(statement):
            name = str(place.token)
            space = next((s for s in place.spaces if (s, name) in known), "")
            if space or (place.sure and place.spaces):
                span = statement.at(place.token)
                space = space or place.spaces[0]
                found.append(Mention(space, name, span, place.declares, statement))
    return found


def declared(found: Iterable[Mention]) -> Mapping[tuple[str, str], list[Mention]]:
    """The declarations, by space and name."""
    table: dict[tuple[str, str], list[Mention]] = {}
    for mention in found:
        if mention.declares:
            table.setdefault((mention.space, mention.name), []).append(mention)
    return table


def _places(statement: Statement) -> Iterator[Place]:
    """The words of a statement that are names, or may be."""
    word, name = statement.word, statement.name
    space = space_of(word)
    if name is not None and space:
        yield Place((space,), name, declares=True)
    elif word == "accept":
        yield Place(ACCEPTED, _part(statement.items[1], 0))
        return
    elif name is not None and word in ("remove", "move", "change"):
        yield Place((THING,), _part(name, 0))
    for end in (*statement.ends, *statement.far):
        yield Place((THING,), _part(end, 0))
    yield from _of_items(statement)


def _of_items(statement: Statement) -> Iterator[Place]:
    word = statement.word
    items = statement.items[1:] if word == "part" else statement.items
    for token in items:
        if word == "mode":
            yield Place((THING,), _part(token, 0))
        elif word == "remove":
            yield Place((THING,), token)
        elif token.type == "ATTR":
            yield from _of_attribute(token)
        elif token.type == "NAME" and word not in ("rules", *RUNS, *PLACES):
            yield Place((PART,), token, sure=not _is_flag(statement, str(token)))


def _is_flag(statement: Statement, word: str) -> bool:
    kind = str(statement.items[0]) if statement.word == "part" else statement.word
    return kind not in kinds() or word in words(kind).flags


def _of_attribute(token: Token) -> Iterator[Place]:
    key = token.partition("=")[0]
    if key not in NAMING:
        return
    at = len(key) + 1
    if key == "at":
        yield Place(NAMING[key], _part(token, at))
        return
    for found in _WORD.finditer(token, at):
        word = Token("NAME", found[0], token.start + found.start())
        yield Place(NAMING[key], word, sure=key != "stack")


def _part(token: Token, at: int) -> Token:
    """The name that a word begins with at an index: the device of a terminal, a core's cable."""
    found = NAME.match(token, at)
    return Token("NAME", found[0] if found else "", token.start + at)
