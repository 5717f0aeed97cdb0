"""Completions of names that are new: the next free one of the kind, as the rig counts."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator

from ...dsl.kinds import kinds
from ...dsl.source import Spoiled, Statement
from .names import RUNS, THING, space_of
from .offers import FIRST, NAME, UNIT, Offer

LETTERS = {"wire": "W", "cable": "C", "link": "J", "bond": "B"}
MOST = 6
_COUNTED = re.compile(r"([A-Za-z]+)(\d+)")
_SIZE = re.compile(r"(?:\d+[xX×])?\d+(?:\.\d+)?(?:/0)?(?:AWG|mm2)")
Parsed = Iterable[Statement | Spoiled]


def next_names(parsed: Parsed, word: str) -> list[Offer]:
    """A name for a new device or conductor: the letters that are usual, the next number.

    No number is used again, not even that of what a later stage removes.
    """
    highest: Counter[str] = Counter()
    usual: Counter[str] = Counter()
    for statement in _things(parsed):
        found = _COUNTED.fullmatch(str(statement.name))
        if found:
            highest[found[1]] = max(highest[found[1]], int(found[2]))
            usual[found[1]] += statement.word == word
    own = [letters for letters, count in usual.most_common(2) if count]
    known = [LETTERS[word] if word in LETTERS else kinds()[word].letter]
    names = [f"{letters}{highest[letters] + 1}" for letters in own or known]
    return [Offer(name, NAME, "the next free name", rank=FIRST) for name in names]


def sizes(parsed: Parsed, word: str) -> list[Offer]:
    """Sizes that conductors of a rig have, the most frequent first."""
    found = Counter(
        str(token)
        for statement in _things(parsed)
        if statement.word == word
        for token in statement.items
        if _SIZE.fullmatch(token)
    )
    return [Offer(size, UNIT, f"{n} like it", rank=FIRST) for size, n in found.most_common(MOST)]


def _things(parsed: Parsed) -> Iterator[Statement]:
    for statement in parsed:
        if isinstance(statement, Statement) and space_of(statement.word) == THING:
            yield statement


def takes_a_name(word: str) -> bool:
    """Whether a statement begins with the name of a new device or conductor."""
    return word in RUNS or word in kinds()
