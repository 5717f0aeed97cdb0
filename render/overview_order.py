"""In which order the things of each column stand.

Barycentre sweeps to and fro over the columns, the order with the fewest crossings kept; then
neighbours change places where that takes crossings away.  Devices that nothing joins stay apart,
group below group.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Iterator, Mapping
from itertools import pairwise

from ..dsl.records import record
from .overview_graph import Pin, joined_nodes
from .overview_plan import Item, Plan, Through, item_of
from .overview_rows import Rows

Order = tuple[tuple[Item, ...], ...]
"""For each column its things, top to bottom."""
SWEEPS, PATIENCE = 8, 4
"""Passes of the barycentres at most, and so many in a row that bring nothing."""
DETOURS, WORTH = 12, 8
"""So many passages are tried on another side of a device, where so many lines cross."""
ROUNDS = 12
"""Passes in which neighbours may still change places."""


@record
class Link:
    """A stretch of a wire between two stations: column, item and height within the item of each."""

    a: tuple[int, Item, float]
    b: tuple[int, Item, float]


def links(plan: Plan, rows: Rows) -> list[Link]:
    """Every stretch of every wire."""

    def station(at: Pin | Through, wire: str, end: str) -> tuple[int, Item, float]:
        item = item_of(at)
        if isinstance(at, Through):
            return at.column, item, 0.5
        return plan.column[at.node], item, rows.share(at, wire, end)

    found = []
    for wire, chain in plan.chains.items():
        stops = [station(at, wire, "b" if i else "a") for i, at in enumerate(chain)]
        found += [Link(a, b) for a, b in pairwise(stops)]
    return found


def first_order(plan: Plan) -> Order:
    """Nodes in the order of the text, group by group; passages after them."""
    groups = _groups(plan)
    columns: list[list[Item]] = [[] for _ in range(plan.count)]
    for name in plan.graph.nodes:
        columns[plan.column[name]].append(name)
    for wire in plan.graph.wires:
        for passage in plan.passages(wire):
            columns[passage.column].append(passage)
    return tuple(tuple(sorted(column, key=lambda item: groups[item])) for column in columns)


def _groups(plan: Plan) -> dict[Item, int]:
    """By thing, the number of the group of joined nodes it belongs to."""
    group: dict[Item, int] = {}
    for index, names in enumerate(joined_nodes(plan.graph)):
        group.update(dict.fromkeys(names, index))
    for wire in plan.graph.wires:
        group.update(dict.fromkeys(plan.passages(wire), group[wire.a.node]))
    return group


def crossings(order: Order, stretches: list[Link]) -> int:
    """How many stretches between neighbouring columns cross."""
    place = {item: index for column in order for index, item in enumerate(column)}
    channels: dict[int, list[tuple[float, float]]] = {}
    for link in stretches:
        (ca, ia, ha), (cb, ib, hb) = sorted((link.a, link.b), key=lambda stop: stop[0])
        if cb == ca + 1:
            channels.setdefault(cb, []).append((place[ia] + ha, place[ib] + hb))
    return sum(_inversions(pairs) for pairs in channels.values())


def _inversions(pairs: list[tuple[float, float]]) -> int:
    total, seen = 0, list[float]()
    for _, right in sorted(pairs):
        total += len(seen) - bisect_left(seen, right + 1e-9)
        insort(seen, right)
    return total


def own_order(plan: Plan, stretches: list[Link]) -> Order:
    """The order by barycentre sweeps, then by neighbours changing places."""
    groups, first = _groups(plan), first_order(plan)
    if not crossings(first, stretches):
        return first
    return _exchanged(_swept(first, stretches, groups), stretches, groups)


def detoured(plan: Plan, order: Order, stretches: list[Link]) -> Order:
    """Wires pass a device on its other side where, with all that follows, fewer lines cross."""
    groups, least = _groups(plan), crossings(order, stretches)
    passing = [item for column in order for item in column if isinstance(item, Through)]
    for item in passing[:DETOURS]:
        if least < WORTH:
            break
        for other in _detours(order[item.column], item, groups):
            columns = (*order[: item.column], other, *order[item.column + 1 :])
            found = _exchanged(columns, stretches, groups)
            now = crossings(found, stretches)
            if now < least:
                order, least = found, now
                break
    return order


def _detours(
    column: tuple[Item, ...], item: Through, groups: Mapping[Item, int]
) -> Iterator[tuple[Item, ...]]:
    """The column with a passage before the next device above it, and behind the one below it."""
    at = column.index(item)
    devices = [k for k, other in enumerate(column) if not isinstance(other, Through)]
    above = max((k for k in devices if k < at), default=at)
    below = min((k for k in devices if k > at), default=at)
    if above < at and groups[column[above]] == groups[item]:
        yield (*column[:above], item, *column[above:at], *column[at + 1 :])
    if below > at and groups[column[below]] == groups[item]:
        yield (*column[:at], *column[at + 1 : below + 1], item, *column[below + 1 :])


def _swept(order: Order, stretches: list[Link], groups: Mapping[Item, int]) -> Order:
    """The best of the orders that sweeps to and fro come by."""
    best, least, idle = order, crossings(order, stretches), 0
    for sweep in range(SWEEPS):
        if not least or idle == PATIENCE:
            break
        order = _sweep(order, stretches, groups, backward=sweep % 2 == 1)
        now = crossings(order, stretches)
        idle = 0 if now < least else idle + 1
        if now < least:
            best, least = order, now
    return best


def _exchanged(order: Order, stretches: list[Link], groups: Mapping[Item, int]) -> Order:
    """Neighbours in a column change places while fewer lines cross for it."""
    columns = [list(column) for column in order]
    place = {item: float(index) for column in columns for index, item in enumerate(column)}
    near = _neighbours(stretches)
    for _ in range(ROUNDS):
        moved = False
        for column in columns:
            for at in range(len(column) - 1):
                one, two = column[at], column[at + 1]
                if groups[one] == groups[two] and _gain(near, place, one, two) > 0:
                    column[at], column[at + 1], moved = two, one, True
                    place[one], place[two] = place[two], place[one]
        if not moved:
            break
    return tuple(tuple(column) for column in columns)


Near = Mapping[Item, tuple[list[tuple[Item, float]], list[tuple[Item, float]]]]
"""By thing, what it is joined to in the column before it and in the one after it, and where."""


def _neighbours(stretches: list[Link]) -> Near:
    near: dict[Item, tuple[list[tuple[Item, float]], list[tuple[Item, float]]]] = {}
    for link in stretches:
        for (here, item, _), (there, far, at) in ((link.a, link.b), (link.b, link.a)):
            if abs(here - there) == 1:
                near.setdefault(item, ([], []))[there > here].append((far, at))
    return near


def _gain(near: Near, place: Mapping[Item, float], upper: Item, lower: Item) -> int:
    """How many crossings go when two neighbours change places, less those that come."""
    gain = 0
    nothing: list[tuple[Item, float]] = []
    for above, below in zip(
        near.get(upper, (nothing, nothing)), near.get(lower, (nothing, nothing)), strict=True
    ):
        highs, lows = ([place[far] + at for far, at in ends] for ends in (above, below))
        gain += sum((high > low) - (high < low) for high in highs for low in lows)
    return gain


def _sweep(
    order: Order, stretches: list[Link], groups: Mapping[Item, int], *, backward: bool
) -> Order:
    """Each column in turn sorted by where its neighbours on the side already done stand."""
    columns = [list(column) for column in order]
    pulls = _pulls(stretches, backward)
    centre = {item: (i + 0.5) / len(c) for c in columns for i, item in enumerate(c)}
    height = {item: 1 / len(c) for c in columns for item in c}
    for index in reversed(range(len(columns))) if backward else range(len(columns)):
        column = columns[index]

        def wish(item: Item) -> float:
            near = pulls.get(item, ())
            ends = [centre[far] + (at - 0.5) * height[far] for far, at in near]
            return sum(ends) / len(ends) if ends else centre[item]

        key = {item: (groups[item], wish(item)) for item in column}
        column.sort(key=lambda item: key[item])
        centre.update({item: (i + 0.5) / len(column) for i, item in enumerate(column)})
    return tuple(tuple(column) for column in columns)


def _pulls(stretches: list[Link], backward: bool) -> dict[Item, list[tuple[Item, float]]]:
    """By thing, what it is joined to in the column before it (after it, going backward)."""
    step = -1 if backward else 1
    pulls: dict[Item, list[tuple[Item, float]]] = {}
    for link in stretches:
        for (here, item, _), (there, far, at) in ((link.a, link.b), (link.b, link.a)):
            if here - there in (step, 0) and item != far:
                pulls.setdefault(item, []).append((far, at))
    return pulls
