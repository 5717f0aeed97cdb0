"""Single-line pieces onto the canvas, every mark in a group named by what it shows."""

from __future__ import annotations

from collections.abc import Iterable

from ..dsl.records import replace
from .canvas import Sheet
from .marks import BUS, MEDIUM, Mark, Pen, Text
from .metrics import T18, T25, pitch
from .single_line_look import Look
from .single_line_parts import (
    Bar,
    Dot,
    Glyph,
    Label,
    Part,
    Plain,
    Rail,
    Sign,
    Tally,
    Wire,
)

PLANNED = frozenset({"planned", "disabled", "removed"})


def draw(sheet: Sheet, look: Look, parts: Iterable[Part]) -> None:
    """Draws parts: lines first, symbols and texts over them."""
    order = (Bar, Rail, Wire, Plain, Dot, Tally, Sign, Glyph, Label)
    for part in sorted(parts, key=lambda p: order.index(type(p)) if type(p) in order else 9):
        _DRAW.get(type(part), _nothing)(sheet, look, part)


def _nothing(sheet: Sheet, look: Look, part: Part) -> None:
    """References are drawn when every sheet has its number."""


def _pen(look: Look, wire: Wire) -> Pen:
    conductors = [look.graph.rig.conductors[name] for name in wire.run.conductors]
    dashed = all(c.status in PLANNED for c in conductors)
    return Pen(MEDIUM, dash="short" if dashed else "solid", cap="butt")


def _wire(sheet: Sheet, look: Look, part: Part) -> None:
    assert isinstance(part, Wire)
    with sheet.group(f"run-{part.run.statements[0]}", "run", title=look.run_title(part.run)):
        sheet.line(part.points, _pen(look, part))


def _bar(sheet: Sheet, look: Look, part: Part) -> None:
    assert isinstance(part, Bar)
    with sheet.group(f"dev-{part.node}", "device bus", title=look.title(part.node)):
        sheet.line([(part.x, part.y), (part.right, part.y)], Pen(BUS, cap="butt"))


def _rail(sheet: Sheet, look: Look, part: Part) -> None:
    assert isinstance(part, Rail)
    with sheet.group(part.id, "rail", title=part.title):
        sheet.line([(part.x, part.y), (part.right, part.y)], Pen(BUS, cap="butt"))


def _plain(sheet: Sheet, look: Look, part: Part) -> None:
    assert isinstance(part, Plain)
    sheet.line(part.points, Pen(MEDIUM, cap="butt"))


def _glyph(sheet: Sheet, look: Look, part: Part) -> None:
    assert isinstance(part, Glyph)
    with sheet.group(part.id, f"{part.cls} {part.symbol}", title=part.title):
        sheet.put(look.glyph(part.symbol, part.options), part.x, part.y)


def _dot(sheet: Sheet, look: Look, part: Part) -> None:
    assert isinstance(part, Dot)
    sheet.circle(part.x, part.y, part.r, None, "#000000")


def _tally(sheet: Sheet, look: Look, part: Part) -> None:
    assert isinstance(part, Tally)
    stencil = look.strokes(part.run)
    middle = (stencil.anchors["top"][1] + stencil.anchors["bottom"][1]) / 2
    with sheet.group(f"run-{part.run.statements[0]}", "run", title=look.run_title(part.run)):
        sheet.put(stencil, part.x, part.y - middle)


def _sign(sheet: Sheet, look: Look, part: Part) -> None:
    assert isinstance(part, Sign)
    stencil = look.stencil(part.node)
    device = look.device(part.node)
    if device.status in PLANNED:
        stencil = replace(stencil, marks=tuple(map(_dashed, stencil.marks)))
    with sheet.group(f"dev-{part.node}", f"device {device.kind}", title=look.title(part.node)):
        if part.turned:
            sheet.put(stencil, part.x, part.y + stencil.height, turn=180)
        else:
            sheet.put(stencil, part.x, part.y)


def _dashed(mark: Mark) -> Mark:
    """A mark of a symbol as what is not there yet, or no longer: in dashes (IEC 61082)."""
    if isinstance(mark, Text) or mark.pen is None:
        return mark
    return mark._replace(pen=mark.pen._replace(dash="short"))


def _label(sheet: Sheet, look: Look, part: Part) -> None:
    assert isinstance(part, Label)
    size = T25 if part.bold else T18
    block = sheet.block()
    y = part.y + size
    for index, line in enumerate(part.lines):
        bold = part.bold and index == 0
        sheet.text(part.x, y, line, size if index == 0 else T18, bold=bold, block=block)
        y += pitch(T18)


_DRAW = {
    Bar: _bar,
    Rail: _rail,
    Wire: _wire,
    Plain: _plain,
    Dot: _dot,
    Tally: _tally,
    Sign: _sign,
    Glyph: _glyph,
    Label: _label,
}
