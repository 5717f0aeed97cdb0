"""From trees to pieces: what stands above a head is joined to the tree below it.

A bar runs under all that feeds it and over all it feeds, in stretches where one sheet is too
narrow; a device fed from two sides gets its sources side by side, squarely led into its inputs.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from ..dsl.records import record
from .marks import Box
from .metrics import T18, wrap
from .single_line_graph import Run
from .single_line_look import Look
from .single_line_parts import (
    CONTINUED,
    GAP,
    LINK,
    REFERENCE,
    Bar,
    Dot,
    Label,
    Link,
    Open,
    Piece,
    Point,
    Tally,
    Wire,
    shift_right,
    text_size,
)
from .single_line_plan import Plan, plan
from .single_line_tree import (
    BAR_END,
    ON_BAR,
    TEXT_X,
    WIDE,
    Tree,
    joined,
    lay,
    run_height,
    tally_room,
)

DRAWN_INPUTS = 4  # more conductors than this into one device are listed in words
PORT_ORDER = {"selector": ("a", "b", "out"), "inverter": ("dc", "in", "out")}  # left to right
BETWEEN = 5.0  # between the columns of sources
KEPT = 4  # branches of a device that is no bar that stay with it where there are too many
ROUNDS = 20
FEW_MORE = 1.4  # times what a sheet is wide


@record
class Room:
    """The space of a sheet a piece must fit, mm."""

    width: float
    height: float


@dataclass(slots=True)
class _Above:
    """A source column and where its line comes down."""

    run: Run
    piece: Piece
    x: float
    y: float


def pieces(look: Look, room: Room) -> tuple[Plan, list[Piece]]:
    """All pieces of a rig's diagram; trees too large for the room are cut into several."""
    cut: frozenset[str] = frozenset()
    wide: frozenset[str] = frozenset()
    for _ in range(ROUNDS):
        drawn = plan(look.graph, cut, wide)
        _tell_unfed(drawn, look)
        build = _Build(drawn, look, room)
        found = [piece for root in drawn.roots for piece in build.pieces(root)]
        if build.too_large <= cut and build.too_wide <= wide:
            break
        if build.too_wide <= wide:  # narrower trees first: they may be lower too
            cut |= build.too_large
        wide |= build.too_wide
    return drawn, found


def _tell_unfed(drawn: Plan, look: Look) -> None:
    """Says beside the heads of trees that no source reaches that nothing feeds them."""
    look.notes.clear()
    for head in drawn.roots:
        if head not in drawn.graph.reached:
            look.notes[head] = ["fed by nothing"]


class _Build:
    def __init__(self, drawn: Plan, look: Look, room: Room) -> None:
        self.plan, self.look, self.room = drawn, look, room
        self.too_large: set[str] = set()
        self.too_wide: set[str] = set()
        self.pitch: dict[str, float] = {}

    def pieces(self, head: str) -> list[Piece]:
        if self.plan.graph.nodes[head].bar:
            return self._bar(head)
        return [self._device(head)]

    # ---- what stands above ------------------------------------------------------------------

    def _above(self, head: str) -> list[_Above]:
        """Source columns of a head: first what comes from elsewhere, then the trees it claims."""
        columns = [self._stub(run) for run in self._drawn(head)]
        for run in self.plan.claims.get(head, ()):
            tree = self.plan.head_of[run.a]
            piece = self.pieces(tree)[0]
            end = next(p for p in piece.parts if isinstance(p, Open) and p.run == run)
            piece.parts.remove(end)
            piece.rooms.remove(end.room)
            columns.append(_Above(run, piece, end.x, end.y))
        order = PORT_ORDER.get(self.look.device(head).kind)
        if order:
            columns.sort(key=lambda c: order.index(c.run.b_port))
        return columns

    def _drawn(self, head: str) -> tuple[Run, ...]:
        """The runs from elsewhere that are drawn; those too many for a device go into words."""
        runs = self.plan.foreign[head]
        if self.plan.graph.nodes[head].bar:
            return runs
        most = max(1, DRAWN_INPUTS - len(self.plan.claims.get(head, ())))
        if runs[most:]:
            also = [f"also {r.statements[0]} from {r.a}" for r in runs[most:]]
            self.look.notes[head] = also
        return runs[:most]

    def _stub(self, run: Run) -> _Above:
        """The lower end of a run that comes from another tree."""
        piece = Piece(run.b)
        lines = tuple(self.look.run_lines(run))
        high = text_size(lines, False)[1]
        top = REFERENCE
        bottom = top + run_height(self.look, run, lines)
        width = self.look.reference_width(f"from {run.a}")
        piece.add(Open(run, 0.0, top, True, width))
        piece.add(Wire(run, ((0.0, top), (0.0, bottom))))
        middle = (top + bottom) / 2
        piece.add(Tally(run, 0.0, middle), tally_room(self.look, run, 0.0, middle))
        piece.add(Label(run.key, TEXT_X, middle - high / 2, lines))
        return _Above(run, piece, 0.0, bottom)

    def _row(self, columns: Sequence[_Above]) -> tuple[Piece, list[tuple[_Above, float]]]:
        """Source columns beside each other, tops level; each with the x its line comes down."""
        row = Piece("")
        axes: list[tuple[_Above, float]] = []
        bottom = max((c.y for c in columns), default=0.0)
        for column in columns:
            tail = Box(column.x - 1, column.y, column.x + 1, bottom + 1)
            rooms = [*column.piece.rooms, tail]
            dx = shift_right(row.rooms, rooms, BETWEEN) if row.rooms else 0.0
            if not axes:
                dx = -column.x
            piece = column.piece.move(dx, 0)
            row.take(piece)
            x = column.x + dx
            row.rooms.append(tail.moved(dx, 0))
            axes.append((column, x))
        return row, axes

    # ---- bars ---------------------------------------------------------------------------------

    def _bar(self, head: str) -> list[Piece]:
        above = self._above(head)
        rows = list(self._rows(above)) or [(Piece(head), [])]
        groups = list(self._stretches(head))
        count = max(len(rows), len(groups))
        rows += [(Piece(head), [])] * (count - len(rows))
        groups += [()] * (count - len(groups))
        return [
            self._stretch(head, index, count, row, axes, group)
            for index, ((row, axes), group) in enumerate(zip(rows, groups, strict=True))
        ]

    def _rows(self, above: Sequence[_Above]) -> Iterator[tuple[Piece, list[tuple[_Above, float]]]]:
        """The source columns, in as many rows as the sheet's width asks for."""
        taken: list[_Above] = []
        for column in above:
            if taken and self._row([*taken, column])[0].box.width > self.room.width - 20:
                yield self._row(taken)
                taken = []
            taken.append(column)
        if taken:
            yield self._row(taken)

    def _stretches(self, head: str) -> Iterator[tuple[Run, ...]]:
        """A bar's feeders, in groups that fit the sheet's width side by side."""
        runs = self.plan.graph.outs[head]
        if not runs:
            return
        tree = lay(self.plan, self.look, head)
        self.pitch[head] = tree.pitch
        most = max(1, int((self.room.width - 2 * BAR_END - LINK) // tree.pitch))
        if tree.columns > most:
            self.too_wide |= self._nested(head)
        if most < tree.columns < most * FEW_MORE:  # two halves, rather than all and a few
            most = -(-tree.columns // 2)
        group: list[Run] = []
        used = 0
        for run in runs:
            mine = 1 if run in self.plan.open_outs[head] else self.plan.columns(run.b)
            if mine > most:
                self.too_wide |= self._cut_in(run.b)
            if group and used + mine > most:
                yield tuple(group)
                group, used = [], 0
            group.append(run)
            used += mine
        yield tuple(group)

    def _cut_in(self, key: str) -> set[str]:
        """Where to cut a tree that is too wide: at its first bar, else at its widest branch, else
        at every branch but the first few."""
        while not self.plan.graph.nodes[key].bar and self.plan.children[key]:
            runs = self.plan.children[key]
            if len(runs) > 1:
                widest = max((r.b for r in runs), key=self.plan.columns)
                return {widest} if self.plan.columns(widest) > 1 else {r.b for r in runs[KEPT:]}
            key = runs[0].b
        return {key}

    def _nested(self, bar: str) -> set[str]:
        """The bars next below a bar: cut off, they leave it whole with a feeder for each.

        All of them or, where none is wider than its feeder, none: boards alike are drawn alike.
        """
        found: set[str] = set()
        queue = [run.b for run in self.plan.children[bar]]
        while queue:
            key = queue.pop()
            if self.plan.graph.nodes[key].bar:
                found.add(key)
            else:
                queue += [run.b for run in self.plan.children[key]]
        return found if any(self.plan.columns(key) > 1 for key in found) else set()

    def _stretch(
        self, head: str, index: int, count: int, row: Piece,
        axes: list[tuple[_Above, float]], group: Sequence[Run],
    ) -> Piece:  # fmt: skip
        piece = Piece(head, index=index)
        piece.take(row)
        bottom = row.box.bottom if row.rooms else 0.0
        lines = self._title(head, index)
        width, high = text_size(lines, True)
        high += GAP if index else 0.0
        y = bottom + high + 2 * GAP if axes else high + 2 * GAP
        tree = lay(self.plan, self.look, head, group, y, self.pitch[head]) if group else None
        self._fits(tree, bottom)
        left = min((x for _, x in axes), default=0.0)
        right = max((x for _, x in axes), default=0.0)
        last = max(_roots(tree, group, self.plan)) if tree else 0.0
        start = self._title_x([x for _, x in axes], width)
        right = max(right, last, start + width - BAR_END)
        left = min(left, 0.0, start) - BAR_END
        bar = Bar(head, left, right + BAR_END, y, index, index + 1 < count)
        piece.add(bar, Box(bar.x, y - 0.8, bar.right, y + 0.8))
        top = y - high - GAP - 0.7
        if index:
            piece.add(Label(head, start, top, lines[:1], True))
            piece.add(Link(head, index, start, top + text_size(lines[:1], True)[1] + GAP, False))
        else:
            piece.add(Label(head, start, top, lines, True))
        if bar.more:
            piece.add(Link(head, index, bar.right, y, True))
        for column, x in axes:
            piece.add(Wire(column.run, ((x, column.y), (x, y))))
            piece.add(Dot(x, y, ON_BAR))
        if tree:
            spare = -tree.columns % self.look.growth * tree.pitch
            box = tree.piece.box
            piece.spare = (Box(box.right, y, box.right + spare, box.bottom),) if spare else ()
            piece.take(tree.piece)
            for x in _roots(tree, group, self.plan):
                piece.add(Dot(x, y, ON_BAR))
        return piece

    def _title(self, head: str, index: int) -> tuple[str, ...]:
        name, *rest = self.look.node_lines(head)
        if index:
            return (name, CONTINUED)
        told = joined(rest, WIDE, " · ")
        return (name, *(part for line in told for part in wrap(line, T18, WIDE)))

    def _title_x(self, axes: Sequence[float], width: float) -> float:
        """Left of the first line that comes down if there is room, else between two, else right."""
        if not axes:
            return -BAR_END
        for a, b in pairwise(axes):
            if b - a >= width + 2 * GAP + 1:
                return a + GAP + 0.7
        return max(axes) + GAP + 0.7

    def _fits(self, tree: Tree | None, above: float) -> None:
        """Marks the nodes to cut a tree at that is too high for a sheet."""
        if tree is None:
            return
        head = tree.piece.name
        if tree.columns * tree.pitch > self.room.width and not self.plan.graph.nodes[head].bar:
            for key in self._cut_in(head):
                self.too_wide |= self._nested(key) or {key}
            return
        for key, bottom in tree.bottoms.items():
            if bottom > self.room.height and self.plan.head_of.get(key) == head:
                self.too_large.add(self._cut_above(tree, key) or head)

    def _cut_above(self, tree: Tree, key: str) -> str:
        """Where to cut a branch that reaches too far down: at its first bar, or where it must."""
        path = [key]
        while path[-1] != tree.piece.name:
            path.append(self.plan.graph.ins[path[-1]][0].a)
        path.reverse()
        bars = [k for k in path[2:] if self.plan.graph.nodes[k].bar]
        low = [k for k in path[2:] if tree.bottoms[k] > self.room.height - REFERENCE - 8]
        return (bars or low or [""])[0]

    # ---- devices fed from several sides --------------------------------------------------------

    def _device(self, head: str) -> Piece:
        above = self._above(head)
        if not above:
            tree = lay(self.plan, self.look, head)
            self._fits(tree, 0.0)
            return tree.piece
        row, axes = self._row(above)
        bottom = row.box.bottom
        y = bottom + 5.0 if len(axes) > 1 else bottom
        tree = lay(self.plan, self.look, head, None, y)
        self._fits(tree, bottom)
        entries = self._entries(head, len(axes), [c.run for c, _ in axes])
        own = 0 if self.look.device(head).kind == "selector" else len(axes) - 1
        x0 = axes[own][1] - entries[own][0]
        row.name = head
        for (column, x), (ex, ey) in zip(axes, entries, strict=True):
            row.add(Wire(column.run, _lead((x, column.y), (x0 + ex, y + ey), (bottom + y) / 2)))
        if len(axes) > 1 and entries[0] == entries[-1]:
            row.add(Dot(x0, (bottom + y) / 2))
        row.take(tree.piece.move(x0, 0))
        return row

    def _entries(self, head: str, count: int, runs: Sequence[Run]) -> list[Point]:
        """Where on the symbol each source column enters, left to right."""
        anchors = self.look.stencil(head).anchors
        if "a" in anchors:
            return [anchors.get(run.b_port, anchors["top"]) for run in runs]
        side = anchors.get("left", anchors["top"])
        return [side] * (count - 1) + [anchors["top"]]


def _lead(start: Point, end: Point, channel: float) -> tuple[Point, ...]:
    """A square line down from a column to an input: straight, into a side, or over a channel."""
    if abs(start[0] - end[0]) < 0.01:
        return (start, end)
    if end[1] > channel + 4:
        return (start, (start[0], end[1]), end)
    return (start, (start[0], channel), (end[0], channel), end)


def _roots(tree: Tree, group: Sequence[Run], plan: Plan) -> Iterator[float]:
    """The x of each feeder of a bar, in order."""
    column = 0
    for run in group:
        yield column * tree.pitch
        column += 1 if run in plan.open_outs[run.a] else plan.columns(run.b)

