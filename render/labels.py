"""Label sheets: a marker for either end of every conductor, a label for every device.

Laid out on sheets of stock labels, whose sizes stand in ``STOCKS`` in mm.  A marker says the
conductor, the terminal it sits on, and the far one (IEC 62491: designation of the connection, local
end first); it is printed twice over its height, so that it reads from either side when wrapped.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from ..checks.trace import Stage
from ..dsl.model import Conductor, Device, End
from .canvas import Sheet
from .marks import GREY, HAIR, Box, Pen
from .metrics import T18, T25, T35, fit, pitch, width
from .options import Options
from .texts import written
from .wiring import conductor_id, natural, place_name, rating_text


@dataclass(frozen=True, slots=True)
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


@dataclass(frozen=True, slots=True)
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
    return device.name, device.label, rating_text(device), place_name(stage.rig, device.name)


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
    return list(_filled(markers(stage), name, "Conductor markers"))


def device_sheets(stage: Stage, options: Options) -> list[Sheet]:
    """The device labels on the second stock."""
    name = stocks(options.paper, options.stocks)[1]
    return list(_filled(devices(stage), name, "Device labels"))


def _filled(labels: Sequence[Label], name: str, title: str) -> Iterator[Sheet]:
    stock = STOCKS[name]
    for start in range(0, len(labels), stock.count):
        sheet = Sheet(*stock.paper, title=f"on labels of {name} mm", doc=title, framed=False)
        for index, label in enumerate(labels[start : start + stock.count]):
            _label(sheet, label, stock.box(index))
        yield sheet


def markers_csv(stage: Stage) -> str:
    """The markers for a label printer: a row each, in the order they are printed."""
    rows = [label.lines for label in markers(stage)]
    return written([("conductor", "end here", "end far"), *rows])


def devices_csv(stage: Stage) -> str:
    """The device labels for a label printer: name, label, figures, place."""
    rows = [_fields(stage, device) for device in labelled(stage)]
    return written([("device", "label", "figures", "place"), *rows])


def _label(sheet: Sheet, label: Label, box: Box) -> None:
    with sheet.group(label.subject, "label", " ".join(label.lines)):
        sheet.rect(box.grown(-0.6), Pen(HAIR, GREY, "dotted"))
        if not label.twice:
            _lines(sheet, label.lines, box)
            return
        middle = (box.top + box.bottom) / 2
        _line(sheet, label.lines, Box(box.left, box.top, box.right, middle))
        _line(sheet, label.lines, Box(box.left, middle, box.right, box.bottom))


def _line(sheet: Sheet, lines: Sequence[str], box: Box) -> None:
    """One printing of a marker: the name, and beside it this end over the far one."""
    name, *ends = lines
    middle, block = (box.top + box.bottom) / 2, sheet.block()
    beside = max(width(end, T18) for end in ends)
    room = box.width - 4.5
    sizes = (T35, T25, T18) if box.height > 2.5 * T35 else (T25, T18)
    size = next((s for s in sizes if width(name, s, True) + beside <= room), T18)
    left = box.left + 1.5
    sheet.text(left, middle, name, size, bold=True, level="middle", cell=True, block=block)
    left += width(name, size, True) + 1.5
    for index, end in enumerate(ends):
        down = middle + (index - 0.5) * pitch(T18)
        shown = fit(end, T18, box.right - 1 - left)
        sheet.text(left, down, shown, T18, level="middle", cell=True, block=block)


def _lines(sheet: Sheet, lines: Sequence[str], box: Box) -> None:
    """As many lines as the label takes, the first larger and bold."""
    room, block = box.width - 3, sheet.block()
    head = next((s for s in (T35, T25, T18) if width(lines[0], s, True) <= room), T18)
    if box.height < 14:
        head = min(head, T25)
    most = 1 + int((box.height - 3 - head) // pitch(T18))
    shown = lines[:most]
    y = box.top + (box.height - head - (len(shown) - 1) * pitch(T18)) / 2 + head
    sheet.text(
        box.left + 1.5, y, fit(shown[0], head, room, True), head, bold=True, cell=True, block=block
    )
    for index, text in enumerate(shown[1:], 1):
        down = y + index * pitch(T18)
        sheet.text(box.left + 1.5, down, fit(text, T18, room), T18, cell=True, block=block)
