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
    dc_conflicts,
    island,
    names_on,
    sources_at,
    strays,
    turned,
    volts_across,
)
from ..tracing.bonding import listed
from ..tracing.network import POLE, carries
from ..tracing.trace import LINES, ModeView, Source, Stage, wanted


def _ends(stage: Stage, view: ModeView, sides: tuple[str, ...]) -> Iterator[tuple[Device, int]]:
    """The terminals of loads, outlets and converter inputs that are named for one of the sides."""
    for device in stage.wiring.carrying:
        acts = stage.wiring.kinds[device.name].acts
        if acts not in ("load", "outlet", "converter"):
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
    behind_it = [beyond(view, s.nodes, name) for s, name in zip(found, likely, strict=True)]
    cases = _live_cases(view, frozenset[str]().union(*behind_it))
    return Hit(
        on=(first, *culprits),
        span=rig.conductors[culprits[0]].span,
        mode=view.name,
        message=f"{words}: {ends}{rest}"
        + _volts(view, found)
        + (f"; the case of {listed(cases)} is live" if cases else ""),
        fix=f"exchange {' and '.join(culprits)}"
        if len(culprits) > 1
        else _to_its_pole(view, culprits[0], found[0]),
        why=found[0].why,
        related=(Related(rig.devices[first].span, "the wrong way round here"),),
        upsets=frozenset[str]().union(*behind_it, _coupled(view, found)),
    )


def _volts(view: ModeView, found: list[Stray]) -> str:
    """What lies across a load with a line on both its terminals, in words."""
    node = found[0].nodes[0]
    device = view.wiring.names[node][0]
    if len(found) > 1 or found[0].role not in LINES:
        return ""
    lines = [view.wiring.node(device, t) for t in view.wiring.variants[device].terminals]
    lines = [n for n in lines if wanted(view.wiring.kind_name(n)) in LINES]
    volts = max((abs(v) for n in lines if (v := volts_across(view, n, node))), default=0.0)
    return f"; {volts:.0f} V lie across {device}" if volts else ""


def _live_cases(view: ModeView, names: frozenset[str]) -> list[str]:
    """Which of these have their protective earth on a line: an earth joined to what is turned."""
    wiring, found = view.wiring, []
    for name, device in wiring.rig.devices.items():
        nets = {view.net[wiring.node(name, t)] for t in wiring.variants[name].pe}
        roles = {role for net in nets - view.earth_nets for _, role in view.roles.get(net, ())}
        if name in names and carries(device) and roles & set(LINES):
            found.append(name)
    return found


def _to_its_pole(view: ModeView, conductor: str, stray: Stray) -> str:
    """Where the one conductor of a stray belongs, in words."""
    run = view.wiring.rig.conductors[conductor]
    role = view.wiring.kind_name(stray.nodes[0])
    pole = {"N": "neutral", "-": "minus", "+": "plus"}.get(wanted(role), "line")
    return f"land {conductor}, which runs from {run.a.name} to {run.b.name}, on the {pole}"


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
            battery = whole.get(system)
            if battery is not None and _fused_in_the_minus(view, battery):
                hit = _at_the_posts(view, battery, hit, found)
            yield replace(hit, cause=battery or hit.on[0])
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


def _fused_in_the_minus(view: ModeView, battery: str) -> bool:
    """Whether the way to the protection begins at a battery's minus: its leads are exchanged."""
    kinds, names = view.wiring.kinds, view.wiring.names

    def leads_to_one(role: str) -> bool:
        reached = view.network.walk([view.live[battery].nodes[role]], lambda e: e.kind != POLE)
        return any(kinds[names[node][0]].acts == "protective" for node in reached)

    return leads_to_one("-") and not leads_to_one("+")


def _at_the_posts(view: ModeView, battery: str, hit: Hit, found: list[Stray]) -> Hit:
    """The same as a finding on the battery, from whose posts all that it feeds is turned."""
    fed = dict.fromkeys(view.wiring.names[node][0] for stray in found for node in stray.nodes)
    return replace(
        hit,
        on=(battery, *fed),
        span=view.live[battery].device.span,
        message=f"the leads of {battery} are exchanged at its posts: its minus goes to the plus "
        f"of what it feeds, {listed(fed)}",
        fix=f"exchange the leads at {battery}",
    )


def _turned_ends(stage: Stage, view: ModeView) -> Iterator[int]:
    """Both nodes of every pair of terminals with no voltage, or a negative one, across it."""
    for device, plus in _ends(stage, view, ("+",)):
        minus = turned(view, device.name, plus)
        if minus is not None:
            yield from (plus, minus)


def _turned(view: ModeView, source: Source) -> Hit:
    others = others_on(view, source)
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


def others_on(view: ModeView, source: Source) -> tuple[str, ...]:
    """The other sources on the nets of its two poles: the batteries, where there are any."""
    names = [name for role in "+-" for name in sources_at(view, source.nodes[role])]
    found = dict.fromkeys(name for name in names if name != source.name)
    batteries = [name for name in found if view.live[name].device.kind == "battery"]
    return tuple(batteries or found)


def _way_from(view: ModeView, other: Source, source: Source) -> tuple[str, ...]:
    for role in "+-":
        way = view.network.path([other.nodes[role]], source.nodes["-" if role == "+" else "+"])
        if way:
            return view.network.tell(way)
    return ()
