"""S: line and neutral, plus and minus the wrong way round; sources of direct current at odds."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator

from ...dsl.model import Device
from ...dsl.records import replace
from ..findings import Related
from ..registry import Hit, rule
from ..tracing.across import (
    Stray,
    beyond,
    culprits,
    dc_conflicts,
    island,
    names_on,
    sources_at,
    strays,
    turned,
)
from ..tracing.bonding import listed
from ..tracing.network import POLE, carries
from ..tracing.trace import LINES, ModeView, Source, Stage, wanted


def _ends(stage: Stage, view: ModeView, sides: tuple[str, ...]) -> Iterator[tuple[Device, int]]:
    """The terminals of loads, outlets and converter inputs that are named for one of the sides."""
    for device in stage.rig.devices.values():
        acts = stage.wiring.kinds[device.name].acts
        if not carries(device) or acts not in ("load", "outlet", "converter"):
            continue
        variant = stage.wiring.variants[device.name]
        gives = variant.gives.get(view.network.states[device.name], {})
        for terminal in variant.terminals:
            given = acts == "converter" and terminal in gives
            if wanted(terminal) in sides and not given:
                yield device, stage.wiring.node(device.name, terminal)


def _together(view: ModeView, nodes: Iterable[int]) -> Iterator[list[Stray]]:
    """Strays that share a device: two exchanged conductors are one fault."""
    groups: list[tuple[set[str], list[Stray]]] = []
    for stray in strays(view, nodes):
        devices = {view.wiring.names[node][0] for node in stray.nodes}
        mates = [group for group in groups if group[0] & devices]
        groups = [group for group in groups if not group[0] & devices]
        together = [other for _, found in mates for other in found]
        groups.append((devices.union(*(names for names, _ in mates)), [*together, stray]))
    yield from (found for _, found in groups)


def _exchanged(view: ModeView, found: list[Stray]) -> list[str]:
    """For each stray the likeliest conductor: of several, one in a cable with another's."""
    conductors = view.wiring.rig.conductors
    cables = Counter(
        cable
        for stray in found
        for cable in {conductors[name].cable for name in stray.suspects}
        if cable
    )
    if len(found) == 1:
        return [found[0].suspects[0]]
    return [
        max(reversed(stray.suspects), key=lambda name: cables[conductors[name].cable or ""] > 1)
        for stray in found
    ]


def _reversed(view: ModeView, found: list[Stray], words: str) -> Hit:
    rig, say = view.wiring.rig, view.wiring.say
    likely = _exchanged(view, found)
    culprits = tuple(dict.fromkeys(likely))
    devices = dict.fromkeys(view.wiring.names[node][0] for s in found for node in s.nodes)
    first, *behind = devices
    rest = f"; {listed(behind)} too" if behind else ""
    ends = " and ".join(f"{stray.role} reaches {say(stray.nodes[0])}" for stray in found)
    behind_it = (beyond(view, s.nodes, name) for s, name in zip(found, likely, strict=True))
    return Hit(
        on=(first, *culprits),
        span=rig.conductors[culprits[0]].span,
        mode=view.name,
        message=f"{words}: {ends}{rest}",
        fix=f"exchange {' and '.join(culprits)}"
        if len(culprits) > 1
        else f"land {culprits[0]} on the other pole",
        why=found[0].why,
        related=(Related(rig.devices[first].span, "the wrong way round here"),),
        upsets=frozenset[str]().union(*behind_it, _coupled(view, found)),
    )


def _coupled(view: ModeView, found: list[Stray]) -> frozenset[str]:
    """All of a direct-current system that has a converter of common negative the wrong way round:
    its potentials mean nothing."""
    systems, names = island(view), view.wiring.names
    turned_in = {
        systems[view.net[node]]
        for stray in found
        for node in stray.nodes
        if view.wiring.rig.devices[names[node][0]].flag("common") and view.net[node] in systems
    }
    nets = {net for net, system in systems.items() if system in turned_in}
    return names_on(view, (node for node in range(len(names)) if view.net[node] in nets))


@rule(
    "S08",
    "polarity-reversed",
    clauses={
        "nfpa70": "NFPA 70 200.11 (from memory)",
        "abyc-e11": "ABYC E-11, polarised system (from memory)",
        "iec60364": "IEC 60364-6 6.4.3.6 (from memory)",
    },
    yields_to=("S15",),
)
def polarity_reversed(stage: Stage) -> Iterator[Hit]:
    """Neutral lands on a line terminal, or a line on a neutral terminal.

    Everything behind the place where they cross is one finding.
    Why: the switch of a lamp then opens its neutral and leaves the holder live; a one-pole breaker
    does not take the line off.
    Breaks it: black and white exchanged at a socket.
    Does not: a breaker or a switch, whose terminals 1 and 2 are for either.
    """
    for view in stage.modes:
        nodes = (
            node
            for _, node in _ends(stage, view, (*LINES, "N"))
            if all(role in (*LINES, "N") for role in sources_at(view, node).values())
        )
        for found in _together(view, nodes):
            yield _reversed(view, found, "line and neutral are the wrong way round")


@rule(
    "S09",
    "dc-polarity-reversed",
    clauses={"": "common practice, no published source"},
    yields_to=("S13",),
)
def dc_polarity_reversed(stage: Stage) -> Iterator[Hit]:
    """Plus lands on a minus terminal, both terminals on the same pole, or a battery is turned.

    Why: electronics die at once; a motor runs backwards; a battery the wrong way round against its
    neighbour shorts both of them through their leads.
    Breaks it: `GB2.+ -> GB1.-` and `GB2.- -> GB1.+`.
    Does not: batteries in series, `GB2.- -> GB1.+` alone; a load across the middle of a bank.
    """
    for view in stage.modes:
        ends = list(_turned_ends(stage, view))
        whole = _wholly_turned(stage, view, ends)
        for found in _together(view, ends):
            hit = _reversed(view, found, "plus and minus are the wrong way round")
            system = island(view).get(view.net[found[0].nodes[0]], -1)
            yield replace(hit, cause=whole.get(system, hit.on[0]))
        for source, volts in dc_conflicts(view):
            if volts < 0:
                blamed = whole.get(island(view)[view.net[source.nodes["+"]]], source.name)
                yield _turned(view, view.live[blamed])


def _wholly_turned(stage: Stage, view: ModeView, ends: list[int]) -> dict[int, str]:
    """The battery of each system on whose poles all that is fed is turned: it is the battery."""
    found: dict[int, str] = {}
    plus = [node for _, node in _ends(stage, view, ("+",))]
    for source in view.live.values():
        nets = {view.net[source.nodes[role]] for role in "+-"} if source.dc else set()
        fed = [node for node in plus if view.net[node] in nets]
        against = [
            s for s, volts in dc_conflicts(view) if volts < 0 and view.net[s.nodes["+"]] in nets
        ]
        several = len(fed) + len(against) > 1
        if source.device.kind == "battery" and fed and several and set(fed) <= set(ends):
            found.setdefault(island(view)[view.net[source.nodes["+"]]], source.name)
    return found


def _turned_ends(stage: Stage, view: ModeView) -> Iterator[int]:
    """Both nodes of every pair of terminals with no voltage, or a negative one, across it."""
    for device, plus in _ends(stage, view, ("+",)):
        minus = turned(view, device.name, plus)
        if minus is not None:
            yield from (plus, minus)


def _turned(view: ModeView, source: Source) -> Hit:
    others = _others(view, source)
    return Hit(
        on=(source.name, *others),
        span=source.device.span,
        mode=view.name,
        message=f"{source.name} is the wrong way round against {', '.join(others)}: its plus is "
        "on their minus, and its minus on their plus",
        fix=f"exchange the leads at {source.name}",
        why=_way_from(view, view.live[others[0]], source) if others else (),
        related=tuple(Related(view.live[n].device.span, "against this one") for n in others),
        upsets=names_on(view, source.nodes.values()),
        cause=source.name,
    )


def _others(view: ModeView, source: Source) -> tuple[str, ...]:
    """The other sources on the nets of its two poles."""
    names = [name for role in "+-" for name in sources_at(view, source.nodes[role])]
    return tuple(dict.fromkeys(name for name in names if name != source.name))


def _way_from(view: ModeView, other: Source, source: Source) -> tuple[str, ...]:
    for role in "+-":
        way = view.network.path([other.nodes[role]], source.nodes["-" if role == "+" else "+"])
        if way:
            return view.network.tell(way)
    return ()


@rule(
    "S13",
    "dc-sources-conflict",
    clauses={"": "common practice, no published source"},
)
def dc_sources_conflict(stage: Stage) -> Iterator[Hit]:
    """Sources of direct current in parallel whose voltages do not agree, or plus joined to minus.

    Voltages within 25 % are the same: 12.8 V, 13.8 V and 14.4 V are all 12 V.
    Why: the stronger drives into the weaker whatever the leads let through; a bank joined plus to
    minus burns.
    Breaks it: a 12 V battery across a 24 V bank; a 24 V charger on a 12 V battery; a lead from the
    positive bar to the negative bar.
    Does not: two 12 V batteries in series with a 24 V charger across both.
    """
    for view in stage.modes:
        systems = island(view)
        by_system: dict[int, list[tuple[Source, float]]] = {}
        for source, volts in dc_conflicts(view):
            if volts >= 0:
                system = systems[view.net[source.nodes["+"]]]
                by_system.setdefault(system, []).append((source, volts))
        for found in by_system.values():
            shorts = [s for s, _ in found if view.net[s.nodes["+"]] == view.net[s.nodes["-"]]]
            yield _shorted(view, shorts) if shorts else _at_odds(view, found)


def _shorted(view: ModeView, shorts: list[Source]) -> Hit:
    first = shorts[0]
    way = view.network.path([first.nodes["+"]], first.nodes["-"])
    names = culprits(view, way, ("+",), ("-",))
    span = view.wiring.rig.conductors[names[0]].span if names else first.device.span
    poles = dict.fromkeys(e.owner for _, e in way if e is not None and e.kind == POLE)
    return Hit(
        on=(*names, first.name, *poles),
        span=span,
        mode=view.name,
        message=f"the plus and the minus of {first.name} are joined, a short circuit"
        + (f", by {names[0]}" if len(names) == 1 else ""),
        fix=f"land {' or '.join(names) or 'what joins them'} where it was meant to go",
        why=view.network.tell(way),
        upsets=names_on(view, first.nodes.values()),
    )


def _at_odds(view: ModeView, found: list[tuple[Source, float]]) -> Hit:
    source, volts = found[0]
    others = _others(view, source)
    names = dict.fromkeys((*(s.name for s, _ in found), *others))
    assert source.volts is not None
    across = f"{', '.join(others)} {'puts' if len(others) == 1 else 'put'} {volts:g} V across it"
    return Hit(
        on=tuple(names),
        span=source.device.span,
        mode=view.name,
        message=f"{source.name} is {source.volts:g} V, and {across}",
        fix=f"join in parallel only what has the same voltage: move {source.name}, or put the bank "
        "in series or in parallel as it was meant",
        value=volts,
        limit=source.volts,
        unit="V",
        related=tuple(Related(view.live[n].device.span, "against this one") for n in others),
        cause=next((n for n in names if view.live[n].device.kind == "battery"), source.name),
    )
