"""The sheet's frame: sizes and borders of ISO 5457, zones, title block of ISO 7200, cautions.

    sheet = blank("A3", title="AC distribution", doc="Single-line diagram")
    draw inside area(sheet); smaller notes may go into notes(sheet), left of the title block
    zone_of(sheet, x, y)        -> "C4"
    finish(sheet, titles)       draws frame, zones, cautions and title block, last of all

All sheets lie on their long side.  Borders are those of ISO 5457:1999, 20 mm left and 10 mm else,
also on the North American sizes of ASME Y14.1, so that a set looks alike on either paper.
"""

from __future__ import annotations

import hashlib
import re
from itertools import pairwise

from ..dsl.model import Rig
from ..dsl.records import record
from .canvas import Sheet
from .marks import FRAME, GREY, MEDIUM, THIN, Box, Pen, Point
from .metrics import T18, T25, T35, fit, pitch, wrap
from .metrics import width as width_of

# Trimmed sizes in mm: ISO 216 A sizes; ASME Y14.1 A and B (8.5 x 11 in, 11 x 17 in).
PAPERS: dict[str, Point] = {
    "A3": (420.0, 297.0),
    "A4": (297.0, 210.0),
    "B": (431.8, 279.4),
    "A": (279.4, 215.9),
}
LEFT, BORDER = 20.0, 10.0
ZONE = 50.0
LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"  # no I, no O
GRID = 5.0  # width of the band that carries the zone marks
REACH = 5.0  # how far a centring mark reaches into the frame
MARGIN = 6.5  # free of drawing inside the frame: a centring mark and 1 mm of clearance
BLOCK_WIDTH, BLOCK_ROW = 180.0, 11.0
BLOCK_HEIGHT = 3 * BLOCK_ROW
CAUTIONS = (
    "A drawing is no proof that the rig was built to it; the tool knows only what the text says; "
    "local codes and a licensed person decide.",
    "Dimensions in the units shown. Do not scale the drawing. Verify on the rig before energising.",
)


@record
class Titles:
    """What the title block says of the whole set."""

    rig: str
    stage: str
    revision: str = ""
    date: str = ""
    drawn: str = ""
    checked: str = ""
    digest: str = ""
    slug: str = "rig"


def slug(text: str) -> str:
    """A text as part of a file name: lower case, letters, digits and hyphens.

    >>> slug("Travelling library van")
    'travelling-library-van'
    """
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-") or "rig"


def digest(rig: Rig) -> str:
    """Twelve digits of the SHA-256 of all source texts, whatever their files are called."""
    whole = hashlib.sha256()
    for text in sorted(rig.sources.values()):
        whole.update(hashlib.sha256(text.encode()).digest())
    return whole.hexdigest()[:12]


SIGNED = ("date", "drawn", "checked")


def titles_of(rig: Rig) -> Titles:
    """The title block's words: of the last revision, or of the rig's own statement.

    The rig's statement goes before the list where it names a revision that is not in it.
    """
    stage = f"{rig.stage} – {rig.stage_label}" if rig.stage_label else rig.stage
    words = {key: str(rig.attrs.get(key, "")) for key in ("revision", *SIGNED)}
    if rig.revisions and words["revision"] in ("", *rig.revisions):
        name, last = list(rig.revisions.items())[-1]
        own = words if words["revision"] in ("", name) else {}
        words = {"revision": name, **{k: last.text(k) or own.get(k, "") for k in SIGNED}}
    return Titles(rig.label, stage, digest=digest(rig), slug=slug(rig.label), **words)


def blank(paper: str, title: str, doc: str) -> Sheet:
    """An empty sheet of a size in PAPERS."""
    width, height = PAPERS[paper]
    return Sheet(width, height, title=title, doc=doc)


def frame_of(sheet: Sheet) -> Box:
    """The frame of the drawing space."""
    return Box(LEFT, BORDER, sheet.width - BORDER, sheet.height - BORDER)


def block_of(sheet: Sheet) -> Box:
    """The title block, in the frame's lower right corner."""
    frame = frame_of(sheet)
    return Box(frame.right - BLOCK_WIDTH, frame.bottom - BLOCK_HEIGHT, frame.right, frame.bottom)


def area(sheet: Sheet) -> Box:
    """Where a layout may draw: the frame less a margin, above the title block."""
    inner = frame_of(sheet).grown(-MARGIN)
    return Box(inner.left, inner.top, inner.right, block_of(sheet).top - 3)


def notes(sheet: Sheet) -> Box:
    """Room left of the title block and above the cautions."""
    inner, block = frame_of(sheet).grown(-MARGIN), block_of(sheet)
    return Box(inner.left, block.top, block.left - 6, _cautions_top(sheet) - 3)


def _divisions(length: float, low: float, high: float) -> list[float]:
    """Zone limits along an edge: 50 mm apart from the sheet's middle, then the frame's ends."""
    inside = [length / 2 + ZONE * k for k in range(-20, 21)]
    # A zone of less than a third of the usual width joins its neighbour.
    return [low, *(x for x in inside if low + ZONE / 3 < x < high - ZONE / 3), high]


def columns(sheet: Sheet) -> list[float]:
    """The limits of the numbered zones, left to right."""
    frame = frame_of(sheet)
    return _divisions(sheet.width, frame.left, frame.right)


def rows(sheet: Sheet) -> list[float]:
    """The limits of the lettered zones, top to bottom."""
    frame = frame_of(sheet)
    return _divisions(sheet.height, frame.top, frame.bottom)


def zone_of(sheet: Sheet, x: float, y: float) -> str:
    """The zone of a point, such as ``C4``."""
    column = sum(limit <= x for limit in columns(sheet)[1:-1])
    row = sum(limit <= y for limit in rows(sheet)[1:-1])
    return f"{LETTERS[row]}{column + 1}"


def finish(sheet: Sheet, titles: Titles) -> None:
    """Frame, zones, centring marks, cautions and title block; the sheet must have its number."""
    with sheet.group("frame", "frame", title="Frame and title block"):
        _zones(sheet)
        sheet.rect(frame_of(sheet), Pen(FRAME, cap="butt"))
        _centring(sheet)
        _cautions(sheet)
        _title_block(sheet, titles)


def _zones(sheet: Sheet) -> None:
    frame = frame_of(sheet)
    outer = frame.grown(GRID)
    pen = Pen(MEDIUM, cap="butt")
    sheet.rect(outer, pen)
    across, down = columns(sheet), rows(sheet)
    for x in across[1:-1]:
        sheet.line([(x, outer.top), (x, frame.top)], pen)
        sheet.line([(x, frame.bottom), (x, outer.bottom)], pen)
    for y in down[1:-1]:
        sheet.line([(outer.left, y), (frame.left, y)], pen)
        sheet.line([(frame.right, y), (outer.right, y)], pen)
    middle = (GRID + FRAME / 2 - MEDIUM / 2) / 2  # between the edges of the two lines
    for index, (a, b) in enumerate(pairwise(across)):
        for y in (frame.top - middle, frame.bottom + middle):
            _zone_mark(sheet, (a + b) / 2, y, str(index + 1))
    for index, (a, b) in enumerate(pairwise(down)):
        for x in (frame.left - middle, frame.right + middle):
            _zone_mark(sheet, x, (a + b) / 2, LETTERS[index])


def _zone_mark(sheet: Sheet, x: float, y: float, text: str) -> None:
    sheet.text(x, y, text, T35, anchor="middle", level="middle", cell=True)


def _centring(sheet: Sheet) -> None:
    frame, pen = frame_of(sheet), Pen(FRAME, cap="butt")
    x, y = sheet.width / 2, sheet.height / 2
    sheet.line([(x, frame.top - GRID), (x, frame.top + REACH)], pen)
    # On the small sizes the title block stands there.
    reach = 0 if x > block_of(sheet).left else REACH
    sheet.line([(x, frame.bottom + GRID), (x, frame.bottom - reach)], pen)
    sheet.line([(frame.left - GRID, y), (frame.left + REACH, y)], pen)
    sheet.line([(frame.right + GRID, y), (frame.right - REACH, y)], pen)


def _caution_lines(sheet: Sheet) -> list[str]:
    room = block_of(sheet).left - frame_of(sheet).left - MARGIN - 6
    return [line for caution in CAUTIONS for line in wrap(caution, T18, room)]


def _cautions_top(sheet: Sheet) -> float:
    return frame_of(sheet).bottom - MARGIN - pitch(T18) * (len(_caution_lines(sheet)) + 1)


def _cautions(sheet: Sheet) -> None:
    left, block = frame_of(sheet).left + MARGIN, sheet.block()
    y = _cautions_top(sheet) + T18
    sheet.text(left, y, "Cautions", T18, bold=True, block=block)
    sheet.paragraph(left, y + pitch(T18), _caution_lines(sheet), T18, block=block)


def _title_block(sheet: Sheet, titles: Titles) -> None:
    number = _identification(titles, sheet.number, 50.0 - 3)
    table = (
        (("Rig", titles.rig, 110.0, T35), ("Document type", sheet.doc, 70.0, T25)),
        (("Title", sheet.title, 110.0, T25), ("Stage", titles.stage, 70.0, T25)),
        (
            ("Identification", number, 50.0, T18),
            ("Source digest", titles.digest, 30.0, T18),
            ("Drawn", titles.drawn, 24.0, T18),
            ("Checked", titles.checked, 24.0, T18),
            ("Date", titles.date, 22.0, T18),
            ("Rev.", titles.revision, 12.0, T25),
            ("Sheet", f"{sheet.number}/{sheet.of}", 18.0, T25),
        ),
    )
    box = block_of(sheet)
    sheet.rect(box, Pen(FRAME, cap="butt"), fill="#ffffff")
    for index, row in enumerate(table):
        top, x = box.top + index * BLOCK_ROW, box.left
        if index:
            sheet.line([(box.left, top), (box.right, top)], Pen(MEDIUM, cap="butt"))
        for caption, value, width, size in row:
            if x > box.left:
                sheet.line([(x, top), (x, top + BLOCK_ROW)], Pen(THIN, cap="butt"))
            _field(sheet, x, top, caption, value, width, size)
            x += width


def _identification(titles: Titles, number: int, room: float) -> str:
    """Rig, stage and sheet; of a long name of the rig as many words as the field holds."""
    words = titles.slug.split("-")
    own = f"{slug(titles.stage.split(' – ')[0])}-{number:02d}"
    while len(words) > 1 and width_of("-".join([*words, own]), T18) > room:
        words.pop()
    return "-".join([*words, own])


def _field(
    sheet: Sheet, x: float, top: float, caption: str, value: str, width: float, size: float
) -> None:
    """One field of the title block: a caption over a value; a value not given shows a dash."""
    bold = size >= T35 or caption == "Sheet"
    while size > T18 and width_of(value, size, bold) > width - 3:
        size = {T35: T25}.get(size, T18)
    sheet.text(x + 1.5, top + 1.3, caption, T18, level="top", colour=GREY, cell=True)
    shown = fit(value or "–", size, width - 3, bold)
    sheet.text(x + 1.5, top + BLOCK_ROW - 1.9, shown, size, bold=bold, cell=True)
