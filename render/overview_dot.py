"""Graphviz: the DOT source of an overview, and the order its engine gives the columns.

The only module that imports the two packages, and only when it is asked.  The engine is given
graphs of bounded size, and whatever goes wrong in it only means that our own order is used.
"""

from __future__ import annotations

import importlib
import os
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from ..dsl.model import Rig
from .overview_graph import Graph
from .overview_order import Link, Order
from .overview_plan import Item, Plan
from .overview_rows import Rows

MOST_ITEMS, MOST_LINKS = 160, 400
"""Larger graphs are not given to the engine: its time is not bounded by their size."""
EFFORT = {"nslimit": "2", "nslimit1": "2", "mclimit": "1"}
PASSING = "8"


def source(rig: Rig, graph: Graph, place: str) -> str:
    """Readable DOT: a record per device with a port per terminal, an edge per conductor."""
    graphviz: Any = importlib.import_module("graphviz")
    dot = graphviz.Digraph(place, graph_attr={"rankdir": "LR"}, node_attr={"shape": "record"})
    for node in graph.nodes.values():
        device = rig.devices.get(node.device)
        words = " ".join(filter(None, (node.device, device.label if device else "")))
        ports = "|".join(f"<{_port(t)}> {_plain(t)}" for t in node.terminals)
        style = {"style": "dashed"} if node.away else {}
        dot.node(node.name, f"{_plain(words)}|{{{ports}}}", **style)
    for wire in graph.wires:
        ends = (f"{pin.node}:{_port(pin.terminal)}" for pin in wire.pins)
        dot.edge(*ends, label=wire.name)
    return str(dot.source)


def _port(terminal: str) -> str:
    """A terminal as a port name, which may not hold signs."""
    return "t" + "".join(c if c.isalnum() else f"_{ord(c)}" for c in terminal)


def _plain(text: str) -> str:
    """A text without the characters that mean something in a record's label."""
    return "".join(f"\\{c}" if c in '{}|<>\\"' else c for c in text)


def dot_order(plan: Plan, rows: Rows, stretches: list[Link]) -> Order | None:
    """The engine's order of the columns; None where it is missing, fails, or the graph is large."""
    items = _items(plan)
    if sum(map(len, items)) > MOST_ITEMS or len(stretches) > MOST_LINKS:
        return None
    try:
        placed = _engine(_problem(items, stretches))
        heights = {item: placed[name] for item, name in _names(items).items()}
    except Exception:  # an engine in another language may fail in any way; ours still draws
        return None
    return tuple(tuple(sorted(column, key=lambda item: heights[item])) for column in items)


def _items(plan: Plan) -> list[list[Item]]:
    columns: list[list[Item]] = [[] for _ in range(plan.count)]
    for name in plan.graph.nodes:
        columns[plan.column[name]].append(name)
    for wire in plan.graph.wires:
        for passage in plan.passages(wire):
            columns[passage.column].append(passage)
    return columns


def _names(items: list[list[Item]]) -> dict[Item, str]:
    return {item: f"c{k}i{i}" for k, column in enumerate(items) for i, item in enumerate(column)}


def _problem(items: list[list[Item]], stretches: list[Link]) -> str:
    """The columns as DOT: ranks held by a spine, an edge per stretch between neighbours."""
    graphviz: Any = importlib.import_module("graphviz")
    names = _names(items)
    dot = graphviz.Digraph("columns", graph_attr={"rankdir": "LR", **EFFORT})
    for index, column in enumerate(items):
        with dot.subgraph() as rank:
            rank.attr(rank="same")
            rank.node(f"spine{index}", style="invis")
            for item in column:
                height = "0.2" if not isinstance(item, str) else "0.6"
                rank.node(names[item], label="", shape="box", height=height)
        if index:
            dot.edge(f"spine{index - 1}", f"spine{index}", style="invis")
    for link in stretches:
        one, two = sorted((link.a, link.b), key=lambda stop: stop[0])
        if one[0] != two[0]:
            passing = not isinstance(one[1], str) and not isinstance(two[1], str)
            dot.edge(names[one[1]], names[two[1]], weight=PASSING if passing else "1")
    return str(dot.source)


def _engine(text: str) -> dict[str, float]:
    """Heights of the nodes, downwards, as the engine places them."""
    pygraphviz: Any = importlib.import_module("pygraphviz")
    with _quiet():
        graph = pygraphviz.AGraph(string=text)
        graph.layout(prog="dot")
    return {str(node): -float(node.attr["pos"].split(",")[1]) for node in graph.nodes()}


@contextmanager
def _quiet() -> Iterator[None]:
    """Nothing on standard error: the engine's font library warns there of what concerns nobody."""
    kept, nowhere = os.dup(2), os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)
