"""Voltage along the worst feeders: from a source's terminal, device by device, to the load.

Across lie the metres of conductor, up the voltage, in V and in % of nominal on the same grid.  One
line is the voltage the drop is reckoned for, a second one that at the load's start; the book's
limit lies across.  Beside each plot stands the same as a table.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from ..checks.figures.profile import Point, Profile, worst
from ..checks.tracing.trace import Stage
from ..dsl.model import Rig
from .canvas import Sheet
from .frame import area, blank
from .marks import AMBER, BLUE, GREY, HAIR, MEDIUM, RED, THICK, Box, Pen
from .metrics import T18, T25, fit, pitch, width, wrap
from .options import Options
from .remarks import remark
from .wiring import size_text

DOC = "Voltage plot"
TITLE = "Voltage along the worst feeders"
EACH = 2  # plots on a sheet
PLOT = 0.46  # of the sheet's width
HEAD, NUMBERS, AXIS, GAP, ROW = 6.5, 5.0, 10.0, 5.0, 3.5
VOLTS, PERCENT, BESIDE = 15.5, 19.0, 4.0  # left of a plot, right of it, and on to its table
GRID = Pen(HAIR, "#d4d9e0", cap="butt")
STEPS = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50)
METRES = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100)
# The table: its heads, and the width of each column; 0: by what stands in it, or what is left.
COLUMNS = (("", 5.5), ("at", 0.0), ("by", 0.0), ("m", 8.0), ("V", 10.5), ("%", 9.0))
START = ("start V", 13.0)
LEGEND = (
    "Voltage between the line and the return beside it: the load at full power, all others on its "
    "source together as far as the source's rating goes, conductors as hot as the book reckons. "
    "The limit is the book's for this. Dashed: while the load starts, the source's own impedance "
    "with it.",
    "For each source and mode the way with the largest drop, and that of the deepest start. "
    "All others: `ferrule figures`.",
)


class Scale(NamedTuple):
    """A plot's window: to how many metres, and down to what % of nominal; grid steps of both."""

    box: Box
    metres: float
    across: float
    low: float
    down: float

    def x(self, metres: float) -> float:
        return self.box.left + metres / self.metres * self.box.width

    def y(self, percent: float) -> float:
        return self.box.bottom - (percent - self.low) / (100 - self.low) * self.box.height


def sheets(stage: Stage, options: Options) -> list[Sheet]:
    """Two ways a sheet; none where nothing is fed through conductors."""
    found = worst(stage)
    pages = [found[first : first + EACH] for first in range(0, len(found), EACH)]
    return [_sheet(stage, options, page) for page in pages]


def _sheet(stage: Stage, options: Options, page: Sequence[Profile]) -> Sheet:
    names = ", ".join(dict.fromkeys(f"{w.drop.source} to {w.device.name}" for w in page))
    sheet = blank(options.paper, f"{TITLE}: {names}", DOC)
    room = area(sheet)
    height = (room.height - GAP * (len(page) - 1)) / len(page)
    for index, way in enumerate(page):
        top = room.top + index * (height + GAP)
        _way(sheet, stage, way, Box(room.left, top, room.right, top + height))
    remark(sheet, LEGEND)
    return sheet


def _way(sheet: Sheet, stage: Stage, way: Profile, room: Box) -> None:
    """One way: its heading, its plot, and the table beside it."""
    source = stage.rig.devices[way.drop.source]
    ends = " to ".join(f"{d.name} {d.label}".strip() for d in (source, way.device))
    words = f"{ends}, mode {', '.join(way.modes)}"
    with sheet.group(f"way-{way.drop.source}-{way.device.name}", "way", words):
        shown = fit(words, T25, room.width, bold=True)
        sheet.text(room.left, room.top + T25, shown, T25, bold=True)
        right = room.left + VOLTS + PLOT * room.width
        plot = Box(room.left + VOLTS, room.top + HEAD + NUMBERS, right, room.bottom - AXIS)
        scale = _scale(way, plot)
        _grid(sheet, way, scale)
        _curves(sheet, way, scale)
        _numbers(sheet, way, scale)
        _table(sheet, stage, way, Box(right + PERCENT + BESIDE, plot.top, room.right, room.bottom))


def _percent(way: Profile, volts: float) -> float:
    return 100 * volts / way.drop.nominal


def _scale(way: Profile, box: Box) -> Scale:
    """A window with the whole way in it, down to the limit or the deepest voltage."""
    seen = [v for p in way.points for v in (p.volts, p.starting) if v is not None]
    low = min(_percent(way, volts) for volts in seen)
    if way.limit is not None:
        low = min(low, 100 - way.limit.value)
    down = next(step for step in STEPS if (100 - low) / step < 8)
    low = max(0.0, 100 - down * (int((100 - low) / down + 1e-9) + 1))
    end = way.points[-1].metres or 1.0
    across = next((step for step in METRES if end / step <= 10), METRES[-1])
    return Scale(box, end, across, low, down)


def _grid(sheet: Sheet, way: Profile, scale: Scale) -> None:
    """The grid with metres below, volts on the left and % of nominal on the right."""
    box, nominal = scale.box, way.drop.nominal
    limit = 100 - way.limit.value if way.limit is not None else None
    for step in range(int((100 - scale.low) / scale.down + 1e-9) + 1):
        percent = 100 - step * scale.down
        y = scale.y(percent)
        sheet.line([(box.left, y), (box.right, y)], GRID)
        if limit is not None and abs(y - scale.y(limit)) < T18 + 1.2:
            continue  # the limit is told there
        words = f"{_volts(percent * nominal / 100)} V"
        sheet.text(box.left - 2.4, y, words, T18, anchor="end", level="middle")
        sheet.text(box.right + 2.4, y, f"{percent:g} %", T18, level="middle")
    for step in range(int(scale.metres / scale.across + 1e-9) + 1):
        x = scale.x(step * scale.across)
        sheet.line([(x, box.top), (x, box.bottom)], GRID)
        words = f"{step * scale.across:g}"
        sheet.text(x, box.bottom + 2.4, words, T18, anchor="middle", level="top")
    if limit is not None:
        _limit(sheet, way, scale, limit)
    sheet.rect(box, Pen(MEDIUM, cap="butt"))
    x, y = box.centre
    sheet.text(x, box.bottom + 6.0, "Conductor, m", T18, anchor="middle", level="top", colour=GREY)


def _limit(sheet: Sheet, way: Profile, scale: Scale, percent: float) -> None:
    """The book's limit across the plot, told in V and in % at its ends."""
    box, y = scale.box, scale.y(percent)
    sheet.line([(box.left, y), (box.right, y)], Pen(MEDIUM, RED, "dashed", "butt"))
    volts = f"{_volts(percent * way.drop.nominal / 100)} V"
    sheet.text(box.left - 2.4, y, volts, T18, anchor="end", level="middle", colour=RED)
    sheet.text(box.right + 2.4, y, f"{percent:g} %, limit", T18, level="middle", colour=RED)


def _curves(sheet: Sheet, way: Profile, scale: Scale) -> None:
    """The voltage at a start, dashed, under the voltage the drop is reckoned for."""
    starting = [(p.metres, p.starting) for p in way.points if p.starting is not None]
    running = [(p.metres, p.volts) for p in way.points]
    for row, pen in (
        (starting, Pen(MEDIUM, AMBER, "dashed", "butt")),
        (running, Pen(THICK, BLUE, cap="butt")),
    ):
        line = [(scale.x(metres), scale.y(_percent(way, volts))) for metres, volts in row]
        if len(line) > 1:
            sheet.line(line, pen)
        for x, y in line:
            sheet.circle(x, y, 0.7, None, pen.colour)


def _numbers(sheet: Sheet, way: Profile, scale: Scale) -> None:
    """Above the plot the number of every point; those that lie too close share one."""
    top = scale.box.top
    groups: list[list[int]] = []
    for index, point in enumerate(way.points):
        here = scale.x(point.metres)
        wide = width("88-88", T18) + 1.5
        if groups and here - scale.x(way.points[groups[-1][0]].metres) < wide:
            groups[-1].append(index)
        else:
            groups.append([index])
    for group in groups:
        words = f"{group[0] + 1}" if len(group) == 1 else f"{group[0] + 1}-{group[-1] + 1}"
        xs = [scale.x(way.points[index].metres) for index in group]
        x = (xs[0] + xs[-1]) / 2
        sheet.text(x, top - 4.2, words, T18, anchor="middle", level="top", colour=BLUE)
        for at in dict.fromkeys(xs):
            sheet.line([(at, top - 1.2), (at, top)], Pen(HAIR, BLUE, cap="butt"))


def _table(sheet: Sheet, stage: Stage, way: Profile, room: Box) -> None:
    """The same in figures, and below it what they hold for."""
    told = [line for words in _told(way) for line in wrap(words, T18, room.width)]
    rows = list(_rows(stage.rig, way))
    fitting = int((room.height - pitch(T18) * (len(told) + 1)) / ROW) - 1
    if len(rows) > fitting:  # what lies in the middle is in the plot alone
        rows = [*rows[: fitting - 3], ("", "…", "", "", "", ""), *rows[2 - fitting :][-2:]]
    columns = [*COLUMNS, *((START,) if way.points[0].starting is not None else ())]
    by = max(width(row[2], T18) for row in rows) + 3.0
    lefts = _lefts(room, [by if head == "by" else wide for head, wide in columns])
    y = room.top + T18
    for row in ([head for head, _ in columns], *rows):
        for index, words in enumerate(row[: len(columns)]):
            left, right = lefts[index], lefts[index + 1] - 1.5
            bold = y == room.top + T18
            shown = fit(words, T18, right - left, bold)
            number = index not in (1, 2)
            x, anchor = (right, "end") if number else (left, "start")
            sheet.text(x, y, shown, T18, bold=bold, anchor=anchor, cell=True)
        y += ROW
    sheet.paragraph(room.left, y + 0.8, told, T18)


def _lefts(room: Box, wides: Sequence[float]) -> list[float]:
    """The left edges of the columns, and the right edge of the last."""
    free = room.width - sum(wides)
    lefts = [room.left]
    for wide in wides:
        lefts.append(lefts[-1] + (wide or free))
    return lefts


def _rows(rig: Rig, way: Profile) -> Iterator[tuple[str, ...]]:
    for index, point in enumerate(way.points):
        label = rig.devices[point.device].label
        yield (
            f"{index + 1}",
            f"{point.terminal} {label}".strip(),
            _by(rig, point),
            f"{point.metres:.3g}",
            _volts(point.volts),
            f"{100 - _percent(way, point.volts):.2f}",
            "" if point.starting is None else _volts(point.starting),
        )


def _by(rig: Rig, point: Point) -> str:
    """The conductor a point is reached by, with its size."""
    if not point.by:
        return ""
    cable = rig.cables.get(point.by)
    conductor = rig.conductors[cable.cores[0] if cable else point.by]
    return f"{point.by}, {size_text(conductor)}" if conductor.size else point.by


def _told(way: Profile) -> Iterator[str]:
    """What the figures hold for, the book's limit, and the start."""
    drop = way.drop
    yield (
        f"{way.device.name} at {drop.amps:.3g} A, the others on {drop.source} at "
        f"{100 * drop.others:.0f} % of their power: {drop.volts:.3g} V of {drop.nominal:.4g} V = "
        f"{drop.percent:.3g} % lost."
    )
    if way.limit is not None:
        note = "".join(f" {step}" for step in way.limit.steps[1:])
        yield f"{way.limit.clause}: {way.limit.value:g} %.{note}"
    if way.sag is not None:
        yield (
            f"At its start ({way.sag.amps:.3g} A) {_volts(way.sag.nominal - way.sag.volts)} V, "
            f"{way.sag.percent:.3g} % below nominal."
        )
    first, last = max(pairwise(way.points), key=lambda pair: pair[0].volts - pair[1].volts)
    yield f"Most is lost from {first.terminal} to {last.terminal}: {_lost(first, last)}."


def _lost(first: Point, last: Point) -> str:
    return f"{first.volts - last.volts:.3g} V on {last.metres - first.metres:.3g} m"


def _volts(value: float) -> str:
    return f"{value:.1f}" if value >= 100 else f"{value:.2f}"
