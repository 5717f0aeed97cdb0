"""Supply against load: for each mode a bar for each limit, stacked of what counts there.

All bars of a sheet share one scale, in percent of what each limit gives, so that the limit is one
line down the sheet.  A load's part is as wide as what it counts (with its ``demand=`` and the
book's factor for continuous loads); what lies beyond the limit is red.  The sheet is primitives of
the canvas, like every other, and goes out through the same writers.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import accumulate
from typing import NamedTuple

from ..checks.capacity.draws import Item
from ..checks.capacity.limits import Capacity, Row, capacity
from ..checks.tracing.trace import Stage
from ..dsl.model import Rig
from .canvas import Sheet
from .frame import area, blank
from .marks import BLACK, GREY, HAIR, HEAVY, MEDIUM, PALE, RED, THIN, Box, Pen
from .metrics import T18, T25, fit, width
from .options import Options
from .remarks import remark

DOC = "Load plot"
TITLE = "Supply against load"
NAMES, FIGURES = 62.0, 46.0  # width of the texts left and right of the bars
HEAD, ROW, BAR, AXIS, GAP = 8.0, 8.0, 4.6, 7.0, 6.0
LEAST, MOST = 1.25, 2.5  # the scale's end, as a share of the limits
CONTINUOUS, CHARGING, BEYOND = "#e9f3ea", "#fdf3e1", "#fbe9e9"
LEGEND = (
    "Each bar is what is connected behind a limit, in percent of what the limit gives: with "
    "`demand=`, and continuous loads at the book's factor. Green runs for hours, amber charges, "
    "red is beyond the limit.",
    "Nominal currents, no voltage drop. Limits of a single load are left out. "
    "What may run together: `ferrule capacity`.",
)


class Block(NamedTuple):
    """A mode, or the part of it that goes on one sheet."""

    found: Capacity
    rows: Sequence[Row]


def sheets(stage: Stage, options: Options) -> list[Sheet]:
    """A sheet for as many modes as fit; none where no limit carries several loads."""
    found = (capacity(view) for view in stage.modes)
    blocks = [Block(each, each.telling) for each in found if each.telling]
    room = area(blank(options.paper, TITLE, DOC))
    return [_sheet(stage.rig, options, page) for page in _pages(blocks, room.height)]


def _pages(blocks: Sequence[Block], height: float) -> Iterator[list[Block]]:
    """Blocks by sheet; one that is too long goes on overleaf."""
    page: list[Block] = []
    left = height
    for found, rows in blocks:
        while rows:
            fitting = int((left - HEAD - AXIS) // ROW)
            if fitting < min(len(rows), 3):
                yield page
                page, left = [], height
                continue
            page.append(Block(found, rows[:fitting]))
            left -= HEAD + AXIS + GAP + ROW * len(rows[:fitting])
            rows = rows[fitting:]
    if page:
        yield page


def _sheet(rig: Rig, options: Options, page: Sequence[Block]) -> Sheet:
    modes = ", ".join(dict.fromkeys(block.found.mode for block in page))
    sheet = blank(options.paper, f"{TITLE}, mode {modes}", DOC)
    room = area(sheet)
    most = max(row.counted / row.point.gives for block in page for row in block.rows)
    end = min(max(LEAST, most * 1.02), MOST)
    top = room.top
    for block in page:
        bars = Box(room.left + NAMES, top + HEAD, room.right - FIGURES, top + HEAD)
        label = f" ({block.found.label})" if block.found.label else ""
        words = fit(f"Mode {block.found.mode}{label}", T25, room.width, bold=True)
        sheet.text(room.left, top + T25, words, T25, bold=True)
        for index, row in enumerate(block.rows):
            _bar(sheet, rig, block.found, row, bars.moved(0, index * ROW), end)
        top = bars.top + ROW * len(block.rows)
        _axis(sheet, Box(bars.left, bars.top, bars.right, top), end)
        top += AXIS + GAP
    remark(sheet, LEGEND)
    return sheet


def _bar(sheet: Sheet, rig: Rig, found: Capacity, row: Row, at: Box, end: float) -> None:
    """One limit: its name, its loads side by side, its figures."""
    point = row.point
    label = rig.devices[point.name].label if point.name in rig.devices else ""
    line = f", {point.role}" if point.role in ("L1", "L2", "L3") else ""
    said = f"{point.name} {label}".strip() + line
    box = Box(at.left, at.top + (ROW - BAR) / 2, at.right, at.top + (ROW + BAR) / 2)
    y = (box.top + box.bottom) / 2
    with sheet.group(f"limit-{found.mode}-{point.name}", "limit", said):
        shown = fit(said, T18, NAMES - 3)
        sheet.text(at.left - NAMES, y, shown, T18, level="middle")
        _loads(sheet, found, row, box, end)
        over = row.counted > point.gives
        share = f"{row.counted / point.gives * 100:.0f} %"
        figures = f"{_figure(row.counted)} of {point.gives:g} {point.unit}, {share}"
        colour = RED if over else BLACK
        sheet.text(box.right + 3, y, figures, T18, level="middle", bold=over, colour=colour)


def _figure(value: float) -> str:
    return f"{value:.0f}" if value >= 100 else f"{value:.3g}"


def _loads(sheet: Sheet, found: Capacity, row: Row, box: Box, end: float) -> None:
    """The loads of a limit in the order of their kind, the greatest first."""
    counts = {name: found.demand.counted(row.point, name) for name in row.point.draws}
    items = found.demand.items
    order = sorted(counts, key=lambda n: (_kind(items[n]), -counts[n], n))
    scale = box.width / end / row.point.gives
    limit = box.left + box.width / end
    edges = list(accumulate((counts[n] * scale for n in order), initial=box.left))
    for name, left, right in zip(order, edges, edges[1:], strict=False):
        right = min(right, box.right)
        if right - left < HAIR:
            continue
        part = Box(left, box.top, right, box.bottom)
        inside = Box(left, box.top, min(right, max(limit, left)), box.bottom)
        fill = (CONTINUOUS, PALE, CHARGING)[_kind(items[name])]
        sheet.rect(inside, None, fill)
        if right > limit:
            sheet.rect(Box(max(left, limit), box.top, right, box.bottom), None, BEYOND)
        sheet.rect(part, Pen(THIN, cap="butt"))
        _name(sheet, items[name], part, limit)


def _kind(item: Item) -> int:
    return 2 if item.charging else 0 if item.continuous else 1


def _name(sheet: Sheet, item: Item, part: Box, limit: float) -> None:
    """A load's name in its part, with its label where that fits, beside the limit's line."""
    rooms = [part]
    if part.left < limit < part.right:
        rooms = [
            Box(part.left, part.top, limit - HEAVY / 2, part.bottom),
            Box(limit + HEAVY / 2, part.top, part.right, part.bottom),
        ]
    room = max(rooms, key=lambda box: box.width)
    for words in (f"{item.name} {item.label}".strip(), item.name):
        if width(words, T18) + 2.0 <= room.width:
            x, y = room.centre
            sheet.text(x, y, words, T18, anchor="middle", level="middle", cell=True)
            return


def _axis(sheet: Sheet, box: Box, end: float) -> None:
    """The scale under the bars, and the line of the limits through them."""
    pen = Pen(HAIR, GREY, cap="butt")
    sheet.line([(box.left, box.bottom), (box.right, box.bottom)], pen)
    step = 25 if end <= 1.6 else 50
    for percent in range(0, int(end * 100) + 1, step):
        x = box.left + box.width * percent / 100 / end
        sheet.line([(x, box.bottom), (x, box.bottom + 1.2)], pen)
        sheet.text(x, box.bottom + 2.6, f"{percent} %", T18, anchor="middle", level="top")
    x = box.left + box.width / end
    sheet.line([(x, box.top), (x, box.bottom)], Pen(MEDIUM, RED, cap="butt"))
