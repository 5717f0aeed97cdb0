"""Inspection: what only the eye finds, and the rating printed on every device."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Device
from ..tracing.network import carries
from ..tracing.trace import Stage
from .data import clause, tables
from .trial import Trial


def inspection(stage: Stage) -> Iterator[Trial]:
    """What only the eye finds, as far as the rig has it; then the rating of every device."""
    has = _words(stage)
    by = clause("inspection", stage.book.name)
    for row in tables()["inspection"]:
        if set(row.get("needs", ())) <= has:
            yield Trial(f"SEE-{row['key']}", "inspection", "", "whole rig", row["task"], basis=by)
    for device in stage.rig.devices.values():
        rated = device.number("rating")
        if carries(device) and stage.wiring.kinds[device.name].acts in ("protective", "residual"):
            yield Trial(
                f"FIT-{device.name}",
                "inspection",
                "",
                _at(stage, device),
                f"Rating printed on the {device.kind} fitted{_sort(device)}",
                "A" if rated else "",
                rated,
                rated,
                rated,
                "as listed",
                (device.name,),
            )


def _words(stage: Stage) -> set[str]:
    """What ``needs`` may ask for: the kinds of device on board, and words for some of them."""
    found = {device.kind for device in stage.rig.devices.values()}
    for view in stage.modes:
        found |= {"dc" if source.dc else "ac" for source in view.live.values()}
        mains = [s for s in view.live.values() if not s.dc]
        found |= {"two-sources"} if {s.name for s in mains} - {_first_ac(stage)} else set()
    acts = {kind.acts for kind in stage.wiring.kinds.values()}
    residual = any({"rcd", "gfci"} & device.attrs.keys() for device in stage.rig.devices.values())
    found |= {"afloat"} if stage.book.name == "abyc-e11" else set()
    return found | ({"residual"} if residual else set()) | ({"converter"} & acts)


def _first_ac(stage: Stage) -> str:
    every = (s.name for view in stage.modes for s in view.live.values() if not s.dc)
    return next(every, "")


def _sort(device: Device) -> str:
    """What else must be read off the device: curve, class, residual current, poles."""
    keys = {"curve": "curve {}", "class": "class {}", "rcd": "{}", "gfci": "{}", "type": "type {}"}
    found = [form.format(device.text(key)) for key, form in keys.items() if device.text(key)]
    return f", also {', '.join(found)}" if found else ""


def _at(stage: Stage, device: Device) -> str:
    """A device with the place it is found at."""
    place = device.panel or stage.rig.place_of(device) or ""
    return f"{device.name} in {place}" if place else device.name
