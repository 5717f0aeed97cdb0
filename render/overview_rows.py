"""The rows of each node: which row, on which side, every wire end and unused terminal takes.

A terminal that holds several conductors has a row for each, so that no two lines ever coincide.
Where they come from both sides, it stands on both sides of the outline at one height.
"""

from __future__ import annotations

from collections.abc import Mapping

from ..dsl.records import record
from .overview_graph import Landed, Pin
from .overview_plan import LEFT, RIGHT, Plan


@record
class Block:
    """A node in rows: ``head`` of text above, then ``body`` rows with the terminals' own."""

    head: int
    body: int

    @property
    def total(self) -> int:
        return self.head + self.body


@record
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
        pins = [landings_of(plan, Pin(node.name, terminal)) for terminal in node.terminals]
        own, lengths = _shared_out(plan, pins)
        body, head = max(least[node.name], *lengths.values()), heads[node.name]
        blocks[node.name] = Block(head, body)
        both = any(len({plan.side[each] for each in each_pin}) > 1 for each_pin in pins)
        long = dict.fromkeys(lengths, max(lengths.values())) if both else lengths
        for each, at in own.items():
            row[each] = head + (body - long[plan.side[each]]) // 2 + at
    return Rows(blocks, row)


def _shared_out(plan: Plan, pins: list[list[Landed]]) -> tuple[dict[Landed, int], dict[int, int]]:
    """The rows from the first down, side by side; and how many each side has."""
    row: dict[Landed, int] = {}
    filled = {LEFT: 0, RIGHT: 0}
    for landings in pins:
        sides = {plan.side[each] for each in landings}
        if len(sides) > 1:
            filled = dict.fromkeys(filled, max(filled.values()))
        for each in landings:
            row[each] = filled[plan.side[each]]
            filled[plan.side[each]] += 1
    return row, filled
