"""B: the chassis is tied once to the mains' earth, and once to the negative of each DC system."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.records import record
from ..findings import NOTE, WARNING, Related
from ..registry import Hit, rule
from ..tracing.bonding import (
    ac_sources,
    bonds_meant,
    bonds_within,
    ends_of,
    joiners,
    listed,
    neutral_net,
    span_of,
    way_between,
)
from ..tracing.network import PLUG, WIRE, Edge, Groups, Wiring, carries
from ..tracing.trace import EARTH, ModeView, Source, Stage


def _earth_devices(stage: Stage) -> list[str]:
    """The chassis, hull and electrodes the text has."""
    devices = stage.rig.devices.values()
    return [d.name for d in devices if carries(d) and stage.wiring.kinds[d.name].acts == "earth"]


@record
class Tie:
    """A conductor between an earth bar and the chassis."""

    wire: str
    bar: str
    earth: str


@rule(
    "B14",
    "chassis-tie",
    clauses={
        "nfpa70": "NFPA 70 551.56(A), (C) (from memory)",
        "abyc-e11": "ABYC E-11, grounding bus joined to the hull once (from memory)",
        "iec60364": "IEC 60364-7-721 721.411.3.1.2 (from memory)",
    },
    yields_to=("B04", "B10", "B11", "B15", "D01", "D04", "S06", "S15"),
)
def chassis_tie(stage: Stage) -> Iterator[Hit]:
    """The earth bars of the mains and the chassis are not joined, or joined twice.

    Why: untied, a chafed line makes the whole skin live and nothing opens.  Tied at two places, the
    chassis is a parallel earth conductor: it carries stray current between the two points.
    Tied through a circuit's earth, it hangs on a core that is too thin for the main's fault and
    that goes with the socket.
    Breaks it: an earth bar with no conductor to the chassis stud the text has; a tie from a
    socket's earth in place of the bar's; one conductor to the front and one to the rear of the
    frame (a warning).
    Does not: one conductor from one earth bar to one chassis stud; cases strapped to the frame.
    """
    earths = _earth_devices(stage)
    if not earths:
        return
    off_chassis, ties = _ties(stage.wiring, set(earths))
    live = _live_groups(stage, off_chassis)
    for group, cases in _earthed_cases(stage, off_chassis).items():
        if group in live:
            continue  # cases on a line or a neutral: no earth to be tied
        found = ties.get(group, [])
        on_bars = [t for t in found if stage.wiring.kinds[t.bar].acts == "distribution"]
        bars = _bars(stage, off_chassis, group)
        if not found and (len(cases) > 1 or bars):
            yield _untied(stage, cases, earths, bars)
        elif found and len(cases) > 1 and all(_of_a_circuit(stage, tie) for tie in found):
            yield _tied_thinly(stage, found[0])
        elif len({(tie.bar, tie.earth) for tie in on_bars}) > 1:
            yield _tied_twice(stage, on_bars)


def _ties(wiring: Wiring, earths: set[str]) -> tuple[list[int], dict[int, list[Tie]]]:
    """The nets that conductors make without the chassis, and the conductors from each to it."""
    groups = Groups(len(wiring.names))
    to_chassis: list[tuple[int, Edge, str]] = []
    for edge in [*wiring.edges, *_socket_plugs(wiring)]:
        a, b = wiring.names[edge.a][0], wiring.names[edge.b][0]
        if a not in earths and b not in earths:
            groups.join(edge.a, edge.b)
        elif edge.kind == WIRE and (a in earths) != (b in earths):
            to_chassis.append((edge.b if a in earths else edge.a, edge, a if a in earths else b))
    flat = groups.flat()
    ties: dict[int, list[Tie]] = {}
    for node, edge, earth in to_chassis:
        ties.setdefault(flat[node], []).append(Tie(edge.owner, wiring.names[node][0], earth))
    return flat, ties


def _socket_plugs(wiring: Wiring) -> Iterator[Edge]:
    """What is plugged into the rig's own sockets counts as joined to them."""
    for (name, terminal), outside in wiring.outer.items():
        if wiring.kinds[name].name == "socket":
            yield Edge(outside, wiring.node(name, terminal), PLUG, name)


def _earthed_cases(stage: Stage, groups: list[int]) -> dict[int, list[str]]:
    """The devices on board with a protective earth terminal, by the net it is in."""
    wiring = stage.wiring
    cases: dict[int, list[str]] = {}
    for device in stage.rig.devices.values():
        if not carries(device) or wiring.kinds[device.name].acts == "source":
            continue
        if not device.flag("separated"):
            for terminal in wiring.variants[device.name].pe:
                group = groups[wiring.node(device.name, terminal)]
                cases.setdefault(group, []).append(device.name)
    return cases


def _live_groups(stage: Stage, groups: list[int]) -> set[int]:
    """The nets of conductors that are on a line or a neutral in some mode, and not on earth."""
    return {
        groups[node]
        for view in stage.modes
        for node, net in enumerate(view.net)
        if net in view.roles and net not in view.earth_nets
    }


def _bars(stage: Stage, groups: list[int], group: int) -> list[str]:
    """The bars on one net."""
    names = {n for node, (n, _) in enumerate(stage.wiring.names) if groups[node] == group}
    return sorted(n for n in names if stage.wiring.kinds[n].acts == "distribution")


def _untied(stage: Stage, cases: list[str], earths: list[str], bars: list[str]) -> Hit:
    return Hit(
        on=(earths[0], *cases, *bars),
        span=stage.rig.devices[earths[0]].span,
        message=f"the protective earth of {listed(cases)} is not joined to {listed(earths)}",
        fix=f"run one conductor, a `wire`, from the earth bar to {earths[0]} (a `bond` is for "
        "neutral or DC negative to earth)",
        why=(f"no conductor leads from that earth to {listed(earths)}",),
    )


def _of_a_circuit(stage: Stage, tie: Tie) -> bool:
    """Whether a tie starts at the end of a circuit and not at an earth bar, an inlet, a source."""
    kind = stage.wiring.kinds[tie.bar]
    return kind.acts == "load" or kind.name == "socket"


def _tied_thinly(stage: Stage, tie: Tie) -> Hit:
    ends = stage.rig.conductors.values()
    own = [c for c in ends if tie.bar in (c.a.device, c.b.device) and c.name != tie.wire]
    earth = next((c for c in own if stage.conductor_role(c.name) == EARTH), None)
    over = f"{earth.name} ({earth.size})" if earth else "its earth core"
    return Hit(
        on=(tie.wire, tie.bar, tie.earth, *((earth.name,) if earth else ())),
        span=stage.rig.conductors[tie.wire].span,
        message=f"{tie.earth} is tied to earth only at {tie.bar}, through the earth of its "
        f"circuit, {over}",
        fix=f"run a bonding conductor of its own from the main earth bar to {tie.earth}",
        why=(f"{tie.bar} -- {tie.wire} -- {tie.earth}: no tie starts at an earth bar",),
    )


def _tied_twice(stage: Stage, ties: list[Tie]) -> Hit:
    second = stage.rig.conductors[ties[1].wire]
    return Hit(
        on=(*(tie.wire for tie in reversed(ties)), *dict.fromkeys(tie.earth for tie in ties)),
        span=second.span,
        severity=WARNING,
        message="the mains' earth is tied to the chassis in "
        f"{len(ties)} places: {listed(tie.wire for tie in ties)}",
        value=float(len(ties)),
        limit=1.0,
        unit="ties",
        fix=f"keep one, at the main earth bar, and take {listed(t.wire for t in ties[1:])} out",
        why=tuple(f"{tie.bar} -- {tie.wire} -- {tie.earth}" for tie in ties),
        related=(Related(stage.rig.conductors[ties[0].wire].span, "the first tie"),),
    )


@rule(
    "B15",
    "dc-negative-to-chassis",
    clauses={
        "nfpa70": "NFPA 70 551.20(C), NFPA 1192 (from memory)",
        "abyc-e11": "ABYC E-11, DC negative joined to bonding at one point (from memory)",
        "iec60364": "IEC 60364-4-41 414.4, ISO 13297 (from memory)",
    },
    yields_to=("B12", "D13", "S12"),
)
def dc_negative_to_chassis(stage: Stage) -> Iterator[Hit]:
    """The negative of a direct-current system meets the chassis nowhere, or more than once.

    Why: without the joint a chafed positive makes the chassis live and no fuse opens; with two, the
    battery's current shares the frame, earth conductors and shields between them.
    Breaks it: a battery system beside a chassis stud it is not joined to (a warning); a `bond` at
    the negative bar and another at the inverter.  A `wire` that does the bond's work is a note.
    Does not: one `bond` from the negative bar to the chassis for each system of its own; a supply
    from outside that is `bonded`, its negative joined to earth where it comes from.
    """
    earths = _earth_devices(stage)
    if not earths:
        return
    for view in stage.modes:
        for net, sources in _negatives(view).items():
            yield from _judged(view, net, sources, earths)


def _negatives(view: ModeView) -> dict[int, list[Source]]:
    """The lowest net of each direct-current system that is more than a solar string."""
    nets: dict[int, list[Source]] = {}
    batteries_first = sorted(view.live.values(), key=lambda s: s.device.kind != "battery")
    for source in batteries_first:
        if source.dc and view.potential.get(neutral_net(view, source)) == 0:
            nets.setdefault(neutral_net(view, source), []).append(source)
    return {n: rows for n, rows in nets.items() if any(s.device.kind != "solar" for s in rows)}


def _judged(view: ModeView, net: int, sources: list[Source], earths: list[str]) -> Iterator[Hit]:
    name = sources[0].name
    meant = list(dict.fromkeys(p.owner for p in bonds_meant(view, sources[0])))
    if net not in view.earth_nets:
        strange = set(meant) & {s.name for s in ac_sources(view)}
        if strange:  # the mains' earth lies on the negative, and the mains' own bond with it
            own = [owner for owner in meant if owner not in strange]
            if joined := [*own, *joiners(view, net)]:  # else its neutral does: rule S12
                yield _joints(view, name, joined, earth=earths[0])
        elif not meant and not any(s.device.flag("bonded") for s in sources):
            yield _unjoined(view, sources[0], earths)
        elif len(meant) > 1:
            yield _joints(view, name, meant)
        return
    meant = list(dict.fromkeys(b.owner for b in bonds_within(view, net)))
    plain = [owner for owner in joiners(view, net) if not _of_a_load(view, owner)]
    if len(plain) == 1 and not meant:
        yield _say_bond(view, name, plain[0])
    elif len(plain) + len(meant) > 1:
        yield _joints(view, name, [*meant, *plain], _loop(view, net))


def _of_a_load(view: ModeView, owner: str) -> bool:
    """Whether a conductor belongs to a load: its return over the chassis is a finding itself."""
    return any(view.wiring.kinds[name].acts == "load" for name in ends_of(view, owner))


def _loop(view: ModeView, net: int) -> tuple[str, ...]:
    for bond in bonds_within(view, net):
        return way_between(view, bond.neutral, bond.earth)
    return ()


def _run(view: ModeView, owner: str) -> str:
    """A conductor from terminal to terminal."""
    conductor = view.wiring.rig.conductors.get(owner)
    if conductor is None:
        return f"inside {owner}"
    return f"{conductor.a.name} -- {owner} -- {conductor.b.name}"


def _unjoined(view: ModeView, source: Source, earths: list[str]) -> Hit:
    return Hit(
        on=(source.name, earths[0]),
        span=source.device.span,
        mode=view.name,
        severity=WARNING,
        message=f"the negative of {source.name} is joined to {listed(earths)} nowhere",
        fix=f"add one `bond` from its negative bar to {earths[0]}",
        why=(f"no conductor leads from {source.name}.- to {listed(earths)}",),
        cause=earths[0],
    )


def _say_bond(view: ModeView, source: str, owner: str) -> Hit:
    return Hit(
        on=(owner, source, *(n for n in ends_of(view, owner) if n != source)),
        span=span_of(view, owner),
        mode=view.name,
        severity=NOTE,
        message=f"{owner} joins the negative of {source} to earth, and is not said to be its bond",
        fix=f"write it as `bond {owner} ...`",
    )


def _joints(
    view: ModeView, source: str, owners: list[str], loop: tuple[str, ...] = (), earth: str = ""
) -> Hit:
    return Hit(
        on=(*reversed(owners), source),
        span=span_of(view, owners[-1]),
        mode=view.name,
        message=f"the negative of {source} is joined to earth in {len(owners)} places: "
        + listed(owners),
        value=float(len(owners)),
        limit=1.0,
        unit="joints",
        fix=f"land {owners[-1]} on {earth}, not on the negative"
        if earth
        else f"keep one, at the negative bar, and take {listed(owners[1:])} out",
        why=loop or tuple(_run(view, owner) for owner in owners),
        related=tuple(Related(span_of(view, owner), "joined here") for owner in owners[:-1]),
    )
