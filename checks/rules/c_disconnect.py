"""C: what must not hang behind a disconnect that opens by itself when the battery is low."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from ...dsl.model import Device
from ..capacity.banks import banks, chargers
from ..findings import WARNING
from ..registry import Hit, rule
from ..tracing.network import Edge
from ..tracing.trace import UNGROUNDED, ModeView, Stage, wanted


def _disconnects(view: ModeView) -> Iterator[Device]:
    for device in view.wiring.rig.devices.values():
        if device.flag("undervoltage") and view.network.states[device.name] == "closed":
            yield device


def _past(name: str) -> Callable[[Edge], bool]:
    """Every step but through one device."""
    return lambda edge: edge.owner != name


def _left(view: ModeView, without: str) -> set[int]:
    """The nodes that batteries feed, through converters too, with one device open (or none)."""
    live = view.live.values()
    starts = [s.nodes["+"] for s in live if s.device.kind == "battery"]
    waiting = [s for s in live if s.converter]
    while True:
        reached = set(view.network.walk(starts, _past(without)))
        woken = [
            source
            for source in waiting
            if any(
                view.wiring.node(source.name, terminal) in reached
                for terminal in view.takes(source.name)
                if wanted(terminal) in UNGROUNDED
            )
        ]
        if not woken:
            return reached
        waiting = [source for source in waiting if source not in woken]
        starts += [source.nodes[role] for source in woken for role in source.lines]


@rule(
    "C10",
    "essential-behind-disconnect",
    WARNING,
    {"": "ABYC E-13: another source for what is critical (from memory); common practice"},
)
def essential_behind_disconnect(stage: Stage) -> Iterator[Hit]:
    """An `essential` load hangs behind a disconnect that opens by itself (`undervoltage`).

    Why: the bilge pump or the gas alarm goes dark without anybody having switched it off.
    Breaks it: a bilge pump behind a contactor marked `undervoltage`, as its only feed.
    Does not: one with a feed of its own from the battery, or from another battery; one that no
    battery feeds anyway.
    """
    for view in stage.modes:
        for opens in _disconnects(view):
            left, fed = _left(view, opens.name), _left(view, "")
            for device in stage.rig.devices.values():
                if not device.flag("essential"):
                    continue
                nodes = [view.wiring.node(device.name, t) for t in view.takes(device.name)]
                lines = [node for node in nodes if view.node_role(node) in UNGROUNDED]
                if fed.intersection(lines) and not left.intersection(lines):
                    yield Hit(
                        on=(device.name, opens.name),
                        span=device.span,
                        message=f"{device.name} is essential and dark as soon as {opens.name} "
                        "opens on a low battery",
                        fix=f"a fused feed of its own from ahead of {opens.name}",
                        mode=view.name,
                    )


@rule(
    "C11",
    "charger-behind-disconnect",
    WARNING,
    {"": "common practice, no published source"},
)
def charger_behind_disconnect(stage: Stage) -> Iterator[Hit]:
    """What charges a battery reaches it only through a disconnect that opens when it is low.

    Why: once it has opened, the battery cannot be charged; and an alternator that feeds loads
    without a battery drives their voltage up.
    Breaks it: a charger on the load side of a contactor marked `undervoltage`.
    Does not: a charger on the battery's side of it.
    """
    for view in stage.modes:
        disconnects = list(_disconnects(view))
        for bank in banks(view) if disconnects else ():
            for opens in disconnects:
                start = [view.live[battery.name].nodes["+"] for battery in bank.batteries]
                near = view.network.walk(start, _past(opens.name))
                for source, _ in chargers(view, bank):
                    if source.nodes["+"] not in near:
                        yield Hit(
                            on=(source.name, opens.name),
                            span=source.device.span,
                            message=f"{source.name} charges {bank.name} only through {opens.name}, "
                            "which opens when the battery is low",
                            fix=f"land {source.name} on the battery's side of {opens.name}",
                            mode=view.name,
                        )
