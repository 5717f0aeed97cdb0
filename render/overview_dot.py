"""The DOT source of an overview, for Graphviz or a viewer of graphs.

The only module that imports the package which writes it, and only when it is asked.  The engine
itself places nothing on our sheets: what it gives would depend on whether and which one is there.
"""

from __future__ import annotations

import importlib
from typing import Any

from ..dsl.model import Rig
from .overview_graph import Graph


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
        dot.edge(*ends, label=wire.words)
    return str(dot.source)


def _port(terminal: str) -> str:
    """A terminal as a port name, which may not hold signs."""
    return "t" + "".join(c if c.isalnum() else f"_{ord(c)}" for c in terminal)


def _plain(text: str) -> str:
    """A text without the characters that mean something in a record's label."""
    return "".join(f"\\{c}" if c in '{}|<>\\"' else c for c in text)
