"""Sheets as PNG: the display list replayed through matplotlib's renderer.

The only place that imports matplotlib, and only when called.  One artist per sheet walks the
display list; runs of shapes alike in pen and fill become one path.  Texts come after the shapes of
their sheet, in the bundled font, from the starting points that ``metrics`` computes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import cache
from io import BytesIO
from itertools import groupby
from typing import Any

from .canvas import Sheet
from .marks import Arc, Pen, Point, Poly, Text
from .metrics import FAMILY, em, font_file

POINT_MM = 25.4 / 72
DPI = 150
SETTINGS: dict[Any, Any] = {
    "path.simplify": False,
    "text.usetex": False,
    "text.hinting": "no_hinting",  # a picture's texts are as wide as measured
    "agg.path.chunksize": 0,
}


def png(sheet: Sheet, dpi: int = DPI) -> bytes:
    """One sheet as a picture of ``dpi`` pixels to the inch."""
    import matplotlib

    out = BytesIO()
    with matplotlib.rc_context(SETTINGS):
        _figure(sheet).savefig(out, format="png", dpi=dpi, metadata={"Software": None})
    return out.getvalue()


def _figure(sheet: Sheet) -> Any:
    from matplotlib.artist import Artist
    from matplotlib.figure import Figure

    class SheetArtist(Artist):
        """Draws the whole sheet; matplotlib calls it once a page."""

        def draw(self, renderer: Any) -> None:
            _replay(sheet, renderer)

    figure = Figure(figsize=(sheet.width / 25.4, sheet.height / 25.4), facecolor="white")
    figure.add_artist(SheetArtist())
    return figure


def _replay(sheet: Sheet, renderer: Any) -> None:
    from matplotlib.transforms import Affine2D

    scale = renderer.points_to_pixels(1) / POINT_MM
    place = Affine2D().scale(scale, -scale).translate(0, sheet.height * scale)
    shapes = [item for item in sheet.items if isinstance(item, Poly | Arc)]
    for (pen, fill), run in groupby(shapes, key=lambda shape: (shape.pen, shape.fill)):
        _draw_run(renderer, place, list(run), pen, fill)
    for item in sheet.items:
        if isinstance(item, Text):
            _draw_text(renderer, scale, sheet.height, item)


def _draw_run(
    renderer: Any, place: Any, run: list[Poly | Arc], pen: Pen | None, fill: str | None
) -> None:
    from matplotlib.colors import to_rgb
    from matplotlib.path import Path

    vertices: list[Point] = []
    codes: list[int] = []
    for shape in run:
        for point, code in _arc(shape) if isinstance(shape, Arc) else _poly(shape):
            vertices.append(point)
            codes.append(code)
    gc = renderer.new_gc()
    if pen:
        gc.set_foreground(pen.colour)
        gc.set_capstyle(pen.cap)
        gc.set_joinstyle("round" if pen.cap == "round" else "miter")
        if pen.dashes():
            gc.set_dashes(0, [part / POINT_MM for part in pen.dashes()])
    # The renderers take line widths and dashes in points; Agg scales them itself.
    gc.set_linewidth(pen.width / POINT_MM if pen else 0)
    renderer.draw_path(gc, Path(vertices, codes), place, to_rgb(fill) if fill else None)
    gc.restore()


def _poly(shape: Poly) -> Iterator[tuple[Point, int]]:
    """The codes are matplotlib's: 1 move, 2 line, 4 cubic curve, 79 close."""
    for index, point in enumerate(shape.points):
        yield point, 2 if index else 1
    if shape.closed:
        yield shape.points[0], 79


def _arc(arc: Arc) -> Iterator[tuple[Point, int]]:
    """An arc as cubic curves of at most a quarter turn (error below 0.03 % of the radius)."""
    count = max(1, math.ceil(abs(arc.end - arc.start) / 90))
    turn = math.radians((arc.end - arc.start) / count)
    reach = 4 / 3 * math.tan(turn / 4)
    yield arc.point(arc.start), 1
    for index in range(count):
        a = math.radians(arc.start) + turn * index
        b = a + turn
        for cos, sin in (
            (math.cos(a) - reach * math.sin(a), math.sin(a) + reach * math.cos(a)),
            (math.cos(b) + reach * math.sin(b), math.sin(b) - reach * math.cos(b)),
            (math.cos(b), math.sin(b)),
        ):
            yield (arc.x + arc.rx * cos, arc.y - arc.ry * sin), 4
    if arc.whole:
        yield arc.point(arc.start), 79


def _draw_text(renderer: Any, scale: float, height: float, text: Text) -> None:
    x, y = (text.x, text.y + text.start) if text.rotate == 90 else (text.x - text.start, text.y)
    font = _font(text.bold, text.size)
    gc = renderer.new_gc()
    gc.set_foreground(text.colour)
    # Agg counts pixels from the top, PDF points from the bottom.
    down = y if renderer.flipy() else height - y
    renderer.draw_text(gc, x * scale, down * scale, text.text, font, text.rotate)
    gc.restore()


@cache
def _font(bold: bool, size: float) -> Any:
    from matplotlib.font_manager import FontProperties

    file = str(font_file(bold, ".ttf"))
    return FontProperties(family=FAMILY, fname=file, size=em(size) / POINT_MM)
