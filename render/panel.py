"""The panel sheet: the face of each panel, devices at their true module width, ways, bars, entries.

At 1:1 where the rail fits the sheet, else at 1:2 or 1:5 (ISO 5455); the sheet says which.
"""

from __future__ import annotations

from collections.abc import Sequence

from ..checks.fittings import MODULE_MM
from ..checks.trace import Stage
from ..dsl.model import Device
from .canvas import Sheet
from .frame import area, blank
from .marks import BLACK, GREY, HAIR, MEDIUM, PALE, THICK, THIN, Box, Pen
from .metrics import T18, T25, T35, fit, pitch, width, wrap
from .options import Options
from .panel_plan import Bar, Face, Hole, OnRail, Pole, faces
from .remarks import remark
from .wiring import landings, place_name, rating_text

DOC = "Panel layout"
SCALES = (1.0, 2.0, 5.0)
BODY_MM, COVER_MM = 86.0, 45.0
"""Height of a rail device, and of the part that shows through the cover (DIN 43880, 45 mm)."""
LEADS, STEP, GAP, BAR_ROW = 18.0, 8.0, 6.0, 30.0
REMARKS = (
    "Devices at their true width on the scale of the sheet, one module 18 mm; heights of rail "
    "devices as in DIN 43880. Conductors stand at the terminal they land on.",
    "Cables at an entry are drawn at their outside diameter, the usual one where the text says "
    "none.",
)


def sheets(stage: Stage, options: Options) -> list[Sheet]:
    """A sheet a panel; none for a rig without panels."""
    found = faces(stage.rig, landings(stage.rig))
    return [_sheet(stage, options, face) for face in found]


def _scale(face: Face, room: float) -> float:
    rail = max(face.panel.ways, 1) * MODULE_MM
    return next((s for s in SCALES if rail / s <= room), SCALES[-1])


def _sheet(stage: Stage, options: Options, face: Face) -> Sheet:
    panel = face.panel
    sheet = blank(options.paper, "", DOC)
    room = area(sheet)
    scale = _scale(face, room.width - 4)
    label = f"{panel.name}  {panel.label}".strip()
    sheet.title = f"{label}, scale 1:{scale:g}"
    place = place_name(stage.rig, panel.name) or panel.place or ""
    with sheet.group(f"panel-{panel.name}", "panel", label):
        said = f"{label}   {f'in {place}' if place else ''}".rstrip()
        sheet.text(room.left, room.top + T35, said, T35, bold=True)
        y = _rail(sheet, face, Box(room.left, room.top + 8, room.right, room.bottom), scale)
        y = _bars(sheet, face, room, y)
        _holes(sheet, face.holes, room, y, scale)
    remark(sheet, REMARKS)
    return sheet


def _rail(sheet: Sheet, face: Face, room: Box, scale: float) -> float:
    """The rail with its ways; returns the height below it."""
    module, body = MODULE_MM / scale, BODY_MM / scale
    left, top = room.left, room.top + LEADS
    if not face.panel.ways:
        return room.top
    for way in face.free:
        _free(sheet, Box(left + (way - 1) * module, top, left + way * module, top + body))
    for each in face.rail:
        x = left + (each.way - 1) * module
        _device(sheet, each, Box(x, top, x + each.width_mm / scale, top + body), scale)
    below = top + body + LEADS
    for way in range(1, face.panel.ways + 1):
        x = left + (way - 0.5) * module
        sheet.text(x, below, str(way), T25, anchor="middle", level="top", colour=GREY, cell=True)
    return below + T25 + GAP


def _free(sheet: Sheet, box: Box) -> None:
    inner = box.grown(-0.4)
    sheet.rect(inner, Pen(HAIR, GREY, "short"), "#ffffff")
    x, y = inner.centre
    sheet.text(x + T18 / 2, y, "free", T18, rotate=90, anchor="middle", colour=GREY, cell=True)


def _device(sheet: Sheet, each: OnRail, box: Box, scale: float) -> None:
    device = each.device
    figures = rating_text(device)
    with sheet.group(f"dev-{device.name}", f"device {device.kind}", f"{device.name} {figures}"):
        planned = device.status == "planned"
        inner = box.grown(-0.3)
        sheet.rect(inner, Pen(MEDIUM, dash="short" if planned else "solid"), "#ffffff")
        cover = COVER_MM / scale
        middle = (box.top + box.bottom) / 2
        for y in (middle - cover / 2, middle + cover / 2):
            sheet.line([(inner.left, y), (inner.right, y)], Pen(HAIR, GREY))
        x = (box.left + box.right) / 2
        fits = (s for s in (T35, T25, T18) if width(device.name, s, True) <= box.width - 2)
        size = next(fits, T18)
        sheet.text(
            x, middle - cover / 2 + 1.5, fit(device.name, size, box.width - 1.2, True), size,
            bold=True, anchor="middle", level="top", cell=True,
        )  # fmt: skip
        _words(sheet, device, figures, box, (middle - cover / 2 + size + 3, middle + cover / 2))
        _edge(sheet, each.upper, inner, box.top, up=True)
        _edge(sheet, each.lower, inner, box.bottom, up=False)


def _words(sheet: Sheet, device: Device, figures: str, box: Box, span: tuple[float, float]) -> None:
    """Figures and label: across where the device is wide enough, else upright."""
    room = span[1] - span[0] - 1.5
    lines = [*wrap(figures, T18, box.width - 2), *wrap(device.label, T18, box.width - 2)]
    longest = max((width(word, T18) for word in f"{figures} {device.label}".split()), default=0.0)
    if longest <= box.width - 2 and len(lines) * pitch(T18) <= room:
        y = span[0] + T18
        sheet.paragraph((box.left + box.right) / 2, y, lines, T18, anchor="middle", cell=True)
        return
    columns = [text for text in (figures, device.label) if text]
    most = max(1, int((box.width - 1.4) // pitch(T18)))
    upright = [line for text in columns for line in wrap(text, T18, room)][:most]
    start = (box.left + box.right) / 2 - (len(upright) - 1) * pitch(T18) / 2 + T18 / 2
    block = sheet.block()
    for index, text in enumerate(upright):
        sheet.text(
            start + index * pitch(T18), span[1] - 1.2, text, T18, rotate=90, cell=True, block=block
        )


def _edge(sheet: Sheet, poles: Sequence[Pole], box: Box, y: float, *, up: bool) -> None:
    """Terminals along an edge, each with what lands on it written away from the device."""
    for index, pole in enumerate(poles):
        x = box.left + box.width * (index + 0.5) / len(poles)
        sign = -1 if up else 1
        sheet.circle(x, y + sign * -2.2, 0.7, Pen(THIN))
        words = f"{pole.terminal}  {', '.join(pole.conductors) or '–'}"
        shown = fit(words, T18, LEADS - 3)
        sheet.text(
            x + T18 / 2, y + sign * 1.6, shown, T18, rotate=90, cell=True,
            anchor="start" if up else "end",
        )  # fmt: skip


def _bars(sheet: Sheet, face: Face, room: Box, y: float) -> float:
    """Bars below the rail, as many on a line as fit; then what else stands in the panel."""
    x = room.left
    for bar in face.bars:
        long = STEP * len(bar.positions)
        if x > room.left and x + long > room.right:
            x, y = room.left, y + BAR_ROW
        _bar(sheet, bar, x, y)
        x += max(long, width(_named(bar.device), T18, True)) + 2 * GAP
    y += BAR_ROW if face.bars else 0
    for device in face.others:
        sheet.text(room.left, y + T18, f"also in it: {_named(device)}", T18)
        y += pitch(T18)
    return y + GAP / 2


def _named(device: Device) -> str:
    return " ".join(filter(None, (device.name, device.label, rating_text(device))))


def _bar(sheet: Sheet, bar: Bar, x: float, y: float) -> None:
    with sheet.group(f"dev-{bar.device.name}", "device bus", bar.device.name):
        sheet.text(x, y + T18, _named(bar.device), T18, bold=True, cell=True)
        top = y + 4
        for index, pole in enumerate(bar.positions):
            box = Box(x + index * STEP, top, x + (index + 1) * STEP, top + 6)
            sheet.rect(box, Pen(THIN), PALE if pole.conductors else "#ffffff")
            middle, half = box.centre
            sheet.text(middle, half, pole.terminal, T18, anchor="middle", level="middle", cell=True)
            names = ", ".join(pole.conductors)
            sheet.text(
                middle + T18 / 2, box.bottom + 1.2, fit(names, T18, LEADS), T18, rotate=90,
                anchor="end", cell=True,
            )  # fmt: skip


def _holes(sheet: Sheet, holes: Sequence[Hole], room: Box, y: float, scale: float) -> None:
    """Entries with their cables in them, in true size; cables without one as a list."""
    x = room.left
    for hole in holes:
        if hole.device is None:
            words = ", ".join(name for name, _ in hole.cables)
            lines = wrap(f"Cables in, entry not said: {words}", T18, room.width)
            y = sheet.paragraph(room.left, max(y, room.top) + T18, lines, T18) + GAP / 2
    for hole in holes:
        if hole.device is not None:
            x = _hole(sheet, hole, x, y, scale) + GAP


def _hole(sheet: Sheet, hole: Hole, x: float, y: float, scale: float) -> float:
    """One entry; returns the right end of what is drawn."""
    device, across = hole.device, (hole.hole_mm or 20.0) / scale
    assert device is not None
    cables = ", ".join(name for name, _ in hole.cables) or (
        "blocked" if device.flag("blocked") else "free"
    )
    said = f"{device.name} {hole.hole_mm:g} mm" if hole.hole_mm else device.name
    wide = max(across, width(said, T18, True), width(cables, T18))
    middle, level = x + wide / 2, y + T18 + 3 + across / 2
    with sheet.group(f"dev-{device.name}", "device entry", f"{said}: {cables}"):
        sheet.text(middle, y + T18, said, T18, bold=True, anchor="middle", cell=True)
        sheet.circle(middle, level, across / 2, Pen(THICK))
        for dx, dy, radius in _packed([mm / scale for _, mm in hole.cables], across):
            sheet.circle(middle + dx, level + dy, radius, Pen(THIN, BLACK), PALE)
        sheet.text(
            middle, level + across / 2 + 1.5, cables, T18, anchor="middle", level="top", cell=True
        )
    return x + wide


def _packed(diameters: Sequence[float], across: float) -> list[tuple[float, float, float]]:
    """Where cables lie in a hole: side by side on its middle line, smaller if they are too many."""
    total = sum(diameters)
    shrink = min(1.0, across * 0.94 / total) if total else 1.0
    found, x = [], -total * shrink / 2
    for diameter in diameters:
        radius = diameter * shrink / 2
        found.append((x + radius, 0.0, radius))
        x += 2 * radius
    return found
