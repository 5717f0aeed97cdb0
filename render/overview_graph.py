"""What one overview sheet shows, as a graph: devices, what lies off the sheet, and conductors.

A device of the sheet is a node with all its terminals.  Where conductors of a device lead to one
that is not on the sheet they end on a reference: a small node of their own beside it, with only
the terminals used.  So what lies elsewhere pulls nothing across the sheet.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from types import MappingProxyType
from typing import NamedTuple

from ..dsl.model import Conductor, End, Rig
from ..dsl.records import record
from .wiring import landed, natural

AWAY = "~"
"""In the name of a reference, before the device that is elsewhere and before the one beside it."""


class Pin(NamedTuple):
    """A terminal of a node."""

    node: str
    terminal: str


@record
class Wire:
    """A conductor between two pins, in the direction of the text; ``words`` stand on its line."""

    name: str
    a: Pin
    b: Pin
    words: str

    @property
    def pins(self) -> tuple[Pin, Pin]:
        return self.a, self.b

    @property
    def ends(self) -> tuple[Landed, Landed]:
        return (self.a, self.name, "a"), (self.b, self.name, "b")


Landed = tuple[Pin, str, str]
"""A terminal with the wire end on a row of it; wire and end are "" on an unused one."""


@record
class Node:
    """A device with its terminals, or a reference to one that is ``away``."""

    name: str
    device: str
    terminals: tuple[str, ...]
    away: bool = False


@record
class Graph:
    """Nodes by name in the order of the text, and the wires between them."""

    nodes: Mapping[str, Node]
    wires: tuple[Wire, ...]

    @cached_property
    def words(self) -> Mapping[str, str]:
        """By wire what stands on its line."""
        return {wire.name: wire.words for wire in self.wires}

    @cached_property
    def at(self) -> Mapping[Pin, tuple[tuple[str, str], ...]]:
        """By pin, the wire ends on it: (wire, "a" or "b")."""
        found: dict[Pin, list[tuple[str, str]]] = {}
        for wire in self.wires:
            for end, pin in zip("ab", wire.pins, strict=True):
                found.setdefault(pin, []).append((wire.name, end))
        return {pin: tuple(ends) for pin, ends in found.items()}

    def pins(self) -> Iterator[Pin]:
        """Every terminal of every node, in order."""
        for node in self.nodes.values():
            for terminal in node.terminals:
                yield Pin(node.name, terminal)


Shown = Mapping[str, tuple[str, ...]]
"""The devices of a sheet with the terminals shown: all of them, or a stretch of a long bar's."""


Near = Mapping[str, tuple[Conductor, ...]]
"""By device the conductors that land on it, in natural order."""


def near_of(rig: Rig) -> Near:
    """The conductors at every device."""
    found: dict[str, dict[str, Conductor]] = {}
    for conductor in sorted(rig.conductors.values(), key=lambda c: natural(c.name)):
        for end in (conductor.a, conductor.b):
            found.setdefault(end.device, {})[conductor.name] = conductor
    return {device: tuple(own.values()) for device, own in found.items()}


def graph_of(
    rig: Rig, shown: Shown, near: Near, words: Mapping[str, str] = MappingProxyType({})
) -> Graph:
    """The graph of a sheet: its devices, their conductors, and a reference for what is elsewhere.

    ``words``: by conductor what stands on its line; its name where nothing is given.
    """
    here = {c.name: c for device in shown for c in near.get(device, ())}
    wires = []
    for name in sorted(here, key=natural):
        a, b = here[name].a, here[name].b
        own, other = _home(rig, shown, a), _home(rig, shown, b)
        if own or other:
            ends = _pin(own, a, other), _pin(other, b, own)
            wires.append(Wire(name, *ends, words.get(name, name)))
    nodes = {name: Node(name, name, terminals) for name, terminals in shown.items()}
    return Graph(nodes | _references(nodes, wires), tuple(wires))


def _home(rig: Rig, shown: Shown, end: End) -> str:
    """The device an end lands on, if it is on the sheet."""
    here = end.terminal in shown.get(end.device, ()) and landed(rig, end)
    return end.device if here else ""


def _pin(home: str, end: End, beside: str) -> Pin:
    """The pin of an end: on its device, or on a reference to it beside another."""
    return Pin(home or f"{AWAY}{end.device}{AWAY}{beside}", end.terminal)


def _references(nodes: Mapping[str, Node], wires: Sequence[Wire]) -> dict[str, Node]:
    """What is elsewhere, its terminals in the order in which the device beside it has its own."""
    used: dict[str, list[tuple[int, str]]] = {}
    for wire in wires:
        for pin, other in (wire.pins, wire.pins[::-1]):
            if pin.node not in nodes:
                at = nodes[other.node].terminals.index(other.terminal)
                used.setdefault(pin.node, []).append((at, pin.terminal))
    return {
        name: Node(name, name.split(AWAY)[1], tuple(dict.fromkeys(t for _, t in sorted(own))), True)
        for name, own in sorted(used.items(), key=lambda item: natural(item[0]))
    }


def joined(names: Sequence[str], pairs: Iterable[tuple[str, str]]) -> list[list[str]]:
    """The names in groups that the pairs join, each in the order given."""
    home = {name: name for name in names}

    def root(name: str) -> str:
        while home[name] != name:
            name = home[name]
        return name

    for a, b in pairs:
        if a in home and b in home:
            home[root(b)] = root(a)
    groups: dict[str, list[str]] = {}
    for name in names:
        groups.setdefault(root(name), []).append(name)
    return list(groups.values())


def joined_nodes(graph: Graph) -> list[list[str]]:
    """The nodes of a graph in groups that wires join."""
    return joined(list(graph.nodes), ((w.a.node, w.b.node) for w in graph.wires))


def part_of(graph: Graph, names: Iterable[str]) -> Graph:
    """The graph of some of the nodes, with the wires between them."""
    kept = set(names)
    nodes = {name: node for name, node in graph.nodes.items() if name in kept}
    return Graph(nodes, tuple(wire for wire in graph.wires if wire.a.node in kept))


def union_of(parts: Sequence[Graph]) -> Graph:
    """Graphs that have nothing in common as one."""
    if len(parts) == 1:
        return parts[0]
    nodes = {name: node for part in parts for name, node in part.nodes.items()}
    return Graph(nodes, tuple(wire for part in parts for wire in part.wires))
