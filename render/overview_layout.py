"""The layout of one overview sheet: outlines, terminals and square conductors in mm.

Columns of devices with channels between them; a terminal's conductor leaves its outline square,
turns in a channel, and passes other columns between their devices.  Coordinates count from the
layout's own upper left corner.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import pairwise

from .marks import Box, Point
from .metrics import T18, width
from .overview_graph import Graph, Pin
from .overview_levels import levels, needed
from .overview_look import PITCH, RISE, Look, widest
from .overview_order import Link, Order, crossings, first_order, links, own_order
from .overview_plan import LEFT, Item, Plan, Through, plan
from .overview_rows import Landed, Rows, rows_of
from .overview_tracks import Run, orderable, tracks

TRACK = 2.2
"""Distance of upright lines in a channel, mm."""
STUB = 3.2
"""Free line at a terminal besides the conductor's name, mm."""
EDGE = 1.6
"""From the room of the names to the first upright line, mm."""
SHIFT = 0.5

Orderer = Callable[[Plan, Rows, list[Link]], "Order | None"]


@dataclass(frozen=True)
class Layout:
    """Where everything of a graph lies."""

    graph: Graph
    looks: Mapping[str, Look]
    side: Mapping[Pin, int]
    outlines: Mapping[str, Box]
    spots: Mapping[Landed, Point]
    paths: Mapping[str, tuple[Point, ...]]
    width: float
    height: float


@dataclass(frozen=True)
class _Grid:
    """Left edges and widths of columns, and of channels with their room for names."""

    columns: tuple[tuple[float, float], ...]
    tracks: tuple[float, ...]
    width: float


def layout(
    graph: Graph,
    looks: Mapping[str, Look],
    most: int,
    broad: float,
    orderers: tuple[Orderer, ...] = (),
) -> Layout | None:
    """The layout within ``most`` rows and ``broad`` mm; None where there is none.

    ``orderers`` may offer better orders of the columns than our own; the one with the fewest
    crossings is taken, our own where they are level.
    """
    room = {name: max(look.body, _rows_at_most(graph, name)) for name, look in looks.items()}
    room = {name: rows + looks[name].head(looks[name].width) for name, rows in room.items()}
    planned = plan(graph, room, most)
    wide = [
        widest(looks, [n for n in graph.nodes if planned.column[n] == k])
        for k in range(planned.count)
    ]
    if sum(wide) + sum(map(sum, _names(planned))) > broad:
        return None
    heads = {name: looks[name].head(wide[planned.column[name]]) for name in graph.nodes}
    rows = rows_of(planned, heads, {name: looks[name].body for name in graph.nodes})
    if needed(first_order(planned), rows) > most:
        return None
    stretches = links(planned, rows)
    offers = [own_order(planned, stretches)]
    offers += filter(None, (orderer(planned, rows, stretches) for orderer in orderers))
    order = min(offers, key=lambda offer: crossings(offer, stretches))
    top = levels(planned, order, rows, most)
    rows = _untwisted(planned, rows, top)
    found = _drawn(planned, looks, rows, top, wide)
    return found if found.width <= broad else None


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
        slots = sorted(rows.row[pin, wire, end] for wire, end in ends)
        ordered = sorted(ends, key=lambda each: coming(pin, *each))
        row.update({(pin, *each): slot for each, slot in zip(ordered, slots, strict=True)})
    return Rows(rows.blocks, row)


def _rows_at_most(graph: Graph, name: str) -> int:
    """Rows a node takes with its terminals shared out on both sides."""
    pins = [Pin(name, terminal) for terminal in graph.nodes[name].terminals]
    return (sum(max(1, len(graph.at.get(pin, ()))) for pin in pins) + 1) // 2


def _drawn(
    planned: Plan,
    looks: Mapping[str, Look],
    rows: Rows,
    top: Mapping[Item, int],
    wide: list[float],
) -> Layout:
    runs = _runs(planned, rows, top)
    shift = _shifts(planned, runs)
    turned = [
        [run.shifted(shift[k], shift[k + 1]) for run in channel] for k, channel in enumerate(runs)
    ]
    taken = [tracks(channel) for channel in turned]
    grid = _grid(planned, wide, taken)
    highest = min(top.values(), default=0)

    def y(row: float, column: int) -> float:
        return (row - highest + shift[column + 1] + 0.5) * PITCH

    outlines, spots = {}, {}
    for name, block in rows.blocks.items():
        column = planned.column[name]
        left, broad = grid.columns[column]
        first = top[name] + block.head
        upper, lower = y(first, column) - RISE, y(first + block.body - 1, column) + RISE
        outlines[name] = Box(left, upper, left + broad, lower)
    for landing, row in rows.row.items():
        pin = landing[0]
        box, column = outlines[pin.node], planned.column[pin.node]
        x = box.left if planned.side[pin] == LEFT else box.right
        spots[landing] = (x, y(top[pin.node] + row, column))
    paths = {wire: _path(planned, wire, spots, grid, taken, top, y) for wire in planned.chains}
    lowest = max((box.bottom for box in outlines.values()), default=0.0)
    deepest = max((point[1] for path in paths.values() for point in path), default=0.0)
    return Layout(
        planned.graph, looks, planned.side, outlines, spots, paths, grid.width,
        max(lowest, deepest),
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


def _names(planned: Plan) -> list[list[float]]:
    """For each channel the room in mm that the names on its left and right side need."""
    names = [[0.0, 0.0] for _ in range(planned.count + 1)]
    for pin, ends in planned.graph.at.items():
        channel, face = planned.channel(pin), int(planned.side[pin] == LEFT)
        longest = max(width(wire, T18) for wire, _ in ends) + STUB
        names[channel][face] = max(names[channel][face], longest)
    return names


def _grid(planned: Plan, wide: list[float], taken: list[Mapping[str, int]]) -> _Grid:
    """Columns and channels side by side; a channel has room for the names at both its sides."""
    names = _names(planned)
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
    points = [spots[first, wire, "a"]]
    for at in chain[1:]:
        height = y(top[at], at.column) if isinstance(at, Through) else spots[last, wire, "b"][1]
        if wire in taken[channel]:
            x = grid.tracks[channel] + taken[channel][wire] * TRACK
            points += [(x, points[-1][1]), (x, height)]
        channel += step
    return (*points, spots[last, wire, "b"])
