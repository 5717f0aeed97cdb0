"""Marks of many sheets within one page, written short: a page holds tens of thousands of them.

Lines, fills and letters are classes that all sheets share; coordinates are hundredths of a
millimetre; lines of one kind that follow each other are one path.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import cache, lru_cache
from itertools import groupby

from .marks import Arc, Item, Mark, Point, Poly, Text
from .metrics import FAMILY, em
from .svg import FALLBACK, Classes, Style, declaration, drawn, face, number, quoted

Letter = tuple[float, bool, str, str]
"""Height, weight, anchor and colour of a text."""
REST = (
    f".paper text{{font-family:'{FAMILY}',{FALLBACK};font-kerning:none;"
    "font-variant-ligatures:none;white-space:pre}"
)


def letter(text: Text) -> Letter:
    """What makes a text look as it does."""
    return text.size, text.bold, text.anchor, text.colour


class Inks:
    """The classes of everything drawn, and the marks that use them."""

    def __init__(self, items: Sequence[Item]) -> None:
        self.lines = Classes()
        for item in items:
            if isinstance(item, Poly | Arc):
                self.lines.of(item)
        letters = dict.fromkeys(letter(item) for item in items if isinstance(item, Text))
        self.letters = {each: f"t{index}" for index, each in enumerate(letters)}

    def rules(self) -> Iterator[str]:
        """The fonts, once, and every class, as CSS."""
        yield from map(face, (False, True))
        yield REST
        for style, name in self.lines.items():
            yield f".paper .{name}{{{declaration(*style)}}}"
        for each, name in self.letters.items():
            yield f".paper .{name}{{{_lettering(each)}}}"

    def marks(self, marks: Iterable[Mark]) -> Iterator[str]:
        """Marks in their order."""
        for style, run in groupby(marks, _line_style):
            if style is None:
                yield from map(self._mark, run)
            else:
                way = "".join(_way(m.points, False) for m in run if isinstance(m, Poly))
                yield f'<path class={self.lines[style]} d="{way}"/>'

    def _mark(self, mark: Mark) -> str:
        if isinstance(mark, Text):
            return self._text(mark)
        name = self.lines.of(mark)
        if isinstance(mark, Poly):
            return f'<path class={name} d="{_way(mark.points, mark.closed)}"/>'
        if isinstance(mark, Arc) and mark.whole and mark.rx == mark.ry:
            x, y, r = (_short(round(100 * value)) for value in (mark.x, mark.y, mark.rx))
            return f'<circle class={name} cx={x} cy={y} r="{r}"/>'
        return drawn(mark, self.lines)

    def _text(self, text: Text) -> str:
        x, y = _short(round(100 * text.x)), _short(round(100 * text.y))
        turned = f' transform="rotate(-90 {x} {y})"' if text.rotate == 90 else ""
        name = self.letters[letter(text)]
        return f"<text class={name} x={x} y={y}{turned}>{quoted(text.text)}</text>"


def _line_style(mark: Mark) -> Style | None:
    """The pen of an open line; None for what stands by itself."""
    if isinstance(mark, Poly) and not mark.closed and mark.fill is None:
        return mark.pen, mark.fill
    return None


def _lettering(each: Letter) -> str:
    size, bold, anchor, colour = each
    parts = [f"font-size:{number(em(size))}px"]
    parts += ["font-weight:bold"] * bold
    parts += [f"text-anchor:{anchor}"] * (anchor != "start")
    parts += [f"fill:{colour}"] * (colour != "#000000")
    return ";".join(parts)


@cache
def _short(value: int) -> str:
    """Hundredths as a number in mm.

    >>> _short(250), _short(-7), _short(1200)
    ('2.5', '-.07', '12')
    """
    sign, (whole, part) = "-" * (value < 0), divmod(abs(value), 100)
    shown = f"{part:02d}".rstrip("0")
    return f"{sign}{whole or ('' if shown else '0')}{'.' if shown else ''}{shown}"


def _way(points: Sequence[Point], closed: bool) -> str:
    """A line as the data of a path, each step from the one before.

    >>> _way([(1, 1), (3, 1), (3, 2.5), (4, 3)], True)
    'M1 1h2v1.5l1 .5Z'
    """
    x, y = round(100 * points[0][0]), round(100 * points[0][1])
    way = [f"M{_short(x)} {_short(y)}"]
    for point in points[1:]:
        to_x, to_y = round(100 * point[0]), round(100 * point[1])
        way.append(_step(to_x - x, to_y - y))
        x, y = to_x, to_y
    return "".join(way) + "Z" * closed


@lru_cache(maxsize=1 << 14)
def _step(right: int, down: int) -> str:
    if not down:
        return f"h{_short(right)}"
    return f"l{_short(right)} {_short(down)}" if right else f"v{_short(down)}"
