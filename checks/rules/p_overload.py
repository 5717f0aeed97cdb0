"""P: currents above the rated ones: a fuse's slow end, a motor's start, an empty battery."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Device
from ..books.book import Missing
from ..capacity.converters import efficiency, full_amps
from ..figures.chains import Ways, band_of, line_nodes, ways
from ..findings import NOTE, WARNING, Related
from ..registry import Hit, rule
from ..tracing.network import WIRE
from ..tracing.parallel import together
from ..tracing.trace import ModeView, Stage

NEAR = 1.0 + 1e-9
OVERLOAD = 1.45
START_S = 0.5
"""How long a motor's start is taken to last, s (common practice, no published source)."""


@rule(
    "P31",
    "fuse-opens-too-high",
    WARNING,
    clauses={"iec60364": "IEC 60364-4-43 433.1: I2 <= 1.45 Iz"},
    yields_to=("P01", "P02", "P03", "S12", "S13", "S15"),
)
def fuse_opens_too_high(stage: Stage) -> Iterator[Hit]:
    """A fuse within its conductor's ampacity that opens surely only above 1.45 times that.

    A gG fuse from 16 A opens surely only at 1.6 times its rating, one below that at 1.9 or 2.1; a
    breaker to IEC 60898 at 1.45, which is why it needs no such check.  (Some national practice
    takes a gG fuse from 16 A as equal to a breaker: an `accept` says so.)
    Why: an overload between the two heats the conductor for hours and opens nothing.
    Breaks it: 16 A gG on a conductor that carries 17 A: 25.6 A against 24.7 A.
    Does not: 16 A gG on one that carries 18 A; books that do not ask for it.
    """
    if "iec60364" not in stage.book.name:
        return
    told: set[str] = set()
    for view in stage.modes:
        for way in ways(view):
            for node, edge in way.came.items():
                if edge is None or edge.kind != WIRE or edge.owner in told:
                    continue
                hit = _too_high(stage, way, node, edge.owner)
                if hit is not None:
                    told.add(edge.owner)
                    yield hit


def _too_high(stage: Stage, way: Ways, node: int, name: str) -> Hit | None:
    ahead = way.protective(node)
    if not ahead or stage.rig.devices[ahead[-1]].kind != "fuse":
        return None
    band, conductor = band_of(stage, ahead[-1]), stage.rig.conductors[name]
    if band is None or conductor.size is None:
        return None
    carries = together(stage, conductor, stage.ampacity(conductor))
    if isinstance(carries, Missing) or band.trips <= OVERLOAD * carries.value * NEAR:
        return None
    if band.rating > carries.value * NEAR:
        return None
    return Hit(
        on=(conductor.name, ahead[-1]),
        span=conductor.span,
        message=f"{ahead[-1]} ({band.rating:g} A) opens surely only from {band.trips:.4g} A; "
        f"{conductor.name} ({conductor.size}) carries {carries.value:.4g} A, and "
        f"{OVERLOAD * carries.value:.4g} A is 1.45 times that",
        fix="a larger conductor, a smaller fuse, or a breaker",
        value=band.trips,
        limit=OVERLOAD * carries.value,
        unit="A",
        why=(*carries.steps, f"I2 = {band.trips:.4g} A: {band.clause} ({band.status})"),
        related=(Related(stage.rig.devices[ahead[-1]].span, "the fuse"),),
        cause=ahead[-1],
    )


@rule(
    "P32",
    "opens-at-start",
    WARNING,
    clauses={"": "the device's trip band; common practice, no published source"},
    yields_to=("P22",),
)
def opens_at_start(stage: Stage) -> Iterator[Hit]:
    """A load whose starting current (`inrush=`) may open the device ahead of it.

    A breaker may open at once from the lower end of its instantaneous band; a fuse where it may
    melt within half a second.  A band that no standard fixes makes it a note.
    Why: the circuit trips now and then when the compressor starts, and somebody fits a larger one.
    Breaks it: a compressor of 60 A at start on a B 16 breaker (from 48 A).
    Does not: the same on a C 16 (from 80 A); a load that states no `inrush=`.
    """
    for view in stage.modes:
        told: set[str] = set()
        for way in ways(view):
            for device in way.reached:
                if "inrush" in device.attrs and device.name not in told:
                    hit = _at_start(stage, view, way, device)
                    if hit is not None:
                        told.add(device.name)
                        yield hit


def _at_start(stage: Stage, view: ModeView, way: Ways, device: Device) -> Hit | None:
    inrush = device.number("inrush") or 0.0
    ahead = next((p for n in line_nodes(view, device.name) if (p := way.protective(n))), ())
    band = band_of(stage, ahead[-1]) if ahead else None
    if band is None or not band.shortest or band.times(inrush)[0] >= START_S:
        return None
    from_a = band.instantaneous[0] if band.instantaneous else band.holds
    if inrush <= from_a * NEAR:
        return None
    return Hit(
        on=(device.name, ahead[-1]),
        span=device.span_of("inrush"),
        message=f"{device.name} draws {inrush:.4g} A at start, at which {ahead[-1]} "
        f"({band.rating:g} A) may open{f' (from {from_a:.4g} A)' if band.instantaneous else ''}",
        fix=f"a slower {'band (C or D)' if band.instantaneous else 'device'}, or a circuit of its "
        "own with a larger device and conductor",
        mode=view.name,
        value=inrush,
        limit=from_a,
        unit="A",
        why=(f"{band.title}, {band.clause} ({band.status})",),
        related=(Related(stage.rig.devices[ahead[-1]].span, "may open"),),
        severity=NOTE if band.assumed else "",
    )


@rule(
    "P33",
    "inverter-leads-at-cutoff",
    clauses={
        "abyc-e11": "ABYC E-11 11.14 (from memory): the largest current of the load",
        "": "common practice, no published source: I = P / (U eta) at the cut-off voltage",
    },
    yields_to=("P01", "P02", "P17"),
)
def inverter_leads_at_cutoff(stage: Stage) -> Iterator[Hit]:
    """What feeds an inverter carries its full power at a full battery, but not at an empty one.

    The current is P / (U eta) with the voltage at which the inverter stops (`cutoff=`); without
    `efficiency=`, 90 % is taken (`figures` and `capacity` reckon with the same current).  An
    inverter without `power=` or `cutoff=` is not judged.
    Why: the lower the battery, the larger the current; the fuse blows under load in the last hour,
    or the leads run hot all of it.
    Breaks it: 2400 W at 22 V cut-off (121 A) on leads for 115 A, or on a 110 A fuse.
    Does not: leads and fuse for 121 A and more.
    """
    for view in stage.modes:
        for device in stage.rig.devices.values():
            amps = _at_cutoff(view, device)
            if amps is None:
                continue
            for way in ways(view):
                node = view.wiring.node(device.name, "+")
                if way.source.dc and way.protective(node):
                    yield from _leads(stage, view, way, device, node, amps)


def _at_cutoff(view: ModeView, device: Device) -> float | None:
    power, volts = device.number("power"), device.number("cutoff")
    if device.kind != "inverter" or not power or not volts or device.name not in view.live:
        return None
    source = view.live[device.name]
    return None if source.dc else full_amps(view, source)


def _leads(
    stage: Stage, view: ModeView, way: Ways, inverter: Device, node: int, amps: float
) -> Iterator[Hit]:
    fuse = stage.rig.devices[way.protective(node)[-1]]
    rated = fuse.number("rating")
    limits = [(fuse, rated, (f"{fuse.name}: {rated:g} A",))] if rated else []
    conductors = [stage.rig.conductors[name] for name in _wires(view, way, node, fuse.name)]
    for conductor in conductors:
        carries = together(stage, conductor, stage.ampacity(conductor))
        if not isinstance(carries, Missing):
            limits.append((conductor, carries.value, carries.steps))  # type: ignore[arg-type]
    thing, limit, steps = min(limits, key=lambda row: row[1], default=(inverter, amps, ()))
    if amps <= limit * NEAR:
        return
    volts = inverter.number("cutoff")
    yield Hit(
        on=(thing.name, inverter.name),
        span=thing.span,
        message=f"{inverter.name} draws {amps:.4g} A from an empty battery ({volts:g} V); "
        f"{thing.name} is good for {limit:.4g} A",
        fix=f"leads and a fuse for at least {amps:.4g} A, or a higher cut-off voltage",
        mode=view.name,
        value=amps,
        limit=limit,
        unit="A",
        why=(
            f"{inverter.text('power')} / ({volts:g} V x "
            f"{100 * efficiency(inverter):g} %) = {amps:.4g} A",
            *steps,
        ),
        related=(Related(inverter.span, "the inverter"),),
    )


def _wires(view: ModeView, way: Ways, node: int, fuse: str) -> Iterator[str]:
    """The conductors between an inverter's positive terminal and the device nearest to it."""
    while (edge := way.came.get(node)) is not None and edge.owner != fuse:
        if edge.kind == WIRE:
            yield edge.owner
        node = edge.other(node)
