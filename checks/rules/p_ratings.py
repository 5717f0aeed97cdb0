"""P: what a device is rated for: fault current, and what flows in it."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Device
from ..books.book import Figure
from ..figures.chains import worst_fault
from ..findings import WARNING, Related
from ..registry import Hit, rule
from ..tracing.cut import protection
from ..tracing.network import BAR, JOINT, PLUG, POLE, Edge
from ..tracing.trace import LINES, UNGROUNDED, ModeView, Source, Stage
from .p_volts import line_poles

NEAR = 1.0 + 1e-9
SUPPLEMENTARY = ("UL1077",)
# What drives a fault by itself; converters hold their own current down.
FAULT_KINDS = ("supply", "generator", "battery", "transformer")


def _fault_sources(view: ModeView, node: int) -> list[Source]:
    """The sources whose fault current can reach a node through closed devices."""
    net = view.net[node]
    found = {name: view.live[name] for name, role in view.roles.get(net, ()) if role in UNGROUNDED}
    return [s for s in found.values() if s.device.kind in FAULT_KINDS]


def _fault_amps(sources: list[Source]) -> float:
    return sum(source.device.number("fault") or 0.0 for source in sources)


def _worse_side(
    view: ModeView, device: Device, terminal: str, sources: list[Source]
) -> list[Source]:
    """Of the sources that reach a pole, those on the side that drives more through it."""
    pairs = view.wiring.variants[device.name].poles
    ends = next(pair for pair in pairs if terminal in pair)
    a, b = (view.wiring.node(device.name, end) for end in ends)
    near = view.network.walk([a], lambda edge: edge.owner != device.name)
    if b in near or view.net[a] != view.net[b]:
        return sources  # there is a way round it, or it stands open
    here = [s for s in sources if any(s.nodes[role] in near for role in s.lines)]
    there = [s for s in sources if s not in here]
    return max(here, there, key=_fault_amps)


@rule(
    "P11",
    "fault-current-above-interrupting-rating",
    clauses={
        "nfpa70": "NFPA 70 110.9",
        "abyc-e11": "ABYC E-11 11.10.1.3 (clause from memory)",
        "iec60364": "IEC 60364-4-43 432.2",
    },
)
def fault_above_interrupting(stage: Stage) -> Iterator[Hit]:
    """A device that may have to open more fault current than it can.

    The prospective current is that at the device's own terminals, through the cold conductors on
    the way (the electrical solution), to whatever it may reach in the same place: a return bar, the
    battery's post, a chassis stud; where it cannot be worked out, the stated fault currents of all
    sources on one side of it, added up.  Those on the other side feed the same fault, but not
    through it.
    Why: a breaker or fuse beyond its interrupting rating does not open, it bursts.
    Breaks it: a 6 kA breaker a metre from a supply of 10 kA; a fuse of 2 kA on a bank of 8 kA.
    Does not: the 6 kA breaker behind 25 m of cord; a fuse between two batteries that holds the
    greater.
    """
    for view in stage.modes:
        for device, terminal, _ in line_poles(view, ("protective",)):
            breaks = device.number("breaks")
            sources = _fault_sources(view, view.wiring.node(device.name, terminal))
            if breaks is None or _fault_amps(sources) <= breaks * NEAR:
                continue
            sources = _worse_side(view, device, terminal, sources)
            amps, steps = _prospective(view, device, terminal, sources)
            if amps <= breaks * NEAR:
                continue
            yield Hit(
                on=(device.name, *(s.name for s in sources)),
                span=device.span_of("breaks"),
                message=f"{device.name} interrupts {breaks / 1000:g} kA; "
                f"{' + '.join(s.name for s in sources)} can drive {amps / 1000:.3g} kA through it",
                fix=f"fit a device that interrupts at least {amps / 1000:.3g} kA",
                mode=view.name,
                value=amps,
                limit=breaks,
                unit="A",
                why=steps,
                related=tuple(Related(s.device.span, "fault current from here") for s in sources),
                cause=" ".join(s.name for s in sources),
            )


def _prospective(
    view: ModeView, device: Device, terminal: str, sources: list[Source]
) -> tuple[float, tuple[str, ...]]:
    """The largest fault current through a pole, A, and how it was found."""
    stated = _fault_amps(sources)
    pairs = view.wiring.variants[device.name].poles
    ends = next(pair for pair in pairs if terminal in pair)
    found = [worst_fault(view, view.wiring.node(device.name, end)) for end in ends]
    known = [row for row in found if row is not None]
    if len(known) < len(found):
        return stated, ("as the sources state, conductors not counted in",)
    to, fault = max(known, key=lambda row: row[1].amps)
    if fault.amps >= stated:
        return stated, ("as the sources state",)
    poles = "+ to -" if view.role(device.name, terminal) in ("+", "-") else f"line to {to}"
    between = f"{fault.path[0]} and {fault.path[1]}"
    loop = f"{fault.amps:.4g} A from {poles}, {between}: loop of {abs(fault.ohms):.3g} ohm"
    return fault.amps, (loop, *fault.source)


@rule("P12", "interrupting-not-checked", WARNING, clauses={"": "a datum is missing"})
def interrupting_not_checked(stage: Stage) -> Iterator[Hit]:
    """A source without a stated fault current, or a device without an interrupting rating.

    Why: what cannot be compared has not been checked, and must not look as if it had.
    Breaks it: a battery without `fault=`; a breaker without `breaks=`.
    Does not: both stated.
    """
    silent: dict[str, tuple[Device, str]] = {}
    for view in stage.modes:
        for device, terminal, _ in line_poles(view, ("protective",)):
            sources = _fault_sources(view, view.wiring.node(device.name, terminal))
            if sources and device.number("breaks") is None:
                silent.setdefault(device.name, (device, "breaks"))
            for source in sources:
                if source.device.number("fault") is None and source.device.kind != "transformer":
                    silent.setdefault(source.name, (source.device, "fault"))
    for name, (device, key) in silent.items():
        yield Hit(
            on=(name,),
            span=device.span,
            message=f"{name} does not say {key}=, so interrupting ratings were not checked there",
            fix=f"add {key}= from the maker's data or a measurement",
        )


@rule(
    "P14",
    "device-overloaded",
    clauses={
        "nfpa70": "NFPA 70 110.3(B), 210.21(B), 404.14 (from memory)",
        "abyc-e11": "ABYC E-11 11.10 (from memory)",
        "iec60364": "IEC 60364-5-53 (from memory)",
    },
    yields_to=("P01", "P24", "S12", "S15"),
    follows=("P02",),
)
def device_overloaded(stage: Stage) -> Iterator[Hit]:
    """A switch, changeover, residual-current device, inlet, socket or pass-through rated below
    what its circuit's devices let through.

    Why: it has no protection of its own; the device ahead of it is its protection.
    Breaks it: a 25 A residual-current device behind a 32 A breaker; a 16 A inlet on a 32 A supply;
    a transfer of 30 A behind a 50 A breaker.
    Does not: a rating at or above the worst current. Two or more 15 A sockets on one 20 A circuit
    pass under `nfpa70` (210.21(B)(3)).
    """
    for view in stage.modes:
        sockets = _sockets_by_cell(view)
        for device, edges in _through(view):
            rating = device.number("transfer" if device.kind == "inverter" else "rating")
            if rating is None:
                continue
            edge = next((e for e in edges if view.node_role(e.a) in UNGROUNDED), None)
            if edge is None:
                continue
            cut = protection(view).through(edge)
            nearest = protection(view).nearest(edge.a)
            idle = nearest if nearest not in cut.names else ""
            said = f"{rating:g} A"
            shared = sockets.get(protection(view).cell[edge.a], 0) > 1
            if device.kind == "socket" and stage.book.name == "nfpa70" and shared:
                several, rating = rating, max(rating, 20.0 if rating >= 15 else rating)
                said += f" (of several sockets {rating:g} A)" if rating > several else ""
            if rating * NEAR < cut.amps < float("inf"):
                yield Hit(
                    on=(device.name, *cut.names, *([idle] if idle else ())),
                    span=device.span,
                    message=f"{device.name} is rated {said} and protected only at "
                    f"{cut.amps:g} A by {' + '.join(cut.names)}",
                    fix=f"{_a(device.kind)} of at least {cut.amps:g} A, or "
                    + (f"{idle} of {rating:g} A at most" if idle else f"{rating:g} A ahead"),
                    mode=view.name,
                    value=cut.amps,
                    limit=rating,
                    unit="A",
                    why=(f"the cut: {' + '.join(cut.names)} = {cut.amps:g} A",),
                    cause=protection(view).circuit(edge.a),
                )


def _a(kind: str) -> str:
    word = "residual-current device" if kind == "rcd" else kind
    return f"{'an' if word[0] in 'aeiou' else 'a'} {word}"


def _through(view: ModeView) -> Iterator[tuple[Device, list[Edge]]]:
    """Devices without protection of their own, with the closed edges that lead through them."""
    edges: dict[str, list[Edge]] = {}
    for edge in view.network.edges:
        kind = view.wiring.kinds.get(edge.owner)
        if edge.kind in (POLE, JOINT, PLUG) and kind and kind.acts != "protective":
            edges.setdefault(edge.owner, []).append(edge)
    nodes = view.wiring.nodes
    for name, kind in view.wiring.kinds.items():
        device = view.wiring.rig.devices[name]
        if kind.acts == "outlet" and name not in edges:
            ends = [nodes[name, t.name] for t in device.terminals]
            edges[name] = [Edge(end, end, BAR, name) for end in ends]
        if name in edges and kind.acts in ("switching", "residual", "outlet", "converter"):
            yield device, edges[name]


def _sockets_by_cell(view: ModeView) -> dict[int, int]:
    count: dict[int, int] = {}
    for name, kind in view.wiring.kinds.items():
        if kind.name == "socket":
            for terminal in view.wiring.variants[name].terminals:
                if terminal in LINES:
                    cell = protection(view).cell[view.wiring.node(name, terminal)]
                    count[cell] = count.get(cell, 0) + 1
                    break
    return count


@rule(
    "P15",
    "supplementary-protector",
    clauses={"": "NFPA 70 240.10 (from memory)"},
)
def supplementary_protector(stage: Stage) -> Iterator[Hit]:
    """A supplementary protector where a branch or main device is needed.

    Why: it is tested only to protect inside an appliance, behind a real branch device.
    Breaks it: a rail device of `standard=UL1077` as the breaker of a socket circuit, whose
    conductors the main ahead of it does not protect.
    Does not: `standard=UL489`; a UL1077 device in a circuit that the device ahead protects alone.
    """
    for view in stage.modes:
        held = protection(view)
        for device, terminal, _ in line_poles(view, ("protective",)):
            if device.text("standard").replace(" ", "") not in SUPPLEMENTARY:
                continue
            ends = next(p for p in view.wiring.variants[device.name].poles if terminal in p)
            nodes = [view.wiring.node(device.name, end) for end in ends]
            ahead = max((held.arriving(node) for node in nodes), key=lambda cut: cut.amps)
            if any(name == device.name or name not in held.ratings for name in ahead.names):
                why = "the only device of its circuit"
            elif (weak := _relies_on(stage, view, nodes, ahead.amps)) is not None:
                over = f"{' + '.join(ahead.names)} ahead lets {ahead.amps:g} A by"
                why = f"what protects {weak}; {over}"
            else:
                continue
            yield Hit(
                on=(device.name,),
                span=device.span_of("standard"),
                message=f"{device.name} is a supplementary protector, and {why}",
                fix="fit a branch device (UL 489), or protect the circuit by one",
                mode=view.name,
            )


def _relies_on(stage: Stage, view: ModeView, nodes: list[int], amps: float) -> str | None:
    """A conductor behind a pole that may carry less than comes from ahead of it."""
    held = protection(view)
    inner = min(nodes, key=lambda node: held.arriving(node).amps)
    for edge in held.live_edges:
        conductor = stage.rig.conductors.get(edge.owner)
        if conductor is None or not conductor.size or held.cell[edge.a] != held.cell[inner]:
            continue
        limit = stage.limit(conductor)
        if isinstance(limit, Figure) and limit.value * NEAR < amps:
            return conductor.name
    return None
