"""Questions the rules on bonding and earthing ask of one traced mode.

Systems and their bonds, users and the terminals they are fed through, which devices of a kind
stand on the way from a source, and what it is that joins a neutral to earth.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Callable, Container, Iterable, Iterator
from functools import lru_cache

from ...dsl.model import Conductor, Device, Span
from ...dsl.records import record
from .network import BAR, POLE, WIRE, BondJoint, Edge, Network
from .trace import EARTH, GROUNDED, LINES, BondPoint, ModeView, Source, wanted

DECLARED = ("inside", "bond")


@record
class User:
    """What is fed in a mode: a load, a socket, or a converter's input, by its terminals."""

    device: Device
    lines: tuple[str, ...]
    neutral: str

    @property
    def name(self) -> str:
        return self.device.name


def ac_sources(view: ModeView) -> list[Source]:
    """The live sources of alternating current."""
    return [source for source in view.live.values() if not source.dc]


def neutral_net(view: ModeView, source: Source) -> int:
    return view.net[source.nodes[source.grounded]]


def bonds_of(view: ModeView, source: Source) -> list[BondPoint]:
    """All closed joints of a system's neutral and earth.

    Where the neutral is joined to earth by mistake, the bonds of other systems touch it with their
    earth ends: they are not its own.
    """
    own = neutral_net(view, source)
    if own not in view.earth_nets:
        return view.bonds_of(source)
    known = (*view.live.values(), *view.dead.values())
    others = {neutral_net(view, other) for other in known} - {own}

    def far(point: BondPoint) -> int:
        a, b = view.net[point.a], view.net[point.b]
        return b if a == own else a

    return [point for point in view.bonds_of(source) if far(point) not in others]


def bonds_meant(view: ModeView, source: Source) -> list[BondPoint]:
    """The closed joints of a system that are meant to bond it: in a device, or a ``bond``."""
    return [point for point in bonds_of(view, source) if point.how in DECLARED]


def bonds_at(view: ModeView, net: int) -> list[BondJoint]:
    """The closed bonds with an end in a net, also where the net joins both ends anyway."""
    return [b for b in view.network.bonds if net in (view.net[b.neutral], view.net[b.earth])]


def bonds_within(view: ModeView, net: int) -> list[BondJoint]:
    """The closed bonds both of whose ends are in a net: something else joins them as well."""
    return [b for b in view.network.bonds if view.net[b.neutral] == view.net[b.earth] == net]


def bond_ends(view: ModeView, source: Source, point: BondPoint) -> tuple[int, int]:
    """The neutral's and the earth's node of a bond, whichever way round it is written."""
    if view.net[point.a] == neutral_net(view, source):
        return point.a, point.b
    return point.b, point.a


def bond_earths(view: ModeView, source: Source) -> list[int]:
    """The earth node of every closed joint of a system."""
    return [bond_ends(view, source, point)[1] for point in bonds_of(view, source)]


@lru_cache(maxsize=64)
def users(view: ModeView) -> tuple[User, ...]:
    """Loads, sockets and converters as they are fed in this mode by alternating current."""
    return tuple(_users(view))


def _users(view: ModeView) -> Iterator[User]:
    wiring = view.wiring
    for device in wiring.carrying:
        terminals = view.takes(device.name)
        if device.kind == "socket":
            terminals = wiring.variants[device.name].terminals
        lines = tuple(t for t in terminals if wanted(t) in LINES)
        neutral = next((t for t in terminals if wanted(t) == "N"), "")
        if lines and neutral:
            yield User(device, lines, neutral)


def line_sources(view: ModeView, device: str, terminals: Iterable[str]) -> tuple[str, ...]:
    """The live sources whose lines reach any of these terminals."""
    found = dict.fromkeys(
        name for t in terminals for name, role in view.roles_at(device, t) if role in LINES
    )
    return tuple(found)


def live_users(view: ModeView) -> Iterator[tuple[User, tuple[str, ...]]]:
    """Users with a live line: (user, the sources of their lines)."""
    for user in users(view):
        names = line_sources(view, user.name, user.lines)
        if names:
            yield user, names


def line_way(view: ModeView, user: User) -> tuple[str, ...]:
    """How the line comes to a user, in words."""
    for terminal in user.lines:
        for name, role in view.roles_at(user.name, terminal):
            if role in LINES:
                goal = view.wiring.node(user.name, terminal)
                return way_between(view, view.live[name].nodes[role], goal)
    return ()


def wires_at(view: ModeView, node: int) -> list[str]:
    """The names of the conductors landed on a node."""
    return [edge.owner for edge in view.network.neighbours[node] if edge.kind == WIRE]


def wire_names(view: ModeView, device: str, terminal: str) -> tuple[str, ...]:
    """The first conductor on a terminal, as a tuple for ``on``; () where none is landed."""
    return tuple(wires_at(view, view.wiring.node(device, terminal))[:1])


def passed(
    network: Network, starts: Iterable[int], special: Callable[[Edge], bool]
) -> dict[int, frozenset[str]]:
    """For every node reached: the owners of special edges on the way with the fewest of them."""
    nothing: frozenset[str] = frozenset()
    found = dict.fromkeys(starts, nothing)
    queue, neighbours = deque(found), network.neighbours
    while queue:
        node = queue.popleft()
        owners = found[node]
        for edge in neighbours[node]:
            far = edge.b if edge.a == node else edge.a
            if far in found and len(found[far]) <= len(owners):
                continue
            if not special(edge):
                found[far] = owners
                queue.appendleft(far)
            elif far not in found or len(owners | {edge.owner}) < len(found[far]):
                found[far] = owners | {edge.owner}
                queue.append(far)
    return found


def residual_devices(view: ModeView) -> frozenset[str]:
    """The devices that open on residual current."""
    devices = view.wiring.rig.devices.values()
    return frozenset(d.name for d in devices if "gfci" in d.attrs or "rcd" in d.attrs)


def residual_pole(view: ModeView) -> Callable[[Edge], bool]:
    """Whether an edge is a pole of a residual-current device."""
    devices = residual_devices(view)
    return lambda edge: edge.kind == POLE and edge.owner in devices


def open_pairs(view: ModeView) -> Iterator[tuple[str, int, int]]:
    """What devices could join but do not in this mode: (device, node, node)."""
    wiring = view.wiring
    for name, variant in wiring.variants.items():
        state = view.network.states[name]
        closed = set(variant.joins.get(state, ()))
        if state == "closed":
            closed |= set(variant.poles)
        for a, b in {*variant.poles, *(p for ps in variant.joins.values() for p in ps)} - closed:
            yield name, wiring.node(name, a), wiring.node(name, b)


def sides(view: ModeView, nets: Container[int]) -> dict[int, str]:
    """Within these nets: whether each node is nearer to neutral (N) or to earth (PE) terminals.

    A bar as a whole belongs to the side of most conductors on it.
    """
    wiring = view.wiring
    side: dict[int, str] = {}
    for node, (device, terminal) in enumerate(wiring.names):
        if view.net[node] in nets:
            if wiring.kinds[device].acts == "earth" or wanted(terminal) == EARTH:
                side[node] = EARTH
            elif wanted(terminal) in GROUNDED:
                side[node] = "N"
    queue = list(side)
    for node in queue:
        for edge in view.network.neighbours[node]:
            far = edge.other(node)
            if far not in side:
                side[far] = side[node]
                queue.append(far)
    return side | _sides_of_bars(view, side)


def _sides_of_bars(view: ModeView, side: dict[int, str]) -> dict[int, str]:
    bars: dict[str, list[int]] = {}
    for node in side:
        name = view.wiring.names[node][0]
        if view.wiring.kinds[name].acts == "distribution":
            bars.setdefault(name, []).append(node)
    whole: dict[int, str] = {}
    for name, nodes in bars.items():
        if view.wiring.variants[name].numbered == "alone":
            continue
        edges = [(n, e) for n in nodes for e in view.network.neighbours[n] if e.kind == WIRE]
        votes = Counter(side[edge.other(node)] for node, edge in edges)
        if votes["N"] != votes[EARTH]:
            whole.update(dict.fromkeys(nodes, votes.most_common(1)[0][0]))
        elif view.net[nodes[0]] not in view.earth_nets:
            whole.update(dict.fromkeys(nodes, "N"))  # nothing there is earth by itself
    return whole


def joints(view: ModeView, nets: Container[int]) -> list[Edge]:
    """The edges, other than bars, at which neutral and earth meet within these nets."""
    side = sides(view, nets)
    return [
        edge
        for edge in view.network.edges
        if edge.kind != BAR and side.get(edge.a) != side.get(edge.b)
    ]


def joiners(view: ModeView, net: int) -> tuple[str, ...]:
    """The conductors or devices that join neutral (or DC negative) and earth within a net."""
    edges = joints(view, {net}) or view.crossings(net)
    return tuple(dict.fromkeys(edge.owner for edge in edges))


def ends_of(view: ModeView, owner: str) -> tuple[str, ...]:
    """The devices at both ends of a conductor; () for a device."""
    conductor = view.wiring.rig.conductors.get(owner)
    if conductor is None:
        return ()
    return tuple(dict.fromkeys((conductor.a.device, conductor.b.device)))


def conductor_of(view: ModeView, owner: str) -> Conductor | None:
    return view.wiring.rig.conductors.get(owner)


def span_of(view: ModeView, owner: str) -> Span:
    """Where a conductor or a device stands in the text."""
    rig = view.wiring.rig
    thing = rig.conductors.get(owner) or rig.devices[owner]
    return thing.span


def way_between(view: ModeView, start: int, goal: int) -> tuple[str, ...]:
    """The shortest way between two nodes, in words."""
    network = view.network
    return network.tell(network.path([start], goal))


@lru_cache(maxsize=64)
def exposed(view: ModeView) -> tuple[tuple[Device, str, tuple[str, ...]], ...]:
    """Devices with live lines and a protective earth terminal: (device, terminal, sources).

    A transformer is judged by its output: it may end the earth of what feeds it on purpose.
    """
    return tuple(_exposed(view))


def _exposed(view: ModeView) -> Iterator[tuple[Device, str, tuple[str, ...]]]:
    wiring = view.wiring
    for device in wiring.carrying:
        variant = wiring.variants[device.name]
        if not variant.pe or device.name in view.dead:
            continue
        if wiring.kinds[device.name].acts == "source":
            continue
        lines = [t for t in variant.terminals if wanted(t) in LINES]
        if device.kind == "transformer":
            lines = [t for t in lines if t.startswith("out")]
        names = line_sources(view, device.name, lines)
        if names:
            yield device, variant.pe[0], names


def holds_neutral(view: ModeView, net: int) -> tuple[str, ...]:
    """The live sources of alternating current whose neutral is in a net."""
    return tuple(name for name, role in view.roles.get(net, []) if role == "N")


def earth_reach(view: ModeView) -> frozenset[int]:
    """The nets that are earth in a mode: joined to a root of earth, or the earth of a bond."""
    earths = (node for source in ac_sources(view) for node in bond_earths(view, source))
    return view.earth_nets | {view.net[node] for node in earths}


def listed(names: Iterable[str], most: int = 4) -> str:
    """Names in a sentence: ``X1, X2 and 3 more``."""
    words = list(dict.fromkeys(names))
    if len(words) > most:
        return f"{', '.join(words[: most - 1])} and {len(words) - most + 1} more"
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
