"""H: mains and low voltage kept apart."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Conductor, Device
from ..findings import WARNING, Related
from ..registry import Hit, rule
from ..tracing.bonding import listed
from ..tracing.trace import Stage
from ..trade.housing import LOW, MAINS, by_route, class_of_device, on, voltage_class

PRACTICE = "common practice, no published source"
APART = {
    "nfpa70": "NFPA 70 551.3, 725.136: permanent separation (from memory)",
    "abyc-e11": "ABYC E-11: AC and DC conductors kept apart (from memory)",
    "iec60364": "IEC 60364-5-52 528.1, 7-721: separate routes (from memory)",
    "": PRACTICE,
}
# Systems that are joined share a role, and nothing is of one voltage any more.
JOINED = ("S12", "S13", "S15")
Run = list[Conductor]


def _both(stage: Stage) -> bool:
    """Whether the rig has mains and direct current: with one of them there is nothing to part."""
    kinds = {source.dc for view in stage.modes for source in view.live.values()}
    return len(kinds) == 2


@rule(
    "H01", "route-of-two-voltages", WARNING, clauses=APART, yields_to=("S12", "S13", "S15", "S18")
)
def route_of_two_voltages(stage: Stage) -> Iterator[Hit]:
    """Mains and extra-low voltage in one duct without a divider.

    Why: chafed insulation puts the mains on the 12 V that people touch.
    Breaks it: a lamp cable of 12 V and a socket cable of 230 V with the same `via=`.
    Does not: a route that is `divided`; two routes side by side.
    """
    if not _both(stage):
        return
    for name, runs in by_route(stage.rig).items():
        route = stage.rig.routes.get(name)
        if route is None or route.flag("divided") or len(runs) < 2:
            continue
        by_class: dict[str, list[Run]] = {}
        for run in runs:
            for found in {voltage_class(stage, conductor) for conductor in run}:
                by_class.setdefault(found, []).append(run)
        if MAINS in by_class and LOW in by_class:
            yield _together(name, by_class[MAINS], by_class[LOW])


def _together(route: str, mains: list[Run], low: list[Run]) -> Hit:
    fewer = min(mains, low, key=len)
    return Hit(
        on=(*(on(run) for run in fewer), route),
        span=fewer[0][0].span_of("via"),
        message=f"{listed(on(r) for r in mains)} (mains) and {listed(on(r) for r in low)} "
        f"(low voltage) share {route}",
        fix=f"take another route for {', '.join(on(r) for r in fewer)}, or put a divider into "
        f"{route} and say divided",
        related=tuple(
            Related(run[0].span_of("via"), "runs there too")
            for run in (mains if fewer is low else low)[:1]
        ),
    )


@rule("H02", "panel-of-two-voltages", WARNING, clauses=APART, yields_to=JOINED)
def panel_of_two_voltages(stage: Stage) -> Iterator[Hit]:
    """Mains and extra-low voltage in one panel without a divider.

    Why: whoever changes a 12 V fuse has the mains beside his fingers.
    Breaks it: a 12 V breaker and a 230 V breaker in one panel.
    Does not: a panel that is `divided`; a converter, whose maker keeps the two apart.
    """
    if not _both(stage):
        return
    inside: dict[str, list[Device]] = {}
    for device in stage.rig.devices.values():
        if device.panel and stage.wiring.kinds[device.name].acts not in ("converter", "enclosure"):
            inside.setdefault(device.panel, []).append(device)
    for name, devices in inside.items():
        panel = stage.rig.panels.get(name)
        if panel is None or panel.flag("divided"):
            continue
        by_class: dict[str, list[Device]] = {}
        for device in devices:
            by_class.setdefault(class_of_device(stage, device), []).append(device)
        mains, low = by_class.get(MAINS, []), by_class.get(LOW, [])
        if mains and low:
            fewer = min(mains, low, key=len)
            yield Hit(
                on=(name, *(device.name for device in fewer)),
                span=fewer[0].span_of("at"),
                message=f"{_named(mains)} (mains) and {_named(low)} (low voltage) stand in {name}",
                fix=f"give {_named(fewer)} a panel of its own, or put a divider into {name} and "
                "say divided",
                related=(Related(panel.span, "no divider is said"),),
            )


def _named(devices: list[Device]) -> str:
    return listed(device.name for device in devices)
