"""Maximum flow and minimum cut on a small undirected network (augmenting shortest paths)."""

from __future__ import annotations

from collections import deque
from collections.abc import Hashable, Iterable
from math import inf

from ...dsl.records import record

Node = Hashable


@record
class Link:
    """An undirected link with its capacity and the name of what limits it."""

    a: Node
    b: Node
    capacity: float
    name: str


@record
class Cut:
    """The largest flow (``amps``) and the names of the links that hold it, in their order.

    Where nothing holds it ``amps`` is infinite and ``names`` are the links that do not limit.
    """

    amps: float
    names: tuple[str, ...]


def max_flow(links: Iterable[Link], source: Node, sink: Node) -> Cut:
    """The maximum flow from source to sink and the minimum cut nearest the sink.

    Edmonds and Karp 1972: shortest augmenting paths end after O(V E) steps.
    """
    links = list(links)
    open_path = _unlimited(links, source, sink)
    if open_path:
        return Cut(inf, open_path)
    room: list[list[float]] = [[link.capacity, link.capacity] for link in links]
    at: dict[Node, list[tuple[int, int, Node]]] = {source: [], sink: []}
    for index, link in enumerate(links):
        at.setdefault(link.a, []).append((index, 0, link.b))
        at.setdefault(link.b, []).append((index, 1, link.a))
    total = 0.0
    while path := _augmenting(at, room, source, sink):
        step = min(room[index][way] for index, way in path)
        for index, way in path:
            room[index][way] -= step
            room[index][1 - way] += step
        total += step
    reaches = _reaching(at, room, sink)
    held = (k.name for k in links if (k.a in reaches) != (k.b in reaches) and k.capacity > 0)
    return Cut(total, tuple(dict.fromkeys(name for name in held if name)))


def _unlimited(links: list[Link], source: Node, sink: Node) -> tuple[str, ...]:
    """The names along a path that no capacity limits, from source to sink; empty: none."""
    at: dict[Node, list[tuple[str, Node]]] = {}
    for link in links:
        if link.capacity == inf:
            at.setdefault(link.a, []).append((link.name, link.b))
            at.setdefault(link.b, []).append((link.name, link.a))
    came: dict[Node, tuple[str, Node] | None] = {source: None}
    queue = deque([source])
    while queue and sink not in came:
        node = queue.popleft()
        for name, far in at.get(node, ()):
            if far not in came:
                came[far] = (name, node)
                queue.append(far)
    names: list[str] = []
    step = came.get(sink)
    while step is not None:
        names.append(step[0])
        step = came[step[1]]
    return tuple(dict.fromkeys(name for name in reversed(names) if name))


def _augmenting(
    at: dict[Node, list[tuple[int, int, Node]]],
    room: list[list[float]],
    source: Node,
    sink: Node,
) -> list[tuple[int, int]]:
    came: dict[Node, tuple[int, int, Node] | None] = {source: None}
    queue = deque([source])
    while queue and sink not in came:
        node = queue.popleft()
        for index, way, far in at[node]:
            if far not in came and room[index][way] > 1e-9:
                came[far] = (index, way, node)
                queue.append(far)
    path: list[tuple[int, int]] = []
    step = came.get(sink)
    while step is not None:
        path.append(step[:2])
        step = came[step[2]]
    return path


def _reaching(
    at: dict[Node, list[tuple[int, int, Node]]], room: list[list[float]], sink: Node
) -> set[Node]:
    """The nodes from which more could still flow to the sink."""
    reached = {sink}
    queue = deque([sink])
    while queue:
        node = queue.popleft()
        for index, way, far in at[node]:
            if far not in reached and room[index][1 - way] > 1e-9:
                reached.add(far)
                queue.append(far)
    return reached
