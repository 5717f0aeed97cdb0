"""S: sources that meet: in parallel, through an inlet, through a socket, round a loop."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, pairwise

from ...dsl.model import Device
from ..findings import Related
from ..registry import Hit, rule
from ..tracing.across import Way, names_on
from ..tracing.network import JOINT, PLUG, POLE, WIRE, Edge, carries
from ..tracing.trace import LINES, UNGROUNDED, ModeView, Source, Stage, wanted


def closed_on(way: Way) -> tuple[str, ...]:
    """The devices whose closed poles or joints a way goes through, in order."""
    owners = (edge.owner for _, edge in way if edge is not None and edge.kind in (POLE, JOINT))
    return tuple(dict.fromkeys(owners))


@rule(
    "S01",
    "sources-in-parallel",
    clauses={
        "nfpa70": "NFPA 70 702.5, 551.30(C) (from memory)",
        "abyc-e11": "ABYC E-11, no circuit energised by two sources at once (from memory)",
        "iec60364": "IEC 60364-5-55 551.6, 551.7 (from memory)",
    },
    yields_to=("S10",),
)
def sources_in_parallel(stage: Stage) -> Iterator[Hit]:
    """Two sources of alternating current reach the same line in one mode.

    Why: two that are not synchronised drive current into each other, limited by little but their
    windings: an inverter is destroyed within a cycle, a generator's shaft is wrenched.
    Breaks it: shore and generator breakers both closed onto one bar.
    Does not: a changeover that connects one or the other; an inverter that passes the shore
    through, in the state `pass`; sources of direct current, which may share a bar.
    """
    for view in stage.modes:
        met: set[tuple[str, str]] = set()
        for roles in view.roles.values():
            names = dict.fromkeys(name for name, role in roles if role in LINES)
            for pair in combinations(names, 2):
                if pair not in met and pair[::-1] not in met:
                    met.add(pair)
                    yield _parallel(view, view.live[pair[0]], view.live[pair[1]])


def _parallel(view: ModeView, one: Source, two: Source) -> Hit:
    ways = (view.network.path([one.nodes[a]], two.nodes[b]) for a in one.lines for b in two.lines)
    way = next(way for way in ways if way)
    between = closed_on(way)
    return Hit(
        on=(two.name, one.name, *between),
        span=two.device.span,
        mode=view.name,
        message=f"{one.name} and {two.name} feed the same line at the same time",
        fix="a changeover or a mechanical interlock"
        + (f" in place of {', '.join(between)} closed together" if between else " between them")
        + ", or say in this mode which of them is off",
        why=view.network.tell(way),
        related=(Related(one.device.span, "the other source"),),
        upsets=names_on(view, [one.nodes[line] for line in one.lines]) | _along(view, one, two),
        cause=" ".join(sorted((one.name, two.name))),
    )


def _along(view: ModeView, one: Source, two: Source) -> frozenset[str]:
    """The conductors of the way along which their neutrals meet."""
    way = view.network.path([one.nodes[one.grounded]], two.nodes[two.grounded])
    return frozenset(edge.owner for _, edge in way if edge is not None)


@rule(
    "S02",
    "inlet-backfed",
    clauses={
        "nfpa70": "NFPA 70 551.46, 406.7 (from memory)",
        "abyc-e11": "ABYC E-11, pins of an unplugged inlet not live (from memory)",
        "iec60364": "IEC 60364-5-55 551.6; IEC 60309 inlets (from memory)",
    },
    yields_to=("P24",),
    follows=("S01",),
)
def inlet_backfed(stage: Stage) -> Iterator[Hit]:
    """The pins of an inlet, or a supply that is off, are live from inside.

    Why: an inlet's pins stand bare.  Whoever lifts the flap, or holds the other end of the cord,
    touches them; who works on a supply that is off does not expect it to be fed from the rig.
    Breaks it: the generator runs with the shore breaker closed and the shore inlet unplugged; a
    transformer, or an inverter, fed at its output.
    Does not: a changeover, or a breaker that this mode opens, between the inlet and the bar.
    """
    for view in stage.modes:
        for device in stage.rig.devices.values():
            if device.kind != "inlet" or _fed_by_cord(view, device):
                continue
            hit = _backfed(view, device)
            if hit is not None:
                yield hit
        for idle in view.dead.values():
            if not idle.dc:
                yield from _driven(view, idle)
        for device in stage.rig.devices.values():
            if device.kind == "transformer" and device.name not in view.live:
                yield from _fed_behind(view, device)


def outside(view: ModeView, device: Device) -> dict[int, Edge | None]:
    """What a cord or a plug on the outer side of an inlet or a socket reaches there."""
    outer = [node for key, node in view.wiring.outer.items() if key[0] == device.name]
    return view.network.walk(
        outer, lambda edge: not (edge.kind == PLUG and edge.owner == device.name)
    )


def _fed_by_cord(view: ModeView, device: Device) -> bool:
    """Whether it is plugged in and a live source stands at the other end of its own cord."""
    return view.network.states[device.name] == "on" and bool(_outer_sources(view, device))


def _outer_sources(view: ModeView, device: Device) -> list[Source]:
    reached = outside(view, device)
    return [s for s in view.live.values() if any(s.nodes[role] in reached for role in s.lines)]


def _gone(view: ModeView, inlet: Device) -> str:
    """Why the inlet is not fed by its own cord."""
    if view.network.states[inlet.name] != "on":
        return "it is unplugged"
    corded = any(key[0] == inlet.name for key in view.wiring.outer)
    return "its own supply is off" if corded else "no cord is in it"


def _backfed(view: ModeView, inlet: Device) -> Hit | None:
    for terminal in view.wiring.variants[inlet.name].terminals:
        if wanted(terminal) not in UNGROUNDED:
            continue
        node = view.wiring.node(inlet.name, terminal)
        for name, role in view.roles.get(view.net[node], ()):
            if role not in UNGROUNDED:
                continue
            source = view.live[name]
            way = view.network.path([source.nodes[role]], node)
            between = closed_on(way)
            wires = (edge.owner for _, edge in way if edge is not None and edge.kind == WIRE)
            gone = _gone(view, inlet)
            return Hit(
                on=(inlet.name, name, *between, *wires),
                span=inlet.span,
                mode=view.name,
                message=f"the pins of {inlet.name} are live from {name} while {gone}",
                fix=f"a changeover between {inlet.name} and {name}, or open "
                f"{between[-1] if between else 'what joins them'} in this mode",
                why=view.network.tell(way),
                related=(Related(source.device.span, "fed from here"),),
            )
    return None


def _fed_behind(view: ModeView, idle: Device) -> Iterator[Hit]:
    """A transformer with a live line on its output and none on its input: the two are exchanged."""
    found = view.roles_at(idle.name, "out-L")
    name = next((name for name, role in found if role in LINES), "")
    if not name or not carries(idle):
        return
    table = view.wiring.rig.conductors.values()
    wires = [c for c in table if idle.name in (c.a.device, c.b.device)]
    ends = [end.device for c in wires for end in (c.a, c.b) if end.device != idle.name]
    yield Hit(
        on=tuple(dict.fromkeys((idle.name, name, *ends, *(c.name for c in wires)))),
        span=idle.span,
        mode=view.name,
        message=f"{idle.name} is fed at its output: the line of {name} comes to {idle.name}.out-L, "
        "and none to its input",
        fix=f"exchange what lands on the input and on the output of {idle.name}",
        related=(Related(view.live[name].device.span, "fed from here"),),
        upsets=frozenset((idle.name,)),
    )


def _driven(view: ModeView, idle: Source) -> Iterator[Hit]:
    """A source that is off, wired without an inlet, with a live line on its terminals."""
    for line in idle.lines:
        node = idle.nodes[line]
        lines = (row for row in view.roles.get(view.net[node], ()) if row[1] in LINES)
        for name, role in lines:
            source = view.live[name]
            way = view.network.path([source.nodes[role]], node)
            if any(edge is not None and edge.kind == PLUG for _, edge in way):
                return  # the inlet between them is told
            between = closed_on(way)
            yield Hit(
                on=(idle.name, name, *between),
                span=idle.device.span,
                mode=view.name,
                message=f"{idle.name} is off, and its {line} is live from {name}",
                fix=f"a changeover between {idle.name} and {name}, or open "
                f"{between[-1] if between else 'what joins them'} in this mode",
                why=view.network.tell(way),
                related=(Related(source.device.span, "fed from here"),),
                cause=" ".join(sorted((idle.name, name))),
                upsets=frozenset(edge.owner for _, edge in way if edge is not None),
            )
            return


@rule(
    "S10",
    "source-on-socket",
    clauses={
        "nfpa70": "NFPA 70 406.7(B), 702.5 (from memory)",
        "iec60364": "IEC 60364-5-55 551.6 (from memory)",
        "": "common practice, no published source",
    },
)
def source_on_socket(stage: Stage) -> Iterator[Hit]:
    """A source feeds the rig through a plug in one of its sockets.

    Why: the cord has bare live pins when either plug is drawn, the circuit's breaker stands at the
    wrong end, and nothing keeps the shore from coming on at the same time.
    Breaks it: `cable W9 3x2.5mm2 5m GEN.(L N PE) -> X1.(L N PE) cord plug` into a socket.
    Does not: the same generator into an inlet of its own; a load plugged into the socket.
    """
    for view in stage.modes:
        for device in stage.rig.devices.values():
            if device.kind != "socket" or view.network.states[device.name] != "on":
                continue
            for source in _outer_sources(view, device):
                yield Hit(
                    on=(device.name, source.name),
                    span=device.span,
                    mode=view.name,
                    message=f"{source.name} feeds the rig backwards through the socket "
                    f"{device.name}",
                    fix=f"give {source.name} an inlet, a breaker and a place on the changeover",
                    related=(Related(source.device.span, "plugged in here"),),
                )


@rule(
    "S03",
    "converter-loop",
    clauses={"": "common practice, no published source"},
    yields_to=("S13",),
)
def converter_loop(stage: Stage) -> Iterator[Hit]:
    """Converters that feed each other in a ring.

    Why: each turns part of what goes round into heat; the battery between them is empty in hours
    with no load on, and every indicator says it is charging.
    Breaks it: a charger on the inverter's own output while the inverter runs on the battery that
    this charger charges.
    Does not: the charger stays on the shore's bar, or is off in the modes in which the inverter
    runs.
    """
    for view in stage.modes:
        feeds = {
            name: [f for f in _feeders(view, name) if view.live[f].converter]
            for name, source in view.live.items()
            if source.converter
        }
        done: set[str] = set()
        for name in feeds:
            loop = [] if name in done else _loop(feeds, name)
            done |= set(loop)
            if loop:
                yield _looped(view, loop)


def _feeders(view: ModeView, name: str) -> tuple[str, ...]:
    """As ``feeders``, with the device itself where its output reaches its own input."""
    own = any(
        wanted(terminal) in UNGROUNDED and (name, role) in view.roles_at(name, terminal)
        for terminal in view.takes(name)
        if terminal not in view.wiring.variants[name].gives.get(view.network.states[name], {})
        for role in view.live[name].lines
    )
    return (*view.feeders(name), *((name,) if own else ()))


def _loop(feeds: dict[str, list[str]], start: str) -> list[str]:
    """The shortest way from a converter back to itself, in the direction of power."""
    came: dict[str, str] = {}
    queue = [start]
    for name in queue:
        for feeder in feeds.get(name, ()):
            if feeder not in came:
                came[feeder] = name
                queue.append(feeder)
    if start not in came:
        return []
    loop = [start]
    while came[loop[-1]] != start:
        loop.append(came[loop[-1]])
    return loop


def _looped(view: ModeView, loop: list[str]) -> Hit:
    devices = [view.wiring.rig.devices[name] for name in loop]
    ring = [*loop, loop[0]]
    return Hit(
        on=tuple(loop),
        span=devices[-1].span,
        mode=view.name,
        message=f"{', '.join(f'{a} feeds {b}' for a, b in pairwise(ring))}: power goes round in a "
        "ring",
        fix=f"feed {' or '.join(loop)} from a bar that the ring does not reach, or say that one is "
        "off in this mode",
        why=tuple(
            f"{name} takes from {', '.join(view.feeders(name))}" for name in reversed(ring[1:])
        ),
        related=tuple(Related(device.span, "in the ring") for device in devices[:-1]),
    )
