"""C: what is connected, or runs at once, against what the limits of its mode give.

That more is connected than a supply gives is usual in a small rig, and no finding: which sets of
loads may run together is what ``ferrule capacity`` answers.  A finding needs a load too large for
its source, loads that run for hours, or what the author says runs at once (``demand=``).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from ...dsl.records import record
from ..capacity.demand import Demand, Point, demand
from ..findings import NOTE, WARNING
from ..registry import Hit, rule
from ..tracing.trace import ModeView, Stage
from ..trade.sizes import plain

NEAR = 1.0 + 1e-9
NEC, E11, IEC = (
    "NFPA 70 210.20(A), 220.10 (220.10 from memory)",
    "ABYC E-11 11.6 load calculation (clause from memory)",
    "IEC 60364-1 311.1 maximum demand (from memory)",
)
# Less than this share of a source to spare is next to nothing.
SPARE = 0.1
PRACTICE = {"": "common practice, no published source"}
CLAUSES = {"nfpa70": NEC, "abyc-e11": E11, "iec60364": IEC}


@record
class Excess:
    """A limit, the items counted there, and what they come to."""

    point: Point
    names: tuple[str, ...]
    total: float


def _excess(found: Demand, point: Point, names: Iterable[str]) -> Excess | None:
    names = tuple(names)
    total = sum(found.counted(point, name) for name in names)
    return Excess(point, names, total) if total > point.gives * NEAR else None


def _causes(excesses: Iterable[Excess]) -> Iterator[Excess]:
    """The worst limit of each cause: those that count items told of already follow from it."""
    told: set[str] = set()
    worst_first = sorted(
        excesses, key=lambda e: (-e.total / e.point.gives, not e.point.source, e.point.name)
    )
    for excess in worst_first:
        if not told.intersection(excess.names):
            told.update(excess.names)
            yield excess


def _hit(view: ModeView, found: Demand, excess: Excess, message: str, fix: str) -> Hit:
    point, devices = excess.point, view.wiring.rig.devices
    return Hit(
        on=(*point.devices, *excess.names),
        span=devices[point.devices[0]].span,
        message=message,
        fix=fix,
        mode=view.name,
        value=excess.total,
        limit=point.gives,
        unit=point.unit,
        why=tuple(_line(found, point, name) for name in excess.names),
    )


def _line(found: Demand, point: Point, name: str) -> str:
    """One load of a sum, as ``M1 Air conditioner: 10 A, continuous x 1.25``."""
    item = found.items[name]
    parts = [f"{name} {item.label}".strip() + f": {plain(point.draws[name])} {point.unit}"]
    parts += [f"demand {item.share:.0%}"] if item.share != 1.0 else []
    parts += [f"continuous x {point.factor:g}"] if item.continuous and point.factor > 1 else []
    parts += ["charging"] if item.charging else []
    return ", ".join(parts)


def _said(excess: Excess) -> tuple[str, str]:
    """What the limit gives, and what is counted there, in words."""
    point = excess.point
    line = f" on {point.role}" if point.role in ("L1", "L2", "L3") else ""
    return f"{point.name} gives {point.gives:.4g} {point.unit}{line}", plain(excess.total)


@rule("C01", "load-above-source", clauses=CLAUSES, yields_to=("P14", "P22"))
def load_above_source(stage: Stage) -> Iterator[Hit]:
    """One load alone draws more than the source or converter behind it gives.

    Why: it cannot be used in that mode at all; a supply trips, a converter shuts down.
    Breaks it: a 2 kW heater on a 1500 W inverter.
    Does not: a load within it, whatever else is connected.
    """
    for view in stage.modes:
        found = demand(view)
        loads = [n for n, item in found.items.items() if not item.charging]
        for point in (p for p in found.points if p.source):
            for name in (n for n in loads if point.draws.get(n, 0.0) > point.gives * NEAR):
                device = view.wiring.rig.devices[name]
                yield Hit(
                    on=(name, point.name),
                    span=device.span,
                    message=f"{name} draws {point.draws[name]:.4g} {point.unit} and {point.name} "
                    f"gives {point.gives:.4g} {point.unit}",
                    fix=f"a smaller load, a larger {point.name}, or turn it off in this mode",
                    mode=view.name,
                    value=point.draws[name],
                    limit=point.gives,
                    unit=point.unit,
                )


@rule("C02", "continuous-loads-above-limit", clauses=CLAUSES, yields_to=("P14", "P22", "C01"))
def continuous_above_limit(stage: Stage) -> Iterator[Hit]:
    """What runs for hours on end comes to more than a limit ahead of it gives.

    Counted are the loads marked `continuous`, with their `demand=`; under `nfpa70` at 125 % on
    overcurrent devices.  Of several limits that the same loads exceed, the worst is told.
    Why: nobody will take turns with them; the device ahead opens every day.
    Breaks it: two continuous 1.5 kW heaters on a 20 A, 120 V main.
    Does not: loads that take turns, however many are connected.
    """
    for view in stage.modes:
        found = demand(view)
        hours = [n for n, item in found.items.items() if item.continuous]
        over = [_excess(found, p, [n for n in hours if n in p.draws]) for p in found.points]
        for excess in _causes(filter(None, over)):
            gives, total = _said(excess)
            yield _hit(
                view,
                found,
                excess,
                f"{gives}; what runs there for hours counts {total} {excess.point.unit}",
                "move a load to another circuit, or give the limit and its conductors more",
            )


@rule("C03", "charging-above-supply", WARNING, CLAUSES, yields_to=("P14", "P22", "C01", "C02"))
def charging_above_supply(stage: Stage) -> Iterator[Hit]:
    """Charging at full, beside what runs for hours, takes more than a limit ahead gives.

    Why: a flat battery is charged for hours; the supply opens just then, or the device ahead.
    Breaks it: an inverter/charger of 120 A at 12 V (16 A at 120 V) beside an air conditioner on a
    20 A supply.
    Does not: a charger with `takes=` set to what is left; an inverter/charger with `takes=`, which
    charges with what the loads leave.
    """
    for view in stage.modes:
        found = demand(view)
        chargers = {n for n, item in found.items.items() if item.charging and not item.yields}
        hours = {n for n, item in found.items.items() if item.continuous}
        over = []
        for point in found.points:
            names = [n for n in point.draws if n in chargers or n in hours]
            if chargers.intersection(names):
                over.append(_excess(found, point, sorted(names, key=lambda n: n not in chargers)))
        for excess in _causes(filter(None, over)):
            gives, total = _said(excess)
            yield _hit(
                view,
                found,
                excess,
                f"{gives}; charging at full and what runs for hours count {total} "
                f"{excess.point.unit}",
                "set the charger lower (`takes=` says to how much), or a larger supply",
            )


@rule("C04", "demand-above-limit", WARNING, CLAUSES, yields_to=("P14", "P22", "C01", "C02", "C03"))
def demand_above_limit(stage: Stage) -> Iterator[Hit]:
    """What the author says runs at once comes to more than a limit ahead of it gives.

    It speaks only where a load behind the limit says `demand=`: the others count in full then.
    Without it nobody has said what runs at once; `ferrule capacity` lists what may.
    Why: the sum was thought of, and does not fit.
    Breaks it: `demand=50%` on four 2 kW griddles behind a 16 A main.
    Does not: the same griddles without `demand=`; a sum within the limit.
    """
    for view in stage.modes:
        found, devices = demand(view), view.wiring.rig.devices
        said = {n for n in found.items if "demand" in devices[n].attrs}
        if not said:
            continue
        over = [_excess(found, p, p.draws) for p in found.points if said.intersection(p.draws)]
        for excess in _causes(filter(None, over)):
            gives, total = _said(excess)
            yield _hit(
                view,
                found,
                excess,
                f"{gives}; with `demand=` what is connected counts {total} {excess.point.unit}",
                "see `ferrule capacity` for what may run together; move a load, or give more",
            )


@rule("C05", "use-above-limit", WARNING, CLAUSES, yields_to=("P22", "C01", "C02", "C03", "C04"))
def use_above_limit(stage: Stage) -> Iterator[Hit]:
    """The hours of use that are stated do not go through a limit in a day, spread as they may be.

    Why: twenty-four hours at the limit are all there is.
    Breaks it: two 1.5 kW heaters with `uses=20h` each on a 15 A, 120 V supply.
    Does not: the same with `uses=10h`, one after the other.
    """
    for view in stage.modes:
        found = demand(view)
        hours = {n: item.hours for n, item in found.items.items() if item.hours}
        over = []
        for point in found.points:
            names = tuple(n for n in point.draws if n in hours)
            mean = sum(
                point.draws[n] * found.items[n].share * min(hours[n] / 24, 1.0) for n in names
            )
            if mean > point.gives * NEAR:
                over.append(Excess(point, names, mean))
        for excess in _causes(over):
            gives, total = _said(excess)
            yield _hit(
                view,
                found,
                excess,
                f"{gives}; the stated use is {total} {excess.point.unit} all day long",
                "fewer hours, another circuit or source for a load, or a larger limit",
            )


@rule("C13", "no-spare-capacity", NOTE, PRACTICE, ("C02", "C03", "C04"))
def no_spare_capacity(stage: Stage) -> Iterator[Hit]:
    """A source has next to nothing left once what runs at once is counted.

    As C04 it speaks only where a load behind the source says `demand=`: then the sum is what the
    author means.  Next to nothing is less than a tenth.
    Why: the next load that somebody plugs in trips it.
    Breaks it: 15.5 A of demand on a 16 A supply.
    Does not: 14 A on it; a source behind which no load says `demand=`.
    """
    for view in stage.modes:
        found, devices = demand(view), view.wiring.rig.devices
        said = {n for n in found.items if "demand" in devices[n].attrs}
        points = (p for p in found.points if p.source and said.intersection(p.draws))
        full = [Excess(p, tuple(p.draws), found.total(p)) for p in points]
        for excess in _causes(e for e in full if _spare(e) < SPARE):
            gives, total = _said(excess)
            yield _hit(
                view,
                found,
                excess,
                f"{gives}; with `demand=` what is connected counts {total} {excess.point.unit} and "
                "leaves next to nothing",
                "a larger source, or loads that take turns in modes of their own",
            )


def _spare(excess: Excess) -> float:
    """What is left of a limit as a share of it; all of it where more than it is counted."""
    left = 1 - excess.total / excess.point.gives
    return left if left > 1 - NEAR else 1.0


@rule("C12", "load-without-figure", NOTE, clauses={"": "a datum is missing"})
def load_without_figure(stage: Stage) -> Iterator[Hit]:
    """A load says neither W, VA nor A, where sums are meant.

    Sums are meant where any load says `demand=` or `uses=`.
    Why: a sum that leaves one out has not been checked, and must not look as if it had.
    Breaks it: a pump with neither watts nor amperes in a rig whose lamps say `uses=`.
    Does not: the same in a rig that says neither.
    """
    devices = stage.rig.devices.values()
    if not any("demand" in device.attrs or "uses" in device.attrs for device in devices):
        return
    for view in stage.modes:
        for device in demand(view).unknown:
            yield Hit(
                on=(device.name,),
                span=device.span,
                message=f"{device.name} says neither W, VA nor A: what runs together, and how long "
                "a battery lasts, is summed without it",
                fix="add its power or current from its rating plate",
                mode=view.name,
            )
