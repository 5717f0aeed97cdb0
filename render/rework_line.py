"""A line of a work order, and the words for where it is done."""

from __future__ import annotations

from typing import NamedTuple

from ..dsl.model import Device, Panel, Rig
from .wiring import place_name

ELSEWHERE, OUTSIDE = "no place said", "outside the rig"


class Line(NamedTuple):
    """One thing to do: at which terminal, with which conductor, its marker and how it is made.

    ``where`` is the panel and place it is done at, empty where that does not matter.
    """

    do: str
    what: str
    at: str = ""
    marker: str = ""
    made: str = ""
    where: str = ""


def spot(rig: Rig, device: str) -> str:
    """The panel and the place that a device is in: ``AP in REAR``."""
    found = rig.panels.get(device) or rig.devices.get(device)
    if found is None:
        return ELSEWHERE
    if isinstance(found, Device) and found.kind == "supply" and not found.place:
        return OUTSIDE
    if isinstance(found, Panel):
        panel, place = device, found.place or ""
    else:
        panel, place = found.panel or "", place_name(rig, device)
    return f"{panel} in {place}" if panel and place else panel or place or ELSEWHERE
