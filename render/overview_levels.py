"""At which height each thing of an overview stands, in rows, so that wires run straight.

Columns are settled one after the other, to and fro: each thing wishes to stand where most of its
wires would be straight, and the column gives them the nearest heights that keep its order and
their distances (isotonic regression by pooling neighbours, with medians).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from ..dsl.records import record
from .overview_graph import Pin
from .overview_order import Order
from .overview_plan import Item, Plan, Through, item_of
from .overview_rows import Rows

SWEEPS = 6
PINNED, PASSING = 1, 8
"""Weight of a straight stretch that ends on a terminal, and of one between two passages."""


@record
class Wish:
    """To be level: this item's ``row`` with a ``far`` item's ``far_row``, in a given column."""

    column: int
    far: Item
    shift: int
    weight: int


def heights(column: Sequence[Item], rows: Rows) -> list[int]:
    """Rows each thing of a column takes, with a free one between a device and a reference below."""
    found = [1 if isinstance(item, Through) else rows.blocks[item].total for item in column]
    for at, (one, two) in enumerate(pairwise(column)):
        if not isinstance(one, Through) and not isinstance(two, Through):
            found[at] += bool(rows.blocks[one].head) and not rows.blocks[two].head
    return found


def needed(order: Order, rows: Rows) -> int:
    """Rows of the fullest column."""
    return max((sum(heights(column, rows)) for column in order), default=0)


def levels(plan: Plan, order: Order, rows: Rows, most: int) -> dict[Item, int]:
    """The top row of every thing, within ``most`` rows (the fullest column must fit)."""
    wishes = _wishes(plan, rows)
    top: dict[Item, int] = {}
    for column in order:
        _stack(column, rows, top)
    for sweep in range(SWEEPS):
        forward, before = sweep % 2 == 0, dict(top)
        for index in range(len(order)) if forward else reversed(range(len(order))):
            settled = sweep >= 2
            near = {index - 1, index} if forward else {index + 1, index}
            _settle(order[index], rows, wishes, top, most, None if settled else near)
        if sweep >= 2 and top == before:
            break
    return top


def _stack(column: Sequence[Item], rows: Rows, top: dict[Item, int]) -> None:
    row = 0
    for item, own in zip(column, heights(column, rows), strict=True):
        top[item] = row
        row += own


def _wishes(plan: Plan, rows: Rows) -> dict[Item, list[Wish]]:
    found: dict[Item, list[Wish]] = {}
    for wire, chain in plan.chains.items():
        spots = [_spot(plan, rows, at, wire, "b" if i else "a") for i, at in enumerate(chain)]
        for one, two in pairwise(spots):
            passing = isinstance(one[1], Through) and isinstance(two[1], Through)
            for here, there in ((one, two), (two, one)):
                wish = Wish(there[0], there[1], there[2] - here[2], PASSING if passing else PINNED)
                found.setdefault(here[1], []).append(wish)
    return found


def _spot(plan: Plan, rows: Rows, at: Pin | Through, wire: str, end: str) -> tuple[int, Item, int]:
    if isinstance(at, Through):
        return at.column, at, 0
    return plan.column[at.node], item_of(at), rows.row[at, wire, end]


def _settle(
    column: Sequence[Item],
    rows: Rows,
    wishes: Mapping[Item, list[Wish]],
    top: dict[Item, int],
    most: int,
    near: set[int] | None,
) -> None:
    """Heights of one column, from its neighbours in the columns ``near`` (None: in all)."""
    before, targets, tall = 0, [], heights(column, rows)
    for item, own in zip(column, tall, strict=True):
        asked = [
            (top[wish.far] + wish.shift - before, wish.weight)
            for wish in wishes.get(item, ())
            if wish.far != item and (near is None or wish.column in near)
        ]
        targets.append(asked or [(top[item] - before, 0)])
        before += own
    row = 0
    for item, shift, own in zip(column, _isotonic(targets), tall, strict=True):
        top[item] = min(max(shift, 0), most - before) + row
        row += own


Votes = list[tuple[int, int]]
"""Wished values with their weights."""


def _isotonic(targets: Sequence[Votes]) -> list[int]:
    """The rising values nearest to the votes, by sums of weighted distances."""
    pools: list[tuple[Votes, int, int]] = []
    for votes in targets:
        pool, count = list(votes), 1
        while pools and pools[-1][1] > _median(pool):
            earlier, _, size = pools.pop()
            pool, count = earlier + pool, count + size
        pools.append((pool, _median(pool), count))
    return [value for _, value, count in pools for _ in range(count)]


def _median(votes: Votes) -> int:
    """The lower weighted median; votes without weight count only among themselves."""
    weighty = sorted(vote for vote in votes if vote[1]) or sorted((value, 1) for value, _ in votes)
    half, total = sum(weight for _, weight in weighty) / 2, 0
    for value, weight in weighty:
        total += weight
        if total >= half:
            return value
    return weighty[-1][0]
