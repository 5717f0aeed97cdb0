"""The cut against networkx's maximum flow, and the tracing against brute force, on random nets."""

from __future__ import annotations

from itertools import pairwise
from math import inf
from random import Random

import networkx
import pytest
from ferrule.checks.tracing.cut import Protection
from ferrule.checks.tracing.flow import Link, max_flow
from ferrule.checks.tracing.network import POLE, WIRE
from ferrule.checks.tracing.trace import ModeView, analyse
from ferrule.dsl.reader import read_text


def graph_of(links: list[Link]) -> networkx.DiGraph:
    graph = networkx.DiGraph()
    for link in links:
        for a, b in ((link.a, link.b), (link.b, link.a)):
            had = graph.get_edge_data(a, b, {"capacity": 0.0})["capacity"]
            graph.add_edge(a, b, capacity=had + link.capacity)
    return graph


@pytest.mark.parametrize("seed", range(200))
def test_flow_is_networkx_maximum_flow(seed: int) -> None:
    """Source: networkx.maximum_flow (preflow-push), a general library's own algorithm."""
    random = Random(seed)
    count = random.randint(2, 12)
    links = [
        Link(*random.sample(range(count), 2), float(random.randint(1, 60)), f"Q{k}")
        for k in range(random.randint(1, 30))
    ]
    graph = graph_of(links)
    graph.add_nodes_from((0, count - 1))
    wanted, _ = networkx.maximum_flow(graph, 0, count - 1)
    cut = max_flow(links, 0, count - 1)
    assert cut.amps == pytest.approx(wanted)
    # The links named do cut: without them nothing flows, and they add up to the flow.
    held = [link for link in links if link.name in cut.names]
    assert sum(link.capacity for link in held) == pytest.approx(cut.amps)
    rest = max_flow([k for k in links if k.name not in cut.names], 0, count - 1)
    assert rest.amps == 0


def random_rig(seed: int) -> str:
    """A tangle of bars, breakers, batteries and chargers: many feeds, loops, dead ends."""
    random = Random(seed)
    bars = random.randint(2, 7)
    lines = ['rig "tangle"', "rules iec60364"]
    used = [0] * bars
    wires: list[str] = []

    def land(bar: int) -> str:
        used[bar] += 1
        return f"B{bar}.{used[bar]}"

    for k in range(random.randint(1, 3)):
        lines.append(f"battery G{k} 12V 100Ah fault=1kA")
        wires.append(f"wire S{k} 16mm2 1m G{k}.+ -> {land(random.randrange(bars))}")
    for k in range(random.randint(1, 3)):
        lines.append(f"solar P{k} 12V {random.choice((10, 20, 35))}A")
        wires.append(f"wire T{k} 16mm2 1m P{k}.+ -> {land(random.randrange(bars))}")
    for k in range(random.randint(1, 12)):
        a, b = random.sample(range(bars), 2)
        lines.append(f"fuse Q{k} {random.choice((5, 10, 16, 25, 40))}A dc")
        wires.append(f"wire A{k} 16mm2 1m {land(a)} -> Q{k}.1")
        wires.append(f"wire C{k} 16mm2 1m Q{k}.2 -> {land(b)}")
    for k in range(random.randint(0, 3)):
        a, b = random.sample(range(bars), 2)
        wires.append(f"wire D{k} 16mm2 1m {land(a)} -> {land(b)}")
    lines += [f"bus B{k} 100A positions={n}" for k, n in enumerate(used) if n]
    return "\n".join([*lines, *wires]) + "\n"


def view_of(text: str) -> ModeView:
    reading = read_text(text)
    assert not reading.problems, reading.problems
    return analyse(reading.rigs[0]).modes[0]


def plain_graph(view: ModeView, without: object) -> networkx.DiGraph:
    """The network as it stands, edge by edge, for networkx; a missing capacity is unlimited."""
    graph = networkx.DiGraph()
    rig = view.wiring.rig
    for edge in view.network.edges:
        if edge is without:
            continue
        capacity = rig.devices[edge.owner].number("rating") if edge.kind == POLE else None
        for a, b in ((edge.a, edge.b), (edge.b, edge.a)):
            if capacity is None or graph.get_edge_data(a, b, {}).get("capacity", 0) is None:
                graph.add_edge(a, b)
                graph[a][b].pop("capacity", None)
            else:
                graph.add_edge(a, b, capacity=capacity)
    for source in view.live.values():
        limit = source.device.number("rating")
        node = source.nodes["+"]
        graph.add_edge("ground", node, **({} if limit is None else {"capacity": limit}))
    return graph


@pytest.mark.parametrize("seed", range(60))
def test_worst_current_is_the_flow_that_arrives_without_the_conductor(seed: int) -> None:
    """Source: networkx.maximum_flow on the raw network, for every conductor of a random rig."""
    view = view_of(random_rig(seed))
    held = Protection(view)
    for edge in view.network.edges:
        if edge.kind != WIRE:
            continue
        graph = plain_graph(view, edge)
        flows = []
        for end in (edge.a, edge.b):
            graph.add_nodes_from((end, "ground"))
            try:
                flows.append(networkx.maximum_flow_value(graph, "ground", end))
            except networkx.NetworkXUnbounded:
                flows.append(inf)
        assert held.through(edge).amps == pytest.approx(max(flows)), edge.owner


@pytest.mark.parametrize("seed", range(60))
def test_the_sides_of_a_conductor_are_what_is_reached_without_it(seed: int) -> None:
    """Against the groups that all else that joins without a device makes."""
    view = view_of(random_rig(seed))
    held = Protection(view)
    joining = [e for e in view.network.edges if held.cell[e.a] == held.cell[e.b]]
    for edge in (e for e in joining if e.kind != POLE):
        apart = view.network.groups(e for e in joining if e is not edge and e.kind != POLE)
        near, far = (
            {node for node, group in enumerate(apart) if group == apart[end]}
            for end in (edge.a, edge.b)
        )
        sides = held.sides(edge)
        if sides is None:
            assert near == far
        else:
            assert (set(sides[0]), set(sides[1])) == (near, far)
            assert all((node in sides[1]) == (node in far) for node in near | far)
            assert (len(sides[0]), len(sides[1])) == (len(near), len(far))


@pytest.mark.parametrize("seed", range(60))
def test_tracing_is_what_brute_force_reaches(seed: int) -> None:
    """A terminal's sources are those from whose pole a path of conductors leads to it."""
    view = view_of(random_rig(seed))
    edges = [(e.a, e.b) for e in view.network.edges]

    def reached(start: int) -> set[int]:
        found = {start}
        while True:
            more = {b for a, b in edges if a in found} | {a for a, b in edges if b in found}
            if more <= found:
                return found
            found |= more

    by_force = {name: reached(s.nodes["+"]) for name, s in view.live.items()}
    for (device, terminal), node in view.wiring.nodes.items():
        wanted = {name for name, nodes in by_force.items() if node in nodes}
        got = {n for n in view.sources(device, terminal) if terminal != "-"}
        if terminal != "-":
            assert got == wanted


def test_a_path_is_told_step_by_step() -> None:
    view = view_of(random_rig(3))
    start = next(iter(view.live.values())).nodes["+"]
    goals = [n for n in view.network.walk([start]) if n != start]
    way = view.network.path([start], goals[-1])
    told = view.network.tell(way)
    assert len(told) == len(way) - 1
    for one, two in pairwise(told):
        assert one.rsplit(" -- ", 1)[1] == two.split(" -- ", 1)[0]
