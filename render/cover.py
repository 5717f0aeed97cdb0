"""The cover of the set: what rig, which revision, which documents; and the supply card.

The list of documents is filled in when all sheets have their numbers (``fill``); each of its lines
leads to the document's first sheet.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

from ..checks.capacity.supply import Aboard, Intake, ModeRow, aboard, intakes, mode_rows
from ..checks.tracing.trace import Stage
from ..dsl.model import Rig
from .canvas import Sheet
from .frame import area, blank, titles_of
from .marks import GREY, Box, Close, Open, Text, union
from .metrics import T25, T35, wrap
from .options import Options
from .remarks import remark
from .schedule import RIGHT, Column, Row, Schedule, Section
from .schedule_commissioning import number
from .schedule_sheet import height, place
from .schedule_sheet import sheets as ruled
from .units import spaced

DOC, CARD = "Cover", "Supply card"
T70 = 7.0
"""Height of the rig's name (ISO 3098)."""
APART = 8.0
LIST = "sheet-"
"""How the ids of the rows of the list of documents begin; the first sheet's number follows."""
BLANK_REVISIONS, LINES = 2, 5
"""Lines to write revisions on, at least, and lines of the table in all, at least."""
LISTED = 106.0
"""Room kept for the list of documents, mm: no set has more of them than go into that."""
STATUSES = ("planned", "unverified", "disabled", "removed")
REMARKS = (
    "Revisions come from the rig's text; the empty lines are for changes made by hand until the "
    "text follows.",
)
CARD_REMARKS = (
    "Most current: the least rating from the inlet's pins to the first device behind it. Most "
    "fault current: what the devices behind it can break. Most loop: at the pins, hot, so that "
    "something opens in time in every circuit behind it.",
)


def sheets(stage: Stage, options: Options) -> list[Sheet]:
    """The cover, its list of documents still empty; the supply card on it where it has room."""
    cover, bottom = _cover(stage, options)
    card = [table for table in (_supplies(stage), _aboard(stage), _modes(stage)) if table]
    room = area(cover)
    high = sum(height(table, room.width) + APART for table in card) - APART
    top = max(bottom, room.top + LISTED) + APART
    if top + high <= room.bottom:
        _card(cover, card, top)
        remark(cover, (*REMARKS, *CARD_REMARKS))
        return [cover]
    remark(cover, REMARKS)
    return [cover, *_card_sheets(options, card, high)]


def facts_of(rig: Rig) -> Mapping[str, str]:
    """A set's document information for PDF; empty where the text gives none."""
    titles = titles_of(rig)
    revision = f"revision {titles.revision}" if titles.revision else ""
    return {
        "Author": titles.drawn,
        "Subject": ", ".join(filter(None, (f"stage {titles.stage}", revision, titles.date))),
        "Keywords": f"source digest {titles.digest}",
    }


def fill(framed: Sequence[Sheet], bare: Sequence[Sheet]) -> None:
    """The list of documents on the cover, where there is one among numbered sheets."""
    for cover in (sheet for sheet in framed if sheet.doc == DOC):
        rows = [*_documents(framed), *_labels(bare)]
        columns = (Column("Document", bold=True), Column("Sheets", fill=RIGHT))
        schedule = Schedule(
            "Documents", DOC, columns, (Section("Documents of this set", tuple(rows)),)
        )
        place(cover, schedule, _halves(cover)[1])
        cover.links += list(_linked(cover))


def _documents(framed: Sequence[Sheet]) -> Iterator[Row]:
    for doc, run in groupby(framed, key=lambda sheet: sheet.doc):
        numbers = [sheet.number for sheet in run]
        span = str(numbers[0]) if len(numbers) == 1 else f"{numbers[0]} – {numbers[-1]}"
        yield Row((doc, span), f"{LIST}{numbers[0]}")


def _labels(bare: Sequence[Sheet]) -> Iterator[Row]:
    """Sheets of labels, which are bound in a file of their own."""
    for doc, run in groupby(bare, key=lambda sheet: sheet.doc):
        yield Row((f"{doc} (a file of their own)", f"L{next(run).number}"))


def _linked(cover: Sheet) -> Iterator[tuple[Box, int]]:
    """The lines of the list as links: what stands between a row's group and its end."""
    number, boxes = 0, list[Box]()
    for item in cover.items:
        if isinstance(item, Open):
            number, boxes = int(item.id.removeprefix(LIST)) if item.id.startswith(LIST) else 0, []
        elif isinstance(item, Text) and number:
            boxes.append(item.box)
        elif isinstance(item, Close) and number:
            yield union(boxes).grown(0.8), number
            number = 0


def _halves(sheet: Sheet) -> tuple[Box, Box]:
    """Left for what the rig is, right for the documents."""
    room = area(sheet)
    middle = room.left + 0.56 * room.width
    return (
        Box(room.left, room.top, middle - APART / 2, room.bottom),
        Box(middle + APART / 2, room.top, room.right, room.bottom),
    )


def _cover(stage: Stage, options: Options) -> tuple[Sheet, float]:
    """The cover without its lists, and how far down it reaches, mm."""
    sheet = blank(options.paper, "Cover and documents", DOC)
    left = _halves(sheet)[0]
    rig, y = stage.rig, left.top + T70 + 1
    y = sheet.paragraph(left.left, y, wrap(rig.label, T70, left.width, True), T70, bold_first=True)
    stage_line = f"Stage {titles_of(rig).stage}"
    y = sheet.paragraph(left.left, y, wrap(stage_line, T35, left.width), T35)
    lines = [line for words in _facts(stage) for line in wrap(words, T25, left.width)]
    y = sheet.paragraph(left.left, y + 1.5, lines, T25, colour=GREY)
    rest = Box(left.left, y, left.right, left.bottom)
    took = place(sheet, _revisions(rig), rest)
    stages = Box(left.left, took.bottom + APART / 2, left.right, left.bottom)
    listed = _stages(rig)
    if len(rig.stages) > 1 and height(listed, stages.width) <= stages.height:
        took = place(sheet, listed, stages)
    return sheet, took.bottom


def _facts(stage: Stage) -> Iterator[str]:
    rig, titles = stage.rig, titles_of(stage.rig)
    yield f"Rules: {stage.book.title}"
    yield f"{len(rig.devices)} devices, {len(rig.conductors)} conductors, {len(rig.modes)} modes"
    count = Counter(device.status for device in rig.devices.values())
    count += Counter(conductor.status for conductor in rig.conductors.values())
    other = [f"{count[status]} {status}" for status in STATUSES if count[status]]
    yield f"Status: {', '.join(other)}, the rest installed" if other else "Status: all installed"
    yield f"Source digest {titles.digest}"


def _revisions(rig: Rig) -> Schedule:
    """The revisions that the text lists, else the rig's own, and lines to write on."""
    titles = titles_of(rig)
    columns = (
        Column("Rev.", bold=True, least=9.0),
        Column("Date", least=22.0),
        Column("What changed", least=40.0),
        Column("Drawn", least=16.0),
        Column("Checked", least=16.0),
    )
    rows = [
        Row((name, issue.text("date"), issue.label, issue.text("drawn"), issue.text("checked")))
        for name, issue in rig.revisions.items()
    ]
    if titles.revision not in rig.revisions:
        what = f"Stage {titles.stage}"
        rows.append(Row((titles.revision, titles.date, what, titles.drawn, titles.checked)))
    rows += [Row(("", "", "", "", ""))] * max(BLANK_REVISIONS, LINES - len(rows))
    return Schedule("Revisions", DOC, columns, (Section("Revisions", tuple(rows)),), tall=6.0)


def _stages(rig: Rig) -> Schedule:
    rows = tuple(
        Row((name, "this set" if name == rig.stage else ""), strong=False) for name in rig.stages
    )
    columns = (Column("Stage", bold=True), Column("", least=30.0))
    return Schedule("Stages", DOC, columns, (Section("Stages of the build, in order", rows),))


def _card(sheet: Sheet, card: Sequence[Schedule], top: float) -> None:
    """The tables below each other, from a height down."""
    room = area(sheet)
    for table in card:
        top = place(sheet, table, Box(room.left, top, room.right, room.bottom)).bottom + APART


def _card_sheets(options: Options, card: Sequence[Schedule], high: float) -> list[Sheet]:
    """A sheet for all where they fit, else sheets of their own."""
    sheet = blank(options.paper, "What the rig asks of a supply, and its modes", CARD)
    if high > area(sheet).height:
        return [sheet for table in card for sheet in ruled(table, options)]
    _card(sheet, card, area(sheet).top)
    remark(sheet, CARD_REMARKS)
    return [sheet]


def _supplies(stage: Stage) -> Schedule:
    columns = (
        Column("Supply", "inlet", bold=True),
        Column("Fed by"),
        Column("Voltage", "V", RIGHT),
        Column("Frequency", "Hz", RIGHT),
        Column("Conductors"),
        Column("Earthing", "of the supply"),
        Column("Most current", "A"),
        Column("Most fault current", "kA"),
        Column("Most loop", "Ω"),
        Column("Residual current", "devices behind it"),
    )
    rows = tuple(_intake(stage.rig, intake) for intake in intakes(stage))
    section = Section("", rows or (Row(("none", *[""] * 9)),))
    return Schedule("What the rig asks of a supply", CARD, columns, (section,), CARD_REMARKS)


def _intake(rig: Rig, intake: Intake) -> Row:
    fault = None if intake.fault is None else (intake.fault[0] / 1000, intake.fault[1])
    cells = (
        f"{intake.inlet} {rig.devices[intake.inlet].label}".strip(),
        f"{intake.source} {rig.devices[intake.source].label}".strip(),
        "" if intake.volts is None else f"{intake.volts:g}",
        f"{intake.hertz:g}" if intake.hertz else "DC",
        intake.system,
        intake.earthing,
        _with(intake.amps),
        _with(fault),
        _with(intake.ohms),
        ", ".join(_residual(rig, name) for name in intake.residual) or "none",
    )
    return Row(cells, f"dev-{intake.inlet}")


def _aboard(stage: Stage) -> Schedule | None:
    """Batteries and other sources aboard; None where there are none."""
    columns = (
        Column("Source aboard", "battery and other", bold=True),
        Column("What it is"),
        Column("Voltage", "V", RIGHT),
        Column("Capacity", "Ah", RIGHT),
        Column("Gives at most", "A", RIGHT),
        Column("Fault current", "kA", RIGHT),
        Column("Protected by", "breaks"),
        Column("Live in modes"),
    )
    rows = tuple(_source(stage.rig, each) for each in aboard(stage))
    section = Section("", rows)
    return Schedule("Sources aboard", CARD, columns, (section,)) if rows else None


def _source(rig: Rig, each: Aboard) -> Row:
    device = rig.devices[each.source]
    kind = " ".join(filter(None, (device.kind, device.text("chemistry"))))
    protected = ", ".join(_protects(rig, name) for name in each.first)
    cells = (
        f"{device.name} {device.label}".strip(), kind, _known(device.number("voltage")),
        _known(device.number("capacity")), _known(each.amps),
        _known(None if each.fault is None else each.fault / 1000), protected or "none",
        ", ".join(each.modes) or "none",
    )  # fmt: skip
    return Row(cells, f"dev-{device.name}")


def _known(figure: float | None) -> str:
    return "–" if figure is None else number(figure)


def _protects(rig: Rig, name: str) -> str:
    """A protective device with its rating and what it breaks."""
    device = rig.devices[name]
    breaks = device.text("breaks")
    words = f"{name} {spaced(device.text('rating'))}".strip()
    return f"{words} ({spaced(breaks)})" if breaks else words


def _with(figure: tuple[float, str] | None) -> str:
    """A figure and whose it is."""
    return "–" if figure is None else f"{number(figure[0])} ({figure[1]})"


def _residual(rig: Rig, name: str) -> str:
    device = rig.devices[name]
    return f"{name} {spaced(device.text('rcd') or device.text('gfci'))}"


def _modes(stage: Stage) -> Schedule:
    columns = (
        Column("Mode", bold=True),
        Column("Live sources"),
        Column("Set to"),
        Column("Neutral to earth", "system: joint"),
        Column("Residual current", "devices in circuit"),
        Column("Live panels"),
        Column("Supply gives at most"),
    )
    section = Section("", tuple(_mode(row) for row in mode_rows(stage)))
    return Schedule("Modes", CARD, columns, (section,))


def _mode(row: ModeRow) -> Row:
    name = f"{row.name}  {row.label}".strip()
    lists = (row.live, row.settings, row.joints, row.residual, row.panels, row.limits)
    return Row((name, *(", ".join(words) or "none" for words in lists)))
