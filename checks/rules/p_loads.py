"""P: mains against their inlets, loads and outputs against the devices in their leads."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Device
from ..books.book import Missing
from ..capacity.converters import follows_the_sun, full_amps
from ..capacity.demand import demand
from ..findings import Related
from ..registry import Hit, rule
from ..tracing.cut import protection
from ..tracing.parallel import together
from ..tracing.trace import UNGROUNDED, ModeView, Stage

NEAR = 1.0 + 1e-9
LIMITED = ("alternator", "charger", "dcdc", "solar")


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
    yields_to=("P14", "P33", "B08", "S01", "S12"),
)
def load_above_device(stage: Stage) -> Iterator[Hit]:
    """One load, an inverter or a converter alone draws more than the device ahead is rated for.

    Why: it trips every time it is used, or is held by a device that is about to burn.
    Breaks it: a 3 kW heater at 120 V (25 A) on a 15 A breaker, a 15 kW kiln on three lines of
    400 V (21.7 A) on 16 A; a 4 kW inverter that runs down to
    22 V (202 A at 90 %) behind a 150 A fuse.
    Does not: a load at or below its device's rating; what several loads draw together.
    """
    for view in stage.modes:
        held = protection(view)
        for device in stage.rig.devices.values():
            amps = _running_current(view, device)
            nodes = [view.wiring.node(device.name, t) for t in view.takes(device.name)]
            lines = [node for node in nodes if view.node_role(node) in UNGROUNDED]
            if not amps or not lines or not _on_its_battery(view, device, lines[0]):
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
                    cause=" + ".join(cut.names),
                )


def _on_its_battery(view: ModeView, device: Device, line: int) -> bool:
    """Whether an inverter has the battery it draws from; true of everything else."""
    found = (view.live[name].device.kind for name, _ in view.roles.get(view.net[line], ()))
    return device.kind != "inverter" or view.takes(device.name)[0] != "+" or "battery" in found


def _running_current(view: ModeView, device: Device) -> float | None:
    """What a load draws in a line, A: as stated, or from its power at its own voltage.

    Of an inverter or a converter the current at full output (`converters.full_amps`); one that
    follows the sun takes no more than there is.
    """
    source = view.live.get(device.name)
    if device.kind in ("dcdc", "inverter"):
        if source is None or follows_the_sun(view, source) or device.number("takes"):
            return None
        return full_amps(view, source)
    if view.wiring.kinds[device.name].acts != "load":
        return None
    own = {view.wiring.node(device.name, terminal) for terminal in view.takes(device.name)}
    draws = demand(view).of.get(device.name, ())
    return max((draw.amps for draw in draws if draw.node in own), default=None)


@rule(
    "P46",
    "load-above-conductor",
    clauses={
        "nfpa70": "NFPA 70 210.19(A)(1): not less than the load to be served",
        "abyc-e11": "ABYC E-11 11.14 (from memory): the largest current of the load",
        "iec60364": "IEC 60364-4-43 433.1: Ib <= In <= Iz",
    },
    yields_to=("P01", "P02", "P03", "P14", "P18", "P22", "P33", "P36", "S12"),
)
def load_above_conductor(stage: Stage) -> Iterator[Hit]:
    """One load draws more than the conductor that ends on it carries.

    Where the ampacity is no standard rating, NFPA 70 and ABYC E-11 let the next larger device stand
    ahead of it.  That is for the device alone: the load has to stay within the conductor.
    Why: the device carries the load for ever, and the conductor runs hotter than its insulation is
    made for, all the time.
    Breaks it: 44 A on 8 AWG that carries 40.8 A in a bundle, behind a 45 A fuse.
    Does not: 40 A on it; what several loads on one conductor draw together.
    """
    for view in stage.modes:
        for device in stage.rig.devices.values():
            amps = _running_current(view, device)
            for terminal in view.takes(device.name) if amps else ():
                hit = _above_its_lead(stage, view, device, terminal, amps or 0.0)
                if hit is not None:
                    yield hit
                    break


def _above_its_lead(
    stage: Stage, view: ModeView, device: Device, terminal: str, amps: float
) -> Hit | None:
    for conductor, _ in stage.landings.get((device.name, terminal), ()):
        carries = together(stage, conductor, stage.ampacity(conductor))
        if isinstance(carries, Missing) or amps <= carries.value * NEAR:
            continue
        if view.conductor_role(conductor.name) not in UNGROUNDED:
            continue
        return Hit(
            on=(device.name, conductor.name),
            span=conductor.span,
            message=f"{device.name} draws {amps:.4g} A, and {conductor.name} ({conductor.size}) "
            f"carries {carries.value:.4g} A",
            fix="a larger conductor",
            mode=view.name,
            value=amps,
            limit=carries.value,
            unit="A",
            why=carries.steps,
            related=(Related(device.span, "draws it"),),
            cause=conductor.statement,
        )
    return None


@rule(
    "P40",
    "output-above-device",
    clauses={
        "abyc-e11": "ABYC E-11 11.10 (from memory)",
        "": "common practice, no published source",
    },
    yields_to=("D13", "D04"),
)
def output_above_device(stage: Stage) -> Iterator[Hit]:
    """An alternator, a charger or a converter delivers more than the device in its lead holds.

    Why: it opens just when the battery takes most.  An alternator cut off from its battery under
    load drives its voltage up until its diodes and everything still on the bar are destroyed.
    Breaks it: a 70 A alternator behind a 60 A fuse.
    Does not: a device at or above what the source delivers; a source straight on its battery.
    """
    for view in stage.modes:
        held = protection(view)
        for source in view.live.values():
            amps = source.device.number("rating")
            if source.device.kind not in LIMITED or amps is None:
                continue
            cell = held.cell[source.nodes["+"]]
            poles = {edge.owner: held.ratings[edge.owner] for edge in held.poles.get(cell, ())}
            if len(poles) != 1 or not _charges(view, source.nodes["+"]):
                continue
            (holding, held_amps), *_ = poles.items()
            if held_amps >= amps / NEAR:
                continue
            yield Hit(
                on=(source.name, holding),
                span=source.device.span,
                message=f"{source.name} delivers {amps:g} A, and {holding} in its lead holds "
                f"{held_amps:g} A",
                fix=f"a device of at least {amps:g} A, and a lead for it",
                mode=view.name,
                value=amps,
                limit=held_amps,
                unit="A",
                related=(Related(stage.rig.devices[holding].span, "in its lead"),),
            )


def _charges(view: ModeView, plus: int) -> bool:
    """Whether a battery is on the same net, and not alone in the source's own cell."""
    held = protection(view)
    sources = (view.live[name] for name, role in view.roles[view.net[plus]] if role == "+")
    cells = {held.cell[s.nodes["+"]] for s in sources if s.device.kind == "battery"}
    return bool(cells) and held.cell[plus] not in cells
