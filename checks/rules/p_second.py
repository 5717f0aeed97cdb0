"""P: a second way in: round a device, or through two devices into one circuit."""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator
from math import inf

from ...dsl.records import record
from ..findings import Related
from ..registry import Hit, rule
from ..tracing.across import Way, odd_one
from ..tracing.bonding import listed, wires_at
from ..tracing.cut import Protection, protection
from ..tracing.network import BAR, POLE, WIRE, Edge, Groups
from ..tracing.trace import LINES, UNGROUNDED, ModeView, Source, Stage

USERS = ("load", "outlet", "converter")
PASSING = ("distribution", "switching", "residual")


@record
class Meeting:
    """Two devices that feed one circuit, and the way from the one to the other in it."""

    devices: frozenset[str]
    way: Way

    def leads_alone(self, view: ModeView) -> bool:
        """Whether nothing but the devices' own leads and a bar lies between them."""
        owners = (edge.owner for _, edge in self.way if edge and edge.kind == WIRE)
        wires = (view.wiring.rig.conductors[owner] for owner in owners)
        return all(self.devices & {c.a.device, c.b.device} for c in wires)


@rule(
    "P24",
    "second-way-in",
    clauses={
        "nfpa70": "NFPA 70 110.3(B), 240.4, 240.21 (from memory)",
        "": "common practice, no published source",
    },
    yields_to=("P01", "D01", "D05", "D06", "S08", "S09", "S11", "S13", "S15"),
)
def second_way_in(stage: Stage) -> Iterator[Hit]:
    """A way leads round a device, or two devices feed one circuit: off, it is still live.

    Why: whoever switches the device off and works behind it works on live parts; what goes round a
    breaker is not protected by it, and two breakers let through what both are rated for.
    Breaks it: the inlet's line landed on the bar behind the main, the main still on that bar; a
    second lead from the inlet to the bar; a battery lead that goes past the battery switch; a
    cable from the last socket of one circuit to a socket of the next.
    Does not: two devices side by side; loads that branch off ahead of a switch; a ring whose both
    ends are on one breaker; direct-current sources that share a bar, each through its fuse.
    """
    for view in stage.modes:
        held = protection(view)
        joined = view.network.groups(e for e in view.network.edges if e.kind in (WIRE, BAR))
        shorted = {id(edge) for edges in held.bridged.values() for edge in edges}
        for edge in view.network.edges:
            if edge.kind != POLE or view.node_role(edge.a) not in UNGROUNDED:
                continue
            if joined[edge.a] == joined[edge.b] or id(edge) in shorted:
                yield _bypassed(view, edge)
        yield from _fed_twice(view, held)
    yield from _backs_onto(stage)


def _protects(edge: Edge, held: Protection) -> bool:
    return edge.kind == POLE and edge.owner in held.ratings


def _bypassed(view: ModeView, pole: Edge) -> Hit:
    way = view.network.path([pole.a], pole.b, lambda edge: edge.owner != pole.owner)
    wires = dict.fromkeys(edge.owner for _, edge in way if edge and edge.kind == WIRE)
    device = view.wiring.rig.devices[pole.owner]
    odd = odd_one(view, way, {device.name})
    bare = protection(view).arriving(pole.a).amps == inf  # then P01 says so, and what follows
    behind = view.network.walk([pole.b], lambda e: e.owner not in (device.name, odd))
    return Hit(
        on=tuple(dict.fromkeys((odd or device.name, device.name, *wires))),
        span=view.wiring.rig.conductors[odd].span if odd else device.span,
        mode=view.name,
        message=f"{device.name} opens nothing: a way leads round it, over {listed(wires, most=6)}",
        fix=f"take out what joins the two sides of {device.name}",
        why=view.network.tell(way),
        related=(Related(device.span, "this device"),),
        upsets=frozenset() if bare else _named(view, behind, (device.name,)),
    )


def _named(view: ModeView, nodes: Iterable[int], openers: Iterable[str]) -> frozenset[str]:
    """What uses these nodes, the bars and switches there, and all conductors on them, on what uses
    them, and on the devices."""
    nodes = list(nodes)
    users = _users(view, nodes)
    passive = {n for n, kind in view.wiring.kinds.items() if kind.acts in PASSING}
    passive &= {view.wiring.names[node][0] for node in nodes}
    ends = {*users, *openers}
    table = view.wiring.rig.conductors
    own = (c.name for c in table.values() if c.a.device in ends or c.b.device in ends)
    wires = (e.owner for node in nodes for e in view.network.neighbours[node] if e.kind == WIRE)
    return frozenset((*users, *passive, *own, *wires))


def _users(view: ModeView, nodes: Iterable[int]) -> set[str]:
    """The loads, sockets and converters at these nodes."""
    names, kinds = view.wiring.names, view.wiring.kinds
    return {names[node][0] for node in nodes if kinds[names[node][0]].acts in USERS}


def _fed_twice(view: ModeView, held: Protection) -> Iterator[Hit]:
    """Rings of protective poles in the lines of alternating current: the circuit at their end."""
    told: set[frozenset[str]] = set()
    for met in _rings(view, held, LINES):
        if met.devices not in told:
            told.add(met.devices)
            yield _twice(view, held, met)


def _rings(view: ModeView, held: Protection, roles: Container[str]) -> Iterator[Meeting]:
    """Where rings of protective poles of one of these roles close."""
    groups = Groups(view.network.count)
    for edge in dict.fromkeys(edge for edges in held.core.values() for edge in edges):
        a, b = held.cell[edge.a], held.cell[edge.b]
        if view.node_role(edge.a) not in roles:
            continue
        if groups.find(a) != groups.find(b):
            groups.join(a, b)
            continue
        met = _meeting(view, held, edge)
        if met is not None:
            yield met


def _meeting(view: ModeView, held: Protection, last: Edge) -> Meeting | None:
    """Where a ring closes: in the circuit farthest from the sources that has more in it than the
    two devices' own leads."""
    way = view.network.path([last.a], last.b, lambda edge: edge is not last)
    ring = [last, *(e for _, e in way if e is not None and _protects(e, held))]
    depth = _depths(held)
    nodes: dict[int, list[tuple[int, str]]] = {}
    for edge in ring:
        for node in (edge.a, edge.b):
            nodes.setdefault(held.cell[node], []).append((node, edge.owner))
    found = []
    for cell in sorted(nodes, key=lambda cell: -depth.get(cell, 0)):
        devices = frozenset(owner for _, owner in nodes[cell])
        if len(devices) == len(nodes[cell]) == 2:
            (start, _), (goal, _) = nodes[cell]
            inner = view.network.path([start], goal, lambda edge: not _protects(edge, held))
            found.append(Meeting(devices, inner))
    return next((m for m in found if not m.leads_alone(view)), found[0] if found else None)


def _depths(held: Protection) -> dict[int, int]:
    """How many devices each cell of a mode lies behind."""
    depth = dict.fromkeys(held.sources, 0)
    queue = list(depth)
    for cell in queue:
        for edge in held.core.get(cell, ()):
            far = held.cell[edge.b if held.cell[edge.a] == cell else edge.a]
            if far not in depth:
                depth[far] = depth[cell] + 1
                queue.append(far)
    return depth


def _twice(view: ModeView, held: Protection, met: Meeting) -> Hit:
    one, two = sorted(met.devices)
    wires = dict.fromkeys(edge.owner for _, edge in met.way if edge and edge.kind == WIRE)
    devices = view.wiring.rig.devices
    odd = odd_one(view, met.way, met.devices)
    circuit = view.network.walk([met.way[0][0]], lambda e: not _protects(e, held))
    return Hit(
        on=tuple(dict.fromkeys((odd or one, one, two, *wires))),
        span=view.wiring.rig.conductors[odd].span if odd else devices[one].span,
        mode=view.name,
        message=f"{one} and {two} feed one circuit, joined over "
        f"{listed(wires, most=6)}: with one of them off it is still live",
        fix=f"part the circuits of {one} and {two}"
        + (f"; {odd} may be what should not be there" if odd else ""),
        why=view.network.tell(met.way),
        related=tuple(Related(devices[name].span, "feeds it") for name in (one, two)),
        upsets=_named(view, circuit, met.devices) | met.devices,
    )


@rule(
    "B21",
    "neutrals-joined-behind",
    clauses={
        "nfpa70": "NFPA 70 200.4(A), 300.3(B) (from memory)",
        "abyc-e11": "common practice, no published source",
        "iec60364": "IEC 60364-3 314.1, circuits apart (from memory); BS 7671 314.4",
    },
    yields_to=("B04", "B05", "B06", "B07", "B08", "P24", "S01", "S08", "S15"),
)
def neutrals_joined_behind(stage: Stage) -> Iterator[Hit]:
    """The neutrals of two circuits are joined behind the devices that open them.

    Why: with one of the devices off its neutral still carries the other's current, and whoever
    works on the dead circuit has it in hand; one neutral can come to carry both circuits.
    Breaks it: a conductor between the neutrals of two sockets, each on a breaker with a neutral
    pole of its own.
    Does not: neutrals that meet on the bar ahead of both devices; devices in series.
    """
    for view in stage.modes:
        told: set[frozenset[str]] = set()
        for met in _rings(view, protection(view), ("N",)):
            if met.devices not in told:
                told.add(met.devices)
                yield _neutrals_met(view, met)


def _neutrals_met(view: ModeView, met: Meeting) -> Hit:
    one, two = sorted(met.devices)
    wires = dict.fromkeys(edge.owner for _, edge in met.way if edge and edge.kind == WIRE)
    devices = view.wiring.rig.devices
    odd = odd_one(view, met.way, met.devices)
    return Hit(
        on=tuple(dict.fromkeys((odd or one, one, two, *wires))),
        span=view.wiring.rig.conductors[odd].span if odd else devices[one].span,
        mode=view.name,
        message=f"the neutrals behind {one} and {two} are joined, over {listed(wires, most=6)}: "
        "with one of them off its neutral still carries current",
        fix=f"give the circuits of {one} and {two} neutrals of their own"
        + (f"; {odd} may be what should not be there" if odd else ""),
        why=view.network.tell(met.way),
        related=tuple(Related(devices[name].span, "opens one of them") for name in (one, two)),
    )


def _backs_onto(stage: Stage) -> Iterator[Hit]:
    """Devices whose load side alone is landed, and live straight from a source: each once."""
    landed = {(e.device, e.terminal) for c in stage.rig.conductors.values() for e in (c.a, c.b)}
    names, told = stage.wiring.names, set()
    for view in stage.modes:
        held = protection(view)
        for edge in view.network.edges:
            if not _protects(edge, held) or edge.owner in told or names[edge.a] in landed:
                continue
            if names[edge.b] not in landed or view.node_role(edge.b) not in UNGROUNDED:
                continue
            source = _straight(view, held, edge.b)
            if source is not None:
                told.add(edge.owner)
                yield _past(view, edge, source)
            elif held.cell[edge.b] not in held.sources:
                yield from _past_it(view, held, edge)


def _straight(view: ModeView, held: Protection, node: int) -> Source | None:
    """The source of alternating current that reaches a line through no overcurrent device."""
    sources = (source for source, _ in held.sources.get(held.cell[node], ()))
    return next((s for s in sources if not s.dc), None)


def _past(view: ModeView, pole: Edge, source: Source) -> Hit:
    starts = [source.nodes[role] for role in source.lines]
    way = view.network.path(starts, pole.b, lambda edge: edge.kind != POLE)
    device = view.wiring.rig.devices[pole.owner]
    crossed = [view.wiring.names[node][0] for node, _ in way]
    wires = [edge.owner for _, edge in way if edge and edge.kind == WIRE]
    return Hit(
        on=tuple(dict.fromkeys((device.name, *wires, *crossed))),
        span=device.span,
        message=f"{source.name} comes to {view.wiring.say(pole.b)} past {device.name}, and nothing "
        f"lands on {view.wiring.say(pole.a)}: {device.name} opens nothing",
        fix=f"land on {view.wiring.say(pole.a)} the line that comes from {source.name}",
        why=view.network.tell(way),
        related=(Related(source.device.span, "fed from here"),),
    )


def _past_it(view: ModeView, held: Protection, pole: Edge) -> Iterator[Hit]:
    """A circuit that hangs on the load side of a device together with what feeds it."""
    circuit = view.network.walk([pole.b], lambda step: not _protects(step, held))
    if not _users(view, circuit):
        return
    device, say = view.wiring.rig.devices[pole.owner], view.wiring.say
    wires = wires_at(view, pole.b)
    users = sorted(_users(view, circuit))
    yield Hit(
        on=tuple(dict.fromkeys((device.name, *wires, *users))),
        span=device.span,
        message=f"{listed(users)}: fed at {say(pole.b)} past {device.name}, and nothing lands on "
        f"{say(pole.a)}: {device.name} opens nothing",
        fix=f"land on {say(pole.a)} the conductor that feeds {device.name}",
        related=tuple(Related(view.wiring.rig.conductors[w].span, "lands here") for w in wires),
        upsets=_named(view, circuit, (device.name,)) | {device.name},
        mode=view.name,
    )
