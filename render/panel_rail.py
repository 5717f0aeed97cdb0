"""The rail of a panel: devices at their true module width on their ways, free ways beside them.

What stands on a device never is cut: what has no room across stands upright, what has none at all
goes below the rail as a note.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial

from ..checks.trade.fittings import MODULE_MM
from ..dsl.model import Device
from ..dsl.records import record
from .canvas import Sheet
from .marks import GREY, HAIR, MEDIUM, PALE, THIN, Box, Pen
from .metrics import T18, T25, T35, pitch, width, wrap
from .panel_parts import Strip, lines
from .panel_plan import Face, OnRail, Pole
from .wiring import rating_text

BODY_MM, COVER_MM, RAIL_MM = 86.0, 45.0, 35.0
"""Height of a rail device, of its part that shows through the cover (DIN 43880), of the rail
(IEC 60715)."""
LEAST = 3.0
"""The least distance of terminals, mm on the sheet, for what lands on them to be written there."""
UPRIGHT, BESIDE, DOWN = 2.45, 1.46, 0.45
"""Distance of upright lines, what they leave free beside them in all, what reaches below the
baseline, mm."""
FREE = "–"
UNSAID = ("breaks", "voltage")
"""Figures that are no matter at the face; the device schedule has them."""


@record
class Look:
    """Lettering of a panel, alike on all its devices: of names and of words set across, mm.

    ``upright``: the widths, mm, of devices one of which has no room for words across.
    """

    name: float
    words: float
    upright: frozenset[float] = frozenset()


@record
class Row:
    """The ways from ``first`` to ``last`` with what stands on them, mm on the sheet."""

    first: int
    last: int
    devices: tuple[OnRail, ...]
    free: tuple[int, ...]
    scale: float
    look: Look

    @property
    def module(self) -> float:
        return MODULE_MM / self.scale

    @property
    def width(self) -> float:
        return (self.last - self.first + 1) * self.module

    @property
    def body(self) -> float:
        return BODY_MM / self.scale

    def leads(self, up: bool) -> float:
        """Room for what is written at the terminals of an edge."""
        poles = (pole for each in self.devices for pole in _edge(each, up, self.scale))
        return max((width(landed(pole), T18) for pole in poles), default=0.0) + 3.2


def rows(face: Face, scale: float, room: float) -> list[Row]:
    """The rail in rows of as many ways as the sheet has room for; no device is broken."""
    most = max(1, int(room // (MODULE_MM / scale)))
    look = _look(face, scale)
    found, first = [], 1
    while first <= face.panel.ways:
        last = min(first + most - 1, face.panel.ways)
        broken = [d for d in face.rail if d.way <= last < d.way + _ways(d) - 1 and d.way > first]
        last = min([last, *(d.way - 1 for d in broken)])
        devices = tuple(d for d in face.rail if first <= d.way <= last)
        free = tuple(way for way in face.free if first <= way <= last)
        found.append(Row(first, last, devices, free, scale, look))
        first = last + 1
    return found


def _look(face: Face, scale: float) -> Look:
    """The largest lettering that every device of a panel has room for."""
    boxes = [
        (each.device, Box(0, 0, each.width_mm / scale, BODY_MM / scale)) for each in face.rail
    ]
    name = min((_size(d.name, box.width) or T18 for d, box in boxes), default=T18)
    for words in (T25, T18):
        look = Look(name, words)
        placed = [(box.width, _placed(device, box, look)) for device, box in boxes]
        upright = frozenset(wide for wide, found in placed if found is None or found.upright)
        if not upright:
            return look
    return Look(name, T18, upright)


def _ways(each: OnRail) -> int:
    return len(each.device.ways)


def landed(pole: Pole) -> str:
    """A terminal and what lands on it."""
    return f"{pole.terminal}  {', '.join(pole.conductors) or FREE}"


def _edge(each: OnRail, up: bool, scale: float) -> Sequence[Pole]:
    """The terminals of an edge that have room for their words."""
    poles = each.upper if up else each.lower
    return poles if _has_room(each, scale) else ()


def _has_room(each: OnRail, scale: float) -> bool:
    most = max(len(each.upper), len(each.lower), 1)
    return each.width_mm / scale / most >= LEAST


def strips(face: Face, scale: float, room: float) -> Iterator[Strip]:
    """The rail, row by row, each with its notes."""
    for row in rows(face, scale, room):
        height = row.leads(up=True) + row.body + row.leads(up=False)
        yield Strip(row.width, height, partial(_draw, row))
        for each in row.devices:
            yield from lines(_note(each, row), room)


def _note(each: OnRail, row: Row) -> str:
    """What a device has no room for."""
    device = each.device
    words = []
    if _placed(device, _box(each, row, 0, 0), row.look) is None:
        words += [rating_text(device, UNSAID), device.label]
    if not _has_room(each, row.scale):
        words += ["; ".join(map(landed, (*each.upper, *each.lower)))]
    said = ", ".join(filter(None, words))
    return f"{device.name}: {said}" if said else ""


def _box(each: OnRail, row: Row, x: float, top: float) -> Box:
    left = x + (each.way - row.first) * row.module
    return Box(left, top, left + each.width_mm / row.scale, top + row.body)


def _draw(row: Row, sheet: Sheet, x: float, y: float) -> None:
    top = y + row.leads(up=True)
    for way in row.free:
        left = x + (way - row.first) * row.module
        _free(sheet, Box(left, top, left + row.module, top + row.body), RAIL_MM / row.scale)
    for each in row.devices:
        _device(sheet, each, _box(each, row, x, top), row)
    taken = {way for each in row.devices for way in each.device.ways}
    for way in sorted(taken | set(row.free)):
        at = x + (way - row.first + 0.5) * row.module
        sheet.text(
            at, top + row.body - 5.2, str(way), T18, anchor="middle", colour=GREY, cell=True
        )


def _free(sheet: Sheet, box: Box, rail: float) -> None:
    """A free way: the rail shows."""
    sheet.rect(box.grown(-0.4), Pen(HAIR, GREY, "short"))
    x, y = box.centre
    for level in (y - rail / 2, y + rail / 2):
        sheet.line([(box.left, level), (box.right, level)], Pen(HAIR, GREY))
    sheet.text(x + T18 / 2, y, "free", T18, rotate=90, anchor="middle", colour=GREY, cell=True)


def _device(sheet: Sheet, each: OnRail, box: Box, row: Row) -> None:
    device = each.device
    said = f"{device.name} {rating_text(device)}"
    with sheet.group(f"dev-{device.name}", f"device {device.kind}", said):
        inner = box.grown(-0.3)
        dash = "short" if device.status == "planned" else "solid"
        sheet.rect(inner, Pen(MEDIUM, dash=dash), "#ffffff")
        cover = cover_of(box, row.scale)
        sheet.rect(Box(inner.left, cover.top, inner.right, cover.bottom), None, PALE)
        placed = _placed(device, box, row.look)
        below = placed is not None and placed.upright and placed.y > cover.bottom
        for y in (cover.top, *([] if below else [cover.bottom])):
            sheet.line([(inner.left, y), (inner.right, y)], Pen(HAIR, GREY))
        _name(sheet, device, box, row.look)
        if placed is not None:
            placed.draw(sheet)
        for up, y in ((True, box.top), (False, box.bottom)):
            _terminals(sheet, each, box, y, row.scale, up=up)


def cover_of(box: Box, scale: float) -> Box:
    """The part of a device that shows through the cover."""
    middle, half = (box.top + box.bottom) / 2, COVER_MM / scale / 2
    return Box(box.left, middle - half, box.right, middle + half)


def _cover(box: Box) -> Box:
    return cover_of(box, BODY_MM / box.height)


def _size(name: str, room: float) -> float:
    """The largest lettering that a name has room for across; 0: it has none."""
    sizes = (s for s in (T35, T25, T18) if width(name, s, True) <= room - 1.8)
    return next(sizes, 0.0)


def _name(sheet: Sheet, device: Device, box: Box, look: Look) -> None:
    size, cover = look.name, _cover(box)
    x = (box.left + box.right) / 2
    if _size(device.name, box.width):
        sheet.text(
            x, cover.top + 1.2, device.name, size, bold=True, anchor="middle", level="top",
            cell=True,
        )  # fmt: skip


@record
class Words:
    """The figures and the label of a device where they have room: lines, where the first begins."""

    lines: tuple[str, ...]
    x: float
    y: float
    upright: bool = False
    bold: bool = False
    size: float = T18

    def draw(self, sheet: Sheet) -> None:
        block, step = sheet.block(), UPRIGHT if self.upright else pitch(self.size)
        for index, text in enumerate(self.lines):
            bold = self.bold and index == 0
            if self.upright:
                sheet.text(
                    self.x + index * step, self.y, text, T18, rotate=90, bold=bold, cell=True,
                    block=block,
                )  # fmt: skip
            else:
                sheet.text(
                    self.x, self.y + index * step, text, self.size, anchor="middle", cell=True,
                    block=block,
                )  # fmt: skip


def _placed(device: Device, box: Box, look: Look) -> Words | None:
    """Across in the cover, else upright there, else upright over the whole body; None: nowhere."""
    size, cover = look.name if _size(device.name, box.width) else 0.0, _cover(box)
    top = cover.top + size + 2.4
    texts = tuple(filter(None, (rating_text(device, UNSAID), device.label)))
    if size and box.width not in look.upright:
        found = _across(texts, box, (top, cover.bottom - 0.8), look.words)
        if found:
            return found
    named = texts if size else (device.name, *texts)
    for low in (cover.bottom, box.bottom - 8.4):
        found = _upright(named, box, top, low - 1.0, bold=not size)
        if found:
            return found
    return None


def _across(
    texts: Sequence[str], box: Box, span: tuple[float, float], size: float
) -> Words | None:
    room = box.width - 2
    if any(width(word, size) > room for text in texts for word in text.split()):
        return None
    found = tuple(line for text in texts for line in wrap(text, size, room))
    if len(found) * pitch(size) > span[1] - span[0]:
        return None
    return Words(found, (box.left + box.right) / 2, span[0] + size, size=size)


def _upright(
    texts: Sequence[str], box: Box, top: float, bottom: float, *, bold: bool
) -> Words | None:
    room, most = bottom - top, int((box.width - BESIDE) // UPRIGHT)
    if any(width(word, T18, bold) > room for text in texts for word in text.split()):
        return None
    found = tuple(line for text in texts for line in wrap(text, T18, room, bold))
    if len(found) > most:
        return None
    x = (box.left + box.right) / 2 - (len(found) - 1) * UPRIGHT / 2 + T18 / 2 - DOWN / 2
    return Words(found, x, bottom, upright=True, bold=bold)


def _terminals(sheet: Sheet, each: OnRail, box: Box, y: float, scale: float, *, up: bool) -> None:
    """The terminals of an edge, each with what lands on it written away from the device."""
    poles = _edge(each, up, scale)
    sign = -1 if up else 1
    for index, pole in enumerate(poles):
        x = box.left + box.width * (index + 0.5) / len(poles)
        sheet.circle(x, y - sign * 2.2, 0.7, Pen(THIN))
        sheet.text(
            x + T18 / 2, y + sign * 1.6, landed(pole), T18, rotate=90, cell=True,
            anchor="start" if up else "end",
        )  # fmt: skip
