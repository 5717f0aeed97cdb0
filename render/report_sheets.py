"""Sheets within a page, each group with an id that no other sheet has.

What is drawn of a device or a conductor says so in ``data-n``, the name as the text has it.  Links
between sheets are left out: the page goes from name to sheet by itself.
"""

from __future__ import annotations

from collections.abc import Container, Iterator, Sequence
from itertools import chain, groupby

from ..dsl.model import Rig
from .canvas import Sheet
from .marks import Close, Item, Open, Text
from .markup import Markup, el, esc
from .report_marks import Inks
from .svg import number
from .wiring import conductor_id

PLAIN = {"row", "label"}
"""Groups whose title only repeats what stands in them."""


def named(text: str, names: Container[str]) -> str:
    """The name that a text begins with: ``Q1``, ``Q1.2`` and ``Q1 Reading lamps`` are Q1."""
    parts = (text, text.split(" ")[0], text.split(".")[0])
    return next((part for part in parts if part in names), "")


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
        self.names = frozenset(self.subjects.values())
        self.inks = Inks(list(chain.from_iterable(sheet.items for sheet in sheets)))
        sizes = dict.fromkeys(map(_size, sheets))
        self.papers = {size: f"paper-{index}" for index, size in enumerate(sizes)}

    def style(self) -> Markup:
        """What the sheets need of CSS: letters, lines, and the papers they are printed on."""
        papers = (
            f"@page {name}{{size:{w}mm {h}mm;margin:0}}.{name}{{page:{name}}}"
            for (w, h), name in self.papers.items()
        )
        return Markup("\n".join(chain(self.inks.rules(), papers)))

    def figure(self, index: int) -> Markup:
        """One sheet as a figure of the page."""
        sheet, name = self.sheets[index], key(index)
        wide, high = _size(sheet)
        drawing = el(
            "svg",
            el("title", title(sheet), id=f"{name}-title"),
            Markup(f'<path class=ground fill="#fff" d="M0 0h{wide}v{high}H0Z"/>'),
            Markup("".join(self._items(sheet, name))),
            viewBox=f"0 0 {wide} {high}",
            role="graphics-document",
            aria_labelledby=f"{name}-title",
        )
        return el(
            "figure",
            drawing,
            cls=f"paper {self.papers[wide, high]}",
            id=name,
            data_title=title(sheet),
            data_doc=sheet.doc,
            data_wide=wide,
            data_high=high,
            data_series=f"{sheet.number}/{sheet.of}",
        )

    def _items(self, sheet: Sheet, name: str) -> Iterator[str]:
        """Everything drawn; a paragraph outside any group is about the name it begins with."""
        depth = 0
        for block, run in groupby(_in_runs(sheet.items), lambda pair: pair[0]):
            items = [item for _, item in run]
            first = items[0]
            if isinstance(first, Open | Close):
                depth += 1 if isinstance(first, Open) else -1
                yield "</g>" if isinstance(first, Close) else self._open(first, name)
                continue
            about = "" if depth or not isinstance(first, Text) else named(first.text, self.names)
            drawn = "".join(self.inks.marks(i for i in items if not isinstance(i, Open | Close)))
            yield f'<g data-n="{esc(about)}">{drawn}</g>' if about and block else drawn

    def _open(self, group: Open, name: str) -> str:
        about = self.subjects.get(group.about)
        if about is None:
            return "<g>"
        said = "" if group.cls in PLAIN or not group.title else el("title", group.title)
        return f'<g id="{esc(f"{name}-{group.id}")}" data-n="{esc(about)}">{said}'


def _size(sheet: Sheet) -> tuple[str, str]:
    return number(sheet.width), number(sheet.height)


def _in_runs(items: Sequence[Item]) -> Iterator[tuple[int, Item]]:
    """Items with the number of their paragraph, 0 for none; groups begin and end by themselves."""
    for index, item in enumerate(items):
        if isinstance(item, Open | Close):
            yield -1 - index, item
        else:
            yield item.block if isinstance(item, Text) else 0, item
