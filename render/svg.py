"""Sheets as SVG: text stays text, the font travels along, and the same sheet is the same bytes.

Every group carries its id and a ``<title>``, so that a reader's hover and a picture's difference
name the device.  Numbers have at most three decimals; nothing depends on a clock or on an order of
hashing.  Kerning is off: a text is as wide as ``metrics.width`` says.
"""

from __future__ import annotations

import base64
import re
from functools import cache, lru_cache
from html import escape
from typing import TypeAlias

from .canvas import Sheet
from .marks import Arc, Close, Item, Mark, Open, Pen, Poly, Text
from .metrics import FAMILY, em, font_file

Style: TypeAlias = tuple[Pen | None, str | None]
FALLBACK = "'DejaVu Sans',Verdana,Arial,sans-serif"
UNPRINTABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff\ud800-\udfff]")


@cache
def number(value: float) -> str:
    """A coordinate in mm with at most three decimals and no minus zero.

    >>> number(2.50001), number(-0.0001), number(10.0)
    ('2.5', '0', '10')
    """
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


@lru_cache(maxsize=1 << 14)
def quoted(text: str) -> str:
    """A text fit for XML: markup escaped, characters XML forbids left out."""
    return escape(UNPRINTABLE.sub("", text), quote=True)


@cache
def face(bold: bool) -> str:
    """The bundled font as a rule of CSS, its bytes within."""
    data = base64.b64encode(font_file(bold, ".woff").read_bytes()).decode("ascii")
    weight = "bold" if bold else "normal"
    return (
        f"@font-face{{font-family:'{FAMILY}';font-weight:{weight};"
        f"src:url(data:font/woff;base64,{data}) format('woff')}}"
    )


def svg(sheet: Sheet) -> str:
    """The sheet as one SVG document, its size in mm."""
    classes = Classes()
    body = [_item(item, classes) for item in sheet.items]
    width, height = number(sheet.width), number(sheet.height)
    name = quoted(", ".join(part for part in (sheet.doc, sheet.title) if part))
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}" role="graphics-document" aria-labelledby="sheet-title">'
    )
    ground = f'<rect width="{width}" height="{height}" fill="#ffffff"/>'
    title = f'<title id="sheet-title">{name}</title>'
    return "\n".join([head, title, _styles(sheet, classes), ground, *body, "</svg>"]) + "\n"


class Classes(dict[Style, str]):
    """A class for each kind of line and fill, in the order in which they are first asked for."""

    def of(self, mark: Poly | Arc) -> str:
        """The class of a mark."""
        return self.setdefault((mark.pen, mark.fill), f"l{len(self)}")


def _styles(sheet: Sheet, classes: Classes) -> str:
    used = sorted({item.bold for item in sheet.items if isinstance(item, Text)})
    rules = [face(bold) for bold in used]
    rules.append(
        f"text{{font-family:'{FAMILY}',{FALLBACK};font-kerning:none;"
        "font-variant-ligatures:none;white-space:pre}"
    )
    rules += [f".{name}{{{declaration(*style)}}}" for style, name in classes.items()]
    return "<style>\n" + "\n".join(rules) + "\n</style>"


def declaration(pen: Pen | None, fill: str | None) -> str:
    """A kind of line and fill as CSS."""
    parts = [f"fill:{fill or 'none'}"]
    if pen is None:
        return parts[0]
    parts += [f"stroke:{pen.colour}", f"stroke-width:{number(pen.width)}"]
    parts += [f"stroke-linecap:{pen.cap}", "stroke-linejoin:" + _join(pen)]
    if pen.dashes():
        parts.append("stroke-dasharray:" + " ".join(number(d) for d in pen.dashes()))
    return ";".join(parts)


def _join(pen: Pen) -> str:
    return "round" if pen.cap == "round" else "miter"


def _item(item: Item, classes: Classes) -> str:
    if isinstance(item, Open):
        return _open(item)
    if isinstance(item, Close):
        return "</g></a>" if item.link else "</g>"
    return drawn(item, classes)


def _open(group: Open) -> str:
    link = f'<a href="{quoted(group.href)}">' if group.href else ""
    cls = f' class="{quoted(group.cls)}"' if group.cls else ""
    title = f"\n<title>{quoted(group.title)}</title>" if group.title else ""
    return f'{link}<g id="{quoted(group.id)}"{cls}>{title}'


def drawn(mark: Mark, classes: Classes) -> str:
    """One mark as an element of SVG."""
    if isinstance(mark, Text):
        return _text(mark)
    cls = classes.of(mark)
    if isinstance(mark, Arc) and mark.whole:
        x, y, rx, ry = map(number, (mark.x, mark.y, mark.rx, mark.ry))
        if rx == ry:
            return f'<circle class="{cls}" cx="{x}" cy="{y}" r="{rx}"/>'
        return f'<ellipse class="{cls}" cx="{x}" cy="{y}" rx="{rx}" ry="{ry}"/>'
    return f'<path class="{cls}" d="{_path(mark)}"/>'


def _path(mark: Poly | Arc) -> str:
    if isinstance(mark, Arc):
        (x0, y0), (x1, y1) = mark.point(mark.start), mark.point(mark.end)
        large = int(mark.end - mark.start > 180)
        ends = f"{number(mark.rx)} {number(mark.ry)} 0 {large} 0 {number(x1)} {number(y1)}"
        return f"M{number(x0)} {number(y0)}A{ends}"
    points = [f"{number(x)} {number(y)}" for x, y in mark.points]
    return "M" + "L".join(points) + ("Z" if mark.closed else "")


@cache
def _font_size(size: float) -> str:
    return number(em(size))


def _text(text: Text) -> str:
    x, y = number(text.x), number(text.y)
    extra = f' text-anchor="{text.anchor}"' if text.anchor != "start" else ""
    extra += ' font-weight="bold"' if text.bold else ""
    extra += f' fill="{text.colour}"' if text.colour != "#000000" else ""
    extra += f' transform="rotate(-90 {x} {y})"' if text.rotate == 90 else ""
    size = _font_size(text.size)
    return f'<text x="{x}" y="{y}" font-size="{size}"{extra}>{quoted(text.text)}</text>'
