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
    theirs, mine = set(second), set(first)
    order = list(first)
    after = 0  # the place behind what the next one follows
    for key in second:
        if key in mine:
            after = order.index(key) + 1
            continue
        while after < len(order) and order[after] not in theirs:
            after += 1
        order.insert(after, key)
        after += 1
    return order
