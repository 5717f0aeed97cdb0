"""The rig in one mode as a network: terminals are nodes, conductors and closed devices are edges.

Nodes are numbered once per rig.  What conductors and bars join is the same in every mode; what
devices join depends on their states.  Joints meant to bond neutral (or DC negative) to earth are
kept apart as ``Bond`` records, so that nets tell what is joined *besides* them.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from itertools import pairwise

from ...dsl.kinds import Kind, Variant, kinds
from ...dsl.model import Conductor, Device, End, Mode, Rig
from ...dsl.records import record

WIRE, BAR, POLE, JOINT, PLUG = "wire", "bar", "pole", "joint", "plug"
SAID = {POLE: " closed", PLUG: " plugged in"}
CARRIES_NOTHING = frozenset(("planned", "disabled", "removed"))


@record
class Edge:
    """Two nodes joined: by a conductor (``wire``), a bar, a device's pole or joint, or a plug."""

    a: int
    b: int
    kind: str
    owner: str

    def other(self, node: int) -> int:
        return self.b if node == self.a else self.a


@record
class BondJoint:
    """A joint meant to bond: a ``bond`` conductor, or one inside a device in this state."""

    neutral: int
    earth: int
    owner: str
    inside: bool


class Groups:
    """Nodes joined into groups (path halving); the least of a group stands for it.

    ``joined`` is what ``flat`` gave of other groups of the same nodes, to go on from there.
    """

    __slots__ = ("parent",)

    def __init__(self, count: int, joined: Iterable[int] = ()) -> None:
        self.parent = list(joined) or list(range(count))

    def find(self, node: int) -> int:
        parent = self.parent
        while parent[node] != node:
            parent[node] = parent[parent[node]]
            node = parent[node]
        return node

    def join(self, a: int, b: int) -> None:
        a, b = self.find(a), self.find(b)
        if a < b:
            self.parent[b] = a
        elif b < a:
            self.parent[a] = b

    def flat(self) -> list[int]:
        """The representative of every node: it never stands behind those that it stands for."""
        flat: list[int] = []
        for node, parent in enumerate(self.parent):
            flat.append(node if parent == node else flat[parent])
        return flat


def grouped(count: int, edges: Iterable[Edge], joined: Iterable[int] = ()) -> list[int]:
    """The least node of the group that each of ``count`` nodes is in when these edges join."""
    groups = Groups(count, joined)
    for edge in edges:
        groups.join(edge.a, edge.b)
    return groups.flat()


def carries(thing: Device | Conductor) -> bool:
    """Whether its status lets it carry current."""
    return "status" not in thing.attrs or thing.status not in CARRIES_NOTHING


class Wiring:
    """What does not depend on the mode: the nodes, and the edges of conductors and bars."""

    def __init__(self, rig: Rig) -> None:
        self.rig = rig
        self.nodes: dict[tuple[str, str], int] = {}
        self.names: list[tuple[str, str]] = []
        self.outer: dict[tuple[str, str], int] = {}
        self.renamed: dict[tuple[str, str], int] = {}
        self.own_names: dict[int, str] = {}
        self.carrying = [device for device in rig.devices.values() if carries(device)]
        self.variants: dict[str, Variant] = {}
        self.kinds: dict[str, Kind] = {}
        self.edges: list[Edge] = []
        self.bond_wires: list[BondJoint] = []
        self.unlanded: list[tuple[Conductor, End]] = []
        self.cords: dict[str, dict[str, list[Edge]]] = {}
        self._add_devices()
        self._by_either_name = {**self.nodes, **self.renamed} if self.renamed else self.nodes
        self._add_conductors()
        self.joined = grouped(len(self.names), self.edges)

    def _new(self, name: tuple[str, str]) -> int:
        self.names.append(name)
        return len(self.names) - 1

    def _add_devices(self) -> None:
        table = kinds()
        for device in self.rig.devices.values():
            kind = table[device.kind]
            self.kinds[device.name] = kind
            self.variants[device.name] = variant = kind.variant(device.variant)
            for terminal in device.terminals:
                key = (device.name, terminal.name)
                self.nodes[key] = self._new(key)
            for own, terminal in zip(variant.terminals, device.terminals, strict=False):
                if own != terminal.name:  # renamed by `terminals=`
                    node = self.nodes[device.name, terminal.name]
                    self.renamed[device.name, own] = node
                    self.own_names[node] = own
            if variant.numbered in ("all", "free") and device.terminals and carries(device):
                self._add_bar(device)

    def _add_bar(self, device: Device) -> None:
        ends = [self.nodes[device.name, t.name] for t in device.terminals]
        self.edges += [Edge(ends[0], end, BAR, device.name) for end in ends[1:]]

    def _add_conductors(self) -> None:
        for conductor in self.rig.conductors.values():
            if not carries(conductor):
                continue
            a, b = self._land(conductor, conductor.a), self._land(conductor, conductor.b)
            if a is None or b is None:
                continue
            if conductor.kind == "bond":
                self.bond_wires.append(BondJoint(a, b, conductor.name, inside=False))
            else:
                self.edges.append(Edge(a, b, WIRE, conductor.name))
                if conductor.flag("plug"):
                    self._add_cord(conductor)

    def _add_cord(self, conductor: Conductor) -> None:
        """Note a cord with a plug, by the inlet it goes into and the source it comes from."""
        for end in (conductor.a, conductor.b):
            far = self.kinds.get(conductor.other(end).device)
            if self.kinds[end.device].name == "inlet" and far is not None and far.acts == "source":
                by_source = self.cords.setdefault(end.device, {})
                by_source.setdefault(conductor.other(end).device, []).append(self.edges[-1])

    def _land(self, conductor: Conductor, end: End) -> int | None:
        node = self.nodes.get((end.device, end.terminal))
        if node is None:
            self.unlanded.append((conductor, end))
            return None
        return self._outside(end) if self._plugs_in(conductor, end) else node

    def _plugs_in(self, conductor: Conductor, end: End) -> bool:
        """Whether this end is a plug's, on the outer side of an inlet or a socket."""
        if self.kinds[end.device].acts != "outlet":
            return False
        if conductor.flag("plug"):
            return True
        if self.kinds[end.device].name != "inlet":
            return False
        far = self.kinds.get(conductor.other(end).device)
        return conductor.flag("cord") or (far is not None and far.acts == "source")

    def _outside(self, end: End) -> int:
        key = (end.device, end.terminal)
        if key not in self.outer:
            self.outer[key] = self._new(key)
        return self.outer[key]

    def node(self, device: str, terminal: str) -> int:
        """The node of a terminal, by its kind's name or the name `terminals=` gave it.

        Raises KeyError where the rig has none of that name.
        """
        return self._by_either_name[device, terminal]

    def find(self, device: str, terminal: str) -> int | None:
        """As ``node``, None where the rig has none of that name."""
        return self._by_either_name.get((device, terminal))

    def has(self, device: str, terminal: str) -> bool:
        """Whether the rig has a terminal of that name."""
        return (device, terminal) in self._by_either_name

    def kind_name(self, node: int) -> str:
        """A terminal's name in its kind's table, whatever `terminals=` calls it."""
        return self.own_names.get(node) or self.names[node][1]

    def say(self, node: int) -> str:
        """A node's name for people: ``DEVICE.TERMINAL``."""
        return ".".join(self.names[node])


class Network:
    """One mode: all edges, the bonds that are closed, and the nets the edges make."""

    def __init__(self, wiring: Wiring, mode: Mode) -> None:
        self.wiring = wiring
        self.mode = mode
        said = {setting.device: setting.state for setting in reversed(mode.settings)}
        self.states = {
            name: said[name] if said.get(name) in kind.states else kind.default_state
            for name, kind in wiring.kinds.items()
        }
        self.device_edges = list(self._device_edges())
        pulled = self._pulled()
        laid = [e for e in wiring.edges if id(e) not in pulled] if pulled else wiring.edges
        self.edges = [*laid, *self.device_edges]
        self.bonds = [*wiring.bond_wires, *self._inside_bonds()]
        self.count = len(wiring.names)
        joined = () if pulled else wiring.joined
        self.net = grouped(self.count, self.edges if pulled else self.device_edges, joined)
        self._neighbours: list[list[Edge]] | None = None

    def _pulled(self) -> set[int]:
        """The cores (by id) of cords that are not in their inlet, because another cord is.

        An inlet takes one plug.  Of several cords written into it those are in whose source is on;
        where none is, they are told apart by nothing, and all stay.
        """
        pulled: set[int] = set()
        for by_source in self.wiring.cords.values():
            live = [source for source in by_source if self.states[source] == "on"]
            for source, cores in by_source.items() if live else ():
                if source not in live:
                    pulled.update(map(id, cores))
        return pulled

    def _device_edges(self) -> Iterator[Edge]:
        wiring = self.wiring
        for device in wiring.carrying:
            name, variant = device.name, wiring.variants[device.name]
            state = self.states[name]
            if variant.poles and state == "closed":
                for a, b in variant.poles:
                    yield Edge(wiring.node(name, a), wiring.node(name, b), POLE, name)
            for a, b in variant.joins.get(state, ()):
                yield Edge(wiring.node(name, a), wiring.node(name, b), JOINT, name)
        for key, outside in wiring.outer.items():
            if self.states[key[0]] == "on":
                yield Edge(outside, wiring.nodes[key], PLUG, key[0])

    def _inside_bonds(self) -> Iterator[BondJoint]:
        wiring = self.wiring
        for device in wiring.rig.devices.values():
            for bond in wiring.variants[device.name].bonds:
                if device.flag(bond.flag) and bond.closed(self.states[device.name]):
                    neutral = wiring.node(device.name, bond.neutral)
                    earth = wiring.node(device.name, bond.earth)
                    yield BondJoint(neutral, earth, device.name, inside=True)

    def groups(self, edges: Iterable[Edge]) -> list[int]:
        """The net of every node when only these edges join."""
        return grouped(self.count, edges)

    @property
    def neighbours(self) -> list[list[Edge]]:
        """The edges at every node."""
        if self._neighbours is None:
            table: list[list[Edge]] = [[] for _ in range(self.count)]
            for edge in self.edges:
                table[edge.a].append(edge)
                table[edge.b].append(edge)
            self._neighbours = table
        return self._neighbours

    def walk(
        self,
        starts: Iterable[int],
        through: Callable[[Edge], bool] = lambda edge: True,
        goal: int = -1,
    ) -> dict[int, Edge | None]:
        """Every node reached from the starts, with the edge it was first reached by.

        With a goal, no farther than to it.
        """
        reached: dict[int, Edge | None] = dict.fromkeys(starts)
        queue, neighbours = deque(reached), self.neighbours
        while queue and goal not in reached:
            node = queue.popleft()
            for edge in neighbours[node]:
                far = edge.b if edge.a == node else edge.a
                if far not in reached and through(edge):
                    reached[far] = edge
                    queue.append(far)
        return reached

    def path(
        self, starts: Iterable[int], goal: int, through: Callable[[Edge], bool] = lambda edge: True
    ) -> list[tuple[int, Edge | None]]:
        """The shortest way from a start to the goal as (node, edge it was reached by); or []."""
        reached = self.walk(starts, through, goal)
        if goal not in reached:
            return []
        way: list[tuple[int, Edge | None]] = []
        node = goal
        while True:
            edge = reached[node]
            way.append((node, edge))
            if edge is None:
                return way[::-1]
            node = edge.other(node)

    def tell(self, way: list[tuple[int, Edge | None]]) -> tuple[str, ...]:
        """A path in words, a line each: ``SHORE.L -- W1 -- XS.L``."""
        steps = []
        for (before, _), (node, edge) in pairwise(way):
            assert edge is not None
            by = edge.owner + SAID.get(edge.kind, "")
            steps.append(f"{self.wiring.say(before)} -- {by} -- {self.wiring.say(node)}")
        return tuple(steps)
