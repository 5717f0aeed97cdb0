"""P: the time a fault lasts: a device that opens too late, a conductor that does not stand it."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from math import inf

from ...dsl.model import Conductor, Device
from ...dsl.records import record, replace
from ..bands import LIMITS_AT, Band, residual_time
from ..books.book import Figure, Missing
from ..figures.chains import Ways, band_of, faults, line_nodes, ways, worst_fault
from ..findings import NOTE, WARNING, Related
from ..judged import weak_of
from ..registry import Hit, rule
from ..solve import Fault, To, solution
from ..tracing.network import WIRE, Edge
from ..tracing.trace import ModeView, Stage
from ..trade.sizes import plain
from .p_earth_sizes import earths_of

NEAR = 1.0 + 1e-9
USERS = ("load", "outlet", "converter")
OPENS_BY = Figure(
    5.0, "s", "common practice, no published source", ("a fault opens its device within 5 s",)
)
ADIABATIC_S = 5.0
"""Up to here, s, all heat stays in the conductor (IEC 60364-4-43 434.5.2); slower than that an
overload's heat leaves it as it comes, and the device's rating against its ampacity protects it."""
NO_AMPS = 1e-3
ONE_CYCLE = 1 / 60
BEYOND_SAID = "I2t beyond is at most that, and the maker's curve may show much less"
CYCLE_SAID = (
    "no let-through is published: one cycle of 60 Hz is taken (common practice, no published "
    "source); a breaker is tested with the conductor of its rating, not with a thinner earth"
)
SAFE_VOLTS = 50.0
"""What a source that holds its own current may leave on a fault, V (IEC 60364-4-41 411.3.2.5)."""


@record
class Late:
    """A user whose fault lasts too long: the device ahead, the current, the times in s."""

    device: str
    user: str
    fault: Fault
    seconds: float
    limit: Figure
    asked: bool
    dc: bool


@rule(
    "P25",
    "opens-too-late",
    clauses={
        "nfpa70": "NFPA 70 250.4(A)(5), an effective path (from memory)",
        "abyc-e11": "common practice, no published source",
        "iec60364": "IEC 60364-4-41 411.3.2, Table 41.1",
    },
    yields_to=("P01", "P02", "P03", "P07", "P29", "B01", "B04", "B10", "B07", "B11", "B12", "S12"),
)
def opens_too_late(stage: Stage) -> Iterator[Hit]:
    """The least fault current at the end of a circuit does not open its device in time.

    For mains the fault runs from the line to protective earth, at a hot conductor and the least
    source; the device's time is the latest of its trip band.  A residual-current device on the way
    may serve instead.  For low voltage it runs from + to -.  Where the book names no time, 5 s are
    taken, and it is a warning; an inverter that leaves less than 50 V on the fault passes there.
    Why: until the device opens, the case stays live and the conductors heat up.
    Breaks it: a long thin circuit on a large breaker of band C; an inverter of 9 A ahead of a 10 A
    breaker, with no residual-current device.
    Does not: the same circuit behind a residual-current device; a source that states no fault
    current, or a device without a published trip band (not checked: the figures say so).
    """
    for view in stage.modes:
        worst: dict[str, Late] = {}
        for way in ways(view):
            for late in _late(stage, view, way):
                first = worst.get(late.device)
                if first is None or late.fault.amps < first.fault.amps:
                    worst[late.device] = late
        for late in worst.values():
            yield _too_late(stage, view, late)


def _late(stage: Stage, view: ModeView, way: Ways) -> Iterator[Late]:
    for device in way.reached:
        if view.wiring.kinds[device.name].acts not in USERS or device.name == way.source.name:
            continue
        for node in line_nodes(view, device.name):
            if way.came.get(node) is not None and way.protective(node) and not way.leads_on(node):
                late = _late_at(stage, view, way, node, device)
                if late is not None:
                    yield late


def _late_at(stage: Stage, view: ModeView, way: Ways, node: int, user: Device) -> Late | None:
    """Whether the devices ahead of one terminal open too late there."""
    nearest = way.protective(node)[-1]
    limit = _time_asked(stage, way, user, nearest)
    residual = [stage.rig.devices[name] for name in way.residual(node)]
    if not way.source.dc and any(_serves(device, limit) for device in residual):
        return None
    bands = [band_of(stage, name) for name in way.protective(node)]
    if not all(bands):
        return None
    kind: To = "neutral" if way.source.dc else "earth"
    terminal = view.wiring.names[node][1]
    fault = solution(view).fault(user.name, terminal, kind, "min")
    if isinstance(fault, Missing) or (fault.limited and (way.source.dc or _is_safe(fault, limit))):
        return None
    if fault.amps < NO_AMPS:
        return None  # nothing comes back: no loop, which other rules tell
    seconds = min(band.times(fault.amps)[1] for band in bands if band)
    asked = limit or OPENS_BY
    if seconds <= asked.value * NEAR:
        return None
    return Late(nearest, user.name, fault, seconds, asked, limit is not None, way.source.dc)


def _is_safe(fault: Fault, limit: Figure | None) -> bool:
    """Whether a source that holds its current down leaves no dangerous voltage on the fault.

    Where the book names a time that alone does not do (IEC 60364-4-41 411.3.2.5 asks for more).
    """
    return limit is None and fault.amps * abs(fault.ohms - fault.source_ohms) <= SAFE_VOLTS


def _time_asked(stage: Stage, way: Ways, user: Device, nearest: str) -> Figure | None:
    volts = ModeView.to_neutral(way.source)
    if way.source.dc or volts is None:
        return None
    rated = stage.rig.devices[nearest].number("rating") or 0.0
    return stage.book.disconnect_time(volts, dc=False, final=True, rated_a=rated)


def _serves(device: Device, limit: Figure | None) -> bool:
    """Whether a residual-current device opens a full fault to earth in time."""
    rated = device.number("gfci") or device.number("rcd") or 0.0
    opens = residual_time(device, 60 * rated)
    return opens is not None and opens.value <= (limit or OPENS_BY).value


def _too_late(stage: Stage, view: ModeView, late: Late) -> Hit:
    rig, fault = stage.rig, late.fault
    band = band_of(stage, late.device)
    assert band is not None
    needs = band.opens_within(late.limit.value)
    lasts = "need not open at all" if late.seconds == inf else f"may take {late.seconds:.3g} s"
    held = ", which its source holds down" if fault.limited else ""
    return Hit(
        on=(late.device, late.user),
        span=rig.devices[late.device].span,
        message=f"a fault at {late.user} draws only {plain(fault.amps)} A{held}, at which "
        f"{late.device} {lasts}; {late.limit.value:g} s are allowed",
        fix=f"a residual-current device ahead of {late.user}"
        if fault.limited
        else f"shorter or thicker conductors, {'or ' if late.dc else ''}a device that opens at "
        f"{plain(fault.amps)} A ({late.device} needs {plain(needs)} A)"
        + ("" if late.dc else ", or a residual-current device"),
        mode=view.name,
        value=None if late.seconds == inf else late.seconds,
        limit=late.limit.value,
        unit="s",
        why=(
            f"loop from {' and '.join(fault.source)}: {abs(fault.ohms):.3g} ohm",
            f"{late.device}: {band.title}, {band.clause} ({band.status}): "
            f"certain within {late.limit.value:g} s from {plain(needs)} A",
            *late.limit.steps,
        ),
        related=(Related(rig.devices[late.user].span, "the fault is here"),),
        clause=late.limit.clause if late.asked else "",
        severity="" if late.asked else WARNING,
        cause=" ".join(fault.source) if _at_source(fault) else late.device,
    )


def _at_source(fault: Fault) -> bool:
    """Whether most of the loop is the source itself, so that no conductor mends it."""
    return 2 * abs(fault.source_ohms) > abs(fault.ohms)


@rule(
    "P26",
    "fault-heat",
    clauses={
        "nfpa70": "NFPA 70 110.10; ICEA P-32-382",
        "abyc-e11": "ICEA P-32-382 (conductor short-circuit heating)",
        "iec60364": "IEC 60364-4-43 434.5.2, -5-54 543.1.2",
    },
    yields_to=("P18", "P36", "S01"),
)
def fault_heat(stage: Stage) -> Iterator[Hit]:
    """A conductor that gets hotter in a short circuit than its insulation stands.

    What its device lets through, I2t, is held against (k S)2: at the largest fault current where
    the conductor begins, and, where the device then opens by its thermal part, at the least one
    where it ends.  An earth that runs apart from its line is held to the fault to earth (a core of
    the same cable is as thick as its line, and the fault no larger).
    A conductor that more can reach than it may carry is left to P01, P02 and P03: they say so, or
    their book allows it because of its length (IEC 60364-4-43 434.2.1: 3 m that end in a device of
    their own, where a short circuit is unlikely and nothing near it burns).
    Why: the device opens, and the insulation has melted by then; the next fault is along the run.
    Breaks it: 1.5 mm2 behind a 63 A breaker at 6 kA.
    Does not: a conductor whose (k S)2 is above the let-through; a device without a published
    let-through (not checked: the figures say so).  UL 489 publishes none above the thermal part,
    but its short-circuit test is made with the conductor of the breaker's rating: what P02 lets
    pass stands it up to what the breaker interrupts.  An earth of its own that is thinner than its
    line is no part of that test; one cycle is taken for it, and it is a note.  Beyond the times
    that a fuse's standard prints, I2t is taken as at its last: the most it can be, and a warning.
    """
    for view in stage.modes:
        told: set[str] = set()
        for way in ways(view):
            for edge in view.network.edges:
                end = way.outer_end(edge) if edge.kind == WIRE else None
                if end is None or edge.owner in told:
                    continue
                hit = _heat(stage, view, way, edge, end)
                if hit is not None:
                    told.add(edge.owner)
                    yield hit
            if not way.source.dc:
                yield from _earths_heat(stage, view, way)


def _heat(stage: Stage, view: ModeView, way: Ways, edge: Edge, end: int) -> Hit | None:
    conductor = stage.rig.conductors[edge.owner]
    if conductor.statement in _left_to_others(stage, view):
        return None
    ahead = way.protective(end)
    band = band_of(stage, ahead[-1]) if ahead else None
    k = stage.withstand(conductor)
    if band is None or conductor.size is None or isinstance(k, Missing):
        return None
    stands = (k.value * conductor.size.mm2) ** 2
    worst = _worst_let_through(view, way, edge, end, band, stands)
    return None if worst is None else _too_hot(stage, view, conductor, band, k, worst)


@lru_cache(maxsize=64)
def _left_to_others(stage: Stage, view: ModeView) -> frozenset[str]:
    """The lines of text whose conductors P01, P02 and P03 judge: told there, or allowed."""
    return frozenset(weak.conductor.statement for weak in weak_of(stage, view))


@lru_cache(maxsize=64)
def _too_big(stage: Stage, view: ModeView) -> frozenset[str]:
    """The devices that let too much into a conductor: a smaller one spares its earth as well."""
    return frozenset(name for weak in weak_of(stage, view) for name in weak.cut.names)


def _earths_heat(stage: Stage, view: ModeView, way: Ways) -> Iterator[Hit]:
    """The protective conductors that run apart from their lines, by the fault to earth."""
    for device in stage.rig.devices.values():
        if view.wiring.kinds[device.name].acts not in USERS or device.name == way.source.name:
            continue
        node = next((n for n in line_nodes(view, device.name) if way.protective(n)), None)
        if node is not None and way.protective(node)[-1] in _too_big(stage, view):
            continue
        earths = [c for c in earths_of(stage, device) if not c.cable]
        band = band_of(stage, way.protective(node)[-1]) if node is not None and earths else None
        if node is None or band is None or len(earths) != 1:
            continue
        fault = solution(view).loop(device.name, view.wiring.names[node][1], "max")
        k = stage.book.withstand(earths[0], stage.rig, 30.0)
        if isinstance(fault, Missing) or fault.limited or isinstance(k, Missing):
            continue
        heat = band.let_through(fault.amps) if _is_known(band, fault.amps) else None
        untold = heat is None and _thinner_than_its_line(stage, view, node, earths[0])
        if untold:
            heat = fault.amps**2 * ONE_CYCLE
        if heat and earths[0].size and heat > (k.value * earths[0].size.mm2) ** 2 * NEAR:
            hit = _too_hot(stage, view, earths[0], band, k, (fault.amps, heat))
            yield replace(hit, severity=NOTE, why=(*hit.why, CYCLE_SAID)) if untold else hit


def _thinner_than_its_line(stage: Stage, view: ModeView, node: int, earth: Conductor) -> bool:
    """Whether an earth is thinner than the line it goes with, which its device is tested with."""
    lines = [c.size.mm2 for c, _ in stage.landings.get(view.wiring.names[node], ()) if c.size]
    return bool(lines) and earth.size is not None and earth.size.mm2 < min(lines) / NEAR


def _too_hot(
    stage: Stage,
    view: ModeView,
    conductor: Conductor,
    band: Band,
    k: Figure,
    worst: tuple[float, float],
) -> Hit:
    amps, heat = worst
    last_a, last_s = band.longest[-1]
    printed = band.instantaneous or last_s <= LIMITS_AT or amps <= last_a * NEAR
    beyond = () if printed else (f"its times are printed up to {last_a:.4g} A: {BEYOND_SAID}",)
    stands = (k.value * (conductor.size.mm2 if conductor.size else 0.0)) ** 2
    return Hit(
        on=(conductor.name, band.device),
        span=conductor.span,
        message=f"{conductor.name} ({conductor.size}) stands {_kilo(stands)}; "
        f"{band.device} lets {_kilo(heat)} through at {amps:.4g} A",
        fix="a thicker conductor, or a device that limits the current",
        mode=view.name,
        value=heat,
        limit=stands,
        unit="A2s",
        why=(*k.steps, f"{band.title}, {band.clause} ({band.status})", *beyond),
        related=(Related(stage.rig.devices[band.device].span, "opened by this"),),
        cause=band.device,
        severity=WARNING if beyond else "",
    )


def _kilo(i2t: float) -> str:
    return f"{i2t / 1000:.3g} kA2s"


@lru_cache(maxsize=512)
def _opens_at_once(view: ModeView, way: Ways, name: str, amps: float) -> bool:
    """Whether the least fault at all that a device is nearest to opens it at once, from ``amps``.

    Then it does all the way there too.
    """
    kinds = view.wiring.kinds
    ends = (
        node
        for node in way.nearest_to(name)
        if kinds[view.wiring.names[node][0]].acts in USERS and not way.leads_on(node)
    )
    least = (fault.amps for node in ends for _, fault in faults(view, node, "min"))
    return min(least, default=0.0) >= amps


def _is_known(band: Band, amps: float) -> bool:
    """Whether the standard itself says how the device opens at a current."""
    return not band.assumed or band.instantaneous is None or amps >= band.instantaneous[1]


def _worst_let_through(
    view: ModeView, way: Ways, edge: Edge, end: int, band: Band, stands: float
) -> tuple[float, float] | None:
    """The fault at which more heat passes than the conductor stands, as (A, A2s); or None."""
    bound = sum(s.device.number("fault") or 0.0 for s in view.live.values())
    most = band.let_through(bound) if bound else None
    asked = band.energy or not band.instantaneous
    start = worst_fault(view, edge.other(end)) if asked and (most or stands) >= stands else None
    if start is not None and not start[1].limited and _is_known(band, start[1].amps):
        heat = band.let_through(start[1].amps)
        quick = band.times(start[1].amps)[1] <= ADIABATIC_S
        if heat is not None and quick and heat > stands * NEAR:
            return start[1].amps, heat
    last_a, last_s = band.longest[-1]
    if band.assumed or last_a * last_a * last_s <= stands:
        return None
    if band.instantaneous and _opens_at_once(view, way, band.device, band.instantaneous[1]):
        return None
    for _, fault in faults(view, end, "min"):
        seconds = band.times(fault.amps)[1]
        if seconds <= ADIABATIC_S and fault.amps**2 * seconds > stands * NEAR and not fault.limited:
            heat = band.let_through(fault.amps)
            if heat is not None and heat > stands * NEAR:
                return fault.amps, heat
    return None
