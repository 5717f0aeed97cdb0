"""The legend: every symbol that a set of sheets uses, with its name, on a sheet of its own."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from .canvas import Sheet
from .frame import area, blank
from .marks import BUS, GREY, THIN, Box, Open, Pen, Poly, Stencil
from .metrics import T18, T35, pitch, wrap
from .options import Options
from .symbols import NAMES, symbol

DOC = "Legend"
CELL_WIDTH, CELL_HEIGHT, SYMBOL_WIDTH = 62.0, 23.0, 22.0
STANDARDS = {"iec60617": "IEC 60617", "ieee315": "IEEE 315 (ANSI Y32.2)"}
SHOWN: dict[str, dict[str, object]] = {  # what a symbol of variable length or number is shown with
    "bus": {"length": 16.0},
    "strokes+direct": {"roles": ("+", "-")},
}
NOTES = (
    "Symbols follow {standard}; contacts are drawn open, as without power, whatever the mode.",
    "Letter codes of colours follow IEC 60757, sheets ISO 5457 and ISO 7200.",
    "A dashed line is planned, disabled or removed: it carries nothing.",
    "A reference such as 3/C4 names a sheet and a zone on it. Lengths are one way, in m or as "
    "written. Voltages of split and three-phase systems are between lines.",
)


def used(sheets: Sequence[Sheet]) -> list[str]:
    """Names of the symbols on the sheets, in the legend's order."""
    names = {placed.name for sheet in sheets for placed in sheet.placed}
    lines = (item for sheet in sheets for item in sheet.items if isinstance(item, Poly))
    if any(line.pen and line.pen.width >= BUS for line in lines):
        names.add("bus")
    return names_of(names)


def names_of(names: Collection[str]) -> list[str]:
    """Names of symbols in the legend's order."""
    return [name for name in NAMES if name in names]


def shown(sheets: Sequence[Sheet]) -> bool:
    """Whether one of the sheets has a legend on it."""
    return any(
        isinstance(item, Open) and item.cls.startswith("legend")
        for sheet in sheets for item in sheet.items
    )  # fmt: skip


def notes_of(symbols: str) -> list[str]:
    """What a legend says beside the symbols."""
    return [note.format(standard=STANDARDS[symbols]) for note in NOTES]


def sheets(drawn: Sequence[Sheet], options: Options) -> list[Sheet]:
    """The legend of the symbols on the sheets drawn; none if they have none."""
    names = used(drawn)
    made: list[Sheet] = []
    while names:
        sheet = blank(options.paper, "Symbols used in this set", DOC)
        cells = list(_cells(sheet, _head(sheet, options)))
        for name, cell in zip(names, cells, strict=False):
            _entry(sheet, cell, name, options.symbols)
        names = names[len(cells) :]
        made.append(sheet)
    return made


def _head(sheet: Sheet, options: Options) -> float:
    """Heading and notes; returns where the table may begin."""
    room = area(sheet)
    sheet.text(room.left, room.top + T35, "Legend", T35, bold=True)
    notes = notes_of(options.symbols)
    lines = [line for note in notes for line in wrap(note, T18, room.width)]
    return sheet.paragraph(room.left, room.top + 9, lines, T18, colour=GREY)


def _cells(sheet: Sheet, top: float) -> Iterator[Box]:
    """The table's cells, row by row."""
    room = area(sheet)
    columns = int(room.width // CELL_WIDTH)
    width = room.width / columns
    for row in range(int((room.bottom - top) // CELL_HEIGHT)):
        for column in range(columns):
            left, upper = room.left + column * width, top + row * CELL_HEIGHT
            yield Box(left, upper, left + width, upper + CELL_HEIGHT)


def _entry(sheet: Sheet, cell: Box, name: str, standard: str) -> None:
    base, _, option = name.partition("+")
    shape = symbol(base, standard, **SHOWN.get(name, {option: True} if option else {}))
    with sheet.group(f"legend-{name}", "legend", title=NAMES[name]):
        sheet.rect(cell, Pen(THIN, colour=GREY, cap="butt"))
        x, y = _centred(shape, cell.left + SYMBOL_WIDTH / 2, cell.centre[1])
        sheet.put(shape, x, y)
        room = cell.width - SYMBOL_WIDTH - 3
        lines = wrap(NAMES[name], T18, room)
        y = cell.centre[1] - (len(lines) - 1) * pitch(T18) / 2 + T18 / 2
        sheet.paragraph(cell.left + SYMBOL_WIDTH + 1, y, lines, T18, cell=True)


def _centred(shape: Stencil, x: float, y: float) -> tuple[float, float]:
    """Where the symbol's origin goes for its box to lie round (x, y)."""
    middle_x, middle_y = shape.box.centre
    return x - middle_x, y - middle_y
