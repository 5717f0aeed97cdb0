"""Which column each device of an overview stands in, and which side each terminal faces.

Columns follow the direction of the conductors as the text writes them (longest path).
``stacked``: devices that only pass a circuit on from a shared terminal stand in the same column,
which takes less width.  Channel ``k`` lies left of column ``k``; a wire is a chain of stations, one
in each column it passes.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property

from ..dsl.records import record
from .overview_graph import Graph, Landed, Pin, Wire

LEFT, RIGHT = -1, 1


@record
class Through:
    """The passage of a wire through a column of devices."""

    wire: str
    column: int


Item = str | Through
"""What stands in a column: a node, by name, or a passage."""


@record
class Plan:
    """Columns of the nodes and sides of the wire ends.

    ``folded``: what belongs in one column stands in several, because it is too high.
    """

    graph: Graph
    column: Mapping[str, int]
    side: Mapping[Landed, int]
    folded: bool

    @property
    def count(self) -> int:
        return max(self.column.values(), default=-1) + 1

    def channel(self, landed: Landed) -> int:
        """The channel a wire end faces."""
        return self.column[landed[0].node] + (self.side[landed] == RIGHT)

    def passages(self, wire: Wire) -> tuple[Through, ...]:
        """The columns a wire passes, from its end a to its end b."""
        start, stop = map(self.channel, wire.ends)
        passed = range(start, stop) if start <= stop else range(start - 1, stop - 1, -1)
        return tuple(Through(wire.name, column) for column in passed)

    @cached_property
    def ends(self) -> Mapping[str, tuple[Landed, Landed]]:
        """By wire its two ends."""
        return {wire.name: wire.ends for wire in self.graph.wires}

    @cached_property
    def chains(self) -> Mapping[str, tuple[Pin | Through, ...]]:
        """By wire, what it runs through from end to end."""
        return {w.name: (w.a, *self.passages(w), w.b) for w in self.graph.wires}


def item_of(station: Pin | Through) -> Item:
    """The thing in a column that a station belongs to."""
    return station.node if isinstance(station, Pin) else station


def plan(graph: Graph, room: Mapping[str, int], most: int, *, stacked: bool) -> Plan:
    """The plan of a graph: ``room`` is the rows each node takes, ``most`` what a column holds."""
    rank = _ranks(graph, stacked)
    column = _folded(graph, rank, room, most)
    folded = len(set(column.values())) > len(set(rank.values()))
    return Plan(graph, column, _sides(graph, column), folded)


def passed_on(graph: Graph) -> list[Wire]:
    """The wires that pass a circuit on from a terminal to which another one leads."""
    fed = {wire.b for wire in graph.wires}
    return [wire for wire in graph.wires if wire.a in fed]


def _steps(graph: Graph, stacked: bool) -> dict[tuple[str, str], int]:
    """By pair of nodes the least distance of their columns: 0 where it is stacked."""
    fed = {wire.b for wire in graph.wires}
    steps: dict[tuple[str, str], int] = {}
    for wire in graph.wires:
        a, b = wire.a.node, wire.b.node
        if a != b:
            shared = stacked and wire.a in fed
            steps[a, b] = max(steps.get((a, b), 0), 0 if shared else 1)
    return steps


def _ranks(graph: Graph, stacked: bool) -> dict[str, int]:
    """Longest path from the devices nothing leads to; wires that would close a ring are skipped."""
    steps = _steps(graph, stacked)
    onward: dict[str, list[str]] = {name: [] for name in graph.nodes}
    for a, b in steps:
        onward[a].append(b)
    order = _finished(onward)
    place = {name: index for index, name in enumerate(order)}
    rank = dict.fromkeys(order, 0)
    for a in order:
        for b in onward[a]:
            if place[a] < place[b]:
                rank[b] = max(rank[b], rank[a] + steps[a, b])
    led_to = {b for _, b in steps}
    for a in reversed(order):
        later = [rank[b] - steps[a, b] for b in onward[a] if place[a] < place[b]]
        if later and a not in led_to:
            rank[a] = max(rank[a], min(later))
    return rank


def _finished(onward: Mapping[str, list[str]]) -> list[str]:
    """A topological order (depth first, reversed), rings cut where they close."""
    order: list[str] = []
    seen: set[str] = set()
    for start in reversed(list(onward)):
        if start in seen:
            continue
        seen.add(start)
        stack = [(start, iter(reversed(onward[start])))]
        while stack:
            node, rest = stack[-1]
            following = next((b for b in rest if b not in seen), None)
            if following is None:
                order.append(node)
                stack.pop()
            else:
                seen.add(following)
                stack.append((following, iter(reversed(onward[following]))))
    return order[::-1]


def _folded(
    graph: Graph, rank: Mapping[str, int], room: Mapping[str, int], most: int
) -> dict[str, int]:
    """Columns from ranks: a rank that is too high for one column takes several."""
    column: dict[str, int] = {}
    first = 0
    for level in sorted(set(rank.values())):
        names = [name for name in graph.nodes if rank[name] == level]
        for chunk in _chunks(names, room, *_faces(graph, rank, level), most):
            column.update(dict.fromkeys(chunk, first))
            first += 1
    return column


def _faces(
    graph: Graph, rank: Mapping[str, int], level: int
) -> tuple[dict[str, int], dict[str, int]]:
    """By node of a rank, how many of its wires go to lower ranks, and how many to higher."""
    before, after = dict.fromkeys(graph.nodes, 0), dict.fromkeys(graph.nodes, 0)
    for wire in graph.wires:
        for here, there in ((wire.a.node, wire.b.node), (wire.b.node, wire.a.node)):
            if rank[here] == level:
                before[here] += rank[there] < level
                after[here] += rank[there] > level
    return before, after


def _chunks(
    names: list[str],
    room: Mapping[str, int],
    before: Mapping[str, int],
    after: Mapping[str, int],
    most: int,
) -> list[list[str]]:
    """Nodes of one rank in columns of at most ``most`` rows, wires to the others included."""
    if sum(room[name] for name in names) <= most:
        return [names]
    chunks: list[list[str]] = [[]]
    used, passing = 0, sum(before[name] for name in names)
    for name in names:
        passing -= before[name]
        if chunks[-1] and used + room[name] + passing > most:
            used = sum(after[each] for chunk in chunks for each in chunk)
            chunks.append([])
        chunks[-1].append(name)
        used += room[name]
    return chunks


def _sides(graph: Graph, column: Mapping[str, int]) -> dict[Landed, int]:
    """Wire ends face each other, in one column the right; unused terminals even the sides out."""
    side: dict[Landed, int] = {}
    for wire in graph.wires:
        step = column[wire.b.node] - column[wire.a.node]
        a, b = wire.ends
        side[a] = RIGHT if step >= 0 else LEFT
        side[b] = LEFT if step > 0 else RIGHT
    weight = dict.fromkeys(graph.nodes, 0)
    for (pin, _, _), face in side.items():
        weight[pin.node] += face
    for pin in graph.pins():
        if not graph.at.get(pin):
            face = LEFT if weight[pin.node] > 0 else RIGHT
            side[pin, "", ""] = face
            weight[pin.node] += face
    return side
