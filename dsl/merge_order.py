"""The order of statements that come from two versions of a text."""

from __future__ import annotations

from collections.abc import Sequence

from .blocks import Key


def woven(was: Sequence[Key], ours: Sequence[Key], theirs: Sequence[Key]) -> list[Key]:
    """All keys of both sides once: in the order of the side that changed it, ours if both did.

    What only the other side has comes behind what it follows there, after anything that the first
    side put in the same place.
    """
    if _kept(was, ours, theirs) and not _kept(was, theirs, ours):
        return _into(theirs, ours)
    return _into(ours, theirs)


def _kept(was: Sequence[Key], side: Sequence[Key], other: Sequence[Key]) -> bool:
    """Whether a side has what all three have in the order of old."""
    common = {*was} & {*side} & {*other}
    return [key for key in was if key in common] == [key for key in side if key in common]


def _into(first: Sequence[Key], second: Sequence[Key]) -> list[Key]:
    mine, theirs = set(first), set(second)
    behind: dict[Key | None, list[Key]] = {}  # what comes behind a key that both have
    last: Key | None = None
    for key in second:
        if key in mine:
            last = key
        else:
            behind.setdefault(last, []).append(key)
    order: list[Key] = []
    last = None
    for key in first:
        if key in theirs:
            order += behind.get(last, ())
            last = key
        order.append(key)
    return order + behind.get(last, [])
