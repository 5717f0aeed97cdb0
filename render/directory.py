"""The door legend: each panel's circuit directory at print size, framed to be cut out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from itertools import accumulate, pairwise

from ..checks.tracing.trace import Stage
from ..dsl.model import Rig
from ..dsl.records import record
from .canvas import Sheet
from .directory_rows import DOC, SPARE, Card, Circuit, Given, cards, limit
from .frame import area, blank, titles_of
from .marks import BLACK, GREY, HAIR, MEDIUM, PALE, THICK, Box, Pen
from .metrics import T25, T35, T50, pitch, width, wrap
from .options import Options
from .panel_parts import Strip
from .remarks import below, remark
from .schedule_devices import overload_words
from .units import spaced

WIDE, APART, EDGE, PAD = 182.0, 8.0, 4.0, 1.5
"""Width of a card, room between cards, inside its frame and beside a text, mm."""
HEADS = ("Way", "Device", "Feeds", "Rating", "Residual")
LEAST = (13.0, 17.0, 60.0, 17.0, 26.0)
SUPPLIES = ("Supply", "from", "gives at most")
SHARES = (0.30, 0.24, 0.20, 0.26)
CAUTION = "Isolate and prove dead before {}. Keep this directory as {} wired."
AT_PANEL, AT_PLACE = ("opening this panel", "the panel is"), ("working here", "it is")
KEEP_OFF = "Do not run all of them at once."
FUSES = "Replace a fuse by one of the same rating and class."
TWO = "Fed from {}: isolate every one of them."
REMARKS = (
    "Cut out along the thick frames, print at 100 %. Feeds: traced over all modes. What a supply "
    "gives: the least of the source and of all devices on the way.",
)


@record
class Piece:
    """A card, or as much of it as one sheet holds."""

    card: Card
    strips: tuple[Strip, ...]

    @property
    def height(self) -> float:
        return 2 * EDGE + sum(strip.height for strip in self.strips)


def sheets(stage: Stage, options: Options) -> list[Sheet]:
    """The cards beside each other; none for a rig without panels."""
    empty = blank(options.paper, "", DOC)
    free = area(empty)
    room = free._replace(bottom=free.bottom - below(empty, REMARKS))
    pieces = [p for card in cards(stage) for p in _pieces(stage.rig, card, room.height)]
    columns = _columns(pieces, room.height)
    beside = max(1, int((room.width + APART) // (WIDE + APART)))
    pages = [columns[i : i + beside] for i in range(0, len(columns), beside)]
    return [_sheet(options, page) for page in pages]


def _columns(pieces: Sequence[Piece], room: float) -> list[list[Piece]]:
    """Cards below each other, each in the first column that still has room for it."""
    columns: list[list[Piece]] = []
    for piece in pieces:
        fitting = (c for c in columns if sum(p.height + APART for p in c) + piece.height <= room)
        column = next(fitting, None)
        if column is None:
            columns.append([piece])
        else:
            column.append(piece)
    return columns


def _sheet(options: Options, page: Sequence[Sequence[Piece]]) -> Sheet:
    names = dict.fromkeys(piece.card.name for column in page for piece in column)
    sheet = blank(options.paper, f"Circuit directory, {', '.join(names)}", DOC)
    room = area(sheet)
    for index, column in enumerate(page):
        x, y = room.left + index * (WIDE + APART), room.top
        for piece in column:
            with sheet.group(f"card-{piece.card.name}", "card", piece.card.label):
                sheet.rect(Box(x, y, x + WIDE, y + piece.height), Pen(THICK))
                top = y + EDGE
                for strip in piece.strips:
                    strip.draw(sheet, x + EDGE, top)
                    top += strip.height
            y += piece.height + APART
    remark(sheet, REMARKS, rest=True)
    return sheet


def _pieces(rig: Rig, card: Card, room: float) -> Iterator[Piece]:
    """A card in as many pieces as it needs; the supplies stand on the last one."""
    widths = _widths(card)
    end = [*_supplies(rig, card), *_cautions(rig, card)]
    rows = [_circuit(circuit, widths) for circuit in card.circuits]
    piece: list[Strip] = [_title(rig, card, ""), _heads(HEADS, widths)]
    for row in rows:
        if Piece(card, (*piece, row)).height > room:
            yield Piece(card, tuple(piece))
            piece = [_title(rig, card, " (continued)"), _heads(HEADS, widths)]
        piece.append(row)
    if Piece(card, (*piece, *end)).height > room:
        yield Piece(card, tuple(piece))
        piece = [_title(rig, card, " (continued)")]
    yield Piece(card, (*piece, *end))


def _widths(card: Card) -> list[float]:
    """Columns as wide as they need, the rest for what a circuit feeds."""
    room = WIDE - 2 * EDGE
    texts = [[c.ways for c in card.circuits], [], [], [], [c.residual for c in card.circuits]]
    wide = [
        max([least, *(width(text, T25) + 2 * PAD + 0.1 for text in column)])
        for least, column in zip(LEAST, texts, strict=True)
    ]
    devices = [c for c in card.circuits if c.device]
    names = [(c.device.name, T35, True) for c in devices if c.device]
    for index, cells in ((1, names), (3, [cell for c in devices for cell in _rating(c)])):
        asked = (width(*cell) + 2 * PAD + 0.1 for cell in cells)
        wide[index] = max([wide[index], *asked])
    for index, most in ((0, 30.0), (1, 40.0), (4, 44.0)):
        wide[index] = min(wide[index], most)
    wide[2] = room - sum(wide) + wide[2]
    return wide


def _title(rig: Rig, card: Card, more: str) -> Strip:
    room = WIDE - 2 * EDGE
    first = wrap(f"{card.name}  {card.label}{more}".strip(), T50, room, True)
    titles = titles_of(rig)
    revision = f"revision {titles.revision}" if titles.revision else ""
    words = ", ".join(filter(None, (rig.label, card.place, revision, titles.date)))
    second = wrap(words, T25, room)
    height = pitch(T50) * len(first) + pitch(T25) * len(second) + 2.5
    return Strip(room, height, partial(_draw_title, first, second))


def _draw_title(
    first: Sequence[str], second: Sequence[str], sheet: Sheet, x: float, y: float
) -> None:
    block = sheet.block()
    for index, text in enumerate(first):
        sheet.text(x, y + T50 + index * pitch(T50), text, T50, bold=True, block=block)
    down = y + pitch(T50) * len(first) + T25 + 0.8
    sheet.paragraph(x, down, second, T25, colour=GREY, block=block)


def _heads(words: Sequence[str], widths: Sequence[float]) -> Strip:
    return Strip(sum(widths), 6.0, partial(_draw_heads, words, widths))


def _draw_heads(
    words: Sequence[str], widths: Sequence[float], sheet: Sheet, x: float, y: float
) -> None:
    edges = list(accumulate(widths, initial=x))
    sheet.rect(Box(edges[0], y, edges[-1], y + 6.0), Pen(MEDIUM), PALE)
    for word, left in zip(words, edges, strict=False):
        sheet.text(left + PAD, y + 3.0, word, T25, bold=True, level="middle", cell=True)


Cell = tuple[str, float, bool]
"""A text with its lettering and whether it is bold."""


def _line(cells: Sequence[Sequence[Cell]], widths: Sequence[float]) -> Strip:
    """A ruled line of a card: in each cell its texts below each other, wrapped."""
    shown: list[list[Cell]] = []
    for texts, wide in zip(cells, widths, strict=True):
        room = wide - 2 * PAD
        shown.append([line for cell in texts for line in _wrapped(cell, room)])
    height = max([6.6, *(sum(pitch(size) for _, size, _ in cell) + 2.6 for cell in shown)])
    return Strip(sum(widths), height, partial(_draw_line, shown, widths, height))


def _wrapped(cell: Cell, room: float) -> list[Cell]:
    text, size, bold = cell
    return [(line, size, bold) for line in wrap(text, size, room, bold)]


def _draw_line(
    cells: Sequence[Sequence[Cell]], widths: Sequence[float], height: float,
    sheet: Sheet, x: float, y: float,
) -> None:  # fmt: skip
    edges = list(accumulate(widths, initial=x))
    for cell, (left, right) in zip(cells, pairwise(edges), strict=True):
        sheet.rect(Box(left, y, right, y + height), Pen(HAIR, BLACK))
        block, down = sheet.block(), y + 1.3
        for text, size, bold in cell:
            sheet.text(
                left + PAD, down + (pitch(size) - size) / 2, text, size, bold=bold, level="top",
                cell=True, block=block,
            )  # fmt: skip
            down += pitch(size)


def _circuit(circuit: Circuit, widths: Sequence[float]) -> Strip:
    device = circuit.device
    if device is None:
        return _line([[(circuit.ways, T25, False)], [], [(SPARE, T25, False)], [], []], widths)
    what: list[Cell] = [(device.label, T25, True)] if device.label else []
    if circuit.feeds and circuit.feeds != f"{device.label} ({_only(circuit.feeds)})":
        what.append((circuit.feeds, T25, False))
    return _line(
        [
            [(circuit.ways, T25, False)], [(device.name, T35, True)], what,
            _rating(circuit), [(circuit.residual, T25, False)],
        ],
        widths,
    )  # fmt: skip


def _rating(circuit: Circuit) -> list[Cell]:
    """The rating, and below it the class of a fuse."""
    kind = circuit.device.text("class") if circuit.device else ""
    return [(circuit.rating, T35, True), *([(f"class {kind}", T25, False)] if kind else [])]


def _only(feeds: str) -> str:
    """The name in brackets at the end."""
    return feeds.rpartition("(")[2].removesuffix(")")


def _supplies(rig: Rig, card: Card) -> Iterator[Strip]:
    """What the panel may be fed from in each mode, and what that gives."""
    if not card.given:
        return
    widths = [(WIDE - 2 * EDGE) * share for share in SHARES]
    yield Strip(1.0, 3.0, _nothing)
    yield _heads((*SUPPLIES, "to" if card.outside else "to ways"), widths)
    for given in card.given:
        texts = (given.modes, _source(rig, given), limit(given.supply), given.ways)
        yield _line([[(text, T25, False)] for text in texts], widths)


def _source(rig: Rig, given: Given) -> str:
    if given.supply is None:
        return ""
    source = rig.devices[given.supply.source]
    volts = spaced(source.text("voltage")) + " DC" * source.flag("dc")
    return ", ".join(filter(None, (f"{source.name}  {source.label}".strip(), volts)))


def _nothing(sheet: Sheet, x: float, y: float) -> None:
    """Room."""


def _cautions(rig: Rig, card: Card) -> Iterator[Strip]:
    room = WIDE - 2 * EDGE
    words = [CAUTION.format(*(AT_PLACE if card.outside else AT_PANEL))]
    if any(circuit.device and circuit.device.kind == "fuse" for circuit in card.circuits):
        words.append(FUSES)
    if len(card.sources) > 1:
        words.insert(0, TWO.format(", ".join(card.sources)))
    over = [overload_words(rig, c.device, c.over) for c in card.overloads if c.device]
    words = [*(f"{sentence} {KEEP_OFF}" for sentence in over), *words]
    texts = [line for sentence in words for line in wrap(sentence, T25, room, True)]
    yield Strip(room, pitch(T25) * len(texts) + 2.5, partial(_draw_cautions, texts))


def _draw_cautions(texts: Sequence[str], sheet: Sheet, x: float, y: float) -> None:
    block = sheet.block()
    for index, text in enumerate(texts):
        down = y + 1.8 + T25 + index * pitch(T25)
        sheet.text(x, down, text, T25, bold=True, block=block)
