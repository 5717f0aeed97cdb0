"""Up to which current one device surely opens before the other one begins to."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import inf, sqrt

from . import Band

STEPS = 24
"""Currents looked at between two corners of the bands."""


def selective_to(below: Band, above: Band) -> float:
    """The current, A, up to which ``below`` has opened, at the latest, before ``above`` may.

    Infinite where the bands never meet, and for two fuses of which the upper one needs more I2t to
    melt than the lower one lets through in all (IEC 60269-1; gG in the ratio of 1.6).  By the bands
    of the standards: what makers' tables promise beyond that is not counted.
    """
    if _graded(below, above):
        return inf
    at = list(_currents(below, above))
    for low, high in pairwise(at):
        if not _first(below, above, high):
            return _edge(below, above, low, high)
    return inf


def _graded(below: Band, above: Band) -> bool:
    """Whether of two fuses the upper one is graded to the lower one."""
    if below.instantaneous or above.instantaneous or not above.shortest:
        return False
    (amps, seconds), (under, latest) = above.shortest[-1], below.longest[-1]
    return amps * amps * seconds >= under * under * latest * (1 - 1e-9)


def _first(below: Band, above: Band, amps: float) -> bool:
    soonest = above.times(amps)[0]
    return soonest == inf or below.times(amps)[1] < soonest


def _currents(below: Band, above: Band) -> Iterator[float]:
    """The corners of both bands and currents between them, rising, a little past the last."""
    corners = {below.holds, above.holds, below.trips, above.trips}
    for band in (below, above):
        corners |= {amps for amps, _ in (*band.shortest, *band.longest)}
        corners |= set(band.instantaneous or ())
    order = sorted(corners)
    for a, b in pairwise([0.5 * order[0], *order, 2 * order[-1]]):
        for step in range(STEPS):
            yield a * (b / a) ** (step / STEPS)
    yield 2 * order[-1]


def _edge(below: Band, above: Band, low: float, high: float) -> float:
    """Where it ends between two currents, to a thousandth."""
    while high > low * 1.001:
        middle = sqrt(low * high)
        low, high = (middle, high) if _first(below, above, middle) else (low, middle)
    return low
