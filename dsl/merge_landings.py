"""Terminals that both sides of a merge came to land on, each with a conductor of its own.

Neither touched a statement of the other's, so it is no conflict; whether the terminal holds both is
for the checker to say.  But it is where two branches that add circuits most often meet.
"""

from __future__ import annotations

from collections.abc import Iterator

from .blocks import Block
from .conductors import ends

RUNS = ("wire", "cable", "link", "bond")
Landings = set[tuple[str, str]]


def shared(base: Block, ours: Block, theirs: Block) -> Iterator[str]:
    """A line for each such terminal, in words."""
    was, mine, its = (set(_landings(block)) for block in (base, ours, theirs))
    here, there = _by_terminal(mine - was - its), _by_terminal(its - was - mine)
    for terminal in sorted(here.keys() & there.keys()):
        one, two = here[terminal], there[terminal]
        if set(one) != set(two):  # one conductor that both land there is told elsewhere
            yield f"{terminal}: ours lands {' '.join(one)} on it, theirs {' '.join(two)}"


def _by_terminal(landings: Landings) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for terminal, name in sorted(landings):
        found.setdefault(terminal, []).append(name)
    return found


def _landings(block: Block) -> Iterator[tuple[str, str]]:
    """Every terminal with the conductor that a statement lands on it."""
    for item in block.items:
        statement = item.statement
        if item.block is not None:
            yield from _landings(item.block)
        elif statement.word == "move":
            for end in ends(statement, statement.far):
                yield end.name, str(statement.tokens[1])
        elif statement.word in RUNS:
            for tokens in (statement.ends, statement.far):
                for core, end in enumerate(ends(statement, tokens), 1):
                    name = str(statement.name)
                    yield end.name, f"{name}/{core}" if statement.word == "cable" else name
