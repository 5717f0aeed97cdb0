"""What takes power, and between which terminals: loads, converters at their inputs, outlets."""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterator

from ...dsl.model import Device
from ...dsl.records import record
from ..capacity.converters import full_watts, input_lines, input_volts
from ..tracing.cut import protection
from ..tracing.trace import ModeView, Source, wanted
from .assumed import START_PF

# Between which terminals, by their roles, the power is taken, each an equal share of it.
LEGS = (
    (("L1", "L2", "L3"), (("L1", "L2"), ("L2", "L3"), ("L3", "L1"))),
    (("L1", "L2"), (("L1", "L2"),)),
    (("L", "N"), (("L", "N"),)),
    (("+", "-"), (("+", "-"),)),
)


@record
class Leg:
    """A pair of terminals (nodes of the network) and the nominal voltage between them, V."""

    a: int
    b: int
    volts: complex


@record
class Taker:
    """A device that takes ``power`` (complex, VA, of all its legs together) at nominal voltage.

    ``resistive``: it is an impedance; otherwise its power is constant.
    """

    device: Device
    legs: tuple[Leg, ...]
    power: complex
    resistive: bool


def legs_of(view: ModeView, device: str, names: tuple[str, ...]) -> tuple[Leg, ...]:
    """The legs between the terminals of these names; none where a nominal voltage is unknown."""
    by_role = {wanted(name): view.wiring.node(device, name) for name in names}
    pairs = next((pairs for need, pairs in LEGS if all(r in by_role for r in need)), ())
    found = []
    for one, other in pairs:
        a, b = by_role[one], by_role[other]
        here, there = view.line_phasor(a), view.line_phasor(b)
        if here is None or there is None or abs(here - there) < 1e-9:
            return ()
        found.append(Leg(a, b, here - there))
    return tuple(found)


def running(device: Device, volts: float, lines: int, dc: bool) -> complex:
    """What a load draws while it runs, VA (complex), ``volts`` between its lines; 0: not stated.

    ``power``, or ``apparent``, or ``current`` at its own or else this voltage; the power factor
    from ``pf=``, or from power and apparent power, else 1: a drop in resistances is the same.
    """
    watts, apparent = device.number("power"), device.number("apparent")
    amps, own = device.number("current"), device.number("voltage")
    factor = _power_factor(device, dc)
    if watts is not None:
        return cmath.rect(watts / factor, math.acos(factor))
    if apparent is None and amps is not None:
        apparent = amps * (own or volts) * (math.sqrt(3) if lines == 3 else 1.0)
    return cmath.rect(apparent or 0.0, math.acos(factor))


def _power_factor(device: Device, dc: bool) -> float:
    watts, apparent = device.number("power"), device.number("apparent")
    stated = device.number("pf")
    if dc:
        return 1.0
    if stated:
        return min(stated / 100, 1.0)
    return min(watts / apparent, 1.0) if watts and apparent else 1.0


def starting(device: Device, volts: float, lines: int, dc: bool) -> complex | None:
    """What it draws as it starts, VA (complex) at this voltage; None: no ``inrush=``."""
    amps = device.number("inrush")
    if amps is None:
        return None
    factor = START_PF if device.kind == "motor" and not dc else _power_factor(device, dc)
    return cmath.rect(amps * volts * (math.sqrt(3) if lines == 3 else 1.0), math.acos(factor))


def loads(view: ModeView) -> Iterator[Taker]:
    """The loads that are on and state what they draw."""
    for name, kind in view.wiring.kinds.items():
        if kind.acts != "load" or not view.takes(name):
            continue
        device = view.wiring.rig.devices[name]
        legs = legs_of(view, name, view.takes(name))
        if legs:
            volts, dc = abs(legs[0].volts), "+" in view.takes(name)
            power = running(device, volts, len(legs), dc)
            resistive = device.kind == "heater"
            if resistive:  # what is stated holds at the voltage it is made for
                power *= (volts / (device.number("voltage") or volts)) ** 2
            if power:
                yield Taker(device, legs, power, resistive)


def inputs(view: ModeView) -> Iterator[tuple[Source, tuple[Leg, ...]]]:
    """The converters that are live, with the legs they are fed by (not transformers)."""
    for source in view.live.values():
        if source.converter and source.device.kind != "transformer":
            legs = legs_of(view, source.name, view.takes(source.name))
            if legs:
                yield source, legs


def full_input(view: ModeView, source: Source, legs: tuple[Leg, ...]) -> complex:
    """What a converter's largest current comes to at nominal voltage, VA; 0: not stated.

    That of full output at the lowest voltage it works at (``converters.full_amps``).
    """
    lines = input_lines(view, source)
    low = input_volts(view, source, lines[0]) if lines else None
    higher = abs(legs[0].volts) / low if low and view.node_role(lines[0]) == "+" else 1.0
    return complex(full_watts(view, source) * higher)


def outlet_amps(view: ModeView, device: Device, node: int) -> float | None:
    """The current an outlet is judged at, A: its own rating or its device's, whichever is less."""
    ahead = protection(view).arriving(node).amps
    amps = min(device.number("rating") or math.inf, ahead or math.inf)
    return None if amps == math.inf else amps
