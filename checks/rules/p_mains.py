"""P: the device behind an inlet: near enough to it, and with nothing that goes past it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ...dsl.model import Device
from ..bonding import listed
from ..book import Allowance
from ..cut import Protection, protection
from ..findings import Related
from ..network import BAR, PLUG, POLE, WIRE, Edge
from ..registry import Hit, rule
from ..runs import NEAR, distances
from ..trace import UNGROUNDED, ModeView, Source, Stage, wanted

PRACTICE = {"": "common practice, no published source"}


@dataclass(frozen=True, slots=True)
class Main:
    """A device that ends the run from an inlet, or the lack of one where it is None."""

    name: str | None
    length_m: float
    wires: tuple[str, ...]


@rule(
    "P23",
    "main-too-far",
    clauses={
        "abyc-e11": "ABYC E-11 (shore power main device)",
        "iec60364": "ISO 13297:2020 13.2.2",
    },
    yields_to=("P01", "P03", "D14", "P24", "S02", "S06"),
)
def main_too_far(stage: Stage) -> Iterator[Hit]:
    """The first overcurrent device behind an inlet is farther from it than the book allows, or
    there is none.

    Why: what lies between the inlet and its main is protected by the site's device alone, of
    which nobody on board knows the rating or whether it works; salt and strain reach it first.
    Breaks it: a main in the cabin, 5 m of cable from an inlet on the aft deck (`abyc-e11`).
    Does not: a device within the book's length of the inlet, with a second main farther on; any
    length under `nfpa70`, which gives none.
    """
    allowed = stage.book.allowance("inlet-to-main")
    if allowed is None:
        return
    for view in stage.modes:
        for device in stage.rig.devices.values():
            if device.kind == "inlet" and view.network.states[device.name] == "on":
                main = _farthest(view, device)
                if main and (main.name is None or main.length_m > allowed.value * NEAR):
                    yield _far(view, device, main, allowed)


def _farthest(view: ModeView, inlet: Device) -> Main | None:
    """The first device on each way in from an inlet, and of these the farthest."""
    held, found, bare = protection(view), [], False
    for terminal in view.wiring.variants[inlet.name].terminals:
        start = view.wiring.node(inlet.name, terminal)
        if wanted(terminal) not in UNGROUNDED or view.node_role(start) not in UNGROUNDED:
            continue
        inside = view.network.walk([start], lambda edge: _goes_in(edge, inlet, held))
        lengths = distances(view, start, inside)
        ends = [(node, e) for node in inside for e in view.network.neighbours[node]]
        poles = [(lengths[node], node, e.owner) for node, e in ends if _protects(e, held)]
        bare = bare or (not poles and len(inside) > 1)
        for length, node, owner in poles:
            way = view.network.path([start], node, lambda edge: _goes_in(edge, inlet, held))
            wires = tuple(edge.owner for _, edge in way if edge and edge.kind == WIRE)
            found.append(Main(owner, length, wires))
    if found:
        return max(found, key=lambda main: main.length_m)
    return Main(None, 0.0, ()) if bare else None


def _protects(edge: Edge, held: Protection) -> bool:
    return edge.kind == POLE and edge.owner in held.ratings


def _goes_in(edge: Edge, inlet: Device, held: Protection) -> bool:
    """Whether a step leads on from an inlet, not out through its plug, not through a device."""
    return not _protects(edge, held) and not (edge.kind == PLUG and edge.owner == inlet.name)


def _far(view: ModeView, inlet: Device, main: Main, allowed: Allowance) -> Hit:
    devices, conductors = view.wiring.rig.devices, view.wiring.rig.conductors
    if main.name is None:
        message = f"no overcurrent device stands behind {inlet.name}"
    else:
        message = (
            f"{main.name} stands {main.length_m:g} m of conductor from {inlet.name}; "
            f"{allowed.value:.3g} m is the most"
        )
    return Hit(
        on=tuple(dict.fromkeys((main.name or inlet.name, inlet.name, *main.wires))),
        span=conductors[main.wires[0]].span if main.wires else inlet.span,
        mode=view.name,
        message=message,
        fix=f"put the main, or a device ahead of it, within {allowed.value:.3g} m of {inlet.name}",
        value=main.length_m if main.name else None,
        limit=allowed.value,
        unit="m",
        why=allowed.steps,
        related=(Related(devices[main.name].span, "the first device"),) if main.name else (),
        clause=allowed.clause,
    )


@rule(
    "P24",
    "device-bypassed",
    clauses=PRACTICE,
    yields_to=("P01", "B06", "D01", "D05", "D06", "S08", "S09", "S11", "S13", "S15"),
)
def device_bypassed(stage: Stage) -> Iterator[Hit]:
    """A way leads round a device that ought to open it: it stays live when the device is off.

    Why: whoever switches off the main and works behind it works on live parts; and what goes round
    a breaker is not protected by it.
    Breaks it: the inlet's line landed on the bar behind the main, the main still on that bar; a
    second lead from the inlet to the bar; a battery lead that goes past the battery switch.
    Does not: two devices side by side; loads that branch off ahead of a switch.
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
    yield from _backs_onto(stage)


def _bypassed(view: ModeView, pole: Edge) -> Hit:
    way = view.network.path([pole.a], pole.b, lambda edge: edge.owner != pole.owner)
    wires = [edge.owner for _, edge in way if edge and edge.kind == WIRE]
    device = view.wiring.rig.devices[pole.owner]
    return Hit(
        on=tuple(dict.fromkeys((device.name, *wires))),
        span=device.span,
        mode=view.name,
        message=f"{device.name} opens nothing: a way leads round it, over "
        f"{listed(dict.fromkeys(wires), most=6)}",
        fix=f"take out what joins the two sides of {device.name}",
        why=view.network.tell(way),
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
            source = _straight(view, held, edge.b) if names[edge.b] in landed else None
            if source is not None:
                told.add(edge.owner)
                yield _past(view, edge, source)


def _straight(view: ModeView, held: Protection, node: int) -> Source | None:
    """The supply or generator that reaches a line through no overcurrent device."""
    if view.node_role(node) not in UNGROUNDED:
        return None
    sources = (source for source, _ in held.sources.get(held.cell[node], ()))
    return next((s for s in sources if s.device.kind in ("supply", "generator")), None)


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
