"""B: neutrals joined to what they must stay apart from: earth, each other, dead sources."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from itertools import combinations

from ...dsl.model import Conductor
from ..findings import WARNING, Related
from ..registry import Hit, rule
from ..tracing.bonding import (
    ac_sources,
    bonds_meant,
    bonds_within,
    conductor_of,
    ends_of,
    exposed,
    holds_neutral,
    joiners,
    joints,
    listed,
    neutral_net,
    sides,
    span_of,
    way_between,
)
from ..tracing.network import BAR, WIRE, Edge, carries
from ..tracing.trace import EARTH, ModeView, Source, Stage, wanted


@rule(
    "B04",
    "neutral-earth-joined",
    clauses={
        "nfpa70": "NFPA 70 551.54(C), 250.142(B) (from memory)",
        "abyc-e11": "ABYC E-11, neutral and grounding conductor apart on board (from memory)",
        "iec60364": "IEC 60364-5-54 543.4 (from memory)",
    },
)
def neutral_earth_joined(stage: Stage) -> Iterator[Hit]:
    """Something that is no declared bond joins a neutral to protective earth.

    Why: load current then returns over the cord's earth, the cases and the chassis; where the
    supply's neutral opens, everything metal is live.  Residual-current devices trip or go blind.
    Breaks it: a wire or link from the neutral bar to the earth bar; an earth core landed on the
    neutral bar; neutral and earth swapped at one end of a cable; a link in a range or a socket.
    Does not: the one joint of a system, written as a `bond` or as the source's own `bonded`.
    """
    for view in stage.modes:
        done: set[int] = set()
        for source in ac_sources(view):
            net = neutral_net(view, source)
            if net in view.earth_nets and net not in done:
                yield from _joined(view, source, net)
            done.add(net)
        yield from _cases_on_neutral(view)


def _joined(view: ModeView, source: Source, net: int) -> Iterator[Hit]:
    culprits = joiners(view, net)
    bonded = bonds_within(view, net) or bonds_meant(view, source)
    alone = len(culprits) == 1 and not bonded and _is_strap(view, culprits[0])
    loop = _loop(view, source, net) if culprits else ()
    for owner in culprits:
        yield Hit(
            on=(owner, *ends_of(view, owner)),
            span=span_of(view, owner),
            mode=view.name,
            severity=WARNING if alone else "",
            message=f"{owner} joins the neutral of {source.name} to earth"
            + (", the only joint it has, and does not say that it is meant" if alone else ""),
            fix=f"if it is the bond of {source.name}, write `bond {owner} ...`"
            if alone
            else _how_to_part(view, owner),
            why=loop,
            related=tuple(
                Related(span_of(view, b.owner), "the joint that is meant")
                for b in bonds_within(view, net)
            ),
            cause=owner,
        )


def _is_strap(view: ModeView, owner: str) -> bool:
    """Whether a conductor runs between bars, earths, inlets and sources, as a bond would."""
    kinds = [view.wiring.kinds[name] for name in ends_of(view, owner)]
    return bool(kinds) and all(k.acts != "load" and k.name != "socket" for k in kinds)


def _how_to_part(view: ModeView, owner: str) -> str:
    conductor = conductor_of(view, owner)
    if conductor is None:
        return f"part neutral and earth in {owner}"
    if conductor.cable is None:
        return f"take {owner} out, or write it as the one `bond` if the system has no other"
    mate = _mate(view, conductor)
    if mate:
        return mate
    asked = {wanted(end.terminal): end.name for end in (conductor.a, conductor.b)}
    other = next((name for role, name in asked.items() if role not in ("N", EARTH)), "")
    if not other or not {"N", EARTH} & asked.keys():
        return f"land both ends of {owner} on neutral, or both on earth"
    return f"move {owner} from {other} to {'an earth' if EARTH in asked else 'a neutral'} terminal"


@lru_cache(maxsize=16)
def _wires(view: ModeView) -> dict[str, Edge]:
    """The edge of every conductor that carries in a mode."""
    return {edge.owner: edge for edge in view.network.edges if edge.kind == WIRE}


@lru_cache(maxsize=64)
def _sides(view: ModeView, nets: frozenset[int]) -> dict[int, str]:
    """The sides within some nets, which many conductors may ask for."""
    return sides(view, nets)


def _mate(view: ModeView, astray: Conductor) -> str:
    """How to mend a cable whose neutral and earth core are exchanged at one end; "" elsewhere."""
    edges = _wires(view)
    for end in (astray.b, astray.a):
        swapped = {"N": EARTH, EARTH: "N"}.get(wanted(end.terminal))
        for name in view.wiring.rig.cables[astray.cable or ""].cores:
            edge, core = edges.get(name), view.wiring.rig.conductors[name]
            here = next((e for e in (core.a, core.b) if e.device == end.device), None)
            if edge is None or here is None or swapped != wanted(here.terminal):
                continue
            side = _sides(view, frozenset((view.net[edge.a], view.net[edge.b])))
            if side.get(edge.a) != side.get(edge.b):
                return f"exchange {astray.name} and {name} at {end.device}"
    return ""


def _loop(view: ModeView, source: Source, net: int) -> tuple[str, ...]:
    """The loop terminal by terminal: from neutral to earth, and back over the meant bond."""
    for bond in bonds_within(view, net):
        back = f"{_say(view, bond.earth)} -- {bond.owner} (bond) -- {_say(view, bond.neutral)}"
        return (*way_between(view, bond.neutral, bond.earth), back)
    for edge in view.crossings(net):
        return (*way_between(view, source.nodes["N"], edge.a), *_onward(view, edge))
    return ()


def _say(view: ModeView, node: int) -> str:
    return view.wiring.say(node)


def _onward(view: ModeView, edge: Edge) -> tuple[str, ...]:
    if edge.kind == BAR:
        return ()
    return (f"{_say(view, edge.a)} -- {edge.owner} -- {_say(view, edge.b)}",)


def _cases_on_neutral(view: ModeView) -> Iterator[Hit]:
    """Protective earth terminals that lie on a neutral, and on no earth besides."""
    cases: list[tuple[str, int]] = []
    for device, terminal, _ in exposed(view):
        node = view.wiring.node(device.name, terminal)
        net = view.net[node]
        if net not in view.earth_nets and holds_neutral(view, net):
            cases.append((device.name, node))
    if not cases:
        return
    crossings = joints(view, {view.net[node] for _, node in cases})
    parts = view.network.groups(edge for edge in view.network.edges if edge not in crossings)
    groups: dict[int, list[tuple[str, int]]] = {}
    for name, node in cases:
        groups.setdefault(parts[node], []).append((name, node))
    for part, group in groups.items():
        ends = [
            _astray(view, edge, [n for n in (edge.a, edge.b) if parts[n] == part], parts, group)
            for edge in crossings
            if part in (parts[edge.a], parts[edge.b])
        ]
        yield _case(view, group, tuple(dict.fromkeys(ends)) or (group[0][0],))


def _astray(
    view: ModeView, crossing: Edge, near: list[int], parts: list[int], group: list[tuple[str, int]]
) -> str:
    """What takes the neutral to cases: in a chain without a bar, what lands on the first case."""
    part = parts[near[0]]
    kinds, names = view.wiring.kinds, view.wiring.names
    inside = view.network.walk(near[:1], lambda edge: parts[edge.a] == parts[edge.b] == part)
    if any(kinds[names[node][0]].acts == "distribution" for node in inside):
        return crossing.owner
    cases = {node for _, node in group}
    goal = next((node for node in inside if node in cases), near[0])
    way = view.network.path(near[:1], goal, lambda edge: edge is not crossing)
    wires = [edge.owner for _, edge in way if edge is not None and edge.kind == WIRE]
    return wires[-1] if wires else crossing.owner


def _case(view: ModeView, group: list[tuple[str, int]], owners: tuple[str, ...]) -> Hit:
    names = [name for name, _ in group]
    node = group[0][1]
    net = view.net[node]
    start = next(s.nodes["N"] for s in ac_sources(view) if neutral_net(view, s) == net)
    ends = [name for owner in owners for name in ends_of(view, owner)]
    return Hit(
        on=tuple(dict.fromkeys((*owners, *names, *ends))),
        span=span_of(view, owners[0]),
        mode=view.name,
        message=f"{listed(owners)} puts the protective earth of {listed(names)} on the neutral of "
        f"{listed(holds_neutral(view, net))}, and on no earth",
        fix=_to_earth(view, owners[0], view.wiring.say(node)),
        why=way_between(view, start, node),
    )


def _to_earth(view: ModeView, owner: str, case: str) -> str:
    """How a case comes off the neutral and onto earth."""
    conductor = conductor_of(view, owner)
    if conductor is not None and conductor.cable is None:
        return f"take {owner} out, and bring protective earth to {case}"
    return _how_to_part(view, owner)


@rule(
    "B05",
    "neutrals-of-two-sources-joined",
    clauses={
        "nfpa70": "NFPA 70 250.30, 702.5 (from memory)",
        "abyc-e11": "ABYC E-11, each source switched with its neutral (from memory)",
        "iec60364": "IEC 60364-5-55 551.6 (from memory)",
    },
    yields_to=("B04",),
)
def neutrals_of_two_sources_joined(stage: Stage) -> Iterator[Hit]:
    """Two live sources share a neutral while their lines are apart.

    Why: each has its bond, so the return current of either divides over both and over the earth
    between them; opening one source no longer frees its circuits.
    Breaks it: a common neutral bar for the shore's and the inverter's circuits; a changeover that
    switches the line alone.
    Does not: a neutral bar for each source; a changeover that moves line and neutral together.
    """
    for view in stage.modes:
        for first, second in combinations(ac_sources(view), 2):
            if neutral_net(view, first) != neutral_net(view, second):
                continue
            if _share_a_line(view, first, second):
                continue  # two sources in parallel: a finding of its own
            way = way_between(view, first.nodes["N"], second.nodes["N"])
            yield Hit(
                on=(first.name, second.name),
                span=second.device.span,
                mode=view.name,
                message=f"the neutrals of {first.name} and {second.name} are joined",
                fix=f"give the circuits of {second.name} a neutral bar of their own, or switch "
                "neutral and line together",
                why=way,
                related=(Related(first.device.span, "the other source"),),
            )


def _share_a_line(view: ModeView, first: Source, second: Source) -> bool:
    lines = {view.net[first.nodes[role]] for role in first.lines}
    return any(view.net[second.nodes[role]] in lines for role in second.lines)


@rule(
    "B09",
    "dead-neutral-joined",
    clauses={
        "nfpa70": "NFPA 70 250.30, 702.5 (from memory)",
        "abyc-e11": "ABYC E-11, each source switched with its neutral (from memory)",
        "iec60364": "IEC 60364-5-55 551.6.2 (from memory)",
    },
)
def dead_neutral_joined(stage: Stage) -> Iterator[Hit]:
    """The neutral of a live source is still connected to that of a source that is off.

    Why: the idle source's bond is a second joint of neutral and earth, so return current flows over
    its cord or its frame; whoever works on the idle source does not expect it.
    Breaks it: a changeover with one pole between shore and generator, the cord still plugged in;
    one neutral bar for shore and an inverter that is off (a warning: its bond is open then).
    Does not: the changeover opens the idle source's neutral; its inlet is `off`, unplugged.
    """
    for view in stage.modes:
        for idle in view.dead.values():
            for source in ac_sources(view):
                if idle.dc or neutral_net(view, source) != neutral_net(view, idle):
                    continue
                # fed backwards as a whole, or joined while both are live: findings of their own
                if _share_a_line(view, source, idle) or _both_live(stage, source, idle):
                    continue
                yield _left_joined(view, source, idle)
        yield from _inverters_off(view)


def _inverters_off(view: ModeView) -> Iterator[Hit]:
    """Inverters that are off, with their neutral on that of a live source: only lines change over.

    Their own bond is open then, so it is a warning: they are one click away from being on.
    """
    neutrals = {neutral_net(view, source): source for source in ac_sources(view)}
    for device in view.wiring.rig.devices.values():
        if device.kind != "inverter" or not carries(device):
            continue
        node = view.wiring.node(device.name, "out-N")
        source = neutrals.get(view.net[node])
        if source is None or view.network.states[device.name] != "off":
            continue
        lines = (t for t in view.wiring.variants[device.name].terminals if t.startswith("out-L"))
        if any(view.roles_at(device.name, line) for line in lines):
            continue  # fed backwards as a whole
        yield Hit(
            on=(device.name, source.name),
            span=device.span,
            mode=view.name,
            severity=WARNING,
            message=f"while {source.name} feeds, its neutral is still joined to that of "
            f"{device.name}, which is off",
            fix=f"switch the neutrals of {source.name} and {device.name} together with their lines",
            why=way_between(view, source.nodes["N"], node),
            related=(Related(source.device.span, "the other source"),),
        )


def _both_live(stage: Stage, first: Source, second: Source) -> bool:
    """Whether the neutrals of two sources are joined in a mode in which both are live."""
    return any(
        {first.name, second.name} <= view.live.keys()
        and neutral_net(view, view.live[first.name]) == neutral_net(view, view.live[second.name])
        for view in stage.modes
    )


def _left_joined(view: ModeView, source: Source, idle: Source) -> Hit:
    """One finding for both directions: the two sources stand in the order of the text."""
    first, second = sorted((source, idle), key=lambda s: s.device.span.line)
    return Hit(
        on=(first.name, second.name),
        span=second.device.span,
        mode=view.name,
        message=f"while {source.name} feeds, its neutral is still joined to that of {idle.name}, "
        "which is off",
        fix=f"switch the neutrals of {first.name} and {second.name} together with their lines",
        why=way_between(view, source.nodes["N"], idle.nodes["N"]),
        related=(Related(first.device.span, "the other source"),),
    )
