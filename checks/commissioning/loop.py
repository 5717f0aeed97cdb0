"""Earth-fault loop impedance at the far end of every circuit, and the current at every inlet."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import inf

from ..bands import residual_time
from ..books.book import Figure
from ..figures.chains import band_of, worst_fault
from ..solve import Fault, solution
from ..tracing.trace import ModeView, Stage
from .circuits import Circuit, Feed, circuits, owners
from .data import basis, clause, limit, said, tables
from .trial import Trial

OPENS_BY = 5.0
"""Seconds to open in where the book names no time (common practice, no published source)."""


def loops(stage: Stage) -> Iterator[Trial]:
    """The prospective current at every inlet, then the loop of every circuit of mains."""
    yield from _inlets(stage)
    for circuit in circuits(stage):
        found = None if circuit.dc else _farthest(circuit)
        if found is not None:
            yield _loop(stage, circuit, *found)


def _inlets(stage: Stage) -> Iterator[Trial]:
    """At the inlet the supply may give no more than the weakest device behind it can break."""
    told: set[str] = set()
    for circuit in circuits(stage):
        for feed in circuit.feeds:
            if stage.rig.devices[feed.user].kind != "inlet" or feed.user in told or circuit.dc:
                continue
            worst = worst_fault(feed.view, feed.node)
            breaks = least_breaking(stage, feed)
            if worst is None or breaks is None:
                continue
            told.add(feed.user)
            amps, device = breaks
            yield Trial(
                f"PFC-{feed.user}", "loop", feed.view.name, f"{feed.user}, at the plug",
                f"Prospective current of {worst[1].source[0]}; {device} breaks {amps / 1000:g} kA",
                "A", worst[1].amps, None, amps, clause("loop", stage.book.name),
                (feed.user, device, *owners(feed.view, feed.way.came, feed.node)),
            )  # fmt: skip


def least_breaking(stage: Stage, feed: Feed) -> tuple[float, str] | None:
    """The least interrupting rating, A, of the devices behind an inlet, and whose it is."""
    way = feed.way
    devices = {name for passed in way.devices.values() for name in _until_broken(stage, passed)}
    found = [(stage.rig.devices[name].number("breaks"), name) for name in sorted(devices)]
    return min(((amps, name) for amps, name in found if amps), default=None)


def _until_broken(stage: Stage, passed: Iterable[str]) -> Iterator[str]:
    """Devices up to the first that breaks a short circuit: a residual-current device does not."""
    for name in passed:
        yield name
        if stage.wiring.kinds[name].acts == "protective":
            return


def _farthest(circuit: Circuit) -> tuple[Feed, Fault] | None:
    """The feed with the largest loop that a source's own stiffness is known of."""
    found = []
    for feed in circuit.feeds:
        device, terminal = feed.view.wiring.names[feed.node]
        fault = solution(feed.view).loop(device, terminal, "max")
        if isinstance(fault, Fault):
            found.append((feed, fault))
    return max(found, key=lambda row: (not row[1].limited, abs(row[1].ohms)), default=None)


def _loop(stage: Stage, circuit: Circuit, feed: Feed, fault: Fault) -> Trial:
    most, words, by = _most(stage, circuit, feed, fault)
    task = f"Loop at the end of {circuit.head}{words}"
    if fault.limited:
        task += f"; {', '.join(fault.source)} holds its current: wiring alone, by ohmmeter"
    return Trial(
        f"ZS-{circuit.head}", "loop", feed.view.name, f"{feed.view.wiring.say(feed.node)} to PE",
        task, "ohm", abs(fault.ohms), None, most, f"{clause('loop', stage.book.name)}; {by}",
        tuple(circuit.names),
    )  # fmt: skip


def _most(
    stage: Stage, circuit: Circuit, feed: Feed, fault: Fault
) -> tuple[float | None, str, str]:
    """The largest loop allowed, ohm, what it is for, and where it comes from.

    The overcurrent device's own where the loop leaves it time; else that of a residual-current
    device on the way.
    """
    by_band = _by_band(stage, circuit, feed)
    if by_band is not None:
        ohms, words, by = by_band
        row = tables()["limits"]["measured-cold"]
        if stage.book.name in row["books"]:
            by_band = ohms * float(row["value"]), words, f"{by}; {said(row)}"
        if abs(fault.ohms) <= by_band[0] and not fault.limited:
            return by_band
    none = None, "", "no published band of its device: no maximum"
    return _by_residual(stage, feed) or by_band or none


def allowed(stage: Stage, circuit: Circuit, feed: Feed) -> float | None:
    """The most loop impedance, ohm, at a user, hot, that something opens in time at."""
    found = (_by_band(stage, circuit, feed), _by_residual(stage, feed))
    return max((way[0] for way in found if way is not None), default=None)


def _by_residual(stage: Stage, feed: Feed) -> tuple[float, str, str] | None:
    """50 V over the rated residual current of the nearest device on the way."""
    for name in reversed(feed.way.residual(feed.node)):
        device = stage.rig.devices[name]
        rated = device.number("rcd") or device.number("gfci") or 0.0
        if rated and residual_time(device, rated) is not None:
            return limit("touch") / rated, f", by {name}, {1000 * rated:g} mA", basis("touch")
    return None


def _by_band(stage: Stage, circuit: Circuit, feed: Feed) -> tuple[float, str, str] | None:
    """Zs <= c U0 / Ia of the overcurrent device ahead."""
    band = band_of(stage, circuit.head)
    volts = ModeView.to_neutral(feed.way.source) or 0.0
    if band is None or not volts:
        return None
    asked: Figure | None = stage.book.disconnect_time(volts, rated_a=band.rating)
    seconds = asked.value if asked else OPENS_BY
    amps = band.opens_within(seconds)
    if amps == inf:
        return None
    figure = stage.book.loop_max(volts, amps)
    words = f": {band.device} opens in {seconds:g} s at {amps:.3g} A"
    return figure.value, words, "; ".join(figure.steps[-1:])
