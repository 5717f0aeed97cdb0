"""From the words on sheets to links: ``2/C4`` leads to that zone of sheet 2.

A sheet's own ``links`` (a list of documents, say) lead to whole sheets.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

from .binding import Leaf, Link
from .canvas import Sheet
from .frame import LETTERS, columns, rows
from .marks import Box, Text
from .metrics import width

REFERENCE = re.compile(r"(?<![\w/.])([1-9][0-9]{0,3})/([A-HJ-NP-Z])([1-9][0-9]?)(?![\w/])")
AROUND = 30.0
"""What is shown around a zone that a reference leads to, mm."""


def leaves(sheets: Sequence[Sheet]) -> list[Leaf]:
    """The pages of a bound set, in order."""
    pages = {sheet.number: page for page, sheet in enumerate(sheets)}
    return [_leaf(sheet, pages, sheets) for sheet in sheets]


def bookmark(sheet: Sheet) -> str:
    """The sheet's line in the PDF's outline."""
    name = " – ".join(part for part in (sheet.doc, sheet.title) if part)
    return f"{sheet.number}  {name}" if sheet.number else name


def _leaf(sheet: Sheet, pages: Mapping[int, int], sheets: Sequence[Sheet]) -> Leaf:
    found = [Link(box, pages[number]) for box, number in sheet.links if number in pages]
    for item in sheet.items:
        if isinstance(item, Text) and "/" in item.text:
            found += _references(item, pages, sheets)
    prefix = "" if sheet.framed else "L"
    return Leaf(bookmark(sheet), sheet.doc, sheet.number, sheet.height, tuple(found), prefix)


def _references(
    text: Text, pages: Mapping[int, int], sheets: Sequence[Sheet]
) -> Iterator[Link]:  # fmt: skip
    """A link for each reference in a text that names a sheet and a zone there are."""
    for found in REFERENCE.finditer(text.text):
        page = pages.get(int(found[1]))
        zone = None if page is None else _zone(sheets[page], found[2], int(found[3]))
        if page is not None and zone is not None:
            yield Link(_part(text, found.start(), found.end()), page, zone)


def _part(text: Text, start: int, end: int) -> Box:
    """The box of some of a text's characters."""
    before = width(text.text[:start], text.size, text.bold)
    after = width(text.text[:end], text.size, text.bold)
    box = text.box
    if text.rotate == 90:
        return Box(box.left, box.bottom - after, box.right, box.bottom - before)
    return Box(box.left + before, box.top, box.left + after, box.bottom)


def _zone(sheet: Sheet, letter: str, column: int) -> Box | None:
    """A zone of a sheet with what is around it; None where the sheet has no such zone."""
    if not sheet.framed:
        return None
    across, down = columns(sheet), rows(sheet)
    row = LETTERS.index(letter)
    if row + 1 >= len(down) or column >= len(across):
        return None
    return Box(
        max(across[column - 1] - AROUND, 0.0),
        max(down[row] - AROUND, 0.0),
        min(across[column] + AROUND, sheet.width),
        min(down[row + 1] + AROUND, sheet.height),
    )
