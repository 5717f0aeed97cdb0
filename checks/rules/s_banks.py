"""S: what hangs on a bank of batteries beside the places it is meant to be taken from."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from ...dsl.model import Device
from ..findings import WARNING, Related
from ..registry import Hit, rule
from ..tracing.bonding import listed, passed
from ..tracing.network import POLE, Edge, carries
from ..tracing.trace import ModeView, Source, Stage, wanted

SWITCHES = ("switch", "contactor")
Taker = tuple[Device, int, int]
"""A device, and the nodes of its plus and its minus."""


def _takers(view: ModeView) -> Iterator[Taker]:
    """What is fed by direct current in a mode."""
    wiring = view.wiring
    for device in wiring.rig.devices.values():
        terminals = view.takes(device.name)
        if device.kind == "socket":
            terminals = wiring.variants[device.name].terminals
        poles = {wanted(t): wiring.node(device.name, t) for t in terminals}
        if "+" in poles and "-" in poles and carries(device):
            yield device, poles["+"], poles["-"]


def batteries(view: ModeView) -> list[Source]:
    return [source for source in view.live.values() if source.device.kind == "battery"]


@rule(
    "S20",
    "load-on-middle-of-bank",
    WARNING,
    clauses={"": "common practice, no published source"},
    yields_to=("S04", "S09", "S13", "B08"),
)
def load_on_middle_of_bank(stage: Stage) -> Iterator[Hit]:
    """A load between two batteries in series: it takes from the one and not from the other.

    Why: the charger sees the whole bank alone.  The battery that feeds the load is never full, the
    other is overcharged for it, and both are worn out within a season.
    Breaks it: 12 V lamps on the lower battery of a 24 V bank.
    Does not: a 24/12 V converter across the whole bank; two batteries in parallel.
    """
    for view in stage.modes:
        cells = batteries(view)
        below = {view.net[cell.nodes["+"]]: cell for cell in cells}
        taps = {
            net: (below[net], above)
            for above in cells
            if (net := view.net[above.nodes["-"]]) in below
        }
        found: dict[int, list[Device]] = {}
        for device, plus, minus in _takers(view) if taps else ():
            on = {view.net[plus], view.net[minus]} & taps.keys()
            if len(on) == 1:
                found.setdefault(on.pop(), []).append(device)
        for net, group in found.items():
            yield _tapped(view, group, *taps[net])


def _tapped(view: ModeView, group: list[Device], below: Source, above: Source) -> Hit:
    names = [device.name for device in group]
    return Hit(
        on=(*names, below.name, above.name),
        span=group[0].span,
        mode=view.name,
        message=f"{listed(names)} {'hangs' if len(names) == 1 else 'hang'} between {below.name} "
        f"and {above.name}, which are in series: only one of the two feeds it",
        fix=f"feed {listed(names)} from the whole bank, through a converter",
        related=(
            Related(below.device.span, "the lower battery"),
            Related(above.device.span, "the upper battery"),
        ),
        cause=below.name,
    )


@rule(
    "S21",
    "load-ahead-of-battery-switch",
    WARNING,
    clauses={
        "abyc-e11": "ABYC E-11 11.6, what may stand ahead of the battery switch (from memory)",
        "iec60364": "ISO 13297: a battery switch for all but what stays on (from memory)",
        "": "common practice, no published source",
    },
    yields_to=("P01", "P24", "B08", "S09", "S13"),
)
def load_ahead_of_battery_switch(stage: Stage) -> Iterator[Hit]:
    """A load that the battery switch does not open, and that is not said to be `essential`.

    Why: whoever turns the switch off, to work or because something burns, takes all of it for dead.
    Breaks it: the feed of a refrigerator on the battery's side of the switch.
    Does not: a bilge pump, an alarm or a clock that says `essential`; a rig with no such switch; a
    switch for one load alone.
    """
    if not any(device.kind in SWITCHES for device in stage.rig.devices.values()):
        return
    for view in stage.modes:
        first = {view.net[cell.nodes["+"]]: cell for cell in reversed(batteries(view))}
        for battery in first.values():
            yield from _ahead(view, battery)


def _ahead(view: ModeView, battery: Source) -> Iterator[Hit]:
    wiring = view.wiring
    switched = passed(view.network, [battery.nodes["+"]], lambda edge: _opens(view, edge))
    fed = [
        (device, switched[plus])
        for device, plus, _ in _takers(view)
        if plus in switched and wiring.kinds[device.name].acts in ("load", "outlet")
    ]
    behind = Counter(name for _, switches in fed for name in switches)
    ahead = [device for device, switches in fed if not switches and not device.flag("essential")]
    if not behind or not ahead:
        return
    main, count = behind.most_common(1)[0]
    if count < 2 or count <= len(ahead):
        return
    names = [device.name for device in ahead]
    yield Hit(
        on=(*names, main, battery.name),
        span=ahead[0].span,
        mode=view.name,
        message=f"{main} does not open {listed(names)}: {battery.name} feeds "
        f"{'it' if len(names) == 1 else 'them'} past it",
        fix=f"feed {listed(names)} from behind {main}, or say `essential` where that may stay on",
        related=(Related(wiring.rig.devices[main].span, "opens all else"),),
        cause=main,
    )


def _opens(view: ModeView, edge: Edge) -> bool:
    """Whether an edge is a pole of a switch worked by hand or at a distance."""
    device = view.wiring.rig.devices.get(edge.owner)
    if edge.kind != POLE or device is None:
        return False
    return device.kind in SWITCHES and not device.flag("undervoltage")
