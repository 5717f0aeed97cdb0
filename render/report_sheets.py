"""Sheets within a page: one set of classes and one font for all, ids that no other sheet has.

What is drawn of a device or a conductor says so in ``data-n``, the name as the text has it.  Links
between sheets are left out: the page goes from name to sheet by itself.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import chain

from ..dsl.model import Rig
from .canvas import Sheet
from .marks import Close, Item, Mark, Open, Text
from .markup import Markup, el, esc
from .metrics import FAMILY, em
from .svg import FALLBACK, Style, classes_of, declaration, drawn, face, number
from .wiring import conductor_id

Letter = tuple[float, bool]
REST = (
    f".paper text{{font-family:'{FAMILY}',{FALLBACK};font-kerning:none;"
    "font-variant-ligatures:none;white-space:pre}"
)


def key(index: int) -> str:
    """The id of a sheet on the page, the first being 0."""
    return f"sheet-{index + 1}"


def title(sheet: Sheet) -> str:
    """Document and title of a sheet."""
    return ", ".join(part for part in (sheet.doc, sheet.title) if part)


def subjects(rig: Rig) -> dict[str, str]:
    """From the ids of groups to the names they are about."""
    found: dict[str, str] = {}
    for name in rig.devices:
        found |= {f"{kind}-{name}": name for kind in ("dev", "ref", "band")}
    for name, conductor in rig.conductors.items():
        found[f"run-{conductor.statement}"] = conductor.statement
        found[conductor_id(conductor.statement)] = conductor.statement
        found |= {conductor_id(name, end): name for end in ("", "a", "b")}
    return found


class Album:
    """All sheets of the page, with what they share."""

    def __init__(self, sheets: Sequence[Sheet], rig: Rig) -> None:
        self.sheets = sheets
        self.subjects = subjects(rig)
        items = list(chain.from_iterable(sheet.items for sheet in sheets))
        self.classes: dict[Style, str] = classes_of(items)
        letters = ((i.size, i.bold) for i in items if isinstance(i, Text))
        self.letters: dict[Letter, str] = {
            letter: f"t{index}" for index, letter in enumerate(dict.fromkeys(letters))
        }

    def style(self) -> Markup:
        """The fonts, once, and the classes of lines, fills and letters."""
        rules = [*map(face, (False, True)), REST]
        rules += [f".paper .{n}{{{declaration(*style)}}}" for style, n in self.classes.items()]
        rules += [
            f".paper .{name}{{font-size:{number(em(size))}px{';font-weight:bold' * bold}}}"
            for (size, bold), name in self.letters.items()
        ]
        rules += [
            f"@page paper-{i}{{size:{w}mm {h}mm;margin:0}}.paper-{i}{{page:paper-{i}}}"
            for (w, h), i in self.papers().items()
        ]
        return Markup("\n".join(rules))

    def papers(self) -> dict[tuple[str, str], int]:
        """The sizes of paper, mm, in the order in which they come."""
        sizes = dict.fromkeys((number(s.width), number(s.height)) for s in self.sheets)
        return {size: index for index, size in enumerate(sizes)}

    def figure(self, index: int) -> Markup:
        """One sheet as a figure of the page."""
        sheet, name = self.sheets[index], key(index)
        size = number(sheet.width), number(sheet.height)
        body = Markup("\n".join(line for item in sheet.items for line in self._item(item, name)))
        drawing = el(
            "svg",
            el("title", title(sheet), id=f"{name}-title"),
            Markup(f'<rect width="{size[0]}" height="{size[1]}" fill="#fff"/>'),
            body,
            viewBox=f"0 0 {size[0]} {size[1]}",
            role="graphics-document",
            aria_labelledby=f"{name}-title",
        )
        return el(
            "figure",
            drawing,
            cls=f"paper paper-{self.papers()[size]}",
            id=name,
            data_title=title(sheet),
            data_wide=size[0],
            data_high=size[1],
            data_series=f"{sheet.number}/{sheet.of}",
        )

    def _item(self, item: Item, name: str) -> Iterator[str]:
        if isinstance(item, Open):
            yield from self._open(item, name)
        elif isinstance(item, Close):
            yield "</g>"
        else:
            yield self._mark(item)

    def _open(self, group: Open, name: str) -> Iterator[str]:
        about = self.subjects.get(group.about)
        if about is None:
            yield "<g>"
            return
        yield f'<g id="{esc(f"{name}-{group.id}")}" data-n="{esc(about)}">'
        if group.title:
            yield str(el("title", group.title))

    def _mark(self, mark: Mark) -> str:
        if not isinstance(mark, Text):
            return drawn(mark, self.classes)
        x, y = number(mark.x), number(mark.y)
        extra = f' text-anchor="{mark.anchor}"' if mark.anchor != "start" else ""
        extra += f' fill="{mark.colour}"' if mark.colour != "#000000" else ""
        extra += f' transform="rotate(-90 {x} {y})"' if mark.rotate == 90 else ""
        cls = self.letters[mark.size, mark.bold]
        return f'<text class="{cls}" x="{x}" y="{y}"{extra}>{esc(mark.text)}</text>'
