"""The sheets of the terminal-strip wiring diagram (``strips_plan`` says what stands where).

A line reads: terminal, swatch, conductor, colour code, size, preparation of the end, far end, and
where that is when it is another place or another sheet; a box to tick ends it.  The cores of one
cable that land below each other are bracketed.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

from ..checks.tracing.trace import Stage
from ..dsl.records import record
from .canvas import Sheet
from .colours import colour_of
from .ends import preparation
from .frame import area, blank, zone_of
from .marks import BLACK, BLUE, GREY, HAIR, MEDIUM, PALE, THICK, THIN, Box, Pen
from .metrics import T18, T25, fit, width
from .options import Options
from .remarks import remark
from .strips_plan import HEAD, LOST, PANEL, ROW, Column, Line, Spot, Strip, flow, strips
from .swatch import swatch
from .wiring import PLACELESS, Landing, Ref, conductor_id, landed, place_name, size_text

DOC = "Wiring diagram"
TITLE = "Terminal strips"
PAD, SWATCH, TICK, GUTTER = 0.8, 4.6, 2.2, 2.4
LABEL = 12.0  # room in a head, mm, that a device's words keep beside its figures
LEGEND = (
    "F 2.5-8: ferrule for 2.5 mm2, sleeve 8 mm; M8-70: ring lug, stud and section; bare: no "
    "fitting. Strip lengths in the wiring chart.",
    "Striped bar: several colours. Dashed empty bar: no colour known. Stroke beside bars: one "
    "cable. 2/C4: sheet and zone.",
)


@record
class Cells:
    """The texts of one line after its swatch; ``where`` is empty for the same place and sheet."""

    conductor: str = ""
    code: str = ""
    size: str = ""
    prep: str = ""
    far: str = ""
    where: str = ""

    @property
    def widths(self) -> tuple[float, ...]:
        """In mm, a little air included; ``where`` shares the last column with ``far``."""
        fields = (self.conductor, self.code, self.size, self.prep)
        spans = [width(text, T18, bold=index == 0) for index, text in enumerate(fields)]
        last = width(self.far, T18) + width(self.where, T18) + (2 * PAD if self.where else 0)
        return tuple(span + 2 * PAD for span in (*spans, last))


@record
class Grid:
    """Widths in mm of the columns of a line: the terminal's, then those of ``Cells.widths``."""

    terminal: float
    texts: tuple[float, ...]

    @property
    def total(self) -> float:
        return self.terminal + SWATCH + PAD + sum(self.texts) + TICK + PAD


def _cells(stage: Stage, line: Line, refs: Mapping[str, Ref], sheet: int) -> Cells:
    if line.landing is None:
        return Cells()
    rig, (conductor, here, far) = stage.rig, line.landing.parts
    shown = colour_of(conductor, rig, stage.conductor_role(conductor.name))
    return Cells(
        conductor=conductor.name,
        code=shown.code or shown.name,
        size=size_text(conductor),
        prep=preparation(conductor, rig.devices.get(here.device), here.terminal).short,
        far=f"→ {far.name}",
        where=_where(stage, line.landing, refs.get(far.device), sheet),
    )


def _where(stage: Stage, landing: Landing, ref: Ref | None, sheet: int) -> str:
    """Where the far end is, as far as it is not beside this one: place, then sheet and zone."""
    rig, (_, here, far) = stage.rig, landing.parts
    if not landed(rig, far):
        return LOST
    place = place_name(rig, far.device)
    away = place if place != place_name(rig, here.device) else ""
    other = str(ref) if ref and ref.sheet != sheet else ""
    return f"{away} {other}".strip()


def _grid(stage: Stage, found: Sequence[Strip]) -> Grid:
    """Column widths from the widest text each holds anywhere in the stage."""
    lines = [line for strip in found for line in strip.lines]
    somewhere = {name: Ref(99, "D9") for name in stage.rig.devices}
    rows = [_cells(stage, line, somewhere, 0).widths for line in lines] or [Cells().widths]
    terminal = max([width(line.terminal, T18, True) for line in lines], default=0) + 2 * PAD
    return Grid(terminal, tuple(map(max, zip(*rows, strict=True))))


@record
class Slot:
    """A column's room on a sheet of the set."""

    sheet: int
    box: Box


def _slots(options: Options, grid: Grid) -> Iterator[Slot]:
    """Columns of equal width, sheet after sheet, for ever."""
    room = area(blank(options.paper, TITLE, DOC))
    count = max(1, int((room.width + GUTTER) // (grid.total + GUTTER)))
    wide = (room.width + GUTTER) / count - GUTTER
    for sheet in itertools.count(options.first):
        for index in range(count):
            left = room.left + index * (wide + GUTTER)
            yield Slot(sheet, Box(left, room.top, left + wide, room.bottom))


def _refs(options: Options, slots: Sequence[Slot], columns: Sequence[Column]) -> dict[str, Ref]:
    """Sheet and zone in which each device's strip begins."""
    refs: dict[str, Ref] = {}
    paper = blank(options.paper, TITLE, DOC)
    for slot, column in zip(slots, columns, strict=True):
        for spot in column:
            at = zone_of(paper, slot.box.left, slot.box.top + spot.y)
            refs.setdefault(spot.strip.device, Ref(slot.sheet, at))
    return refs


def sheets(stage: Stage, options: Options) -> list[Sheet]:
    """The strips of all places, as many sheets as they need; none for a rig without devices."""
    found = strips(stage)
    grid = _grid(stage, found)
    slots, spare = itertools.tee(_slots(options, grid))
    columns = flow(stage.rig, found, (slot.box.height for slot in slots))
    taken = list(itertools.islice(spare, len(columns)))
    refs = _refs(options, taken, columns)
    drawn = {slot.sheet: blank(options.paper, "", DOC) for slot in taken}
    for slot, column in zip(taken, columns, strict=True):
        _Pencil(stage, drawn[slot.sheet], slot, grid, refs).column(column)
        _retitle(drawn[slot.sheet], column)
    for sheet in drawn.values():
        remark(sheet, LEGEND)
    return list(drawn.values())


def _retitle(sheet: Sheet, column: Column) -> None:
    """The sheet's title: its document and the places on it."""
    title = sheet.title or TITLE
    for place in dict.fromkeys(spot.strip.place for spot in column):
        named = place or PLACELESS
        title += "" if f", {named}" in title else f", {named}"
    sheet.title = title


@record
class _Pencil:
    """Draws one column."""

    stage: Stage
    sheet: Sheet
    slot: Slot
    grid: Grid
    refs: Mapping[str, Ref]

    def column(self, column: Column) -> None:
        for spot in column:
            top = self.slot.box.top + spot.y
            self._heading(spot, top)
            self._strip(spot.strip, top)

    def _heading(self, spot: Spot, top: float) -> None:
        place, panel = spot.heading
        left, right = self.slot.box.left, self.slot.box.right
        y = top - (PANEL if panel else 0.0)
        if place:
            words = fit(place, T25, right - left, True)
            self.sheet.text(left, y - 3.7, words, T25, bold=True, colour=BLUE)
            self.sheet.line([(left, y - 1.6), (right, y - 1.6)], Pen(THICK, BLUE))
        if panel:
            words = fit(panel, T18, right - left, True)
            self.sheet.text(left, top - 2.2, words, T18, bold=True, colour=BLUE)

    def _strip(self, strip: Strip, top: float) -> None:
        left, right = self.slot.box.left, self.slot.box.right
        said = " ".join(filter(None, (strip.device, strip.label, strip.rating, strip.status)))
        device = self.stage.rig.devices.get(strip.device)
        cls = f"device {device.kind}" if device else "device missing"
        with self.sheet.group(f"dev-{strip.device}", cls, title=said):
            box = Box(left, top, right, top + strip.height)
            self.sheet.rect(Box(left, top, right, top + HEAD), None, PALE)
            self._head(strip, top + HEAD / 2)
            for index, line in enumerate(strip.lines):
                self._line(line, top + HEAD + index * ROW)
            self._brackets(strip, top + HEAD)
            self._rules(strip, box)

    def _head(self, strip: Strip, y: float) -> None:
        left, right = self.slot.box.left + PAD, self.slot.box.right - PAD
        name = strip.device + (" (continued)" if strip.part else "")
        self.sheet.text(left, y, name, T25, bold=True, level="middle", cell=True)
        start = left + width(name, T25, True) + 2 * PAD
        facts = " ".join(filter(None, (strip.rating, strip.status)))
        facts = fit(facts, T18, right - start - LABEL)
        end = right - width(facts, T18) - 2 * PAD
        label = fit(strip.label, T18, max(end - start, 0))
        self.sheet.text(start, y, label, T18, level="middle", cell=True)
        self.sheet.text(right, y, facts, T18, level="middle", anchor="end", colour=GREY, cell=True)

    def _line(self, line: Line, top: float) -> None:
        y, start = top + ROW / 2, self.slot.box.left + self.grid.terminal
        if not line.more:
            middle = start - self.grid.terminal / 2
            self._cell(middle, y, line.terminal, bold=True, anchor="middle")
        if line.landing is None:
            self._cell(start + SWATCH + 2 * PAD, y, "—", colour=GREY)
            return
        conductor, here, far = line.landing.parts
        cells = _cells(self.stage, line, self.refs, self.slot.sheet)
        shown = colour_of(conductor, self.stage.rig, self.stage.conductor_role(conductor.name))
        said = f"{cells.conductor} {cells.size} {shown.name}: {here.name} to {far.name}"
        name = conductor_id(conductor.name, "a" if here is conductor.a else "b")
        near = far.device in self.refs and self.refs[far.device].sheet == self.slot.sheet
        link = f"#dev-{far.device}" if near else ""
        with self.sheet.group(name, "conductor", said, link):
            swatch(self.sheet, start, start + SWATCH, y, shown, conductor.status)
            self._texts(cells, start + SWATCH + 2 * PAD, y)
        edge = self.slot.box.right - PAD
        self.sheet.rect(Box(edge - TICK, y - TICK / 2, edge, y + TICK / 2), Pen(HAIR, GREY))

    def _cell(
        self, x: float, y: float, text: str, *, bold: bool = False, anchor: str = "start",
        colour: str = BLACK,
    ) -> None:  # fmt: skip
        self.sheet.text(x, y, text, T18, bold=bold, anchor=anchor, level="middle", colour=colour,
                        cell=True)

    def _texts(self, cells: Cells, x: float, y: float) -> None:
        starts = itertools.accumulate(self.grid.texts[:-1], initial=x + PAD)
        conductor, code, size, prep, far = starts
        self._cell(conductor, y, cells.conductor, bold=True)
        self._cell(code, y, cells.code)
        self._cell(size, y, cells.size)
        self._cell(prep, y, cells.prep, colour=GREY)
        self._cell(far, y, cells.far)
        edge = self.slot.box.right - TICK - 2 * PAD
        self._cell(edge, y, cells.where, colour=GREY, anchor="end")

    def _brackets(self, strip: Strip, top: float) -> None:
        """A stroke along the lines whose cores belong to one cable."""
        x = self.slot.box.left + self.grid.terminal + SWATCH + PAD
        numbered = enumerate(strip.lines)
        for cable, run in groupby(numbered, lambda pair: pair[1].cable):
            rows = [index for index, _ in run]
            if cable and len(rows) > 1:
                first, last = (top + (index + 0.5) * ROW for index in (rows[0], rows[-1]))
                self.sheet.line([(x, first - 1.2), (x, last + 1.2)], Pen(MEDIUM))

    def _rules(self, strip: Strip, box: Box) -> None:
        """Ruling: thin between terminals, hair between conductors of one terminal, an outline."""
        sheet, edge = self.sheet, box.left + self.grid.terminal
        for index, line in enumerate(strip.lines):
            y = box.top + HEAD + index * ROW
            left = edge if line.more else box.left
            pen = Pen(HAIR, GREY) if index else Pen(THIN)
            sheet.line([(left, y), (box.right, y)], pen)
        sheet.line([(edge, box.top + HEAD), (edge, box.bottom)], Pen(THIN))
        sheet.rect(box, Pen(MEDIUM))
