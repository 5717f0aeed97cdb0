"""What draws in one mode, and where: loads at their nominal current, converters for theirs.

I = P / U, or as stated; a load that gives no VA counts at power factor 1, and the currents of one
line add up as if they were in phase.  No voltage drop is counted in.  A converter passes its loads
on to what feeds it, with its efficiency; one that works on a battery beside others (a charger) is a
load of its own.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import sqrt

from ...dsl.model import Device
from ...dsl.records import record
from ..tracing.trace import UNGROUNDED, ModeView, Source
from .converters import (
    alone,
    efficiency,
    follows_the_sun,
    full_amps,
    full_watts,
    input_lines,
    input_volts,
)


@record
class Item:
    """One thing that draws: a load, or a charger (``charging``).

    ``watts`` and ``va`` are what it takes at full; ``share`` is its ``demand=`` as a fraction.
    A charger that ``yields`` takes only what the loads leave.
    """

    name: str
    label: str
    watts: float
    va: float
    share: float = 1.0
    continuous: bool = False
    charging: bool = False
    yields: bool = False
    hours: float | None = None


@record
class Draw:
    """What an item takes at one line node, A, and its part there of the watts and VA."""

    item: str
    node: int
    amps: float
    watts: float
    va: float


def drawn(view: ModeView) -> tuple[dict[str, Item], list[Draw], list[Device]]:
    """The items of a mode by name, what they draw where, and the live loads without a figure."""
    items: dict[str, Item] = {}
    draws: list[Draw] = []
    unknown: list[Device] = []
    for device in view.wiring.rig.devices.values():
        lines = _lines(view, device)
        if not lines:
            continue
        item = _item(view, device, lines)
        if item is None:
            unknown.append(device)
        else:
            items[device.name] = item
            draws += _draws(view, device, item, lines)
    for source in reversed(view.live.values()):  # a converter comes after what feeds it
        if source.converter:
            draws += _input(view, source, items, draws)
    return items, draws, unknown


def _lines(view: ModeView, device: Device) -> list[int]:
    """The live line nodes a load takes from."""
    if view.wiring.kinds[device.name].acts != "load":
        return []
    nodes = (view.wiring.node(device.name, t) for t in view.takes(device.name))
    return [node for node in nodes if view.node_role(node) in UNGROUNDED]


def _item(view: ModeView, device: Device, lines: list[int]) -> Item | None:
    """A load's figures; None where it gives none."""
    watts, va, amps = (device.number(key) for key in ("power", "apparent", "current"))
    if amps is not None:
        full = amps * (volts_of(view, device, lines) or 0.0) * (sqrt(3) if len(lines) > 2 else 1.0)
        watts, va = (full if watts is None else watts), (full if va is None else va)
    if watts is None and va is None:
        return None
    factor = (device.number("pf") or 100.0) / 100
    watts, va = (va if watts is None else watts), (watts / factor if va is None and watts else va)
    share = device.number("demand")
    return Item(
        device.name,
        device.label,
        watts or 0.0,
        va or 0.0,
        share=1.0 if share is None else share / 100,
        continuous=device.flag("continuous"),
        hours=device.number("uses"),
    )


def volts_of(view: ModeView, device: Device, lines: list[int]) -> float | None:
    """What a load is made for, V (between lines where it has several), or what it is fed with."""
    own = device.number("voltage")
    if own is not None or not view.roles.get(view.net[lines[0]]):
        return own
    source = view.live[view.roles[view.net[lines[0]]][0][0]]
    return source.volts if len(lines) > 1 else view.to_neutral(source)


def _draws(view: ModeView, device: Device, item: Item, lines: list[int]) -> Iterator[Draw]:
    amps = device.number("current")
    if amps is None:
        volts = volts_of(view, device, lines)
        amps = item.va / volts / (sqrt(3) if len(lines) > 2 else 1.0) if volts else 0.0
    for node in lines:
        yield Draw(item.name, node, amps, item.watts / len(lines), item.va / len(lines))


def behind(view: ModeView, source: Source, draws: list[Draw]) -> list[Draw]:
    """The draws on the lines of a source."""
    nets = {view.net[source.nodes[role]] for role in source.lines}
    return [draw for draw in draws if view.net[draw.node] in nets]


def _input(
    view: ModeView, source: Source, items: dict[str, Item], draws: list[Draw]
) -> Iterator[Draw]:
    """What a converter takes from what feeds it."""
    lines = input_lines(view, source)
    if not lines:
        return
    if alone(view, source):
        yield from _passed_on(view, source, lines, behind(view, source, draws))
    elif source.dc and not follows_the_sun(view, source):
        amps, watts = full_amps(view, source), full_watts(view, source)
        if amps:
            items[source.name] = _charging(source, watts)
            for node in lines:
                yield Draw(source.name, node, amps, watts / len(lines), watts / len(lines))


def _passed_on(
    view: ModeView, source: Source, lines: list[int], draws: list[Draw]
) -> Iterator[Draw]:
    """The draws behind a converter, at its input."""
    volts = input_volts(view, source, lines[0])
    if not volts:
        return
    better = efficiency(source.device) * len(lines)
    for draw in draws:
        watts, va = draw.watts / better, draw.va / better
        taken = va if view.node_role(lines[0]) != "+" else watts
        for node in lines:
            yield Draw(draw.item, node, taken / volts, watts, va)


def _charging(source: Source, watts: float) -> Item:
    """A converter that feeds a battery beside others, as an item of its own."""
    device = source.device
    yields = "takes" in device.attrs and device.kind == "inverter"
    hours = device.number("uses")
    return Item(device.name, device.label, watts, watts, charging=True, yields=yields, hours=hours)
