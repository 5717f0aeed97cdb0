"""C: sources of several lines, inverters that start motors, batteries that give and take."""

from __future__ import annotations

from collections.abc import Iterator

from ..capacity.banks import Bank, banks, chargers
from ..capacity.converters import full_amps
from ..capacity.demand import Demand, demand
from ..findings import WARNING
from ..registry import Hit, rule
from ..tracing.trace import ModeView, Source, Stage
from ..trade.sizes import plain

NEAR = 1.0 + 1e-9
# Lines further apart than this share of what each gives are unbalanced
# (common practice, no published source).
UNEVEN = 0.5


PRACTICE = {"": "common practice, no published source"}


@rule("C06", "legs-unbalanced", WARNING, PRACTICE, ("S11", "C01", "C02"))
def legs_unbalanced(stage: Stage) -> Iterator[Hit]:
    """The lines of a split-phase or three-phase source carry very different loads.

    Counted is all that is connected, with its `demand=`.  Found where one line counts more than it
    gives while the lines together do not, or where lines differ by more than half of what each
    gives.
    Why: one line opens while the other has room; the neutral carries the difference.
    Breaks it: both 3 kW heaters on one line of a 30 A split-phase supply, and lamps on the other.
    Does not: loads spread over the lines.
    """
    for view in stage.modes:
        found = demand(view)
        for source in view.live.values():
            gives = source.device.number("rating")
            if len(source.lines) < 2 or gives is None:
                continue
            lines, users = _by_line(view, found, source)
            worst, least = max(lines, key=lines.__getitem__), min(lines, key=lines.__getitem__)
            mean = sum(lines.values()) / len(lines)
            apart = lines[worst] - lines[least]
            if not (lines[worst] > gives * NEAR and mean <= gives) and apart <= gives * UNEVEN:
                continue
            amps = ", ".join(f"{role} {plain(total)} A" for role, total in lines.items())
            yield Hit(
                on=(source.name, *users[worst]),
                span=source.device.span,
                message=f"{source.name} gives {gives:g} A on each line, and they are unbalanced: "
                f"{amps}",
                fix=f"move circuits from {worst} to {least}",
                mode=view.name,
                value=apart,
                limit=gives * UNEVEN,
                unit="A",
            )


def _by_line(
    view: ModeView, found: Demand, source: Source
) -> tuple[dict[str, float], dict[str, list[str]]]:
    """What counts on each line of a source, A, and of what."""
    roles = {view.net[source.nodes[role]]: role for role in source.lines}
    amps = dict.fromkeys(source.lines, 0.0)
    users: dict[str, list[str]] = {role: [] for role in source.lines}
    for draw in found.draws:
        role = roles.get(view.net[draw.node])
        item = found.items[draw.item]
        if role is not None and not item.yields:
            amps[role] += draw.amps * item.share
            users[role].append(draw.item)
    return amps, users


@rule("C07", "start-above-inverter", WARNING, {"": "the inverter's own limit"}, ("C01", "P22"))
def start_above_inverter(stage: Stage) -> Iterator[Hit]:
    """A motor's starting current, on top of what runs for hours, is more than an inverter delivers.

    Why: the inverter drops its voltage or shuts down at every start, and with it all it feeds.
    Breaks it: a compressor of 30 A at start on an inverter with `limit=20A`.
    Does not: a start within `limit=`; an inverter that passes the supply through.
    """
    for view in stage.modes:
        found, devices = demand(view), view.wiring.rig.devices
        for source in view.live.values():
            limit = source.device.number("limit")
            if source.device.kind != "inverter" or source.dc or limit is None:
                continue
            nets = {view.net[source.nodes[role]] for role in source.lines}
            draws = [draw for draw in found.draws if view.net[draw.node] in nets]
            for draw in draws:
                start = devices[draw.item].number("inrush")
                beside = [
                    d
                    for d in draws
                    if found.items[d.item].continuous
                    and d.item != draw.item
                    and view.net[d.node] == view.net[draw.node]
                ]
                total = (start or 0.0) + sum(d.amps * found.items[d.item].share for d in beside)
                if start is None or total <= limit * NEAR:
                    continue
                others = f" beside {plain(total - start)} A that run for hours" if beside else ""
                yield Hit(
                    on=(draw.item, source.name),
                    span=devices[draw.item].span,
                    message=f"{draw.item} takes {start:g} A at start{others}; {source.name} "
                    f"delivers {limit:g} A at most",
                    fix="a larger inverter, a soft starter, or another source for the motor",
                    mode=view.name,
                    value=total,
                    limit=limit,
                    unit="A",
                )


BATTERY = {"": "the battery maker's limits; ABYC E-13 for lithium (from memory)"}


@rule("C08", "charging-above-battery", WARNING, BATTERY)
def charging_above_battery(stage: Stage) -> Iterator[Hit]:
    """All that charges a battery at once gives more than it may be charged with (`charge=`).

    Why: its management opens under full charge, and the alternator loses its load at that moment;
    or the cells are worn out early.
    Breaks it: an alternator of 180 A and chargers of 142 A on a bank of `charge=280A`.
    Does not: a sum within `charge=`; a battery that does not say it.
    """
    for view in stage.modes:
        for bank in banks(view):
            most, given = bank.most("charge"), list(chargers(view, bank))
            total = sum(amps for _, amps in given)
            if most is None or total <= most * NEAR:
                continue
            parts = " + ".join(f"{source.name} {plain(amps)} A" for source, amps in given)
            yield Hit(
                on=(*(b.name for b in bank.batteries), *(s.name for s, _ in given)),
                span=bank.batteries[0].span_of("charge"),
                message=f"{bank.name} may be charged with {most:.4g} A; {parts} give {total:.4g} A",
                fix="set the chargers lower, a larger bank, or a mode in which they take turns",
                mode=view.name,
                value=total,
                limit=most,
                unit="A",
            )


@rule("C09", "discharge-above-battery", WARNING, BATTERY, ("C01", "C02"))
def discharge_above_battery(stage: Stage) -> Iterator[Hit]:
    """Inverters at full power, beside what runs for hours, draw more than a battery may give.

    The inverter's current is taken at the lowest voltage it works at (`cutoff=`), with its
    efficiency.
    Why: the battery's management opens, and everything is dark at once.
    Breaks it: an inverter of 3000 W at 12 V on a battery of `discharge=200A`.
    Does not: a bank that gives what the inverter takes; a battery that does not say `discharge=`.
    """
    for view in stage.modes:
        found = demand(view)
        for bank in banks(view):
            most = bank.most("discharge")
            taken = dict(_inverters(view, bank)) if most is not None else {}
            if most is None or not taken:
                continue
            beside = sum(
                draw.amps * found.items[draw.item].share
                for draw in found.draws
                if view.net[draw.node] == view.net[bank.plus]
                and found.items[draw.item].continuous
                and view.wiring.names[draw.node][0] not in taken
            )
            total = sum(taken.values()) + beside
            if total <= most * NEAR:
                continue
            full = " + ".join(f"{name} {amps:.4g} A" for name, amps in taken.items())
            others = f" beside {plain(beside)} A that run for hours" if beside else ""
            yield Hit(
                on=(*(b.name for b in bank.batteries), *taken),
                span=bank.batteries[0].span_of("discharge"),
                message=f"{bank.name} may give {most:.4g} A; at full power {full}{others}",
                fix="a larger bank, or an inverter that it can feed",
                mode=view.name,
                value=total,
                limit=most,
                unit="A",
            )


def _inverters(view: ModeView, bank: Bank) -> Iterator[tuple[str, float]]:
    """The inverters on a bank with their direct current at full power, A."""
    for source in view.live.values():
        device = source.device
        if device.kind != "inverter" or source.dc:
            continue
        node, amps = view.wiring.node(device.name, "+"), full_amps(view, source)
        if amps and view.net[node] == view.net[bank.plus]:
            yield device.name, amps
