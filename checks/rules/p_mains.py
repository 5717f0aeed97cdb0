"""P: the first device behind an inlet: near enough to it."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Device
from ...dsl.records import record
from ..books.book import Allowance
from ..findings import Related
from ..registry import Hit, rule
from ..runs import NEAR, distances
from ..tracing.cut import Protection, protection
from ..tracing.network import PLUG, POLE, WIRE, Edge
from ..tracing.trace import UNGROUNDED, ModeView, Stage, wanted


@record
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
