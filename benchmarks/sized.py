"""Generated rigs by how many conductors or lines they have."""

from __future__ import annotations

from collections.abc import Callable
from math import ceil

from ferrule.dsl.reader import read_text
from generate import generate

LEAST = 2  # circuits


def conductors(text: str) -> int:
    """How many conductors a rig has."""
    return len(read_text(text).rigs[-1].conductors)


def rig_of(size: int) -> str:
    """The text of a generated rig of about that many conductors, and not fewer."""
    return _sized(size, conductors)


def lines_of(size: int) -> str:
    """The text of a generated rig of about that many lines."""
    return _sized(size, lambda text: text.count("\n"))


def least() -> str:
    """The text of the smallest of these rigs: its check is mostly start-up."""
    return generate("two-source", LEAST, 1)


def _sized(size: int, count: Callable[[str], int]) -> str:
    """A rig of about a size: what circuits add is the same for each."""
    few, more = (count(generate("two-source", circuits, 1)) for circuits in (400, 800))
    each = (more - few) / 400
    return generate("two-source", max(1, ceil((size - few) / each + 400)), 1)
