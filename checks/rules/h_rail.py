"""H: ways and modules on the rail of a panel."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Device
from ..findings import ERROR, NOTE, Related
from ..registry import Hit, rule
from ..tracing.trace import Stage
from ..trade.fittings import MODULE_MM, MODULE_SOURCE

PRACTICE = "common practice, no published source"


def _on_rail(stage: Stage) -> dict[str, list[Device]]:
    """The devices that take room on the rail of each panel."""
    found: dict[str, list[Device]] = {}
    for device in stage.rig.devices.values():
        if device.panel and (device.ways or "modules" in device.attrs):
            found.setdefault(device.panel, []).append(device)
    return found


def _modules(device: Device) -> int:
    modules = device.attrs.get("modules")
    return modules if isinstance(modules, int) else len(device.ways)


@rule("H04", "wider-than-its-ways", ERROR, clauses={"": f"{MODULE_SOURCE}; {PRACTICE}"})
def wider_than_its_ways(stage: Stage) -> Iterator[Hit]:
    """A device that covers more modules of the rail than it has ways of the panel.

    Why: the next device does not snap on, and the cover's opening does not fit.
    Breaks it: `breaker Q3 modules=3 at=AP.5-6`.
    Does not: as many modules as ways, or fewer (a blank closes the rest).
    """
    for device in stage.rig.devices.values():
        modules = device.attrs.get("modules")
        if isinstance(modules, int) and device.ways and modules > len(device.ways):
            first, last = device.ways[0], device.ways[0] + modules - 1
            yield Hit(
                on=(device.name,),
                span=device.span_of("at"),
                message=f"{device.name} is {modules} modules wide and has {len(device.ways)} "
                f"{'way' if len(device.ways) == 1 else 'ways'} of {device.panel}",
                fix=f"give it ways {first}-{last} of {device.panel}, or others that are free",
                value=float(modules),
                limit=float(len(device.ways)),
                unit="modules",
                related=(Related(device.span_of("modules"), "its width"),),
            )


@rule("H05", "rail-too-short", ERROR, clauses={"": MODULE_SOURCE}, yields_to=("H04",))
def rail_too_short(stage: Stage) -> Iterator[Hit]:
    """More modules in a panel than its rail is long.

    Each counts 18 mm; a device without `modules=` counts one for each of its ways.
    Why: the last device hangs beside the rail.
    Breaks it: 12 modules in a panel with `rail=200mm`.
    Does not: 12 modules on 216 mm; a panel that does not say how long its rail is.
    """
    on_rail = _on_rail(stage)
    for panel in stage.rig.panels.values():
        rail = panel.number("rail")
        devices = on_rail.get(panel.name, [])
        count = sum(map(_modules, devices))
        if rail is None or count * MODULE_MM <= rail * 1000 + 0.5:
            continue
        yield Hit(
            on=(panel.name, devices[-1].name),
            span=panel.span_of("rail"),
            message=f"{count} modules take {count * MODULE_MM:g} mm, the rail of {panel.name} has "
            f"{rail * 1000:g} mm",
            fix=f"move a device out of {panel.name}, or take a longer enclosure",
            value=count * MODULE_MM,
            limit=rail * 1000,
            unit="mm",
            why=tuple(f"{d.name}: {_modules(d)}" for d in devices),
        )


@rule("H06", "no-spare-way", NOTE, clauses={"": PRACTICE})
def no_spare_way(stage: Stage) -> Iterator[Hit]:
    """A panel all of whose ways are taken.

    Why: the next circuit is then squeezed under a screw that is taken.
    Breaks it: a panel with `ways=8` and eight one-pole breakers.
    Does not: one way left; a panel of four ways or fewer, which is a box for what is in it.
    """
    for panel in stage.rig.panels.values():
        devices = [d for d in stage.rig.devices.values() if d.panel == panel.name]
        taken = {way for device in devices for way in device.ways}
        spare = any("spare" in d.label.lower() for d in devices if d.ways)
        if panel.ways > 4 and len(taken) >= panel.ways and not spare:
            yield Hit(
                on=(panel.name,),
                span=panel.span_of("ways"),
                message=f"all {panel.ways} ways of {panel.name} are taken",
                fix="take a panel with a few ways more than there are circuits",
                value=float(len(taken)),
                limit=float(panel.ways),
                unit="ways",
            )
