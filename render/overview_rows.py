"""The rows of each node: which row, on which side, every wire end and unused terminal takes.

A terminal that holds several conductors has a row for each, so that no two lines ever coincide.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from .overview_graph import Pin
from .overview_plan import LEFT, RIGHT, Plan

Landed = tuple[Pin, str, str]
"""A terminal with the wire end on a row of it; wire and end are "" on an unused one."""


@dataclass(frozen=True, slots=True)
class Block:
    """A node in rows: ``head`` of text above, then ``body`` rows with the terminals' own."""

    head: int
    body: int

    @property
    def total(self) -> int:
        return self.head + self.body


@dataclass(frozen=True)
class Rows:
    """Blocks by node, and by landing the row within its block."""

    blocks: Mapping[str, Block]
    row: Mapping[Landed, int]

    def share(self, pin: Pin, wire: str, end: str) -> float:
        """How far down its block a landing is, 0 to 1."""
        return (self.row[pin, wire, end] + 0.5) / self.blocks[pin.node].total


def landings_of(plan: Plan, pin: Pin) -> list[Landed]:
    """The rows a terminal takes, in order."""
    return [(pin, wire, end) for wire, end in plan.graph.at.get(pin, ())] or [(pin, "", "")]


def rows_of(plan: Plan, heads: Mapping[str, int], least: Mapping[str, int]) -> Rows:
    """Rows of all nodes: ``heads`` rows of text each, bodies of at least ``least`` rows."""
    blocks: dict[str, Block] = {}
    row: dict[Landed, int] = {}
    for node in plan.graph.nodes.values():
        pins = [Pin(node.name, terminal) for terminal in node.terminals]
        sides = [
            [each for pin in pins if plan.side[pin] == side for each in landings_of(plan, pin)]
            for side in (LEFT, RIGHT)
        ]
        body = max(least[node.name], *map(len, sides))
        blocks[node.name] = Block(heads[node.name], body)
        for side in sides:
            first = heads[node.name] + (body - len(side)) // 2
            row.update({each: first + index for index, each in enumerate(side)})
    return Rows(blocks, row)
