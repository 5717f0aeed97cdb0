"""The wiring diagram as terminal strips: what stands at each terminal, place by place.

This module gathers the strips and flows them into columns; ``strips`` draws them.  Every
terminal of every device has a line, one more for each further conductor on it; every conductor
stands on exactly two lines.  Ends whose terminal this stage has removed get strips of their own.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from ..checks.tracing.trace import Stage
from ..dsl.kinds import kinds
from ..dsl.model import Device, Rig
from ..dsl.records import record, replace
from .units import spaced
from .wiring import NO_PLACE, Landing, landed, landings, natural, place_heading, rating_text

ROW, HEAD, GAP, PLACE, PANEL = 4.2, 5.6, 3.4, 7.0, 6.0
"""Heights in mm: a line, a strip's head, the gap under a strip, headings of place and panel."""
LOST = "not landed"


@record
class Line:
    """One conductor at a terminal, or an unused terminal; ``more`` continues the one above."""

    terminal: str
    landing: Landing | None
    more: bool = False

    @property
    def cable(self) -> str:
        """The cable whose core lands here, or ""."""
        return (self.landing.conductor.cable or "") if self.landing else ""


@record
class Strip:
    """A device's terminals in the order of the device; ``part`` counts from 0 where broken."""

    device: str
    label: str
    rating: str
    status: str
    place: str
    panel: str
    lines: tuple[Line, ...]
    part: int = 0

    @property
    def height(self) -> float:
        """In mm, without the gap under it."""
        return HEAD + ROW * max(1, len(self.lines))


@record
class Spot:
    """A strip in a column, ``y`` from the column's top; ``heading`` stands above it.

    ``heading`` is place and panel as far as they are new here, "" where they are not.
    """

    strip: Strip
    y: float
    heading: tuple[str, str]


Column = tuple[Spot, ...]


def strips(stage: Stage) -> list[Strip]:
    """All strips: places in the order of the text, in a place the loose devices and its panels."""
    rig = stage.rig
    at = landings(rig)
    drawn = [device for device in rig.devices.values() if device.kind != "entry"]
    ordered = sorted(enumerate(drawn), key=lambda pair: _order(rig, *pair))
    found = [_strip(rig, device, at) for _, device in ordered]
    lost = [key for key, ends in at.items() if not landed(rig, ends[0].here)]
    return found + [_lost(device, lost, at) for device in sorted({d for d, _ in lost}, key=natural)]


def _order(rig: Rig, index: int, device: Device) -> tuple[int, int, tuple[int, ...], int]:
    """Place, panel (loose devices first), place on the rail, order of the text."""
    places, panels = list(rig.places), list(rig.panels)
    place = rig.place_of(device)
    panel = _panel(device)
    return (
        places.index(place) if place in places else len(places),
        panels.index(panel) + 1 if panel in panels else 0,
        device.ways or ((0,) if device.kind == "panel" else (10**6,)),
        index,
    )


def _panel(device: Device) -> str:
    """The panel a strip stands under; an enclosure's own earth terminal stands in itself."""
    return device.name if device.kind == "panel" else device.panel or ""


def _strip(rig: Rig, device: Device, at: Mapping[tuple[str, str], tuple[Landing, ...]]) -> Strip:
    lines = [
        line
        for terminal in device.terminals
        for line in _lines(terminal.name, at.get((device.name, terminal.name), ()))
    ]
    return Strip(
        device=device.name,
        label=device.label or kinds()[device.kind].name,
        rating=" ".join(filter(None, (rating_text(device, ("breaks",)), *_fixing(device)))),
        status="" if device.status == "installed" else device.status,
        place=rig.place_of(device) or NO_PLACE,
        panel=_panel(device),
        lines=tuple(lines),
    )


def _fixing(device: Device) -> tuple[str, str]:
    """What one must know with the device in hand: torque, and where on the rail."""
    return spaced(_torque(device)), _ways(device)


def _torque(device: Device) -> str:
    """The tightening torque where all terminals have one and the same."""
    said = {terminal.torque.text if terminal.torque else "" for terminal in device.terminals}
    return said.pop() if len(said) == 1 else ""


def _ways(device: Device) -> str:
    ends = dict.fromkeys((*device.ways[:1], *device.ways[-1:]))
    return f"way {'-'.join(map(str, ends))}" if ends else ""


def _lost(
    device: str,
    keys: Iterable[tuple[str, str]],
    at: Mapping[tuple[str, str], tuple[Landing, ...]],
) -> Strip:
    mine = sorted((key for key in keys if key[0] == device), key=lambda key: natural(key[1]))
    lines = [line for key in mine for line in _lines(key[1], at[key])]
    return Strip(device, "no such terminal in this stage", "", LOST, LOST, "", tuple(lines))


def _lines(terminal: str, ends: Sequence[Landing]) -> Iterator[Line]:
    if not ends:
        yield Line(terminal, None)
    for index, landing in enumerate(ends):
        yield Line(terminal, landing, more=index > 0)


def heading(rig: Rig, place: str, panel: str) -> tuple[str, str]:
    """The words over a place's and a panel's strips."""
    box = rig.panels.get(panel)
    return place_heading(rig, place), f"{panel}  {box.label}".strip() if box else panel


def flow(rig: Rig, found: Sequence[Strip], heights: Iterator[float]) -> list[Column]:
    """Strips into columns whose heights (mm) are taken from ``heights`` as they are needed.

    A place starts a column of its own, so that a change in one moves nothing in another; what has
    no place goes on below the last.  A strip longer than a whole column is broken; no other is.
    """
    columns: list[list[Spot]] = []
    free = y = 0.0
    last: tuple[str, str] | None = None
    queue = list(found)
    while queue:
        strip = queue.pop(0)
        if last is None or strip.place not in (last[0], NO_PLACE):
            columns.append([])
            free, y, last = next(heights), 0.0, None
        need, words = _heading_of(rig, strip, last)
        if y and y + need + strip.height > free:
            columns.append([])
            free, y, last = next(heights), 0.0, None
            need, words = _heading_of(rig, strip, last)
        if y + need + strip.height > free:
            strip, rest = _broken(strip, free - y - need)
            queue.insert(0, rest)
        columns[-1].append(Spot(strip, y + need, words))
        y += need + strip.height + GAP
        last = (strip.place, strip.panel)
    return [tuple(column) for column in columns]


def _heading_of(
    rig: Rig, strip: Strip, last: tuple[str, str] | None
) -> tuple[float, tuple[str, str]]:
    place, panel = heading(rig, strip.place, strip.panel)
    if last == (strip.place, strip.panel):
        return 0.0, ("", "")
    if last is None or last[0] != strip.place:
        return PLACE + (PANEL if panel else 0.0), (place, panel)
    return (PANEL, ("", panel)) if panel else (0.0, ("", ""))


def _broken(strip: Strip, room: float) -> tuple[Strip, Strip]:
    """A strip cut after the last whole terminal that ``room`` mm hold (at least one line)."""
    most = max(1, int((room - HEAD) / ROW))
    cut = next((i for i in range(most, 0, -1) if not strip.lines[i].more), most)
    first, rest = strip.lines[:cut], strip.lines[cut:]
    return replace(strip, lines=first), replace(strip, lines=rest, part=strip.part + 1)
