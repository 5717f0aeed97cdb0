"""What makes a file of pages a bound set: bookmarks by document, links, labels of the pages."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from .marks import Box
from .pdf_file import Objects, text

POINTS = 72 / 25.4
"""PDF points in a millimetre."""


@dataclass(frozen=True, slots=True)
class Link:
    """A place on a page that leads to a page of the set, to all of it or to a part; boxes in mm."""

    box: Box
    page: int
    part: Box | None = None


@dataclass(frozen=True, slots=True)
class Leaf:
    """One page: its bookmark, the document it belongs to, its label, its height and its links.

    ``label`` is the number that a viewer shows for the page, ``prefix`` what stands before it.
    """

    title: str
    chapter: str
    label: int
    height: float
    links: tuple[Link, ...] = ()
    prefix: str = ""


def bound(objects: Objects, pages: Sequence[int], leaves: Sequence[Leaf]) -> bytes:
    """Bookmarks and labels of pages (their objects' numbers): what the catalogue says of them."""
    head = _outline(objects, pages, leaves)
    return b"/Outlines %d 0 R /PageLabels << /Nums [%b] >>" % (head, _labels(leaves))


def linked(objects: Objects, pages: Sequence[int], leaves: Sequence[Leaf]) -> list[list[int]]:
    """The links of each page, as objects."""
    return [
        [objects.add(_link(pages, leaves, leaf, link)) for link in leaf.links] for leaf in leaves
    ]


def _labels(leaves: Sequence[Leaf]) -> bytes:
    """A range of labels wherever the numbers do not simply go on (ISO 32000-1, 12.4.2)."""
    ranges = []
    for page, leaf in enumerate(leaves):
        before = leaves[page - 1] if page else None
        if before is None or (leaf.label, leaf.prefix) != (before.label + 1, before.prefix):
            prefix = b" /P %b" % text(leaf.prefix) if leaf.prefix else b""
            ranges.append(b"%d << /S /D%b /St %d >>" % (page, prefix, max(leaf.label, 1)))
    return b" ".join(ranges)


@dataclass(slots=True)
class _Mark:
    """A bookmark: its number, the page it leads to, and the marks below it."""

    title: str
    page: int
    below: list[_Mark]
    number: int = 0


def _outline(objects: Objects, pages: Sequence[int], leaves: Sequence[Leaf]) -> int:
    """Bookmarks: a document of one sheet is one, one of several has its sheets below it, closed."""
    top = []
    for chapter, run in groupby(enumerate(leaves), key=lambda pair: pair[1].chapter):
        marks = [_Mark(leaf.title, page, []) for page, leaf in run]
        top.append(_Mark(chapter, marks[0].page, marks) if len(marks) > 1 else marks[0])
    head = objects.reserve()
    _chain(objects, pages, head, top)
    first, last = top[0].number, top[-1].number
    count = (first, last, len(top))
    objects.give(head, b"<< /Type /Outlines /First %d 0 R /Last %d 0 R /Count %d >>" % count)
    return head


def _chain(objects: Objects, pages: Sequence[int], parent: int, marks: Sequence[_Mark]) -> None:
    """The objects of the marks of one level, and of what is below them."""
    first = objects.reserve(len(marks))
    for index, mark in enumerate(marks):
        mark.number = first + index
    for index, mark in enumerate(marks):
        body = b"/Title %b /Parent %d 0 R" % (text(mark.title), parent)
        body += b" /Dest [%d 0 R /Fit]" % pages[mark.page]
        body += b" /Prev %d 0 R" % (mark.number - 1) if index else b""
        body += b" /Next %d 0 R" % (mark.number + 1) if index + 1 < len(marks) else b""
        if mark.below:
            _chain(objects, pages, mark.number, mark.below)
            low, high = mark.below[0].number, mark.below[-1].number
            body += b" /First %d 0 R /Last %d 0 R /Count %d" % (low, high, -len(mark.below))
        objects.give(mark.number, b"<< %b >>" % body)


def _link(pages: Sequence[int], leaves: Sequence[Leaf], leaf: Leaf, link: Link) -> bytes:
    page = pages[link.page]
    goal = b"/Fit"
    if link.part is not None:
        goal = b"/FitR %b" % _corners(link.part, leaves[link.page].height)
    return b"<< /Type /Annot /Subtype /Link /Border [0 0 0] /Rect [%b] /Dest [%d 0 R %b] >>" % (
        _corners(link.box, leaf.height), page, goal,
    )  # fmt: skip


def _corners(box: Box, height: float) -> bytes:
    """Left, bottom, right, top in points, from the page's lower left corner."""
    sides = (box.left, height - box.bottom, box.right, height - box.top)
    return " ".join(f"{side * POINTS:.2f}" for side in sides).encode()
