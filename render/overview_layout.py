"""The layout of one overview sheet: outlines, terminals and square conductors in mm.

Columns of devices with channels between them; a terminal's conductor leaves its outline square,
turns in a channel, and passes other columns between their devices.  Coordinates count from the
layout's own upper left corner.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import pairwise

from ..dsl.records import record
from .marks import Box, Point
from .metrics import T18, width
from .overview_graph import Graph, Landed, Pin
from .overview_levels import heights, levels, needed
from .overview_look import PITCH, Look, widest
from .overview_order import Order, detoured, first_order, links, own_order
from .overview_plan import LEFT, RIGHT, Item, Plan, Through, passed_on, plan
from .overview_rows import Rows, rows_of
from .overview_tracks import Run, orderable, ring, tracks

TRACK = 2.2
"""Distance of upright lines in a channel, mm."""
STUB = 3.2
"""Free line at a terminal besides the conductor's name, mm."""
EDGE = 1.6
"""From the room of the names to the first upright line, mm."""
ALONE = 5.0
"""As STUB, where the line ends on a terminal at the other end of the name, mm."""
SHIFT = 0.5

@record
class Draft:
    """What is settled of a layout before its heights: columns, rows of things, order, widths."""

    planned: Plan
    looks: Mapping[str, Look]
    rows: Rows
    order: Order
    wide: list[float]


@record
class Layout:
    """Where everything of a graph lies.

    ``once``: wires so short and straight that their name stands on them once.  ``columns``: left
    and right edges of the columns of devices.
    """

    graph: Graph
    looks: Mapping[str, Look]
    side: Mapping[Landed, int]
    once: frozenset[str]
    columns: tuple[tuple[float, float], ...]
    outlines: Mapping[str, Box]
    spots: Mapping[Landed, Point]
    paths: Mapping[str, tuple[Point, ...]]
    width: float
    height: float
    draft: Draft


@record
class _Grid:
    """Left edges and widths of columns, and of channels with their room for names."""

    columns: tuple[tuple[float, float], ...]
    tracks: tuple[float, ...]
    width: float


def layout(
    graph: Graph, looks: Mapping[str, Look], most: int, broad: float, *, folded: bool = False
) -> Layout | None:
    """The layout within ``most`` rows and ``broad`` mm; None where there is none.

    Of the ways to plan the columns the one with the fewest crossings and bends is taken.
    ``folded``: what belongs in one column may stand in several, so that wires pass from column to
    column.
    """
    found = _planned(graph, looks, most, broad, stacked=False, folded=folded)
    # Stacked, every wire that passes a circuit on bends twice.
    if found and tangle(found) <= 2 * len(passed_on(graph)):
        return found
    other = _planned(graph, looks, most, broad, stacked=True, folded=folded)
    return min(filter(None, (found, other)), key=tangle, default=None)


def tangle(lay: Layout) -> int:
    """What makes a layout hard to read: crossings and bends."""
    return len(list(crossed(lay.paths))) + sum(len(path) - 2 for path in lay.paths.values())


def _planned(
    graph: Graph, looks: Mapping[str, Look], most: int, broad: float, *, stacked: bool, folded: bool
) -> Layout | None:
    if stacked and not passed_on(graph):
        return None
    room = {name: looks[name].rows(_rows_at_most(graph, name)) for name in graph.nodes}
    planned = plan(graph, room, most, stacked=stacked)
    if planned.folded and not folded:
        return None
    wide = [
        widest(looks, [n for n in graph.nodes if planned.column[n] == k])
        for k in range(planned.count)
    ]
    if sum(wide) + _least_names(planned) > broad:
        return None
    heads = {name: looks[name].head(wide[planned.column[name]]) for name in graph.nodes}
    rows = rows_of(planned, heads, {name: looks[name].body for name in graph.nodes})
    if needed(first_order(planned), rows) > most:
        return None
    stretches = links(planned, rows)
    order = own_order(planned, stretches)
    if needed(order, rows) > most:
        return None
    found = _levelled(Draft(planned, looks, rows, order, wide), most)
    if found.width > broad:
        return None
    other = detoured(planned, order, stretches)
    if other is order or needed(other, rows) > most:
        return found
    tried = _levelled(Draft(planned, looks, rows, other, wide), most)
    return tried if tried.width <= broad and tangle(tried) < tangle(found) else found


def lowered(lay: Layout) -> Layout:
    """A layout of one strip as low as its fullest column, whatever bends it takes."""
    return _levelled(lay.draft, needed(lay.draft.order, lay.draft.rows))


def _levelled(draft: Draft, most: int) -> Layout:
    """The layout of a draft within so many rows."""
    planned = draft.planned
    top = levels(planned, draft.order, draft.rows, most)
    rows = _untwisted(planned, draft.rows, top)
    _untied(planned, rows, draft.order, top, most)
    return _drawn(draft, rows, top)


def _untied(
    planned: Plan, rows: Rows, order: Order, top: dict[Item, int], most: int
) -> None:
    """Moves a thing by a row where that takes a ring of constraints out of a channel."""
    runs = _runs(planned, rows, top)
    for channel in range(1, planned.count):
        for item, column in _tied(planned, runs, channel):
            low, high = _slack(order[column], rows, top, item, most)
            for step in (1, -1):
                if not low <= top[item] + step <= high:
                    continue
                top[item] += step
                tried = _runs(planned, rows, top)
                near = (column, column + 1)
                if sum(map(bool, (ring(tried[k]) for k in near))) < sum(
                    map(bool, (ring(runs[k]) for k in near))
                ):
                    runs = tried
                    break
                top[item] -= step
            if not ring(runs[channel]):
                break


def _tied(planned: Plan, runs: list[list[Run]], channel: int) -> list[tuple[Item, int]]:
    """What the wires of a ring in a channel end on or pass, with its column."""
    found: dict[tuple[Item, int], None] = {}
    for wire in sorted(ring(runs[channel])):
        for at in planned.chains[wire]:
            column = at.column if isinstance(at, Through) else planned.column[at.node]
            if column in (channel - 1, channel):
                found[at if isinstance(at, Through) else at.node, column] = None
    return list(found)


def _slack(
    column: Sequence[Item], rows: Rows, top: Mapping[Item, int], item: Item, most: int
) -> tuple[int, int]:
    """The least and the greatest top row that a thing may have between its neighbours."""
    at, tall = column.index(item), heights(column, rows)
    low = top[column[at - 1]] + tall[at - 1] if at else 0
    below = top[column[at + 1]] if at + 1 < len(column) else most
    return low, below - tall[at]


def rows_needed(graph: Graph, looks: Mapping[str, Look], most: int) -> int:
    """Rows of the fullest column of a graph, about."""
    room = {name: looks[name].rows(_rows_at_most(graph, name)) for name in graph.nodes}
    planned = plan(graph, room, most, stacked=False)
    used = [0] * planned.count
    for name, column in planned.column.items():
        used[column] += room[name]
    return max(used, default=0)


def _untwisted(planned: Plan, rows: Rows, top: Mapping[Item, int]) -> Rows:
    """The wires on one terminal in the order in which they come to it, the highest first."""
    row = dict(rows.row)

    def coming(pin: Pin, wire: str, end: str) -> float:
        chain = planned.chains[wire]
        at = chain[1] if end == "a" else chain[-2]
        if isinstance(at, Through):
            return top[at]
        return top[at.node] + rows.row[at, wire, "b" if end == "a" else "a"]

    for pin, ends in planned.graph.at.items():
        for face in (LEFT, RIGHT):
            own = [each for each in ends if planned.side[pin, *each] == face]
            slots = sorted(rows.row[pin, *each] for each in own)
            ordered = sorted(own, key=lambda each: coming(pin, *each))
            row.update({(pin, *each): slot for each, slot in zip(ordered, slots, strict=True)})
    return Rows(rows.blocks, row)


def _rows_at_most(graph: Graph, name: str) -> int:
    """Rows a node takes: a reference has one side, a device shares its terminals out on both."""
    node = graph.nodes[name]
    pins = [Pin(name, terminal) for terminal in node.terminals]
    count = sum(max(1, len(graph.at.get(pin, ()))) for pin in pins)
    return count if node.away else (count + 1) // 2


def _drawn(draft: Draft, rows: Rows, top: Mapping[Item, int]) -> Layout:
    planned, looks, wide = draft.planned, draft.looks, draft.wide
    runs = _runs(planned, rows, top)
    shift = _shifts(planned, runs)
    turned = [
        [run.shifted(shift[k], shift[k + 1]) for run in channel] for k, channel in enumerate(runs)
    ]
    taken = [tracks(channel) for channel in turned]
    once = frozenset(
        run.wire for channel in turned for run in channel
        if run.straight and len(planned.chains[run.wire]) == 2
    )  # fmt: skip
    grid = _grid(planned, wide, taken, once)
    highest = min(top.values(), default=0)

    def y(row: float, column: int) -> float:
        return (row - highest + shift[column + 1] + 0.5) * PITCH

    outlines, spots = {}, {}
    for name, block in rows.blocks.items():
        column = planned.column[name]
        left, broad = grid.columns[column]
        first = top[name] + block.head
        rise = looks[name].rise
        upper, lower = y(first, column) - rise, y(first + block.body - 1, column) + rise
        outlines[name] = Box(left, upper, left + broad, lower)
    for landing, row in rows.row.items():
        pin = landing[0]
        box, column = outlines[pin.node], planned.column[pin.node]
        x = box.left if planned.side[landing] == LEFT else box.right
        spots[landing] = (x, y(top[pin.node] + row, column))
    paths = {wire: _path(planned, wire, spots, grid, taken, top, y) for wire in planned.chains}
    lowest = max((box.bottom for box in outlines.values()), default=0.0)
    deepest = max((point[1] for path in paths.values() for point in path), default=0.0)
    columns = tuple((left, left + broad) for left, broad in grid.columns)
    return Layout(
        planned.graph, looks, planned.side, once, columns, outlines, spots, paths, grid.width,
        max(lowest, deepest), draft,
    )  # fmt: skip


def _runs(planned: Plan, rows: Rows, top: Mapping[Item, int]) -> list[list[Run]]:
    """For each channel its runs, heights in rows."""
    found: list[list[Run]] = [[] for _ in range(planned.count + 1)]
    for wire, chain in planned.chains.items():
        first, last = planned.ends[wire]
        start, stop = planned.channel(first), planned.channel(last)
        step = 1 if stop >= start else -1
        heights = [
            (at.column, top[at])
            if isinstance(at, Through)
            else (planned.column[at.node], top[at.node] + rows.row[at, wire, "b" if i else "a"])
            for i, at in enumerate(chain)
        ]
        for index, (one, two) in enumerate(pairwise(heights)):
            channel = start + index * step
            left = tuple(float(y) for column, y in (one, two) if column == channel - 1)
            right = tuple(float(y) for column, y in (one, two) if column == channel)
            found[channel].append(Run(wire, left, right))
    return found


def _shifts(planned: Plan, runs: list[list[Run]]) -> list[float]:
    """By column (from -1) the shift in rows: as the column before, or half a row against it."""
    shift = [0.0]
    for channel in runs[:-1]:
        level = [run.shifted(shift[-1], shift[-1]) for run in channel]
        shift.append(shift[-1] if orderable(level) else SHIFT - shift[-1])
    return [*shift, 0.0]


def _least_names(planned: Plan) -> float:
    """The room in mm that names need at the least, across all channels, whatever runs straight."""
    words = planned.graph.words
    need = [[0.0, 0.0] for _ in range(planned.count + 1)]
    for landing, side in planned.side.items():
        if landing[1] and (side == RIGHT or len(planned.chains[landing[1]]) > 2):
            own = need[planned.channel(landing)]
            own[side == LEFT] = max(own[side == LEFT], width(words[landing[1]], T18) + STUB)
    return sum(map(sum, need))


def _names(planned: Plan, once: frozenset[str]) -> list[list[float]]:
    """For each channel the room in mm that the names on its left and right side need."""
    names = [[0.0, 0.0] for _ in range(planned.count + 1)]
    words = planned.graph.words
    for landing, side in planned.side.items():
        wire = landing[1]
        if wire:
            channel, face = planned.channel(landing), int(side == LEFT)
            long = width(words[wire], T18)
            need = long + ALONE if wire in once else long + STUB
            if not (wire in once and face):
                names[channel][face] = max(names[channel][face], need)
    return names


def _grid(
    planned: Plan, wide: list[float], taken: list[Mapping[str, int]], once: frozenset[str]
) -> _Grid:
    """Columns and channels side by side; a channel has room for the names at both its sides."""
    names = _names(planned, once)
    x, columns, starts = 0.0, [], []
    for channel, (before, after) in enumerate(names):
        count = max(taken[channel].values(), default=-1) + 1
        starts.append(x + before + EDGE)
        x += before + after + (max(count - 1, 0) * TRACK + 2 * EDGE if count else 0.0)
        if channel < planned.count:
            columns.append((x, wide[channel]))
            x += wide[channel]
    return _Grid(tuple(columns), tuple(starts), x)


def _path(
    planned: Plan,
    wire: str,
    spots: Mapping[Landed, Point],
    grid: _Grid,
    taken: list[Mapping[str, int]],
    top: Mapping[Item, int],
    y: Callable[[float, int], float],
) -> tuple[Point, ...]:
    """The corners of a wire from its end a to its end b."""
    chain = planned.chains[wire]
    first, last = planned.ends[wire]
    channel, stop = planned.channel(first), planned.channel(last)
    step = 1 if stop >= channel else -1
    points = [spots[first]]
    for at in chain[1:]:
        height = y(top[at], at.column) if isinstance(at, Through) else spots[last][1]
        if wire in taken[channel]:
            x = grid.tracks[channel] + taken[channel][wire] * TRACK
            points += [(x, points[-1][1]), (x, height)]
        channel += step
    return (*points, spots[last])


def crossed(paths: Mapping[str, tuple[Point, ...]]) -> Iterator[tuple[str, Point]]:
    """Points where a level stretch of one conductor crosses an upright one of another."""
    level, upright = [], []
    for name, path in paths.items():
        for (x0, y0), (x1, y1) in pairwise(path):
            if y0 == y1:
                level.append((name, min(x0, x1), max(x0, x1), y0))
            else:
                upright.append((x0, min(y0, y1), max(y0, y1), name))
    upright.sort()
    across = [piece[0] for piece in upright]
    for name, left, right, y in level:
        for x, top, bottom, other in upright[bisect_right(across, left):bisect_left(across, right)]:
            if name != other and top < y < bottom:
                yield name, (x, y)
