"""The electrical solution against ngspice: voltages, currents, powers and fault currents.

Every mode of every stage of the rigs below.  ngspice gets the wiring from ``spice.py``, which
reads the statements by itself; loads are what they come to at the solution's voltages, and their
power is checked against the text with ngspice's voltages and currents.  Agreement within 0.1 %.
"""

from __future__ import annotations

import math
import shutil
import sys
import warnings
from collections.abc import Iterator
from pathlib import Path

import pytest
import spice
from ferrule.checks.books.book import Missing
from ferrule.checks.solve import Fault, Solution, solution
from ferrule.checks.tracing.trace import ModeView, analyse
from ferrule.dsl.model import Device, Rig
from ferrule.dsl.reader import read, read_text

ROOT = Path(__file__).parent.parent
sys.path.insert(0, str(ROOT / "benchmarks"))
from generate import generate  # noqa: E402

SAME = 1e-3
FAULTS = 5  # in each mode, frequency and case
GENERATED = [
    (shape, circuits, seed)
    for shape, sizes in {
        "radial": (3, 9, 24),
        "two-source": (4, 12, 20),
        "dc": (3, 10, 24),
        "three-phase": (5, 11, 20),
    }.items()
    for seed, circuits in enumerate(sizes)
]
FILES = [
    *sorted((ROOT / "examples").glob("*.rig")),
    *sorted((ROOT / "tests" / "rigs").glob("*.rig")),
    *sorted((ROOT / "tests" / "clean").glob("b0[127]_*.rig")),
    *sorted((ROOT / "tests" / "clean").glob("v0*.rig")),
    *sorted((ROOT / "tests" / "clean").glob("p11_*.rig")),
]
# Converters' efficiencies where none is stated: as documented with the capacity.
EFFICIENCY = {"inverter": 0.90, "charger": 0.85, "dcdc": 0.90}
PAIRS = {
    ("L1", "L2", "L3"): (("L1", "L2"), ("L2", "L3"), ("L3", "L1")),
    ("L1", "L2"): (("L1", "L2"),),
    ("L", "N"): (("L", "N"),),
    ("+", "-"): (("+", "-"),),
}


def needs_ngspice() -> None:
    if shutil.which("ngspice") is None:
        text = "NGSPICE IS NOT INSTALLED: the electrical solution was NOT compared with it"
        warnings.warn(text, stacklevel=2)
        pytest.skip(text)


def rigs(name: str) -> tuple[Rig, ...]:
    if "/" in name:
        return read(ROOT / name).rigs
    shape, circuits, seed = name.split(":")
    return read_text(generate(shape, int(circuits), int(seed))).rigs


NAMES = [str(path.relative_to(ROOT)) for path in FILES]
NAMES += [f"{shape}:{circuits}:{seed}" for shape, circuits, seed in GENERATED]


def modes(name: str) -> Iterator[tuple[Rig, ModeView, spice.Plan]]:
    for rig in rigs(name):
        for view in analyse(rig).modes:
            yield rig, view, spice.Plan(rig, rig.modes[view.name])


def pairs(plan: spice.Plan, device: Device) -> list[tuple[str, str]]:
    """The terminals a device takes power between, by their names in the rig."""
    kind = plan.table[device.kind]
    variant = kind.variant(device.variant)
    takes = variant.takes.get(plan.state(device), ())
    renamed = dict(zip(variant.terminals, (t.name for t in device.terminals), strict=False))
    by_role = {spice.role_of(t): renamed.get(t, t) for t in takes}
    for need, legs in PAIRS.items():
        if all(role in by_role for role in need):
            return [(by_role[a], by_role[b]) for a, b in legs]
    return []


def stated_power(device: Device, volts: float, nominal: float, legs: int) -> complex:
    """What the text says a load takes, VA, between one pair of its terminals, at these volts."""
    watts, va, amps = (device.number(key) for key in ("power", "apparent", "current"))
    if watts is None and va is None and amps is not None:
        va = amps * (device.number("voltage") or nominal) * (math.sqrt(3) if legs == 3 else 1)
    if watts is None:
        watts = va or 0.0
    pf = (device.number("pf") or 100.0) / 100 if va is None else watts / va
    power = complex(watts, watts * math.tan(math.acos(pf)))
    if device.kind == "heater":
        power *= (volts / (device.number("voltage") or nominal)) ** 2
    return power / legs


def put_loads(
    plan: spice.Plan, solved: Solution, deck: spice.Deck, hz: float
) -> dict[str, tuple[str, str, complex, complex]]:
    """Loads and converters' inputs as admittances: name -> nodes, admittance (S), power (VA)."""
    reached = {plan.net[line.line] for line in plan.sources if line.hz == hz}
    drawn = {}
    for device in plan.devices.values():
        acts = plan.table[device.kind].acts
        if acts not in ("load", "converter") or device.kind == "transformer":
            continue
        legs = pairs(plan, device)
        for a, b in legs:
            one, other = spice.node(device.name, a), spice.node(device.name, b)
            volts = solved.between(device.name, a, device.name, b)
            if not volts or plan.net[one] not in reached:
                continue
            if acts == "load":
                power = stated_power(device, volts, nominal_at(plan, one, other, hz), len(legs))
            else:
                stated = device.number("efficiency")
                share = stated / 100 if stated else EFFICIENCY[device.kind]
                power = complex(max(solved.source_watts(device.name), 0) / share / len(legs))
            if power:
                y = power.conjugate() / volts**2
                one, other = deck.at(one), deck.at(other)
                drawn[f"{device.name} {a}"] = (one, other, y, power)
                n = next(deck.number)
                # Series R and X of the same admittance (a capacitance never occurs).
                z = 1 / y
                deck.lines.append(f"rz{n} {one} z{n} {z.real:.15g}")
                x = z.imag / (2 * math.pi * hz) if hz else 0.0
                last = f"lz{n} z{n} {other} {x:.15g}" if x > 0 else f"rx{n} z{n} {other} 1e-9"
                deck.lines.append(last)
    return drawn


def nominal_at(plan: spice.Plan, a: str, b: str, hz: float) -> float:
    """The nominal voltage between two nodes, by the sources on their nets."""
    lines = {plan.net[s.line]: s.volts for s in reversed(plan.sources) if s.hz == hz}
    return abs(lines.get(plan.net[a], 0j) - lines.get(plan.net[b], 0j))


def put_limited(plan: spice.Plan, solved: Solution, deck: spice.Deck, hz: float) -> None:
    """What regulated sources put in beside one that holds the voltage."""
    for line in plan.holders(hz)[1]:
        amps = solved.source_amps(line.device.name)
        assert amps <= (spice.most(line) or 0.0) * (1 + 1e-9)
        if hz == 0:
            deck.current(line.back, line.line, complex(amps))


def close(mine: float, theirs: float, scale: float, what: str) -> None:
    assert mine == pytest.approx(theirs, rel=SAME, abs=1e-6 * scale + 5e-5), what


@pytest.mark.parametrize("name", NAMES)
def test_steady_state(name: str) -> None:
    needs_ngspice()
    compared = 0
    for rig, view, plan in modes(name):
        solved = solution(view)
        assert solved.converged
        squares: dict[str, float] = {}
        for hz in plan.frequencies:
            deck = spice.deck(plan, hz, "drop")
            drawn = put_loads(plan, solved, deck, hz)
            put_limited(plan, solved, deck, hz)
            ((values,),) = spice.run([(deck, hz, [])])
            compare_volts(plan, solved, deck, values, hz)
            for a, b, y, power in drawn.values():
                volts = values[a] - values[b]
                taken = volts * (y * volts).conjugate()
                assert taken == pytest.approx(power, rel=2 * SAME), (view.name, a)
            for thing, meter in deck.meters.items():
                square = squares.get(thing, 0.0) + abs(values[f"{meter}#branch"]) ** 2
                squares[thing] = square
        compared += compare_amps(rig, plan, solved, {k: math.sqrt(v) for k, v in squares.items()})
    assert compared or not any(  # a rig of sockets alone carries nothing
        device.number(key)
        for rig in rigs(name)
        for device in rig.devices.values()
        for key in ("power", "current", "apparent")
        if spice.kinds()[device.kind].acts == "load"
    )


def compare_volts(
    plan: spice.Plan, solved: Solution, deck: spice.Deck, values: dict[str, complex], hz: float
) -> None:
    for line in plan.sources:
        if line.hz != hz:
            continue
        own = {v: k for k, v in plan.own(line.device).items()}
        for device in plan.devices.values():
            for t in device.terminals:
                at = spice.node(device.name, t.name)
                if plan.net[at] not in (plan.net[line.line], plan.net[line.back]):
                    continue
                mine = solved.between(device.name, t.name, line.device.name, own[line.back])
                assert mine is not None
                theirs = abs(values[deck.at(at)] - values[deck.at(line.back)])
                close(mine, theirs, abs(line.volts) * 1e3, f"V of {at} to {line.device.name}")


def compare_amps(rig: Rig, plan: spice.Plan, solved: Solution, amps: dict[str, float]) -> int:
    largest = max(amps.values(), default=0.0)
    number = 0
    for name in rig.conductors:
        if name in amps:
            close(solved.amps(name), amps[name], largest, f"A in {name}")
            number += amps[name] > 1e-6
    for joint, theirs in amps.items():
        device, _, terminal = joint.partition(":")
        if terminal and device in plan.devices:
            mine = solved.pole_amps(device, terminal)
            close(mine, theirs, largest, f"A in {joint}")
    return number


def chosen(plan: spice.Plan, solved: Solution, case: str, hz: float) -> list[tuple[str, Fault]]:
    """Some faults of a mode and frequency, spread over its terminals."""
    reached = {plan.net[line.line] for line in plan.sources if line.hz == hz}
    found = []
    for device in plan.devices.values():
        for t in device.terminals:
            if plan.net[spice.node(device.name, t.name)] not in reached:
                continue
            for to in ("line", "neutral", "earth"):
                fault = solved.fault(device.name, t.name, to, case)  # type: ignore[arg-type]
                if not isinstance(fault, Missing):
                    found.append((to, fault))
    return found[:: max(1, len(found) // FAULTS)]


@pytest.mark.parametrize("name", NAMES)
def test_fault_currents(name: str) -> None:
    needs_ngspice()
    compared = 0
    for _, view, plan in modes(name):
        solved = solution(view)
        for hz in plan.frequencies:
            for case in ("max", "min"):
                faults = chosen(plan, solved, case, hz)
                if not faults:
                    continue
                deck = spice.deck(plan, hz, case)
                if case == "max" and hz == 0:
                    for line in plan.holders(hz)[1]:
                        deck.current(line.back, line.line, complex(spice.most(line) or 0.0))
                ends = [tuple(_node(end) for end in fault.path) for _, fault in faults]
                (answers,) = spice.run([(deck, hz, ends)])  # type: ignore[list-item]
                for (to, fault), answer in zip(faults, answers, strict=True):
                    (volts,) = answer.values()
                    compare_fault(plan, fault, to, case, abs(volts) / 1e-6)
                    compared += 1
    assert compared


def _node(end: str) -> str:
    return spice.node(*end.split(".", 1))


def compare_fault(plan: spice.Plan, fault: Fault, to: str, case: str, theirs: float) -> None:
    three = any(s.role == "L3" for s in plan.sources if s.device.name in fault.source)
    mine = fault.amps / (2 / math.sqrt(3) if three and to == "line" and case == "max" else 1.0)
    if fault.limited:  # the loop would give more than the sources' stated limits
        lines = {s.device.name: s for s in plan.sources if s.device.name in fault.source}
        limits = sum(spice.most(line) or 0.0 for line in lines.values())
        assert mine == pytest.approx(limits) and theirs > mine, fault
        volts = max(abs(line.volts) for line in lines.values()) * (2 if to == "line" else 1)
        assert abs(fault.ohms) + 1e-6 == pytest.approx(volts / theirs, rel=SAME), fault
    else:
        assert mine == pytest.approx(theirs, rel=SAME), fault
