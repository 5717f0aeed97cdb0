"""P: mains against the inlets they stand behind, and loads against the devices ahead of them."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Device
from ..cut import protection
from ..findings import Related
from ..registry import Hit, rule
from ..trace import UNGROUNDED, ModeView, Stage

NEAR = 1.0 + 1e-9


@rule(
    "P21",
    "main-above-inlet",
    clauses={
        "nfpa70": "NFPA 70 551.44, 551.46 (from memory)",
        "abyc-e11": "ABYC E-11 11.11 (from memory)",
        "iec60364": "IEC 60364-7-721 (from memory)",
    },
    yields_to=("P14",),
)
def main_above_inlet(stage: Stage) -> Iterator[Hit]:
    """The device behind an inlet is rated above the inlet.

    Why: the rig will be plugged into other supplies than the one described; its own main is what
    protects the inlet and the cord then.
    Breaks it: a 32 A main behind a 16 A inlet.
    Does not: a main at or below the inlet's rating.
    """
    for view in stage.modes:
        held = protection(view)
        for device in stage.rig.devices.values():
            rating = device.number("rating")
            if device.kind != "inlet" or rating is None:
                continue
            cells = {held.cell[view.wiring.node(device.name, t.name)] for t in device.terminals}
            for edge in (e for cell in sorted(cells) for e in held.poles.get(cell, ())):
                above = held.ratings[edge.owner]
                if rating * NEAR < above and view.node_role(edge.a) in UNGROUNDED:
                    yield Hit(
                        on=(edge.owner, device.name),
                        span=stage.rig.devices[edge.owner].span,
                        message=f"{edge.owner} is rated {above:g} A, the inlet {device.name} ahead "
                        f"of it {rating:g} A",
                        fix=f"a main of at most {rating:g} A",
                        mode=view.name,
                        value=above,
                        limit=rating,
                        unit="A",
                        related=(Related(device.span, "the inlet"),),
                    )


@rule(
    "P22",
    "load-above-device",
    clauses={
        "nfpa70": "NFPA 70 210.20, 210.23",
        "abyc-e11": "ABYC E-11 11.10 (from memory)",
        "iec60364": "IEC 60364-4-43 433.1",
    },
    yields_to=("P14",),
)
def load_above_device(stage: Stage) -> Iterator[Hit]:
    """One load alone draws more than the device ahead of it is rated for.

    Why: it trips every time it is used, or is held by a device that is about to burn.
    Breaks it: a 3 kW heater at 120 V (25 A) on a 15 A breaker.
    Does not: a load at or below its device's rating; what several loads draw together.
    """
    for view in stage.modes:
        held = protection(view)
        for device in stage.rig.devices.values():
            amps = _running_current(view, device)
            nodes = [view.wiring.node(device.name, t) for t in view.takes(device.name)]
            lines = [node for node in nodes if view.node_role(node) in UNGROUNDED]
            if not amps or not lines:
                continue
            cut = held.arriving(lines[0])
            if 0 < cut.amps < amps / NEAR:
                yield Hit(
                    on=(device.name, *cut.names),
                    span=device.span,
                    message=f"{device.name} draws {amps:.3g} A and {' + '.join(cut.names)} "
                    f"ahead of it lets {cut.amps:g} A through",
                    fix="a circuit of its own for that current, conductor and device",
                    mode=view.name,
                    value=amps,
                    limit=cut.amps,
                    unit="A",
                )


def _running_current(view: ModeView, device: Device) -> float | None:
    """What a load on one line draws, A: as stated, or from its power at its own voltage."""
    if view.wiring.kinds[device.name].acts != "load" or len(view.takes(device.name)) > 2:
        return None
    power, volts = device.number("power") or device.number("apparent"), device.number("voltage")
    stated = device.number("current")
    return stated if stated is not None else power / volts if power and volts else None
