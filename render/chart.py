"""The wiring chart as ruled sheets: the rows of ``chart_rows``, a band of grey every other row."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate, pairwise

from ..checks.tracing.trace import Stage
from ..dsl.model import Rig
from .canvas import Sheet
from .chart_rows import Row, aligned, csv_text, markdown, rows
from .colours import colour_of
from .ends import ASSUMED
from .frame import area, blank
from .marks import BLACK, GREY, HAIR, MEDIUM, PALE, THIN, Box, Pen
from .metrics import T18, fit, width
from .options import Options
from .remarks import below, remark
from .swatch import swatch
from .units import spaced_size
from .wiring import conductor_id

__all__ = ["Row", "aligned", "csv_text", "markdown", "rows", "sheets"]

DOC = "Wiring chart"
TITLE = "Wiring chart"
ROW, HEAD, PAD, SWATCH = 4.4, 10.0, 0.9, 6.0
LEGEND = (
    "One row a conductor, end to end. Torques as the text gives them; usual ones are on the "
    "termination sheet. Tick when landed at either end.",
    "Ferrules: DIN 46228-4, section and sleeve, colour of the collar (IEC 60757). Lugs: stud and "
    "section.",
    ASSUMED,
)

HEADINGS = (
    ("Conductor", ""),
    ("Role", ""),
    ("Colour", ""),
    ("Size", ""),
    ("Length", "m"),
    ("From", "terminal"),
    ("End preparation", "at from"),
    ("Torque", "N·m"),
    ("To", "terminal"),
    ("End preparation", "at to"),
    ("Torque", "N·m"),
    ("Place", "from, to"),
    ("Route", ""),
    ("Status", ""),
    ("Done", ""),
)


def _texts(row: Row) -> tuple[str, ...]:
    torques = ["" if value is None else f"{value:g}" for value in row.torque_nm]
    length = "" if row.length_m is None else f"{row.length_m:g}"
    return (
        row.conductor, row.role, row.code or row.colour, spaced_size(row.size) or row.kind, length,
        row.a, str(row.ends[0]), torques[0], row.b, str(row.ends[1]), torques[1],
        row.place, " ".join(row.route), "" if row.status == "installed" else row.status, "",
    )  # fmt: skip


def _widths(found: Sequence[Row], room: float) -> list[float]:
    """Column widths: what the widest text asks, then the spare shared or the longest cut back."""
    table = [_texts(row) for row in found]
    wide = [
        max([width(text, T18, bold=index == 0) for text in column], default=0.0)
        for index, column in enumerate(zip(*table, strict=True))
    ] or [0.0] * len(HEADINGS)
    for index, words in enumerate(HEADINGS):
        wide[index] = max(wide[index], *(width(word, T18, True) for word in words)) + 2 * PAD
    wide[2] += SWATCH + PAD
    while sum(wide) > room:
        longest = max(range(len(wide)), key=lambda index: wide[index])
        wide[longest] -= min(1.0, sum(wide) - room)
    spare = (room - sum(wide)) / len(wide)
    return [each + spare for each in wide]


def sheets(stage: Stage, options: Options) -> list[Sheet]:
    """The chart, as many sheets as it needs; at least one, so that an empty rig shows as such."""
    found = rows(stage)
    empty = blank(options.paper, TITLE, DOC)
    room = area(empty)
    each = int((room.height - below(empty, LEGEND) - HEAD) // ROW)
    edges = list(accumulate(_widths(found, room.width), initial=room.left))
    pages = [found[i : i + each] for i in range(0, len(found), each)] or [[]]
    return [_sheet(stage.rig, options, edges, page) for page in pages]


def _sheet(rig: Rig, options: Options, edges: Sequence[float], page: Sequence[Row]) -> Sheet:
    span = f", {page[0].conductor} to {page[-1].conductor}" if page else ""
    sheet = blank(options.paper, TITLE + span, DOC)
    room = area(sheet)
    table = Box(room.left, room.top, room.right, room.top + HEAD + ROW * len(page))
    _heads(sheet, edges, table)
    for index, row in enumerate(page):
        _row(sheet, rig, edges, row, table.top + HEAD + index * ROW, banded=index % 2 == 1)
    for x in edges[1:-1]:
        sheet.line([(x, table.top), (x, table.bottom)], Pen(HAIR, GREY))
    sheet.rect(table, Pen(MEDIUM))
    remark(sheet, LEGEND, rest=True)
    return sheet


def _heads(sheet: Sheet, edges: Sequence[float], table: Box) -> None:
    sheet.rect(Box(table.left, table.top, table.right, table.top + HEAD), None, PALE)
    for (word, unit), x in zip(HEADINGS, edges, strict=False):
        sheet.text(x + PAD, table.top + 3.2, word, T18, bold=True, level="middle", cell=True)
        sheet.text(x + PAD, table.top + 7.0, unit, T18, level="middle", colour=GREY, cell=True)
    y = table.top + HEAD
    sheet.line([(table.left, y), (table.right, y)], Pen(THIN))


def _row(
    sheet: Sheet, rig: Rig, edges: Sequence[float], row: Row, top: float, *, banded: bool
) -> None:
    said = f"{row.conductor} {row.size} {row.colour}: {row.a} to {row.b}"
    with sheet.group(conductor_id(row.conductor), "conductor", said):
        box = Box(edges[0], top, edges[-1], top + ROW)
        if banded:
            sheet.rect(box, None, "#f4f6f9")
        y = top + ROW / 2
        cells = zip(pairwise(edges), _texts(row), strict=True)
        for index, ((left, right), text) in enumerate(cells):
            start = left + PAD + (SWATCH + PAD if index == 2 else 0)
            shown = fit(text, T18, right - start - PAD, index == 0)
            sheet.text(start, y, shown, T18, bold=index == 0, level="middle", cell=True)
        shade = colour_of(rig.conductors[row.conductor], rig, row.role)
        swatch(sheet, edges[2] + PAD, edges[2] + PAD + SWATCH, y, shade, row.status)
        for x in (edges[-2] + PAD + 0.4, edges[-2] + PAD + 4.0):
            sheet.rect(Box(x, y - 1.1, x + 2.2, y + 1.1), Pen(HAIR, BLACK))
