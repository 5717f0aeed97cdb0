"""Which edges part a network in two when they are taken out, and what lies on either side.

One walk in depth finds them all (Tarjan 1974, bridges of a graph): what lies behind an edge of the
walk is a stretch of its order, and the edge parts the network where none of that stretch is joined
to anything that was reached before it.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator

from .network import Edge


class Half(Collection[int]):
    """The nodes behind an edge of a walk, or (``behind`` False) all its other nodes."""

    def __init__(self, walk: Walk, first: int, stop: int, behind: bool) -> None:
        self.walk, self.first, self.stop, self.behind = walk, first, stop, behind

    def __contains__(self, node: object) -> bool:
        at = self.walk.place.get(node)
        return at is not None and (self.first <= at < self.stop) is self.behind

    def __iter__(self) -> Iterator[int]:
        order = self.walk.order
        if self.behind:
            return iter(order[self.first : self.stop])
        return iter(order[: self.first] + order[self.stop :])

    def __len__(self) -> int:
        inside = self.stop - self.first
        return inside if self.behind else len(self.walk.order) - inside


class Walk:
    """All nodes joined to ``start``, in the order of a walk in depth through ``joins``."""

    def __init__(
        self, neighbours: list[list[Edge]], start: int, joins: Callable[[Edge], bool]
    ) -> None:
        self.order = [start]
        self.place: dict[object, int] = {start: 0}
        self._behind: dict[int, tuple[int, int]] = {}  # by id of an edge that parts
        self._go(neighbours, joins)

    def _go(self, neighbours: list[list[Edge]], joins: Callable[[Edge], bool]) -> None:
        order, place = self.order, self.place
        lowest = [0]  # how far back what lies behind each node is joined
        steps: list[tuple[int, Edge | None, Iterator[Edge]]]
        steps = [(order[0], None, iter(neighbours[order[0]]))]
        while steps:
            node, came, edges = steps[-1]
            at = place[node]
            for edge in edges:
                if edge is came or not joins(edge):
                    continue
                far = edge.other(node)
                if far not in place:
                    place[far] = len(order)
                    lowest.append(len(order))
                    order.append(far)
                    steps.append((far, edge, iter(neighbours[far])))
                    break
                lowest[at] = min(lowest[at], place[far])
            else:
                steps.pop()
                if came is not None:
                    before = place[came.other(node)]
                    lowest[before] = min(lowest[before], lowest[at])
                    if lowest[at] == at:
                        self._behind[id(came)] = at, len(order)

    @property
    def whole(self) -> Half:
        """All its nodes."""
        return Half(self, 0, len(self.order), True)

    def halves(self, edge: Edge) -> tuple[Half, Half] | None:
        """The nodes on the side of an edge's a and of its b; None where it is part of a loop."""
        if id(edge) not in self._behind:
            return None
        first, stop = self._behind[id(edge)]
        near, far = Half(self, first, stop, False), Half(self, first, stop, True)
        return (near, far) if edge.a in near else (far, near)
