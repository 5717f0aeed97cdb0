"""Roles by tracing: what each source's terminals reach through closed devices and conductors.

Nothing is declared on a wire.  In one mode, a net (everything joined) has the roles of the
source terminals in it.  Converters are sources while what they take is live.
"""

from __future__ import annotations

import cmath
import math
from collections import deque
from collections.abc import Iterator, Mapping
from functools import cache, cached_property

from ...dsl.model import Conductor, Device, End, Mode, Rig
from ...dsl.records import record
from ..books.book import Book, Figure, Missing, book
from ..books.groups import Grouping, carrying
from .network import BondJoint, Edge, Network, Wiring, carries

LINES = ("L", "L1", "L2", "L3")
UNGROUNDED = (*LINES, "+")
GROUNDED = ("N", "-")
EARTH = "PE"
# Two direct voltages further apart than this share are not the same nominal voltage
# (common practice, no published source: 12.8 V, 13.8 V and 14.4 V are all "12 V").
SAME_VOLTAGE = 0.25


@cache
def wanted(terminal: str) -> str:
    """The role a terminal's name asks for: ``in-L`` L, ``out+`` +, ``N2`` N; "" for ``1``."""
    name = terminal
    for prefix in ("in", "out", "a", "b"):
        if name.startswith(prefix + "-") and len(name) > len(prefix) + 1:
            name = name[len(prefix) + 1 :]
        elif name in (prefix + "+", prefix + "-"):
            name = name[len(prefix) :]
    if name in ("N1", "N2"):
        return "N"
    return name if name in (*UNGROUNDED, *GROUNDED, EARTH) else ""


@record
class Source:
    """A device that is a source in this mode: its terminals by role.

    ``volts``: nominal, between lines where there are several (None: not stated); ``hz`` 0 for DC.
    """

    name: str
    device: Device
    nodes: Mapping[str, int]
    volts: float | None
    hz: float
    converter: bool

    @property
    def dc(self) -> bool:
        return "+" in self.nodes

    @property
    def grounded(self) -> str:
        """The role of its grounded pole: ``-`` or ``N``."""
        return "-" if self.dc else "N"

    @property
    def lines(self) -> tuple[str, ...]:
        return tuple(role for role in self.nodes if role in UNGROUNDED)


@record
class BondPoint:
    """One closed joint between a system's neutral (or DC negative) and earth.

    ``how``: inside (in a device), bond (a ``bond`` conductor), joined (by anything else).
    """

    source: str
    owner: str
    how: str
    a: int
    b: int


class ModeView:
    """One mode traced: its network, the live sources, and the role of every net."""

    def __init__(self, wiring: Wiring, mode: Mode) -> None:
        self.wiring = wiring
        self.mode = mode
        self.name = mode.name
        self.network = Network(wiring, mode)
        self.net = self.network.net
        self.earth_nets = frozenset(self.net[node] for node in _earth_roots(wiring))
        self.live: dict[str, Source] = {}
        self.dead: dict[str, Source] = {}
        self._start()

    def _start(self) -> None:
        """Sources that are on, then converters as long as another one wakes up."""
        waiting: list[Source] = []
        for device in self.wiring.carrying:
            source = self._source(device)
            if source is None:
                continue
            if source.converter:
                waiting.append(source)
            elif self.network.states[device.name] == "on":
                self.live[device.name] = source
            else:
                self.dead[device.name] = source
        self.roles: dict[int, list[tuple[str, str]]] = {}
        self._node_roles: list[str | None] = [None] * self.network.count
        for source in self.live.values():
            self._spread(source)
        woken = True
        while woken:
            woken = False
            for source in list(waiting):
                if self._fed(source):
                    waiting.remove(source)
                    self.live[source.name] = self._with_input_voltage(source)
                    self._spread(source)
                    woken = True

    def _source(self, device: Device) -> Source | None:
        variant = self.wiring.variants[device.name]
        kind = self.wiring.kinds[device.name]
        state = self.network.states[device.name]
        converter = kind.acts == "converter"
        gives = variant.gives.get(state if converter else "on")
        need = variant.gives_needs.get(state)
        if gives is None or (need is not None and need not in device.attrs):
            return None
        nodes = {role: self.wiring.node(device.name, t) for t, role in gives.items()}
        dc = "+" in nodes
        volts = device.number("voltage")
        if dc and device.kind == "inverter":
            volts = device.number("input")
        return Source(device.name, device, nodes, volts, _hertz(device, dc), converter)

    def _spread(self, source: Source) -> None:
        for role, node in source.nodes.items():
            self.roles.setdefault(self.net[node], []).append((source.name, role))

    def takes(self, device: str) -> tuple[str, ...]:
        """The terminals a converter or load is fed through in its present state."""
        variant = self.wiring.variants[device]
        return variant.takes.get(self.network.states[device], ())

    def feeders(self, device: str) -> tuple[str, ...]:
        """The live sources on the ungrounded terminals a device takes from, not itself."""
        found: dict[str, None] = {}
        for terminal in self.takes(device):
            if wanted(terminal) in UNGROUNDED:
                for name, _ in self.roles_at(device, terminal):
                    if name != device:
                        found[name] = None
        return tuple(found)

    def _fed(self, source: Source) -> bool:
        return bool(self.feeders(source.name))

    def _with_input_voltage(self, source: Source) -> Source:
        """A transformer that states no voltage gives what it takes."""
        if source.device.kind != "transformer":
            return source
        feeder = self.live[self.feeders(source.name)[0]]
        volts = source.volts if source.volts is not None else self.to_neutral(feeder)
        return Source(source.name, source.device, source.nodes, volts, feeder.hz, True)

    @staticmethod
    def to_neutral(source: Source) -> float | None:
        """Nominal voltage from a line to neutral (or + to -), V."""
        if source.volts is None:
            return None
        return source.volts / {1: 1.0, 2: 2.0, 3: math.sqrt(3)}[len(source.lines)]

    def roles_at(self, device: str, terminal: str) -> list[tuple[str, str]]:
        """The (source, role) pairs of a terminal's net."""
        return self.roles.get(self.net[self.wiring.node(device, terminal)], [])

    def node_role(self, node: int) -> str:
        """The role of a node: L L1 L2 L3 N PE + -, or "" where nothing live reaches it."""
        role = self._node_roles[node]
        if role is None:
            role = self._node_roles[node] = self._trace_role(node)
        return role

    def _trace_role(self, node: int) -> str:
        net = self.net[node]
        found = self.roles.get(net, [])
        if net in self.earth_nets:
            mixed = any(role in GROUNDED for _, role in found)
            if not found or (mixed and not self.on_neutral_side(node)):
                return EARTH
        if not found:
            return ""
        potential = self.potential.get(net)
        if potential is not None:
            return "-" if potential == 0 else "+"
        roles = [role for _, role in found]
        return next((r for r in roles if r in UNGROUNDED), roles[0])

    def role(self, device: str, terminal: str) -> str:
        """The role of a terminal; "" where the rig has no such terminal or nothing reaches it."""
        node = self.wiring.find(device, terminal)
        return "" if node is None else self.node_role(node)

    def sources(self, device: str, terminal: str) -> tuple[str, ...]:
        """The names of the sources that reach a terminal."""
        if not self.wiring.has(device, terminal):
            return ()
        return tuple(dict.fromkeys(name for name, _ in self.roles_at(device, terminal)))

    def conductor_role(self, name: str) -> str:
        """The role of a conductor in this mode."""
        conductor = self.wiring.rig.conductors[name]
        ends = (conductor.a, conductor.b)
        roles = [self.role(end.device, end.terminal) for end in ends]
        return next((role for role in roles if role), "")

    @cached_property
    def potential(self) -> dict[int, float]:
        """Nominal potential of each net of the DC systems, V above the lowest of its island.

        Batteries in series add up.  A source that states no voltage counts as +, 0 V apart only
        from what others fix; ``dc_conflicts`` lists the sources that disagree.
        """
        table: dict[int, float] = {}
        for island in self._islands():
            lowest = min(island.values())
            table.update({net: volts - lowest for net, volts in island.items()})
        return table

    def _islands(self) -> Iterator[dict[int, float]]:
        """The nets that sources couple, each with its potential against the first of them.

        Batteries go before what only follows them: a bank in series is what its cells make it,
        whatever a charger across it states.
        """
        steps: dict[int, list[tuple[int, float, int]]] = {}
        direct = [source for source in self.live.values() if source.dc]
        for source in sorted(direct, key=lambda source: (_trust(source), source.name)):
            plus, minus = self.net[source.nodes["+"]], self.net[source.nodes["-"]]
            volts = 12.0 if source.volts is None else source.volts
            steps.setdefault(plus, []).append((minus, -volts, _trust(source)))
            steps.setdefault(minus, []).append((plus, volts, _trust(source)))
        done: set[int] = set()
        for start in steps:
            if start in done:
                continue
            island: dict[int, float] = {}
            waiting = [deque[tuple[int, float]]() for _ in range(3)]
            waiting[0].append((start, 0.0))
            while any(waiting):
                net, at = next(queue for queue in waiting if queue).popleft()
                if net not in island:
                    island[net] = at
                    for far, volts, trust in steps[net]:
                        waiting[trust].append((far, at + volts))
            done |= island.keys()
            yield island

    def line_phasor(self, node: int) -> complex | None:
        """Nominal voltage of a node against its own neutral, V (complex; None: unknown)."""
        net = self.net[node]
        if net in self.potential:
            return complex(self.potential[net])
        for name, role in self.roles.get(net, []):
            source = self.live[name]
            volts = self.to_neutral(source)
            if volts is None:
                continue
            angle = {
                "L2": math.pi if len(source.lines) == 2 else -2 * math.pi / 3,
                "L3": 2 * math.pi / 3,
            }.get(role, 0.0)
            return 0j if role == "N" else cmath.rect(volts, angle)
        return None

    @cached_property
    def _sides(self) -> dict[int, str]:
        """In nets where a neutral and earth are joined: which of the two each node is nearer to."""
        mixed = {
            net
            for net, roles in self.roles.items()
            if net in self.earth_nets and any(role in GROUNDED for _, role in roles)
        }
        side: dict[int, str] = {}
        if not mixed:
            return side
        for node, (device, _) in enumerate(self.wiring.names):
            if self.net[node] in mixed:
                terminal = self.wiring.kind_name(node)
                if self.wiring.kinds[device].acts == "earth" or wanted(terminal) == EARTH:
                    side[node] = EARTH
                elif wanted(terminal) in GROUNDED:
                    side[node] = "N"
        queue = list(side)
        for node in queue:
            for edge in self.network.neighbours[node]:
                far = edge.other(node)
                if far not in side:
                    side[far] = side[node]
                    queue.append(far)
        return side

    def on_neutral_side(self, node: int) -> bool:
        return self._sides.get(node) == "N"

    def crossings(self, net: int) -> list[Edge]:
        """The edges at which the neutral and the earth of one net meet."""
        return [
            edge
            for edge in self.network.edges
            if self.net[edge.a] == net
            and self._sides.get(edge.a, "") != self._sides.get(edge.b, "")
        ]

    def bonds_of(self, source: Source) -> list[BondPoint]:
        """All closed joints between this source's grounded pole and earth."""
        node = source.nodes.get(source.grounded)
        if node is None:
            return []
        net = self.net[node]
        points = [
            BondPoint(source.name, b.owner, "inside" if b.inside else "bond", b.neutral, b.earth)
            for b in self._bonds_by_net.get(net, ())
        ]
        if net in self.earth_nets:
            points += [
                BondPoint(source.name, e.owner, "joined", e.a, e.b) for e in self.crossings(net)
            ]
        return points

    @cached_property
    def _bonds_by_net(self) -> dict[int, list[BondJoint]]:
        """The joints that lie between two nets, by either; a conductor that ends at an open relay
        joins nothing."""
        found: dict[int, list[BondJoint]] = {}
        for bond in self.network.bonds:
            nets = (self.net[bond.neutral], self.net[bond.earth])
            joins = nets[0] != nets[1] and (bond.inside or not self._earthed.isdisjoint(nets))
            for net in nets if joins else ():
                found.setdefault(net, []).append(bond)
        return found

    @cached_property
    def _earthed(self) -> frozenset[int]:
        """The nets with an earth, or a protective earth terminal, in them."""
        wiring = self.wiring
        return self.earth_nets | {
            self.net[wiring.node(name, terminal)]
            for name, variant in wiring.variants.items()
            for terminal in variant.pe
        }

    @cached_property
    def bonds(self) -> tuple[BondPoint, ...]:
        """The closed neutral-earth joints of all live systems, each once."""
        found = {(p.owner, p.a, p.b): p for s in self.live.values() for p in self.bonds_of(s)}
        return tuple(found.values())


def _trust(source: Source) -> int:
    """How much its voltage says of the system it is on, 0 most: a battery's, then that of what
    stands by itself, then that of what only follows."""
    if source.volts is None or source.converter or source.device.kind == "solar":
        return 2
    return 0 if source.device.kind == "battery" else 1


def _hertz(device: Device, dc: bool) -> float:
    return 0.0 if dc else device.number("frequency") or 0.0


def _earth_roots(wiring: Wiring) -> Iterator[int]:
    """What earth is traced from: chassis, hull, electrode, and the earth of outside sources."""
    for device in wiring.carrying:
        acts = wiring.kinds[device.name].acts
        if acts == "earth":
            yield from (wiring.node(device.name, t.name) for t in device.terminals)
        elif acts == "source":
            yield from (wiring.node(device.name, t) for t in wiring.variants[device.name].pe)


class Stage:
    """One stage of the rig with all its modes traced."""

    def __init__(self, rig: Rig) -> None:
        self.rig = rig
        self.book: Book = book(rig.book)
        self.wiring = Wiring(rig)
        self.modes = tuple(ModeView(self.wiring, mode) for mode in rig.modes.values())
        self._limits: dict[str, Figure | Missing] = {}
        self._ampacities: dict[str, Figure | Missing] = {}
        self._withstands: dict[str, Figure | Missing] = {}

    @property
    def name(self) -> str:
        return self.rig.stage

    @cached_property
    def landings(self) -> dict[tuple[str, str], list[tuple[Conductor, End]]]:
        """All ends by the terminal they land on; what is planned or disabled has its place too."""
        table: dict[tuple[str, str], list[tuple[Conductor, End]]] = {}
        nodes, names = self.wiring.nodes, self.wiring.names  # each name is held once
        for conductor in self.rig.conductors.values():
            if conductor.status == "removed":
                continue
            for end in (conductor.a, conductor.b):
                node = nodes.get((end.device, end.terminal))
                if node is not None:
                    table.setdefault(names[node], []).append((conductor, end))
        return table

    @cached_property
    def landed(self) -> list[tuple[Device, list[tuple[Conductor, End]]]]:
        """The ends of each wire or cable on each device: one cable on one device is one cause."""
        found: dict[tuple[str, str], list[tuple[Conductor, End]]] = {}
        for (device, _), ends in self.landings.items():
            for landing in ends:
                found.setdefault((landing[0].statement, device), []).append(landing)
        return [(self.rig.devices[name], ends) for (_, name), ends in found.items()]

    def limit(self, conductor: Conductor) -> Figure | Missing:
        """The largest overcurrent device that may protect a conductor, as its book has it.

        It is the same in every mode, and for every core of a cable: looked up once.
        """
        key = conductor.statement
        if key not in self._limits:
            self._limits[key] = self.book.limit(conductor, self.rig, None, self.groups)
        return self._limits[key]

    def ampacity(self, conductor: Conductor) -> Figure | Missing:
        """What a conductor may carry, A, where and beside what it runs; as ``limit``."""
        key = conductor.statement
        if key not in self._ampacities:
            self._ampacities[key] = self.book.ampacity(conductor, self.rig, None, self.groups)
        return self._ampacities[key]

    def withstand(self, conductor: Conductor) -> Figure | Missing:
        """k of a conductor in a short circuit, A sqrt(s)/mm2; as ``limit``."""
        key = conductor.statement
        if key not in self._withstands:
            self._withstands[key] = self.book.withstand(conductor, self.rig)
        return self._withstands[key]

    @cached_property
    def groups(self) -> Grouping:
        """What runs together, by the roles traced in every mode."""
        modes = [dict(self._carrying(view)) for view in self.modes]
        return self.book.grouped(self.rig, modes)

    def _carrying(self, view: ModeView) -> Iterator[tuple[str, int]]:
        """Current-carrying conductors by line of text, of those whose count can matter."""
        cables = self.rig.cables
        for name, cable in cables.items():
            if not carries(self.rig.conductors[cable.cores[0]]):
                continue
            if len(cable.cores) > 2 or "via" in cable.attrs:
                yield name, carrying([view.conductor_role(core) for core in cable.cores])
        for name, conductor in self.rig.conductors.items():
            if conductor.cable is None and conductor.via and carries(conductor):
                yield name, carrying([view.conductor_role(name)])

    def conductor_role(self, name: str) -> str:
        """The role of a conductor over all modes: the first mode that has one; "" if never live."""
        roles = (mode.conductor_role(name) for mode in self.modes)
        return next((role for role in roles if role), "")


def analyse(rig: Rig) -> Stage:
    """Trace one stage of a rig in all its modes."""
    return Stage(rig)
