"""P: the grounded conductors, which no device stands in: held by the devices of their lines."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from math import inf

from ...dsl.model import Conductor, Device
from ..books.book import Figure
from ..registry import Hit, rule
from ..tracing.cut import protection
from ..tracing.flow import Cut
from ..tracing.network import WIRE, Edge
from ..tracing.parallel import together
from ..tracing.trace import UNGROUNDED, ModeView, Stage, wanted

NEAR = 1.0 + 1e-9
TAKERS = ("load", "outlet", "converter")

CLAUSES = {
    "nfpa70": "NFPA 70 210.4, 220.61, 240.4 (from memory)",
    "abyc-e11": "ABYC E-11 11.10 (from memory)",
    "iec60364": "IEC 60364-4-43 431.2 (from memory)",
}


# A return that lies astray carries what it was not meant to: then that is told.
RETURNS_ASTRAY = ("P01", "P02", "B05", "B06", "B07", "B08", "P24")


@rule("P17", "return-overloaded", clauses=CLAUSES, yields_to=RETURNS_ASTRAY)
def return_overloaded(stage: Stage) -> Iterator[Hit]:
    """A neutral or a DC negative can come to carry more than it may.

    No device stands in it: what holds it are the devices in the lines of the circuits that
    return through it.  Lines of one source that are not in opposition add up in it.
    Why: each circuit's device sees only its own share, and a return thinner than its line has no
    protection at all.
    Breaks it: two 15 A circuits of one line sharing a 14 AWG neutral; a battery negative thinner
    than its fuse asks.
    Does not: a return as thick as its line; a multiwire circuit on two opposed lines.
    """
    for view in stage.modes:
        for edge, (cut, passed) in _worst(view).items():
            conductor = stage.rig.conductors[edge.owner]
            limit = together(stage, conductor, stage.limit(conductor)) if conductor.size else None
            if isinstance(limit, Figure) and limit.value * NEAR < cut.amps < inf:
                yield _hit(view, conductor, cut, limit, passed)


@lru_cache(maxsize=64)
def _worst(view: ModeView) -> dict[Edge, tuple[Cut, tuple[str, ...]]]:
    """Every return conductor with its worst current, and what is led round in its circuits."""
    found: dict[Edge, tuple[Cut, tuple[str, ...]]] = {}
    for edge, cut, passed in (*_from_takers(view), *_from_sources(view)):
        if edge not in found or found[edge][0].amps < cut.amps:
            found[edge] = cut, passed
    return found


@rule(
    "P41",
    "return-bar-overloaded",
    clauses={
        "nfpa70": "NFPA 70 408.30, 110.3(B) (from memory)",
        "abyc-e11": "ABYC E-11 11.10 (from memory)",
        "iec60364": "IEC 60364-4-43 433.1",
    },
    yields_to=RETURNS_ASTRAY,
)
def return_bar_overloaded(stage: Stage) -> Iterator[Hit]:
    """A neutral or negative bar is rated for less than comes back to it.

    What comes back is what the devices in the lines of its circuits let through together, as far
    as the device ahead of them all does: the current of the thickest lead on the bar, as in P17.
    Why: the bars of the lines are chosen by their feed, and the one beside them by what was left in
    the box; it carries the same current.
    Breaks it: a 60 A negative bar behind a 150 A fuse that feeds an inverter.
    Does not: a bar of the rating of the positive one; a bar of which no rating is said.
    """
    for view in stage.modes:
        told: dict[str, Cut] = {}
        for edge, (cut, _) in _worst(view).items():
            for node in (edge.a, edge.b):
                device = stage.rig.devices[view.wiring.names[node][0]]
                rating = device.number("rating") if device.kind == "bus" else None
                least = told[device.name].amps if device.name in told else 0.0
                if rating is not None and max(least, rating * NEAR) < cut.amps < inf:
                    told[device.name] = cut
        for name, cut in told.items():
            yield _bar(view, stage.rig.devices[name], cut)


def _bar(view: ModeView, bar: Device, cut: Cut) -> Hit:
    holding = " + ".join(cut.names)
    return Hit(
        on=(bar.name, *cut.names),
        span=bar.span,
        message=f"{bar.name} is rated {bar.number('rating'):g} A, and {cut.amps:g} A can come back "
        f"to it, held by {holding}",
        fix=f"a bar of at least {cut.amps:g} A",
        mode=view.name,
        value=cut.amps,
        limit=bar.number("rating"),
        unit="A",
        why=(f"the cut: {holding} = {cut.amps:g} A",),
    )


def _hit(
    view: ModeView, conductor: Conductor, cut: Cut, limit: Figure, passed: tuple[str, ...]
) -> Hit:
    """``passed``: devices of its circuits that a way leads round (P24)."""
    holding = " + ".join(cut.names)
    return Hit(
        on=tuple(dict.fromkeys((conductor.name, *cut.names, *passed))),
        span=conductor.span,
        message=f"the return {conductor.name} ({conductor.size}) can come to carry "
        f"{cut.amps:g} A, held by {holding}; {limit.value:g} A is its most",
        fix="a return as thick as its line; a return of its own for each circuit",
        mode=view.name,
        value=cut.amps,
        limit=limit.value,
        unit="A",
        why=(f"the cut: {holding} = {cut.amps:g} A", *limit.steps),
        cause=" ".join(sorted(cut.names)),
    )


def _from_takers(view: ModeView) -> Iterator[tuple[Edge, Cut, tuple[str, ...]]]:
    """Every return conductor with the worst current of the circuits behind it.

    Where a DC system has several sources their circuits return to each its own; returns of several
    circuits are judged where all sources lie on one side of them.
    """
    held = protection(view)
    for edge, circuits in _returns(view).items():
        by_role: dict[str, set[int]] = {}
        for role, cell in circuits:
            by_role.setdefault(role, set()).add(cell)
        if "+" in by_role and len(circuits) > 1 and _between_sources(view, edge):
            continue
        bridged = (e.owner for _, cell in sorted(circuits) for e in held.bridged.get(cell, ()))
        cuts = (held.into_all(sorted(cells)) for cells in by_role.values())
        yield edge, max(cuts, key=_amps), tuple(dict.fromkeys(bridged))


def _between_sources(view: ModeView, edge: Edge) -> bool:
    """Whether sources of direct current lie on both sides of a return, or there is a way round."""
    minus = {source.nodes["-"] for source in view.live.values() if source.dc}
    near = view.network.walk([edge.a], lambda step: step is not edge)
    if edge.b in near:
        return True
    far = view.network.walk([edge.b], lambda step: step is not edge)
    return bool(minus & near.keys()) and bool(minus & far.keys())


def _amps(cut: Cut) -> float:
    return cut.amps


def _returns(view: ModeView) -> dict[Edge, set[tuple[str, int]]]:
    """The return conductors of a mode with the circuits (line role, cell) behind each."""
    starts = [s.nodes[s.grounded] for s in view.live.values() if s.grounded in s.nodes]
    reached = view.network.walk(starts)
    behind = _circuits(view, reached)
    circuits: dict[Edge, set[tuple[str, int]]] = {}
    for node in reversed(list(reached)):
        edge = reached[node]
        if edge is None or node not in behind:
            continue
        if edge.kind == WIRE:
            circuits[edge] = behind[node]
        behind.setdefault(edge.other(node), set()).update(behind[node])
    return circuits


def _circuits(view: ModeView, reached: dict[int, Edge | None]) -> dict[int, set[tuple[str, int]]]:
    """For each return terminal of a load, an outlet or a converter: the circuits it belongs to."""
    held, wiring = protection(view), view.wiring
    behind: dict[int, set[tuple[str, int]]] = {}
    for device, kind in wiring.kinds.items():
        if kind.acts not in TAKERS:
            continue
        taken = view.takes(device)
        if kind.acts == "outlet":
            taken = wiring.variants[device].terminals
        for terminal in taken:
            node = wiring.node(device, terminal)
            if wanted(terminal) not in ("N", "-") or node not in reached:
                continue
            for line in taken:
                ahead = wiring.node(device, line)
                if wanted(line) in UNGROUNDED and view.node_role(ahead) in UNGROUNDED:
                    role = view.node_role(ahead)
                    behind.setdefault(node, set()).add((role, held.cell[ahead]))
    return behind


def _from_sources(view: ModeView) -> Iterator[tuple[Edge, Cut, tuple[str, ...]]]:
    """The negative lead of a source: with the largest device that its positive leads lead to, for a
    battery; with what it delivers, for another."""
    held = protection(view)
    for source in view.live.values():
        minus = source.nodes["-"] if source.dc else None
        beside = [] if minus is None else view.network.neighbours[minus]
        leads = [edge for edge in beside if edge.kind == WIRE]
        if len(leads) != 1:
            continue
        if source.device.kind != "battery":
            yield leads[0], held.limits[source.name], ()
            continue
        poles = held.poles.get(held.cell[source.nodes["+"]], ())
        ratings = {edge.owner: held.ratings[edge.owner] for edge in poles}
        if ratings:
            largest = max(ratings, key=lambda name: ratings[name])
            yield leads[0], Cut(ratings[largest], (largest,)), ()
