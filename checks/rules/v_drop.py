"""V: voltage drop, sag at a start, and what stops for want of voltage."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Conductor, Device
from ..books.book import Figure
from ..findings import ERROR, NOTE, WARNING
from ..registry import Hit, rule
from ..solve import Drop, Solution, solution
from ..tracing.network import WIRE
from ..tracing.trace import ModeView, Stage
from ..trade.sizes import spoken

NEAR = 1.0 + 1e-9
# Who must meet a book's voltage drop: NFPA 70 only recommends it (Informational Notes), IEC
# 60364-5-52 525 wants it in the absence of other considerations, ABYC E-11 11.14.2.6 demands it.
SEVERITY = {"nfpa70": NOTE, "iec60364": WARNING, "abyc-e11": ERROR}
SAYS = {NOTE: "advises", WARNING: "has", ERROR: "allows"}
# Below 80 % of its voltage a motor has less than two thirds of its torque to start with
# (common practice, no published source).
SAG_PERCENT = 20.0


def _judged(view: ModeView) -> Iterator[Device]:
    """What a voltage is judged at: loads, converters, sockets; an inlet is a place on the way."""
    for name, kind in view.wiring.kinds.items():
        if kind.acts in ("load", "converter", "outlet") and kind.name != "inlet":
            yield view.wiring.rig.devices[name]


def _way(view: ModeView, drop: Drop) -> list[Conductor]:
    """The sized conductors from a source's line terminal to the load's, and those of the return
    that run apart from them."""
    line, back, near, far = (view.wiring.node(*name.split(".", 1)) for name in drop.path)
    path = [*view.network.path([line], near), *view.network.path([far], back)]
    owners = (edge.owner for _, edge in path if edge is not None and edge.kind == WIRE)
    found: dict[str, Conductor] = {}
    for conductor in (view.wiring.rig.conductors[owner] for owner in owners):
        if conductor.size:
            found.setdefault(conductor.statement, conductor)
    return list(found.values())


def _weakest(view: ModeView, way: list[Conductor], drop: Drop) -> Conductor | None:
    """The one that loses the most with everything on, which is worth changing first."""

    def loses(conductor: Conductor) -> float:
        area = conductor.size.mm2 if conductor.size else 1.0
        amps = max(drop.amps, solution(view).amps(conductor.name))
        return amps * conductor.length_m / area

    return max(way, key=loses, default=None)


def _pieces(way: list[Conductor]) -> tuple[str, ...]:
    """The way in words, a line of text each."""
    return tuple(f"{c.statement}: {c.length_m:g} m of {spoken(c.size.text)}" for c in way if c.size)


def _limit(stage: Stage, view: ModeView, device: Device, drop: Drop) -> Figure | None:
    return stage.book.drop_limit(
        lighting=device.kind == "lamp",
        critical=device.flag("critical") or device.flag("essential"),
        public=view.live[drop.source].device.kind == "supply",
    )


@rule(
    "V01",
    "voltage-drop",
    clauses={
        "nfpa70": "NFPA 70 210.19(A), 215.2(A) Informational Notes",
        "abyc-e11": "ABYC E-11 11.14.2.6",
        "iec60364": "IEC 60364-5-52 525, Annex G",
    },
    yields_to=("D05", "P02", "P03", "P17", "P18", "P22", "P25", "P36", "S04", "S15"),
)
def voltage_drop(stage: Stage) -> Iterator[Hit]:
    """More voltage is lost between source and load than the book allows or advises.

    Reckoned with the load at its full power and all others on its source together, as far as the
    source's own rating goes; line and return, at the book's conductor temperature.  A socket is
    judged at its own rating or its device's, whichever is less; a load that is `critical` or
    `essential` at the book's smaller figure.  NFPA 70 only recommends its 5 %: a note; ABYC E-11
    demands 3 % and 10 %: an error; IEC 60364-5-52 expects Annex G: a warning.
    Why: lamps dim, motors draw more and run hot, and what should sound an alarm stays silent.
    Breaks it: a navigation light on 12 m of 16 AWG at 12 V.
    Does not: the same light on 10 AWG; a drop just at the figure.
    """
    for view in stage.modes:
        solved = solution(view)
        for device in _judged(view):
            drop = solved.drop(device.name)
            limit = None if drop is None else _limit(stage, view, device, drop)
            if drop and limit and drop.percent > limit.value * NEAR:
                yield _too_much(stage, view, device, drop, limit)


def _too_much(stage: Stage, view: ModeView, device: Device, drop: Drop, limit: Figure) -> Hit:
    way = _way(view, drop)
    weakest = _weakest(view, way, drop)
    names = () if weakest is None else (weakest.name,)
    here = "" if weakest is None else f", first of all in {weakest.statement}"
    severity = SEVERITY.get(stage.book.name, WARNING)
    return Hit(
        on=(device.name, *names),
        span=device.span,
        message=f"{drop.percent:.3g} % ({drop.volts:.3g} V of {drop.nominal:.4g} V) is lost "
        f"between {drop.source} and {device.name} at {drop.amps:.3g} A; the book "
        f"{SAYS[severity]} {limit.value:g} %",
        fix=f"a larger size or a shorter way{here}",
        mode=view.name,
        value=round(drop.percent, 3),
        limit=limit.value,
        unit="%",
        why=(*_pieces(way), f"the others on {drop.source} at {drop.others:.0%} of their power"),
        clause=limit.clause,
        severity=severity,
        cause="" if weakest is None else weakest.statement,
    )


def _started(view: ModeView) -> Iterator[Device]:
    """The live devices that state what they draw at the start."""
    for device in view.wiring.rig.devices.values():
        if "inrush" in device.attrs and view.takes(device.name):
            yield device


@rule(
    "V02",
    "start-sag",
    severity=WARNING,
    clauses={"": "common practice, no published source: at least 80 % of its voltage at a start"},
    yields_to=("P18", "P22", "S04", "S15", "V01"),
)
def start_sag(stage: Stage) -> Iterator[Hit]:
    """At the start of a motor its voltage, or that of something else, sinks too far.

    A motor (anything with `inrush=`) is to keep 80 % of its voltage while it starts, with the
    sources' own impedance counted in; whatever states a `minimum=` keeps that.
    Why: torque falls with the square of the voltage, so a motor that starves does not start: it
    stands, draws its starting current, and burns; radios and controllers reset.
    Breaks it: a windlass that draws 200 A through 10 m of 16 mm2 at 12 V.
    Does not: the same on 70 mm2; a start that says no `inrush=`.
    """
    for view in stage.modes:
        solved = solution(view)
        for device in _started(view):
            sag = solved.inrush_sag(device.name)
            if sag is None:
                continue
            if sag.percent > SAG_PERCENT * NEAR:
                yield _sinks(view, device, sag)
            yield from _starved(view, solved, device)


def _sinks(view: ModeView, device: Device, sag: Drop) -> Hit:
    way = _way(view, sag)
    weakest = _weakest(view, way, sag)
    return Hit(
        on=(device.name, *(() if weakest is None else (weakest.name,))),
        span=device.span,
        message=f"{device.name} draws {sag.amps:.3g} A at its start and has "
        f"{100 - sag.percent:.3g} % of its voltage then",
        fix="a larger size, a stiffer source, or a softer start",
        mode=view.name,
        value=round(100 - sag.percent, 3),
        limit=100 - SAG_PERCENT,
        unit="%",
        why=_pieces(way),
    )


def _starved(view: ModeView, solved: Solution, starter: Device) -> Iterator[Hit]:
    """What states the least voltage it works at, and has less while another starts."""
    for device in _judged(view):
        least = _least(device)
        if least is None or device is starter or not view.takes(device.name):
            continue
        sag = solved.inrush_sag(starter.name, device.name)
        steady = solved.drop(device.name)
        if sag is None or (steady and steady.nominal - steady.volts < least):
            continue
        volts = sag.nominal - sag.volts
        if volts < least / NEAR:
            yield Hit(
                on=(device.name, starter.name),
                span=device.span,
                message=f"{device.name} has {volts:.4g} V while {starter.name} starts and works "
                f"down to {least:g} V",
                fix=f"a way of its own from the source, or a softer start of {starter.name}",
                mode=view.name,
                value=round(volts, 3),
                limit=least,
                unit="V",
                why=(f"{starter.name} draws {sag.amps:.3g} A at its start",),
            )


def _least(device: Device) -> float | None:
    """The least voltage a thing works at, V: ``minimum=``, or an inverter's ``cutoff=``."""
    stated = device.number("minimum")
    return device.number("cutoff") if stated is None and device.kind == "inverter" else stated


@rule(
    "V03",
    "below-minimum",
    clauses={"": "what its maker states (`minimum=`, `cutoff=`)"},
    yields_to=("P18", "P22", "S04", "S15", "V01"),
)
def below_minimum(stage: Stage) -> Iterator[Hit]:
    """Something gets less voltage than it works at, with everything as it should be.

    The source at its nominal voltage, the thing at full power, the others as in V01; less the
    drop, `minimum=` (or an inverter's `cutoff=`) has to be left.
    Why: it switches itself off under load, comes back without load, and does so again.
    Breaks it: an inverter that stops at 12 V, at full power on thin leads from a 12.8 V battery.
    Does not: the same inverter on leads of a tenth of the drop; one that states no such voltage.
    """
    for view in stage.modes:
        solved = solution(view)
        for device in _judged(view):
            least = _least(device)
            drop = None if least is None else solved.drop(device.name)
            if least is None or drop is None:
                continue
            volts = drop.nominal - drop.volts
            if volts < least / NEAR:
                way = _way(view, drop)
                weakest = _weakest(view, way, drop)
                yield Hit(
                    on=(device.name, *(() if weakest is None else (weakest.name,))),
                    span=device.span,
                    message=f"{device.name} gets {volts:.4g} V at {drop.amps:.3g} A and works down "
                    f"to {least:g} V",
                    fix="larger leads, or a source of a higher voltage",
                    mode=view.name,
                    value=round(volts, 3),
                    limit=least,
                    unit="V",
                    why=(f"{drop.source} at {drop.nominal:.4g} V", *_pieces(way)),
                )


@rule(
    "V04",
    "feeder-drop",
    clauses={
        "nfpa70": "NFPA 70 215.2(A) Informational Note",
        "abyc-e11": "ABYC E-11 11.14.2.6",
    },
    yields_to=("P18", "P22", "S04", "S15", "V01"),
)
def feeder_drop(stage: Stage) -> Iterator[Hit]:
    """The feeder of a panel loses more voltage than the book allows or advises.

    Reckoned at the bars that stand in a panel, with everything on their source at full power, as
    far as the source's own rating goes.  ABYC E-11 demands 3 % of the main feeders of panels and
    switchboards: an error; NFPA 70 recommends 3 %: a note; IEC 60364 counts the whole way only.
    Why: what a feeder loses is lost to every circuit of its panel at once.
    Breaks it: 6 m of 10 AWG from a 12 V battery to a panel whose circuits draw 30 A.
    Does not: the same panel on 4 AWG; a bar outside a panel.
    """
    limit = _feeder_limit(stage)
    if limit is None:
        return
    for view in stage.modes:
        solved = solution(view)
        for device in stage.rig.devices.values():
            drop = solved.feeder_drop(device.name) if _is_panel_bar(device) else None
            if drop and drop.percent > limit.value * NEAR:
                yield _feeder_hit(stage, view, device, drop, limit)


def _is_panel_bar(device: Device) -> bool:
    return device.kind == "bus" and device.panel is not None and bool(device.terminals)


def _feeder_limit(stage: Stage) -> Figure | None:
    key = {"nfpa70": "drop-branch", "abyc-e11": "drop-critical"}.get(stage.book.name, "")
    return stage.book.value(key) if key else None


def _feeder_hit(stage: Stage, view: ModeView, device: Device, drop: Drop, limit: Figure) -> Hit:
    severity = SEVERITY.get(stage.book.name, WARNING)
    way = _way(view, drop)
    weakest = _weakest(view, way, drop)
    return Hit(
        on=(device.name, *(() if weakest is None else (weakest.name,))),
        span=device.span,
        message=f"{drop.percent:.3g} % ({drop.volts:.3g} V of {drop.nominal:.4g} V) is lost "
        f"between {drop.source} and {device.name}; the book {SAYS[severity]} {limit.value:g} % for "
        "feeders",
        fix="a larger feeder, or a shorter one",
        mode=view.name,
        value=round(drop.percent, 3),
        limit=limit.value,
        unit="%",
        why=(*_pieces(way), f"{drop.source} gives {drop.amps:.3g} A"),
        severity=severity,
    )


@rule(
    "V05",
    "branch-drop",
    NOTE,
    clauses={"nfpa70": "NFPA 70 210.19(A) Informational Note"},
    yields_to=("P18", "P22", "S04", "S15", "V01", "V04"),
)
def branch_drop(stage: Stage) -> Iterator[Hit]:
    """A branch circuit loses more than the 3 % that NFPA 70 recommends, within its 5 % in all.

    Reckoned as V01, from the load side of the last overcurrent device to the farthest outlet.  The
    Informational Note recommends 3 % for branch circuits beside 5 % for feeder and branch together
    (V01) and 3 % for feeders (V04); it is no requirement, so this is a note.  Mains alone: low
    voltage on board has no branch circuits in the sense of Article 210.
    Why: the 5 % leaves 2 % for the feeder and the cord, and on a weak site those are soon used up.
    Breaks it: 30 m of 14 AWG to a heater of 12 A at 120 V.
    Does not: the same on 10 AWG; any other book, which judges the whole way only.
    """
    limit = stage.book.value("drop-branch") if stage.book.name == "nfpa70" else None
    if limit is None:
        return
    for view in stage.modes:
        for device in _judged(view):
            whole = solution(view).drop(device.name)
            if whole is None or whole.percent <= limit.value * NEAR:
                continue  # no part of it is more
            drop = solution(view).branch_drop(device.name)
            if drop and not view.live[drop.source].dc and drop.percent > limit.value * NEAR:
                way = _way(view, drop)
                weakest = _weakest(view, way, drop)
                yield Hit(
                    on=(device.name, *(() if weakest is None else (weakest.name,))),
                    span=device.span,
                    message=f"the branch circuit of {device.name} loses {drop.percent:.3g} % "
                    f"({drop.volts:.3g} V of {drop.nominal:.4g} V) from {drop.path[0]} on at "
                    f"{drop.amps:.3g} A; the book advises {limit.value:g} % for branch circuits",
                    fix="a larger size, or a shorter way",
                    mode=view.name,
                    value=round(drop.percent, 3),
                    limit=limit.value,
                    unit="%",
                    why=_pieces(way),
                    cause="" if weakest is None else weakest.statement,
                )
