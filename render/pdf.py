"""Sheets as one bound PDF: the display list written as a page's own operators.

Runs of shapes alike in pen and fill are one path.  Texts come after the shapes of their sheet, in
the bundled font, as wide as ``metrics`` measures them.  No date is written: the same sheets are the
same bytes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from itertools import groupby

from .binding import bound, linked
from .canvas import Sheet
from .marks import Arc, Pen, Point, Poly, Text
from .metrics import em
from .pdf_file import Objects, listed, text
from .pdf_fonts import Face
from .references import leaves
from .svg import number

POINTS = 72 / 25.4
"""PDF points in a millimetre."""
NO_FACTS: Mapping[str, str] = {}
CAPS = {"butt": 0, "round": 1}
JOINS = {"butt": 0, "round": 1}


def pdf(sheets: Sequence[Sheet], title: str, facts: Mapping[str, str] = NO_FACTS) -> bytes:
    """All sheets in one PDF with bookmarks, links and page labels; the same bytes in every run.

    ``facts``: further document information (Author, Subject, Keywords), where there is any.
    """
    objects = Objects()
    root, parent, resources = objects.reserve(), objects.reserve(), objects.reserve()
    pages = [objects.reserve() for _ in sheets]
    faces = {bold: Face(bold) for bold in (False, True)}
    bookmarks = leaves(sheets)
    notes = linked(objects, pages, bookmarks)
    for page, sheet, own in zip(pages, sheets, notes, strict=True):
        content = objects.stream(b"\n".join(_content(sheet, faces)))
        size = f"{_at(sheet.width)} {_at(sheet.height)}".encode()
        objects.give(
            page,
            b"<< /Type /Page /Parent %d 0 R /MediaBox [0 0 %b] /Resources %d 0 R "
            b"/Contents %d 0 R /Annots [%b] >>" % (parent, size, resources, content, listed(own)),
        )
    objects.give(parent, b"<< /Type /Pages /Kids [%b] /Count %d >>" % (listed(pages), len(pages)))
    fonts = b" ".join(b"/%b %d 0 R" % (_font(b), f.written(objects)) for b, f in faces.items())
    objects.give(resources, b"<< /Font << %b >> >>" % fonts)
    objects.give(root, _catalogue(parent, bound(objects, pages, bookmarks)))
    told = {"Title": title, **{key: words for key, words in facts.items() if words}}
    rows = b" ".join(b"/%b %b" % (key.encode(), text(words)) for key, words in told.items())
    return objects.written(root, objects.add(b"<< %b >>" % rows))


def _catalogue(pages: int, bookmarks: bytes) -> bytes:
    return (
        b"<< /Type /Catalog /Pages %d 0 R %b /PageMode /UseOutlines /Lang (en) "
        b"/ViewerPreferences << /DisplayDocTitle true >> >>" % (pages, bookmarks)
    )


def _font(bold: bool) -> bytes:
    return b"F2" if bold else b"F1"


@cache
def _at(mm: float) -> str:
    """A length in points."""
    return number(mm * POINTS)


def _content(sheet: Sheet, faces: Mapping[bool, Face]) -> Iterator[bytes]:
    """The page's operators: shapes, then texts."""
    shapes = [item for item in sheet.items if isinstance(item, Poly | Arc)]
    for (pen, fill), run in groupby(shapes, key=lambda shape: (shape.pen, shape.fill)):
        yield _state(pen, fill)
        for shape in run:
            points = _arc(shape) if isinstance(shape, Arc) else _poly(shape)
            yield _path(points, sheet.height)
            closed = shape.whole if isinstance(shape, Arc) else shape.closed
            if closed:
                yield b"h"
        yield b"B" if pen and fill else b"S" if pen else b"f" if fill else b"n"
    for item in sheet.items:
        if isinstance(item, Text):
            yield _text(item, sheet.height, faces[item.bold])


@cache
def _state(pen: Pen | None, fill: str | None) -> bytes:
    """Colours, width and dashes of a run."""
    words = [f"{_colour(fill)} rg"] if fill else []
    if pen:
        dashes = " ".join(_at(part) for part in pen.dashes() or ())
        words += [
            f"{_colour(pen.colour)} RG {_at(pen.width)} w",
            f"{CAPS[pen.cap]} J {JOINS[pen.cap]} j [{dashes}] 0 d",
        ]
    return " ".join(words).encode()


@cache
def _colour(name: str) -> str:
    """``#rrggbb`` as three shares of one."""
    return " ".join(number(int(name[i : i + 2], 16) / 255) for i in (1, 3, 5))


Segment = tuple[str, tuple[Point, ...]]
"""An operator and the points that go before it."""


def _path(segments: Iterator[Segment], height: float) -> bytes:
    return " ".join(
        " ".join(f"{_at(x)} {_at(height - y)}" for x, y in points) + f" {operator}"
        for operator, points in segments
    ).encode()


def _poly(shape: Poly) -> Iterator[Segment]:
    for index, point in enumerate(shape.points):
        yield "l" if index else "m", (point,)


def _arc(arc: Arc) -> Iterator[Segment]:
    """An arc as cubic curves of at most a quarter turn (error below 0.03 % of the radius)."""
    count = max(1, math.ceil(abs(arc.end - arc.start) / 90))
    turn = math.radians((arc.end - arc.start) / count)
    reach = 4 / 3 * math.tan(turn / 4)
    yield "m", (arc.point(arc.start),)
    for index in range(count):
        a = math.radians(arc.start) + turn * index
        b = a + turn
        bends = (
            (math.cos(a) - reach * math.sin(a), math.sin(a) + reach * math.cos(a)),
            (math.cos(b) + reach * math.sin(b), math.sin(b) - reach * math.cos(b)),
            (math.cos(b), math.sin(b)),
        )
        yield "c", tuple((arc.x + arc.rx * cos, arc.y - arc.ry * sin) for cos, sin in bends)


def _text(item: Text, height: float, face: Face) -> bytes:
    size = _at(em(item.size))
    if item.rotate == 90:
        turn, x, y = "0 1 -1 0", item.x, item.y + item.start
    else:
        turn, x, y = "1 0 0 1", item.x - item.start, item.y
    return b"BT /%b %b Tf %b rg %b %b %b Tm <%b> Tj ET" % (
        _font(item.bold), size.encode(), _colour(item.colour).encode(), turn.encode(),
        _at(x).encode(), _at(height - y).encode(), face.shown(item.text),
    )  # fmt: skip
