"""S: what is fed with the wrong voltage, the wrong frequency, or the wrong lines."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from ...dsl.model import Device
from ..findings import WARNING, Related
from ..registry import Hit, rule
from ..tracing.across import dc_conflicts, shorted, sources_at, volts_across, way
from ..tracing.network import POLE, WIRE, Edge, carries
from ..tracing.trace import GROUNDED, LINES, SAME_VOLTAGE, UNGROUNDED, ModeView, Stage, wanted

# How far the nominal voltage may be from what a device is made for: 230 V on 240 V passes, 208 V
# on 240 V too, 120 V on 230 V does not (common practice, no published source).
AC_TOLERANCE = 0.15
HZ_TOLERANCE = 0.05
PRACTICE = {"": "common practice, no published source"}
# Two lines of one phase turn by nothing; V squared, far below that of any nominal voltage.
NO_TURN = 1.0
# The attribute that says what a kind is fed with, where it is not its `voltage`.
MADE_FOR = {"charger": "input", "inverter": "input", "dcdc": "input", "transformer": "input"}


def takers(stage: Stage, view: ModeView) -> Iterator[tuple[Device, list[int], list[int]]]:
    """Loads and converters, with the line and the grounded nodes they are fed through now."""
    for device in stage.wiring.carrying:
        if stage.wiring.kinds[device.name].acts not in ("load", "converter"):
            continue
        terminals = view.takes(device.name)
        lines = [t for t in terminals if wanted(t) in UNGROUNDED]
        returns = [t for t in terminals if wanted(t) in GROUNDED]
        if lines:
            node = stage.wiring.node
            yield (
                device,
                [node(device.name, t) for t in lines],
                [node(device.name, t) for t in returns],
            )


@rule(
    "S04",
    "voltage-mismatch",
    clauses={
        "nfpa70": "NFPA 70 110.4; tolerance: common practice, no published source",
        "iec60364": "IEC 60364-5-51 512.1.1; tolerance: common practice, no published source",
        "": "common practice, no published source",
    },
    yields_to=("S08", "S09", "S11", "S15"),
)
def voltage_mismatch(stage: Stage) -> Iterator[Hit]:
    """What is fed is made for another nominal voltage than reaches it.

    The voltage is traced: a bank in series adds up, a line and neutral of a split supply give half
    of what its lines give.  Alternating current may be 15 % off, direct current 25 %: a 12 V bank
    stands at 14.4 V while it is charged.  A converter on solar panels takes what its maker says.
    Why: at twice the voltage it burns within seconds; at half it stalls and overheats.
    Breaks it: a 12 V lamp on a 24 V bar; a 120 V heater on 230 V.
    Does not: 12 V on 12.8 V; 230 V on 240 V.
    """
    for view in stage.modes:
        for device, lines, returns in takers(stage, view):
            made = device.number(_made_for(view, device))
            found = _between(view, lines, returns)
            if made is None or found is None or _judged_elsewhere(view, lines[0]):
                continue
            volts, at = found
            direct = view.net[at[0]] in view.potential
            if abs(volts - made) > (SAME_VOLTAGE if direct else AC_TOLERANCE) * made:
                yield _mismatch(view, device, made, volts, at)


def _made_for(view: ModeView, device: Device) -> str:
    """The attribute that says what it takes: an inverter that passes gives what it takes."""
    if view.network.states[device.name] == "pass":
        return "voltage"
    return MADE_FOR.get(device.kind, "voltage")


def _between(
    view: ModeView, lines: list[int], returns: list[int]
) -> tuple[float, tuple[int, int]] | None:
    """The voltage between two lines where there are several, else to the return; and where."""
    pairs = list(combinations(lines, 2)) or [(lines[0], node) for node in returns]
    for a, b in pairs:
        volts = volts_across(view, a, b)
        if volts is not None and not shorted(view, a) and not shorted(view, b):
            return abs(volts), (a, b)
    return None


def _judged_elsewhere(view: ModeView, node: int) -> bool:
    """Panels give no one voltage; and where sources are at odds, that is the fault (S13)."""
    found = sources_at(view, node)
    at_odds = {source.name for source, _ in dc_conflicts(view)}
    panels = all(view.live[name].device.kind == "solar" for name in found)
    return bool(found) and (panels or bool(at_odds & found.keys()))


def _mismatch(
    view: ModeView, device: Device, made: float, volts: float, at: tuple[int, int]
) -> Hit:
    names = tuple(sources_at(view, at[0])) or tuple(sources_at(view, at[1]))
    a, b = (view.wiring.say(node) for node in at)
    source = view.live[names[0]]
    role = sources_at(view, at[0]).get(names[0]) or source.lines[0]
    return Hit(
        on=(device.name,),
        span=device.span_of(_made_for(view, device)),
        mode=view.name,
        message=f"{device.name} is made for {made:g} V, and {volts:.4g} V reach it between {a} "
        f"and {b}",
        fix=f"feed {device.name} from a {made:g} V system, or fit one made for {volts:.4g} V"
        if volts > 1
        else f"{a} and {b} are at one potential: find the lead that lands on the wrong pole",
        value=volts,
        limit=made,
        unit="V",
        why=view.network.tell(way(view, source.nodes[role], at[0])),
        related=tuple(Related(view.live[n].device.span, "fed from here") for n in names),
        cause=f"{volts / made:.0f} times, from {names[0]}",
    )


@rule("S05", "frequency-mismatch", WARNING, clauses=PRACTICE, yields_to=("S04",))
def frequency_mismatch(stage: Stage) -> Iterator[Hit]:
    """A device that states a frequency is fed with another.

    Why: a motor for 60 Hz turns a sixth slower on 50 Hz and overheats at full voltage; clocks and
    timers run wrong.
    Breaks it: `motor M1 230V 60Hz` on a 50 Hz supply.
    Does not: a device that states no frequency, as most electronic ones need not.
    """
    for view in stage.modes:
        for device, lines, _ in takers(stage, view):
            own = device.number("frequency")
            if own is None or wanted(view.wiring.names[lines[0]][1]) not in LINES:
                continue
            for name in sources_at(view, lines[0]):
                hertz = view.live[name].hz
                if hertz and abs(hertz - own) > HZ_TOLERANCE * own:
                    yield Hit(
                        on=(device.name,),
                        span=device.span_of("frequency"),
                        mode=view.name,
                        message=f"{device.name} is made for {own:g} Hz, and {name} gives "
                        f"{hertz:g} Hz",
                        fix=f"ask the maker whether {device.name} may run on {hertz:g} Hz, and "
                        "say so by taking its frequency out",
                        value=hertz,
                        limit=own,
                        unit="Hz",
                        related=(Related(view.live[name].device.span, "fed from here"),),
                        cause=f"{own:g} Hz on {name}",
                    )


@rule(
    "S11",
    "lines-not-opposed",
    clauses={
        "nfpa70": "NFPA 70 551.44, 210.4 (from memory)",
        "": "common practice, no published source",
    },
    yields_to=("D01", "D02", "D04", "S08", "S15"),
)
def lines_not_opposed(stage: Stage) -> Iterator[Hit]:
    """A load or a socket for several lines gets the same line twice, or not all of its lines.

    Why: between two terminals on one line there is no voltage, so the load does nothing; a
    three-phase motor with a line missing stalls and burns; and the neutral of a split load on one
    line carries the sum of both sides in place of their difference.
    Breaks it: `split` with L1 and L2 from one bar, or both from the one line of an adapter; a
    three-phase socket with a core not landed.
    Does not: L1 and L2 from the two lines of a split supply, or from two of three phases.
    """
    for view in stage.modes:
        for device, lines in _several(stage, view):
            fault = _fault_of(view, lines)
            if fault is not None:
                words, names = fault
                yield Hit(
                    on=(device.name, *names),
                    span=device.span,
                    mode=view.name,
                    message=f"{device.name} uses {len(lines)} lines, and {words}",
                    fix=f"land each line terminal of {device.name} on a line of its own; where "
                    "the source has one line alone, keep it off in this mode",
                    related=tuple(
                        Related(view.live[n].device.span, "fed from here") for n in names
                    ),
                    upsets=_own(view, device, lines),
                )


def _several(stage: Stage, view: ModeView) -> Iterator[tuple[Device, list[int]]]:
    """Loads and sockets for several lines, with the nodes of those lines."""
    for device, lines, _ in takers(stage, view):
        if len(lines) > 1 and stage.wiring.kinds[device.name].acts == "load":
            yield device, lines
    for device in stage.rig.devices.values():
        own = stage.wiring.variants[device.name].terminals
        names = [t for t in own if wanted(t) in LINES]
        if device.kind == "socket" and carries(device) and len(names) > 1:
            yield device, [stage.wiring.node(device.name, name) for name in names]


def _own(view: ModeView, device: Device, lines: list[int]) -> frozenset[str]:
    """The load or socket, the conductors on it, and the device that stands next before it."""
    names = {device.name}
    for conductor in view.wiring.rig.conductors.values():
        if device.name in (conductor.a.device, conductor.b.device):
            names.add(conductor.name)
    for node in lines:
        poles = [edge.owner for edge in _poles_next(view, node)]
        names |= set(poles)
    return frozenset(names)


def _poles_next(view: ModeView, node: int) -> list[Edge]:
    """The closed poles reached from a node over conductors and bars alone."""
    reached = view.network.walk([node], lambda edge: edge.kind != POLE)
    return [e for n in reached for e in view.network.neighbours[n] if e.kind == POLE]


def _fault_of(view: ModeView, lines: list[int]) -> tuple[str, tuple[str, ...]] | None:
    say = view.wiring.say
    roles = [[role for role in sources_at(view, node).values() if role in LINES] for node in lines]
    names = tuple(dict.fromkeys(name for node in lines for name in sources_at(view, node)))
    if not any(roles):
        return None
    for node, found in zip(lines, roles, strict=True):
        if not found and "N" in sources_at(view, node).values():
            return None  # a neutral lies there: S08 says so
        if not found:
            return f"no line reaches {say(node)}", names
    for a, b in combinations(lines, 2):
        volts = volts_across(view, a, b)
        if view.net[a] == view.net[b] or (volts is not None and abs(volts) < 1):
            return f"{say(a)} and {say(b)} are on the same line", names
    return None


@rule(
    "S17",
    "phase-order-reversed",
    WARNING,
    clauses={
        "iec60364": "IEC 60364-6 6.4.3.9, phase sequence (from memory)",
        "": "common practice, no published source",
    },
    yields_to=("S08", "S11", "S15"),
)
def phase_order_reversed(stage: Stage) -> Iterator[Hit]:
    """The three lines arrive at a motor or a socket in the reverse order.

    All that are reversed in a mode are one finding: most often two cores changed places once.
    Why: a three-phase motor turns backwards; pumps do not deliver, and hoists run past their ends.
    Breaks it: L1 and L3 exchanged at an inlet.
    Does not: L1, L2, L3 moved on by one or two places; lamps and heaters, which do not turn.
    """
    for view in stage.modes:
        turned = [device for device, lines in _several(stage, view) if _backwards(view, lines)]
        turned = [device for device in turned if device.kind in ("motor", "socket")]
        if turned:
            yield _reversed(stage, view, turned)


def _reversed(stage: Stage, view: ModeView, turned: list[Device]) -> Hit:
    first, *rest = turned
    place, wire = _where(view, first)
    names = ", ".join(device.name for device in turned)
    conductor = view.wiring.rig.conductors.get(wire)
    return Hit(
        on=tuple(device.name for device in turned) + ((wire,) if wire else ()),
        span=conductor.span if conductor else first.span,
        mode=view.name,
        message=f"the lines reach {names} in the order L3 L2 L1: motors turn backwards",
        fix=f"exchange two of the lines that {conductor.statement} brings to {place}"
        if conductor
        else "exchange two of the three lines where their order changes",
        why=tuple(_arrives(view, node) for node in _line_nodes(stage, first)),
        related=tuple(Related(device.span, "reversed too") for device in rest),
    )


def _where(view: ModeView, device: Device) -> tuple[str, str]:
    """Where the order changes on the way to a device: the first reversed device, and the conductor
    that comes to it; "" where no conductor does."""
    wiring = view.wiring
    goal = wiring.node(device.name, next(t.name for t in device.terminals if t.name in LINES))
    name, role = next(iter(sources_at(view, goal).items()))
    steps = way(view, view.live[name].nodes[role], goal)
    came = ""
    for node, edge in steps:
        if edge is not None and edge.kind == WIRE:
            came = edge.owner
        passed = wiring.names[node][0]
        variant = wiring.variants[passed]
        ends = [p[0] for p in variant.poles[:3]] or [t for t in variant.terminals if t in LINES]
        if came and _backwards(view, [wiring.node(passed, end) for end in ends]):
            return passed, came
    return device.name, came


def _backwards(view: ModeView, lines: list[int]) -> bool:
    """Whether three lines of one source follow each other in the reverse order."""
    found = [view.line_phasor(node) for node in lines]
    if len(found) != 3 or len({tuple(sources_at(view, node)) for node in lines}) != 1:
        return False
    one, two, _ = found
    return one is not None and two is not None and (one.conjugate() * two).imag > NO_TURN


def _line_nodes(stage: Stage, device: Device) -> list[int]:
    names = (t.name for t in device.terminals if wanted(t.name) in LINES)
    return [stage.wiring.node(device.name, name) for name in names]


def _arrives(view: ModeView, node: int) -> str:
    roles = ", ".join(f"{role} of {name}" for name, role in sources_at(view, node).items())
    return f"{view.wiring.say(node)} -- {roles}"
