"""The DOT source of an overview, for Graphviz or a viewer of graphs.

The only module that imports the package which writes it, and only when it is asked.  The engine
itself places nothing on our sheets: what it gives would depend on whether and which one is there.
"""

from __future__ import annotations

import importlib
from typing import Any

from ..dsl.model import Rig
from .overview_graph import AWAY, Graph, Node


def source(rig: Rig, graph: Graph, place: str) -> str:
    """Readable DOT: a record per device with a port per terminal, an edge per conductor."""
    graphviz: Any = importlib.import_module("graphviz")
    dot = graphviz.Digraph(place, graph_attr={"rankdir": "LR"}, node_attr={"shape": "record"})
    for name, terminals in _boxes(graph).items():
        device = rig.devices.get(name.removeprefix(AWAY))
        words = " ".join(filter(None, (name.removeprefix(AWAY), device.label if device else "")))
        ports = "|".join(f"<{_port(t)}> {_plain(t)}" for t in terminals)
        style = {"style": "dashed"} if name.startswith(AWAY) else {}
        dot.node(name, f"{_plain(words)}|{{{ports}}}", **style)
    for wire in graph.wires:
        ends = (f"{_box(graph.nodes[pin.node])}:{_port(pin.terminal)}" for pin in wire.pins)
        dot.edge(*ends, label=wire.words)
    return str(dot.source)


def _box(node: Node) -> str:
    """The name of a node here, where a device that is elsewhere stands once."""
    return AWAY + node.device if node.away else node.device


def _boxes(graph: Graph) -> dict[str, dict[str, None]]:
    """The terminals of every device, by its name here."""
    found: dict[str, dict[str, None]] = {}
    for node in graph.nodes.values():
        found.setdefault(_box(node), {}).update(dict.fromkeys(node.terminals))
    return found


def _port(terminal: str) -> str:
    """A terminal as a port name, which may not hold signs."""
    return "t" + "".join(c if c.isalnum() else f"_{ord(c)}" for c in terminal)


def _plain(text: str) -> str:
    """A text without the characters that mean something in a record's label."""
    return "".join(f"\\{c}" if c in '{}|<>\\"' else c for c in text)
