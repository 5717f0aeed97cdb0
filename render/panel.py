"""The panel sheet: the face of each panel, devices at their true module width, ways, bars, entries.

At 1:1 where a panel fits a sheet so, else at 1:2 (ISO 5455), its rail in rows where it is longer;
small panels share a sheet.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from ..checks.tracing.standing import overloads
from ..checks.tracing.trace import Stage
from ..checks.trade.fittings import MODULE_MM
from ..dsl.model import Rig
from ..dsl.records import record, replace
from . import panel_bars, panel_entries, panel_rail
from .canvas import Sheet
from .frame import area, blank
from .marks import MEDIUM, Box, Pen
from .metrics import T25, pitch, width, wrap
from .options import Options
from .panel_parts import Strip, flowed, lines
from .panel_plan import Face, faces
from .remarks import below, remark
from .schedule_devices import overload_words
from .wiring import landings, place_heading, place_name

DOC = "Panel layout"
SCALES = (1.0, 2.0)
EDGE, APART = 3.0, 6.0
"""Room in mm inside a panel's outline and between panels."""
WIDTHS = (130.0, 190.0, 250.0, 310.0)
"""Widths tried for a panel whose rail is shorter, mm."""
REMARKS = (
    "Devices at true width on the scale of each panel, one module 18 mm, heights as in DIN 43880. "
    "The outline, bars and places are no true picture. At each terminal stands what lands on it.",
    "Entries and the cables through them at 1:1, the cables with their outside diameter, the usual "
    "one (ø≈) where the text says none.",
)


@record
class Block:
    """A panel laid out: its strips below each other, ``width`` and ``height`` with the outline."""

    face: Face
    title: str
    strips: tuple[Strip, ...]
    width: float

    @property
    def heading(self) -> list[str]:
        return wrap(self.title, T25, self.width, True)

    @property
    def head(self) -> float:
        """Room for the heading."""
        return pitch(T25) * len(self.heading) + 3.2

    @property
    def height(self) -> float:
        return self.head + 2 * EDGE + sum(strip.height for strip in self.strips)


@dataclass(slots=True)
class Page:
    """A sheet being filled: panels with their corners, in shelves from the top."""

    room: Box
    blocks: list[tuple[Block, float, float]] = field(default_factory=list)
    x: float = 0.0
    y: float = 0.0
    bottom: float = 0.0

    def takes(self, block: Block) -> bool:
        """Places it beside the last one, or on a shelf below; False where it has no room."""
        if self.x + block.width > self.room.width or self.y + block.height > self.room.height:
            self.x, self.y = 0.0, self.bottom
        if self.y + block.height > self.room.height:
            return False
        self.blocks.append((block, self.room.left + self.x, self.room.top + self.y))
        self.x += block.width + APART
        self.bottom = max(self.bottom, self.y + block.height + APART)
        return True


def sheets(stage: Stage, options: Options) -> list[Sheet]:
    """The panels of a stage in the order of the text; none for a rig without panels."""
    empty = blank(options.paper, "", DOC)
    free = area(empty)
    room = free._replace(bottom=free.bottom - below(empty, REMARKS))
    at = landings(stage.rig)
    found = [replace(f, notes=tuple(_overloads(stage, f))) for f in faces(stage.rig, at)]
    pages: list[Page] = []
    for face in found:
        for block in _cut(_block(stage.rig, face, room), room):
            if not pages or not pages[-1].takes(block):
                pages.append(Page(room))
                pages[-1].takes(block)
    return [_sheet(options, page) for page in pages]


def _overloads(stage: Stage, face: Face) -> Iterator[str]:
    """A sentence for each device on the rail that all loads together overload."""
    for each in face.rail:
        over = overloads(stage, each.device)
        if over:
            yield overload_words(stage.rig, each.device, over)


def _block(rig: Rig, face: Face, room: Box) -> Block:
    """A panel at the largest scale, and as narrow, as it fits the sheet."""
    for scale in SCALES:
        rail = face.panel.ways * MODULE_MM / scale
        if scale != SCALES[-1] and rail > room.width - 2 * EDGE:
            continue
        for wide in (*(w for w in WIDTHS if rail + 2 * EDGE < w < room.width), room.width):
            block = _at(rig, face, scale, wide)
            if block.height <= room.height:
                return block
    return _at(rig, face, SCALES[-1], room.width)


def _at(rig: Rig, face: Face, scale: float, wide: float) -> Block:
    room = wide - 2 * EDGE
    strips = (
        *panel_rail.strips(face, scale, room),
        *_bars_and_entries(face, room),
        *panel_bars.others(face, room),
        *panel_entries.unsaid(face, room),
        *(strip for note in face.notes for strip in lines(note, room, bold=True)),
    )
    used = max((strip.width for strip in strips), default=0.0) + 2 * EDGE
    title = _title(rig, face, scale)
    named = width(title, T25, True) + 0.1
    return Block(face, title, strips, max(min(max(used, named), wide), min(WIDTHS[0], wide)))


def _bars_and_entries(face: Face, room: float) -> list[Strip]:
    """Entries on lines of their own, or beside the bars where that is lower."""
    bars, entries = panel_bars.parts(face, room), panel_entries.parts(face)
    apart = [*flowed(bars, room), *flowed(entries, room)]
    beside = list(flowed([*bars, *entries], room))
    return min((apart, beside), key=lambda strips: sum(strip.height for strip in strips))


def _title(rig: Rig, face: Face, scale: float) -> str:
    panel = face.panel
    place = place_name(rig, panel.name) or panel.place or ""
    where = f", in {place_heading(rig, place)}" if place else ""
    ways = f", {panel.ways} ways, {len(face.free)} free" if panel.ways else ""
    entries = ", entries 1:1" if scale != 1 and any(hole.device for hole in face.holes) else ""
    return f"{panel.name}  {panel.label}".strip() + f"{where}{ways}, 1:{scale:g}{entries}"


def _cut(block: Block, room: Box) -> Iterator[Block]:
    """The block, or pieces of it where it is higher than a sheet."""
    piece = replace(block, strips=())
    for strip in block.strips:
        more = replace(piece, strips=(*piece.strips, strip))
        if piece.strips and more.height > room.height:
            yield piece
            more = replace(block, title=f"{block.title} (continued)", strips=(strip,))
        piece = more
    yield piece


def _sheet(options: Options, page: Page) -> Sheet:
    names = list(dict.fromkeys(block.face.panel.name for block, _, _ in page.blocks))
    first = page.blocks[0][0]
    alone = len(names) == 1
    label = f"Panel {names[0]} {first.face.panel.label}" if alone else f"Panels {', '.join(names)}"
    sheet = blank(options.paper, label.strip(), DOC)
    for block, x, y in page.blocks:
        with sheet.group(f"panel-{block.face.panel.name}", "panel", block.title):
            _draw(sheet, block, x, y)
    remark(sheet, REMARKS, rest=True)
    return sheet


def _draw(sheet: Sheet, block: Block, x: float, y: float) -> None:
    number = sheet.block()
    for index, text in enumerate(block.heading):
        down = y + T25 + 0.5 + index * pitch(T25)
        sheet.text(x, down, text, T25, bold=True, block=number)
    top = y + block.head
    sheet.rect(Box(x, top, x + block.width, y + block.height), Pen(MEDIUM))
    top += EDGE
    for strip in block.strips:
        strip.draw(sheet, x + EDGE, top)
        top += strip.height
