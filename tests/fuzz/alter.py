"""Alters rigs by statements and words, so that most of what comes of it can still be read.

Bytes altered at random are refused by the reader nearly always; what lies behind it is reached by
texts that mean something.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable

from ferrule.dsl.kinds import kinds
from ferrule.dsl.units import UNITS

_WORD = re.compile(r"[A-Za-z][\w-]*|[0-9][0-9./]*|[^\sA-Za-z0-9]")
NUMBERS = ["0", "1", "2", "0.001", "3", "16", "60", "999", "1000000000", "1e9", "1..16", "2/0", "4"]
ODD = ["(", ")", "->", "{", "}", '"', "\\", "=", ",", "\n", "\u00e9", "\ufeff", "#"]


STATEMENTS = re.findall(
    r"\S+",
    """
    rig rules ambient use part place route panel wire cable link bond mode stage remove move change
    accept revision on off because L N PE L1 L2 L3 + - in out in-L in-N out-L out-N
    """,
)


def dictionary() -> list[str]:
    """The words of the language: kinds, statements, attributes, flags, units, terminals, states."""
    words = {*UNITS, *STATEMENTS, "mm2", "AWG"}
    for name, kind in kinds().items():
        words |= {name, *kind.attrs, *kind.flags, *kind.states, *(f"{a}=" for a in kind.attrs)}
    return sorted(words)


WORDS = dictionary()
Change = Callable[[random.Random, list[str]], None]


def _drop(chance: random.Random, lines: list[str]) -> None:
    del lines[chance.randrange(len(lines))]


def _twice(chance: random.Random, lines: list[str]) -> None:
    lines.insert(chance.randrange(len(lines) + 1), chance.choice(lines))


def _swap(chance: random.Random, lines: list[str]) -> None:
    a, b = chance.randrange(len(lines)), chance.randrange(len(lines))
    lines[a], lines[b] = lines[b], lines[a]


def _word(chance: random.Random, lines: list[str]) -> None:
    """One word of a line by another: a number by a number, a name by a name of the same text."""
    at = chance.randrange(len(lines))
    found = list(_WORD.finditer(lines[at]))
    if not found:
        return
    word = chance.choice(found)
    if word[0][0].isdigit():
        new = chance.choice(NUMBERS)
    elif word[0][0].isalpha():
        other = [*_WORD.findall(chance.choice(lines)), chance.choice(WORDS)]
        new = chance.choice([w for w in other if w[0].isalpha()] or ["L"])
    else:
        new = chance.choice(ODD)
    lines[at] = lines[at][: word.start()] + new + lines[at][word.end() :]


def _more(chance: random.Random, lines: list[str]) -> None:
    """A word more at the end of a line: a flag, an attribute of another line."""
    at = chance.randrange(len(lines))
    words = [*chance.choice(lines).split(), chance.choice(WORDS)]
    lines[at] += " " + chance.choice(words)


def _anew(chance: random.Random, lines: list[str]) -> None:
    """A line again, under a name that is not there yet."""
    words = chance.choice(lines).split()
    if len(words) > 1:
        words[1] = f"Z{chance.randrange(1000)}"
    lines.insert(chance.randrange(len(lines) + 1), " ".join(words))


CHANGES: list[Change] = [_drop, _twice, _swap, _word, _word, _word, _more, _anew]


def altered(text: str, seed: int, most: int) -> str:
    """The text with one to six changes, at most so many characters long."""
    chance = random.Random(seed)
    lines = text.split("\n") or [""]
    for _ in range(chance.choice((1, 1, 2, 3, 6))):
        if lines:
            chance.choice(CHANGES)(chance, lines)
    return "\n".join(lines)[:most]
