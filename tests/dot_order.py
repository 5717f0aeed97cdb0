"""Graphviz as an outside layout to compare ours with: the order its engine gives the columns."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager

import graphviz
import pygraphviz
from ferrule.render.overview_order import Link, Order
from ferrule.render.overview_plan import Item, Plan

PASSING = "8"


def dot_order(plan: Plan, stretches: list[Link]) -> Order:
    """The columns in the engine's order."""
    items = _items(plan)
    placed = _engine(_problem(items, stretches))
    heights = {item: placed[name] for item, name in _names(items).items()}
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
    names = _names(items)
    dot = graphviz.Digraph("columns", graph_attr={"rankdir": "LR"})
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
