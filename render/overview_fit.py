"""Diagrams in the room of a sheet: what nothing joins side by side, and what is free shared out.

A graph falls into groups that no conductor joins.  They stand below each other in strips, strips
side by side, in the order of the text: the devices of a strip share their columns.  What a sheet
has to spare then goes between the rows and into the channels.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from .marks import Box, Point
from .overview_graph import Graph, joined_nodes, part_of
from .overview_layout import Layout, layout, rows_needed
from .overview_look import Look

APART = 9.0
"""Between two strips, mm."""
MOST_STRIPS = 8
TALLER, STEP = 1.4, 0.05
"""Rows are at most so much further apart than the least distance, in such steps."""
WIDER = 14.0
"""The most that a channel is widened, mm."""


def arranged(
    graph: Graph,
    looks: Mapping[str, Look],
    most: int,
    broad: float,
    *,
    tight: bool = False,
) -> Iterator[Layout]:
    """The layouts within ``most`` rows and ``broad`` mm, those with fewer strips first.

    ``tight``: as low as they can be.
    """
    parts = [part_of(graph, names) for names in joined_nodes(graph)]
    rows = [rows_needed(part, looks, most) for part in parts]
    for count in range(1, min(len(parts), MOST_STRIPS) + 1):
        cuts = _cuts(rows, count)
        if len(cuts) != count or max(sum(rows[a:b]) for a, b in cuts) > 2 * most:
            continue
        strips = []
        for a, b in cuts:
            names = [name for part in parts[a:b] for name in part.nodes]
            strip = layout(part_of(graph, names), looks, most, broad, tight=tight)
            if strip is None:
                break
            strips.append(strip)
        else:
            whole = _beside(graph, strips)
            if whole.width > broad:
                return
            yield whole


def _cuts(rows: Sequence[int], count: int) -> list[tuple[int, int]]:
    """So many stretches of the numbers, or fewer, whose largest sum is the least."""
    low, high = max(rows), sum(rows)
    while low < high:
        middle = (low + high) // 2
        if len(_filled(rows, middle)) <= count:
            high = middle
        else:
            low = middle + 1
    return _filled(rows, low)


def _filled(rows: Sequence[int], most: int) -> list[tuple[int, int]]:
    """Stretches filled one after the other up to a sum."""
    starts, total = [0], 0
    for index, own in enumerate(rows):
        if total + own > most and index > starts[-1]:
            starts.append(index)
            total = 0
        total += own
    return list(pairwise([*starts, len(rows)]))


def _beside(graph: Graph, strips: Sequence[Layout]) -> Layout:
    """Strips as one layout, their tops level."""
    if len(strips) == 1:
        return strips[0]
    moved, left = [], 0.0
    for strip in strips:
        moved.append(_shifted(strip, left))
        left += strip.width + APART
    return Layout(
        graph,
        {name: look for strip in moved for name, look in strip.looks.items()},
        {at: side for strip in moved for at, side in strip.side.items()},
        frozenset(name for strip in moved for name in strip.once),
        tuple(column for strip in moved for column in strip.columns),
        {name: box for strip in moved for name, box in strip.outlines.items()},
        {at: spot for strip in moved for at, spot in strip.spots.items()},
        {name: path for strip in moved for name, path in strip.paths.items()},
        left - APART,
        max(strip.height for strip in moved),
    )


def _shifted(lay: Layout, by: float) -> Layout:
    return replace(
        lay,
        columns=tuple((left + by, right + by) for left, right in lay.columns),
        outlines={name: box.moved(by, 0) for name, box in lay.outlines.items()},
        spots={at: (x + by, y) for at, (x, y) in lay.spots.items()},
        paths={name: tuple((x + by, y) for x, y in path) for name, path in lay.paths.items()},
    )


def spread(lay: Layout, width: float, height: float) -> Layout:
    """The layout with its rows and columns further apart, as far as a room of this size lets it."""
    steps = max(0, int((height / lay.height - 1) / STEP)) if lay.height else 0
    taller = min(1 + steps * STEP, TALLER)
    gaps = len(lay.columns) - 1
    wider = float(min(max(0, int((width - lay.width) / gaps)), WIDER)) if gaps > 0 else 0.0

    def at(point: Point) -> Point:
        return point[0] + _pushed(lay.columns, point[0], wider), point[1] * taller

    def outline(name: str, box: Box) -> Box:
        rise = lay.looks[name].rise
        (left, top), (right, bottom) = (
            at((box.left, box.top + rise)), at((box.right, box.bottom - rise))
        )  # fmt: skip
        return Box(left, top - rise, right, bottom + rise)

    return replace(
        lay,
        columns=tuple((a + k * wider, b + k * wider) for k, (a, b) in enumerate(lay.columns)),
        outlines={name: outline(name, box) for name, box in lay.outlines.items()},
        spots={where: at(spot) for where, spot in lay.spots.items()},
        paths={name: tuple(map(at, path)) for name, path in lay.paths.items()},
        width=lay.width + max(gaps, 0) * wider,
        height=lay.height * taller,
    )


def _pushed(columns: Sequence[tuple[float, float]], x: float, by: float) -> float:
    """How far right a point goes when every gap between columns is widened by so much."""
    passed = sum(right < x for _, right in columns)
    inside = passed < len(columns) and columns[passed][0] <= x
    if inside or passed in (0, len(columns)):
        return min(passed, len(columns) - 1) * by
    return (passed - 0.5) * by
