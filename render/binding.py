"""What makes a file of pages a bound set: bookmarks by document, links, labels of the pages."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import Any

from ..dsl.records import record
from .marks import Box
from .pdf_canvas import POINTS, sound


@record
class Link:
    """A place on a page that leads to a page of the set, to all of it or to a part; boxes in mm."""

    box: Box
    page: int
    part: Box | None = None


@record
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


def bind(canvas: Any, leaves: Sequence[Leaf]) -> None:
    """Bookmarks and labels of all pages."""
    _outline(canvas, leaves)
    for page, leaf in enumerate(leaves):
        before = leaves[page - 1] if page else None
        # A range of labels begins wherever the numbers do not simply go on.
        if before is None or (leaf.label, leaf.prefix) != (before.label + 1, before.prefix):
            canvas.addPageLabel(page, "ARABIC", max(leaf.label, 1), leaf.prefix)


def join(canvas: Any, leaves: Sequence[Leaf], page: int) -> None:
    """The links of the page being drawn, and what leads to it."""
    height = leaves[page].height
    canvas.bookmarkPage(_key(page))
    canvas.bookmarkPage(_chapter(page))
    for link in leaves[page].links:
        goal = leaves[link.page]
        canvas.linkRect(sound(goal.title), _key(link.page, link.part), _corners(link.box, height))
    reached = (link.part for leaf in leaves for link in leaf.links if link.page == page)
    for part in dict.fromkeys(reached):
        if part is not None:
            sides = (side * POINTS for side in _corners(part, height))
            names = ("left", "bottom", "right", "top")
            canvas.bookmarkPage(_key(page, part), "FitR", **dict(zip(names, sides, strict=True)))


def _outline(canvas: Any, leaves: Sequence[Leaf]) -> None:
    """Bookmarks: a document of one sheet is one, one of several has its sheets below it, closed."""
    for chapter, run in groupby(enumerate(leaves), key=lambda pair: pair[1].chapter):
        marks = list(run)
        several = len(marks) > 1
        if several:
            canvas.addOutlineEntry(sound(chapter), _chapter(marks[0][0]), 0, closed=True)
        for page, leaf in marks:
            canvas.addOutlineEntry(sound(leaf.title), _key(page), int(several))


def _chapter(page: int) -> str:
    """The name of a page where a document begins."""
    return f"chapter {page}"


def _key(page: int, part: Box | None = None) -> str:
    """The name of a page, or of a part of it, as a goal."""
    return f"page {page}" if part is None else f"page {page} {part.left:.3f} {part.top:.3f}"


def _corners(box: Box, height: float) -> tuple[float, float, float, float]:
    """Left, bottom, right, top in mm, from the page's lower left corner."""
    return box.left, height - box.bottom, box.right, height - box.top
