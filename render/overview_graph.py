"""What one overview sheet shows, as a graph: devices, what lies off the sheet, and conductors.

A device of the sheet is a node with all its terminals.  A device elsewhere that a conductor of
the sheet goes to is a node too, with only the terminals used here: a reference.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from ..dsl.model import Conductor, End, Rig
from .wiring import landed, natural

AWAY = "~"
"""Stands before the name of a device that is not on the sheet."""


@dataclass(frozen=True, slots=True)
class Pin:
    """A terminal of a node."""

    node: str
    terminal: str


@dataclass(frozen=True, slots=True)
class Wire:
    """A conductor between two pins, in the direction of the text."""

    name: str
    a: Pin
    b: Pin

    @property
    def pins(self) -> tuple[Pin, Pin]:
        return self.a, self.b


@dataclass(frozen=True, slots=True)
class Node:
    """A device, or a reference to one elsewhere; ``terminals`` in the order of the device."""

    name: str
    terminals: tuple[str, ...]

    @property
    def away(self) -> bool:
        return self.name.startswith(AWAY)

    @property
    def device(self) -> str:
        return self.name.removeprefix(AWAY)


@dataclass(frozen=True)
class Graph:
    """Nodes by name in the order of the text, and the wires between them."""

    nodes: Mapping[str, Node]
    wires: tuple[Wire, ...]

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


def _pin(rig: Rig, shown: Shown, end: End) -> Pin:
    here = end.terminal in shown.get(end.device, ()) and landed(rig, end)
    return Pin(end.device if here else AWAY + end.device, end.terminal)


Near = Mapping[str, tuple[Conductor, ...]]
"""By device the conductors that land on it, in natural order."""


def near_of(rig: Rig) -> Near:
    """The conductors at every device."""
    found: dict[str, dict[str, Conductor]] = {}
    for conductor in sorted(rig.conductors.values(), key=lambda c: natural(c.name)):
        for end in (conductor.a, conductor.b):
            found.setdefault(end.device, {})[conductor.name] = conductor
    return {device: tuple(own.values()) for device, own in found.items()}


def graph_of(rig: Rig, shown: Shown, near: Near) -> Graph:
    """The graph of a sheet: its devices, what their conductors lead to, and the conductors."""
    here = {c.name: c for device in shown for c in near.get(device, ())}
    wires = []
    for name in sorted(here, key=natural):
        a, b = _pin(rig, shown, here[name].a), _pin(rig, shown, here[name].b)
        if not (a.node.startswith(AWAY) and b.node.startswith(AWAY)):
            wires.append(Wire(name, a, b))
    nodes = {name: Node(name, terminals) for name, terminals in shown.items()}
    used: dict[str, dict[str, None]] = {}
    for pin in (pin for wire in wires for pin in wire.pins if pin.node.startswith(AWAY)):
        used.setdefault(pin.node, {})[pin.terminal] = None
    for name in sorted(used, key=natural):
        nodes[name] = Node(name, _as_on_device(rig, name.removeprefix(AWAY), used[name]))
    return Graph(nodes, tuple(wires))


def _as_on_device(rig: Rig, device: str, used: Mapping[str, None]) -> tuple[str, ...]:
    """The terminals used, in the device's own order where it has them."""
    known = [t.name for t in rig.devices[device].terminals] if device in rig.devices else []
    return tuple([t for t in known if t in used] + [t for t in used if t not in known])


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
