"""Sheets as one bound PDF: the display list replayed on reportlab's canvas.

Lines alike are one path.  Texts come after the shapes of their sheet, in the bundled font, not
kerned, so as wide as ``metrics`` measures them.  No date is written: the same sheets are the same
bytes.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from io import BytesIO
from itertools import groupby
from typing import Any

from .binding import bind, join
from .canvas import Sheet
from .marks import Arc, Pen, Poly, Text
from .metrics import em
from .pdf_canvas import begin, font, opened
from .references import leaves

NO_FACTS: Mapping[str, str] = {}
CAPS = JOINS = {"butt": 0, "round": 1}
WINDING = 1
"""How a path that meets itself is filled: as SVG does."""


def pdf(sheets: Sequence[Sheet], title: str, facts: Mapping[str, str] = NO_FACTS) -> bytes:
    """All sheets in one PDF with bookmarks, links and page labels; the same bytes in every run.

    ``facts``: further document information (Author, Subject, Keywords), where there is any.
    """
    out = BytesIO()
    canvas = opened(out, {"Title": title, **facts})
    bound = leaves(sheets)
    bind(canvas, bound)
    for page, sheet in enumerate(sheets):
        begin(canvas, sheet.width, sheet.height)
        _shapes(canvas, sheet)
        _texts(canvas, sheet)
        join(canvas, bound, page)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def _shapes(canvas: Any, sheet: Sheet) -> None:
    shapes = [item for item in sheet.items if isinstance(item, Poly | Arc)]
    for (pen, fill), run in groupby(shapes, key=lambda shape: (shape.pen, shape.fill)):
        _state(canvas, pen, fill)
        for path in _paths(canvas, run, sheet.height, bool(fill)):
            canvas.drawPath(path, int(pen is not None), int(fill is not None), WINDING)


def _paths(canvas: Any, shapes: Iterator[Poly | Arc], height: float, apart: bool) -> Iterator[Any]:
    """The shapes of a run as one path, or ``apart``: of filled ones each covers those before it."""
    path = canvas.beginPath()
    for shape in shapes:
        if isinstance(shape, Arc):
            _arc(path, shape, height)
        else:
            _poly(path, shape, height)
        if apart:
            yield path
            path = canvas.beginPath()
    if not apart:
        yield path


def _state(canvas: Any, pen: Pen | None, fill: str | None) -> None:
    """Colours, width and dashes of a run."""
    if fill:
        canvas.setFillColorRGB(*_colour(fill))
    if pen:
        canvas.setStrokeColorRGB(*_colour(pen.colour))
        canvas.setLineWidth(pen.width)
        canvas.setLineCap(CAPS[pen.cap])
        canvas.setLineJoin(JOINS[pen.cap])
        canvas.setDash(pen.dashes())


@cache
def _colour(name: str) -> tuple[float, ...]:
    """``#rrggbb`` as three shares of one."""
    return tuple(int(name[i : i + 2], 16) / 255 for i in (1, 3, 5))


def _poly(path: Any, shape: Poly, height: float) -> None:
    (x, y), *others = shape.points
    path.moveTo(x, height - y)
    for x, y in others:
        path.lineTo(x, height - y)
    if shape.closed:
        path.close()


def _arc(path: Any, arc: Arc, height: float) -> None:
    """An arc as cubic curves of at most a quarter turn (error below 0.03 % of the radius)."""
    x, y = arc.x, height - arc.y
    box = (x - arc.rx, y - arc.ry, x + arc.rx, y + arc.ry)
    path.arc(*box, arc.start, arc.end - arc.start)
    if arc.whole:
        path.close()


def _texts(canvas: Any, sheet: Sheet) -> None:
    """All texts of a sheet as one object; font and colour are said where they change."""
    texts = canvas.beginText()
    face, colour = (False, 0.0), ""
    for item in sheet.items:
        if not isinstance(item, Text):
            continue
        if face != (item.bold, item.size):
            face = (item.bold, item.size)
            texts.setFont(font(item.bold), em(item.size))
        if colour != item.colour:
            colour = item.colour
            texts.setFillColorRGB(*_colour(colour))
        _text(texts, item, sheet.height)
    canvas.drawText(texts)


def _text(texts: Any, item: Text, height: float) -> None:
    if item.rotate == 90:
        texts.setTextTransform(0, 1, -1, 0, item.x, height - item.y - item.start)
    else:
        texts.setTextOrigin(item.x - item.start, height - item.y)
    texts.textOut(item.text)
