"""Label sheets: a marker for either end of every conductor, a label for every device.

Laid out on sheets of stock labels, whose sizes stand in ``STOCKS`` in mm.  A marker says the
conductor, the terminal it sits on, and the far one (IEC 62491: designation of the connection, local
end first); it is printed twice over its height, so that it reads from either side when wrapped.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from ..checks.tracing.trace import Stage
from ..dsl.model import Conductor, Device, End
from ..dsl.records import record
from .canvas import Sheet
from .marks import GREY, HAIR, Box, Pen
from .metrics import T18, T25, T35, T50, pitch, width, wrap
from .options import Options
from .schedule import Column, Row, Schedule, Section
from .wiring import conductor_id, natural, rating_text, where


@record
class Stock:
    """A sheet of labels, in mm: paper, label, the first one's corner, the distances between."""

    paper: tuple[float, float]
    label: tuple[float, float]
    first: tuple[float, float]
    step: tuple[float, float]
    grid: tuple[int, int]

    @property
    def count(self) -> int:
        return self.grid[0] * self.grid[1]

    def box(self, index: int) -> Box:
        """The label of that index on its sheet, row by row."""
        down, across = divmod(index, self.grid[0])
        left = self.first[0] + across * self.step[0]
        top = self.first[1] + down * self.step[1]
        return Box(left, top, left + self.label[0], top + self.label[1])


A4, LETTER = (210.0, 297.0), (215.9, 279.4)
STOCKS: Mapping[str, Stock] = {
    "38x21": Stock(A4, (38.1, 21.2), (4.65, 10.7), (40.65, 21.2), (5, 13)),
    "70x37": Stock(A4, (70.0, 37.0), (0.0, 0.5), (70.0, 37.0), (3, 8)),
    "25x10": Stock(A4, (25.4, 10.0), (8.5, 13.5), (27.9, 10.0), (7, 27)),
    "67x25": Stock(LETTER, (66.7, 25.4), (4.8, 12.7), (69.85, 25.4), (3, 10)),
    "44x13": Stock(LETTER, (44.5, 12.7), (7.2, 12.7), (52.3, 12.7), (4, 20)),
}
"""Common sheets of stock labels by their size in mm; measure yours, and print at 100 %."""
USUAL = {"B": ("44x13", "67x25"), "A": ("44x13", "67x25")}
METRIC = ("38x21", "70x37")
MARKERS, DEVICES = "Conductor markers", "Device labels"
PRINTED = ("A marker for either end of every conductor: the end it sits on, then the far one.",)
EDGE = 1.6
"""Kept free left and right on a label, mm."""


@record
class Label:
    """The lines of one label, the most important first; ``twice``: repeated for wrapping."""

    subject: str
    lines: tuple[str, ...]
    twice: bool = False


def markers(stage: Stage) -> list[Label]:
    """Two markers a conductor, its ends one after the other, in natural order."""
    found = sorted(stage.rig.conductors.values(), key=lambda c: natural(c.name))
    marked = (c for c in found if c.kind != "link" and c.status != "removed")
    return [label for conductor in marked for label in _pair(conductor)]


def _pair(conductor: Conductor) -> Iterator[Label]:
    for here, far in ((conductor.a, conductor.b), (conductor.b, conductor.a)):
        yield Label(conductor_id(conductor.name), (conductor.name, *_ends(here, far)), True)


def _ends(here: End, far: End) -> tuple[str, str]:
    """Terminal designations with a colon between device and marking (IEC 61666)."""
    return f"{here.device}:{here.terminal}", f"to {far.device}:{far.terminal}"


def labelled(stage: Stage) -> list[Device]:
    """What gets a label: every device aboard, in natural order."""
    found = sorted(stage.rig.devices.values(), key=lambda d: natural(d.name))
    return [d for d in found if d.kind != "supply" and d.status != "removed"]


def _fields(stage: Stage, device: Device) -> tuple[str, str, str, str]:
    return device.name, device.label, rating_text(device), where(stage.rig, device)


def devices(stage: Stage) -> list[Label]:
    """A label a device: name and figures, what it is for, where it stands."""
    return [
        Label(f"dev-{device.name}", tuple(filter(None, _fields(stage, device))))
        for device in labelled(stage)
    ]


def stocks(paper: str, said: Sequence[str] = ()) -> tuple[str, str]:
    """The stock of the markers and that of the device labels; KeyError for an unknown one."""
    for name in said:
        STOCKS[name]
    usual = USUAL.get(paper, METRIC)
    return usual if not said else (said[0], said[-1])


def marker_sheets(stage: Stage, options: Options) -> list[Sheet]:
    """The markers on the first stock."""
    name = stocks(options.paper, options.stocks)[0]
    return list(_filled(markers(stage), name, MARKERS))


def device_sheets(stage: Stage, options: Options) -> list[Sheet]:
    """The device labels on the second stock."""
    name = stocks(options.paper, options.stocks)[1]
    return list(_filled(devices(stage), name, DEVICES))


def _filled(labels: Sequence[Label], name: str, title: str) -> Iterator[Sheet]:
    stock = STOCKS[name]
    for start in range(0, len(labels), stock.count):
        sheet = Sheet(*stock.paper, title=f"on labels of {name} mm", doc=title, framed=False)
        for index, label in enumerate(labels[start : start + stock.count]):
            _label(sheet, label, stock.box(index))
        yield sheet


def marker_table(stage: Stage) -> Schedule:
    """The markers as texts: a row each, in the order they are printed."""
    columns = (Column("Conductor", bold=True), Column("End here"), Column("End far"))
    rows = tuple(Row(label.lines, label.subject) for label in markers(stage))
    return Schedule(MARKERS, MARKERS, columns, (Section("", rows),), PRINTED)


def device_table(stage: Stage) -> Schedule:
    """The device labels as texts: name, label, figures, place."""
    columns = (Column("Device", bold=True), Column("Label"), Column("Figures"), Column("Where"))
    rows = tuple(Row(_fields(stage, d), f"dev-{d.name}") for d in labelled(stage))
    return Schedule(DEVICES, DEVICES, columns, (Section("", rows),))


def _label(sheet: Sheet, label: Label, box: Box) -> None:
    with sheet.group(label.subject, "label", " ".join(label.lines)):
        sheet.rect(box.grown(-0.3), Pen(HAIR, GREY, "dotted"))
        inner = Box(box.left + EDGE, box.top + 1.2, box.right - EDGE, box.bottom - 1.2)
        middle = (box.top + box.bottom) / 2
        if not label.twice:
            _below(sheet, label.lines, inner)
            return
        halves = (
            Box(inner.left, inner.top, inner.right, middle - 0.4),
            Box(inner.left, middle + 0.4, inner.right, inner.bottom),
        )
        if all(_beside(sheet, label.lines, half, draw=False) for half in halves):
            for half in halves:
                _beside(sheet, label.lines, half)
        else:
            _below(sheet, label.lines, inner)


def _beside(sheet: Sheet, lines: Sequence[str], box: Box, draw: bool = True) -> bool:
    """One printing of a marker, the name and beside it this end over the far one; if it fits."""
    name, *ends = lines
    beside = max(width(end, T18) for end in ends)
    tall = (pitch(T18) + T18, T35)
    fits = [
        size
        for size in (T35, T25, T18)
        if width(name, size, True) + 1.5 + beside <= box.width and max(tall) <= box.height
    ]
    if not fits or not draw:
        return bool(fits)
    middle, block = (box.top + box.bottom) / 2, sheet.block()
    sheet.text(box.left, middle, name, fits[0], bold=True, level="middle", cell=True, block=block)
    left = box.left + width(name, fits[0], True) + 1.5
    for index, end in enumerate(ends):
        down = middle + (index - 0.5) * pitch(T18)
        sheet.text(left, down, end, T18, level="middle", cell=True, block=block)
    return True


SIZES = ((T50, T35, T25), (T50, T25, T25), (T35, T25, T18), (T35, T18, T18), (T25, T18, T18))
"""Lettering of a label's first line, its second, and the rest, the largest first."""


def _below(sheet: Sheet, lines: Sequence[str], box: Box) -> None:
    """The lines below each other, as large as all fit; else as many as fit, none cut."""
    every = [lines[:most] for most in range(len(lines), 0, -1)]
    for some in every:
        for sizes in (*SIZES, (T18, T18, T18)):
            found = _set(some, sizes, box.width)
            high = sum(pitch(size) for _, size, _ in found)
            if high <= box.height or (len(some) == 1 and sizes[0] == T18):
                _print(sheet, found, box, high)
                return


Line = tuple[str, float, bool]


def _set(lines: Sequence[str], sizes: Sequence[float], room: float) -> list[Line]:
    """The lines wrapped, each with its lettering; the first is bold."""
    found: list[Line] = []
    for index, text in enumerate(lines):
        size = sizes[min(index, len(sizes) - 1)]
        found += [(line, size, index == 0) for line in wrap(text, size, room, index == 0)]
    return found


def _print(sheet: Sheet, lines: Sequence[Line], box: Box, high: float) -> None:
    block, y = sheet.block(), box.top + (box.height - high) / 2
    for text, size, bold in lines:
        down = y + (pitch(size) - size) / 2
        sheet.text(box.left, down, text, size, bold=bold, level="top", cell=True, block=block)
        y += pitch(size)
