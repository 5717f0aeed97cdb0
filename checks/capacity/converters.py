"""What a converter takes from what feeds it when it gives all it can: one formula for everything.

    full_watts(view, source)   at its input, W
    full_amps(view, source)    in a line of its input, A, at the lowest voltage it works at

The current is P / (U eta).  P: what its rating comes to, at the voltage that a battery is charged
with where it charges one; U: where a battery feeds it, the lowest it is used at (``minimum=``,
``cutoff=``, the battery's ``cutoff=``), for the current is largest there.
"""

from __future__ import annotations

import math

from ...dsl.model import Device
from ..tracing.trace import UNGROUNDED, ModeView, Source

# In percent, where the text gives no `efficiency=` (common practice, no published source).
EFFICIENCY = {"inverter": 90.0, "charger": 85.0, "dcdc": 90.0, "transformer": 100.0}
# A 12 V battery block is charged at 14.2 V (common practice, no published source).
BLOCK_VOLTS, CHARGING_VOLTS = 12.5, 14.2


def efficiency(device: Device) -> float:
    """A converter's efficiency as a fraction: stated, or what is usual for its kind."""
    return (device.number("efficiency") or EFFICIENCY[device.kind]) / 100


def charging_volts(nominal: float) -> float:
    """The voltage a battery of that nominal voltage is charged at, V."""
    return max(1, round(nominal / BLOCK_VOLTS)) * CHARGING_VOLTS


def charging_amps(device: Device) -> float:
    """The direct current a source charges with at full, A; 0 where it does not say."""
    return device.number("charge" if device.kind == "inverter" else "rating") or 0.0


def limit_of(source: Source) -> float | None:
    """The most a self-limiting source can deliver, A; None where it is not stated."""
    device = source.device
    key = {"inverter": "charge" if source.dc else "limit"}.get(device.kind, "rating")
    stated = device.number(key)
    power, volts = device.number("power") or device.number("apparent"), source.volts
    if stated is None and power and volts:
        return power / volts / (math.sqrt(3) if len(source.lines) == 3 else 1.0)
    return stated


def alone(view: ModeView, source: Source) -> bool:
    """Whether nothing else feeds the lines of a source."""
    found = (view.roles.get(view.net[source.nodes[role]], ()) for role in source.lines)
    return all(name == source.name for roles in found for name, _ in roles)


def follows_the_sun(view: ModeView, source: Source) -> bool:
    """Whether all that feeds a converter is solar: it takes what there is, and needs no more."""
    fed = view.feeders(source.name)
    return bool(fed) and all(view.live[name].device.kind == "solar" for name in fed)


def input_lines(view: ModeView, source: Source) -> list[int]:
    """The live ungrounded terminals that a converter takes from, as nodes."""
    nodes = (view.wiring.node(source.name, t) for t in view.takes(source.name))
    return [node for node in nodes if view.node_role(node) in UNGROUNDED]


def input_volts(view: ModeView, source: Source, node: int) -> float | None:
    """The voltage a converter works on, V; from a battery the lowest it is used at."""
    device, phasor = source.device, view.line_phasor(node)
    live = None if phasor is None else abs(phasor) or None
    if view.node_role(node) != "+":
        return live
    own = device.number("cutoff") or device.number("minimum")
    return own or _battery_cutoff(view, node) or device.number("input") or live


def _battery_cutoff(view: ModeView, node: int) -> float | None:
    found = (view.live[name].device for name, _ in view.roles.get(view.net[node], ()))
    return max((d.number("cutoff") or 0.0 for d in found if d.kind == "battery"), default=None)


def charges(view: ModeView, source: Source) -> bool:
    """Whether a converter works on a battery: one made for it, or one beside other sources."""
    made_for_it = source.device.kind in ("charger", "inverter")
    return source.dc and (made_for_it or not alone(view, source))


def full_watts(view: ModeView, source: Source) -> float:
    """What a converter takes when it gives all it can continuously, W or VA; 0: not stated.

    None takes more than its ``takes=`` or than the sun gives.
    """
    device = source.device
    given = device.number("power") or device.number("apparent")
    amps = charging_amps(device)
    if charges(view, source) and amps:
        plus = view.line_phasor(source.nodes["+"])
        given = amps * charging_volts(source.volts or (abs(plus) if plus else 0.0))
    elif given is None or (source.dc and device.kind == "inverter"):
        plus = view.line_phasor(source.nodes["+"]) if source.dc else None
        given = (limit_of(source) or 0.0) * (source.volts or (abs(plus) if plus else 0.0))
    taken = given / efficiency(device)
    feeders = [view.live[name] for name in view.feeders(source.name)]
    most = device.number("takes")
    if most is not None and feeders:
        taken = min(taken, most * (view.to_neutral(feeders[0]) or math.inf))
    if follows_the_sun(view, source):
        taken = min(taken, sum(_sun(feeder) for feeder in feeders))
    return taken


def _sun(source: Source) -> float:
    """The most a solar generator gives, W; infinite where it does not say."""
    amps = limit_of(source)
    full = amps * source.volts if amps and source.volts else math.inf
    return min(full, source.device.number("power") or math.inf)


def full_amps(view: ModeView, source: Source) -> float | None:
    """What flows in a line of its input then, A; None where power or voltage is not stated."""
    lines = input_lines(view, source)
    volts = input_volts(view, source, lines[0]) if lines else None
    watts = full_watts(view, source)
    return watts / volts / len(lines) if volts and watts else None
