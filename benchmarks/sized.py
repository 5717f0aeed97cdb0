"""Generated rigs by how many conductors they have."""

from __future__ import annotations

from math import ceil

from ferrule.dsl.reader import read_text
from generate import generate


def conductors(circuits: int) -> int:
    """How many conductors the generated rig of so many circuits has."""
    return len(read_text(generate("two-source", circuits, 1)).rigs[-1].conductors)


def rig_of(size: int) -> str:
    """The text of a generated rig of about that many conductors, and not fewer."""
    few, more = conductors(400), conductors(800)
    each = (more - few) / 400
    return generate("two-source", max(1, ceil((size - few) / each + 400)), 1)
