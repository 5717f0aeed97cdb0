"""P: panels, which nobody can switch off."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Device
from ..findings import WARNING, Related
from ..registry import Hit, rule
from ..tracing.network import Edge
from ..tracing.trace import ModeView, Stage

USERS = ("converter", "load", "outlet")


@rule(
    "P44",
    "solar-not-isolated",
    WARNING,
    clauses={
        "nfpa70": "NFPA 70 690.13, 690.15 (from memory)",
        "iec60364": "IEC 60364-7-712, isolation on the DC side of the converter (from memory)",
        "": "common practice, no published source",
    },
    yields_to=("S08", "S09", "S13", "D11", "D13", "D14"),
)
def solar_not_isolated(stage: Stage) -> Iterator[Hit]:
    """A solar generator with nothing that opens its line before what it feeds.

    A switch, a contactor or a breaker in its plus opens it; a fuse does not: it is not made to be
    pulled under load, and its holder draws an arc of direct current.
    Why: panels in the light are live whatever else is off.  The regulator cannot be changed, nor a
    fault be stopped, but by covering the roof.
    Breaks it: the panels' cable straight into the regulator; a fuse alone between them.
    Does not: a two-pole switch or a DC breaker beside the regulator.
    """
    told: set[str] = set()
    for view in stage.modes:
        for source in view.live.values():
            device = source.device
            if device.kind != "solar" or device.name in told:
                continue
            fed = _straight_to(view, source.nodes["+"], device)
            if fed is not None:
                told.add(device.name)
                yield Hit(
                    on=(device.name, fed.name),
                    span=device.span,
                    message=f"nothing opens the line of {device.name} before {fed.name}",
                    fix="a switch or a breaker for direct current at the panels' voltage, both "
                    f"poles, between {device.name} and {fed.name}",
                    mode=view.name,
                    related=(Related(fed.span, "live as long as there is light"),),
                )


def _straight_to(view: ModeView, plus: int, panels: Device) -> Device | None:
    """What a panel reaches with everything open that can be opened; None: something opens it."""
    devices, kinds = view.wiring.rig.devices, view.wiring.kinds

    def stays(edge: Edge) -> bool:
        device = devices.get(edge.owner)
        opens = device and (kinds[device.name].acts == "switching" or device.kind == "breaker")
        return not opens

    for node in view.network.walk([plus], stays):
        device = devices[view.wiring.names[node][0]]
        if device is not panels and (device.kind == "battery" or kinds[device.name].acts in USERS):
            return device
    return None
