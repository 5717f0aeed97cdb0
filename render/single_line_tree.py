"""One tree of the single-line diagram: power flows down, branches stand in equal columns.

What hangs on one bar stands in rows: first all protective devices at one height, then all that
they feed; a row is as high as its highest member.  Further down each column has its own heights.
The stem, down to the first branching, has the width to itself and writes each cable in one line;
below it the columns share one pitch, measured from their texts.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from ..dsl.kinds import kinds
from .marks import Box
from .metrics import T18, T25, width, wrap
from .single_line_graph import Run
from .single_line_look import Look
from .single_line_parts import (
    GAP,
    REFERENCE,
    Bar,
    Dot,
    Label,
    Open,
    Piece,
    Sign,
    Tally,
    Wire,
    text_size,
)
from .single_line_plan import Plan

MODULE = 2.5  # grid of IEC 61082
TEXT_X = 5.0  # from a column's axis to its texts
LEFT = 4.5  # from a column's axis to the left edge of its symbols
BYPASS = 7.0  # left of the axis: the line past a load to the next one
NARROW, WIDE = (15.0, 25.0), 48.0  # widths at which texts wrap
LEAD, BAR_LEAD = 1.35, 0.8  # above and below a run's texts; more just below a bar
BAR_END = 4.0
LEAST_PITCH = 25.0
BESIDE = 14.0  # of several columns: what a text over them leaves to the next symbol
ROWS = 2  # rows of what hangs on a bar that stand at one height
ON_BAR = 0.95  # radius of a joint on a bar
TAP = 1.5  # from the joint above a load that is wired through to the load


@dataclass(slots=True)
class _Cell:
    """Where a node or an open end stands: its column, what it hangs on, and its row.

    ``row`` names the cells it shares its height with; ``span`` is how many columns wide it may
    write; ``top`` is where its run begins, ``middle`` where its symbol does, ``bottom`` its end.
    """

    key: str
    column: int
    level: int
    run: Run | None
    parent: _Cell | None
    row: tuple[str, int, str]
    wide: bool
    open_end: bool = False
    span: int = 1
    lines: tuple[str, ...] = ()
    run_lines: tuple[str, ...] = ()
    top: float = 0.0
    middle: float = 0.0
    bottom: float = 0.0


@dataclass(slots=True)
class Tree:
    """A laid tree: its piece, the columns' pitch, and how far down each node reaches."""

    piece: Piece
    pitch: float
    columns: int
    bottoms: dict[str, float] = field(default_factory=dict)


def lay(
    plan: Plan, look: Look, head: str, branches: Sequence[Run] | None = None, top: float = 0.0,
    least: float = 0.0,
) -> Tree:  # fmt: skip
    """Lays the tree below a head with its first axis at x = 0.

    ``branches`` limits a bar to some of its runs (a stretch of it), with columns no closer than
    ``least`` so that all its stretches are alike; the head itself is not drawn
    where it is a bar: the caller draws it, for it may have to reach further.
    """
    return _Layout(plan, look, max(least, look.least, LEAST_PITCH)).tree(head, branches, top)


class _Layout:
    def __init__(self, plan: Plan, look: Look, least: float) -> None:
        self.plan, self.look, self.least = plan, look, least
        self.cells: list[_Cell] = []

    def tree(self, head: str, branches: Sequence[Run] | None, top: float) -> Tree:
        stem = not self.plan.graph.nodes[head].bar
        columns = self._place(head, 0, None, None, stem, branches)
        self._spans(columns)
        wrap_at = self._wrap_width()
        for cell in self.cells:
            narrow = wrap_at if cell.span == 1 else min(WIDE, cell.span * LEAST_PITCH - BESIDE)
            self._letter(cell, WIDE if cell.wide else narrow)
        tree = Tree(Piece(head), self._pitch(), columns)
        self._heights(head, top)
        for cell in self.cells:
            self._draw(tree, cell, head)
            node = cell.parent.key if cell.open_end and cell.parent else cell.key
            tree.bottoms[node] = max(tree.bottoms.get(node, 0.0), cell.bottom)
        return tree

    # ---- where everything stands ----------------------------------------------------------

    def _place(
        self, key: str, column: int, parent: _Cell | None, run: Run | None, wide: bool,
        branches: Sequence[Run] | None = None,
    ) -> int:  # fmt: skip
        cell = self._cell(key, column, parent, run, wide, False)
        self.cells.append(cell)
        runs = self.plan.drawn_outs(key) if branches is None else tuple(branches)
        ends = set(self.plan.open_outs[key])
        straight = wide and len(runs) == 1 and not self.plan.graph.nodes[key].bar
        used = 0
        for out in runs:
            if out in ends:
                self.cells.append(self._cell(out.b, column + used, cell, out, straight, True))
                used += 1
            else:
                used += self._place(out.b, column + used, cell, out, straight)
        return max(used, 1)

    def _cell(
        self, key: str, column: int, parent: _Cell | None, run: Run | None, wide: bool, end: bool
    ) -> _Cell:
        level = parent.level + 1 if parent else 0
        row = (key, level, "own")
        if parent is not None:
            bar, depth, _ = parent.row
            if self.plan.graph.nodes[parent.key].bar:
                bar, depth = parent.key, 0
            kind = "bar" if self.plan.graph.nodes[key].bar and not end else "device"
            shared = self._hangs_on_bar(parent) and depth + 1 <= ROWS
            row = (bar, depth + 1, kind) if shared else (key, depth + 1, f"own {level}")
        return _Cell(key, column, level, run, parent, row, wide, end)

    def _hangs_on_bar(self, parent: _Cell) -> bool:
        """Whether a cell's row is shared: its parent is a bar, or stands in a bar's own row."""
        return self.plan.graph.nodes[parent.key].bar or not parent.row[2].startswith("own")

    def _spans(self, columns: int) -> None:
        """How many columns each cell may write over: as far as its row has nobody beside it."""
        taken: dict[int, list[int]] = {}
        for cell in self.cells:
            taken.setdefault(cell.level, []).append(cell.column)
        for cell in self.cells:
            right = [c for c in taken[cell.level] if c > cell.column]
            below = self._columns(cell)
            cell.span = min([below, *(c - cell.column for c in right)])

    def _columns(self, cell: _Cell) -> int:
        return 1 if cell.open_end else self.plan.columns(cell.key)

    # ---- texts and measures ----------------------------------------------------------------

    def _letter(self, cell: _Cell, most: float) -> None:
        if cell.run is not None:
            words = self.look.run_lines(cell.run)
            cell.run_lines = tuple(joined(words, most))
        if cell.open_end:
            return
        if self.plan.graph.nodes[cell.key].bar:
            name, *rest = self.look.node_lines(cell.key)
            told = joined(rest, WIDE, " · ")
            cell.lines = (name, *(part for line in told for part in wrap(line, T18, WIDE)))
            return
        name, label, facts = self.look.node_words(cell.key)
        more = len(self.plan.graph.outs[cell.key]) - len(self.plan.drawn_outs(cell.key))
        facts += [f"and {more} more runs, by reference"] if more else []
        names = wrap(name, T25, max(most, 20), True)
        told = [part for line in joined(facts, most) for part in wrap(line, T18, most)]
        cell.lines = (*names, *wrap(label, T18, most), *told)

    def _wrap_width(self) -> float:
        """Wide enough for the longest word of the columns, within reason."""
        widest = NARROW[0]
        for cell in self.cells:
            if cell.wide or cell.span > 1 or self.plan.graph.nodes[cell.key].bar:
                continue
            texts = [] if cell.open_end else list(self.look.node_lines(cell.key)[1:])
            words = [word for text in texts for word in text.split()]
            words += self.look.run_lines(cell.run) if cell.run else []
            widest = max([widest, *(width(word, T18) for word in words)])
        return min(widest + 0.1, NARROW[1])

    def _pitch(self) -> float:
        """The columns' pitch: what texts and symbols beside each other ask for.

        In the rows of a bar devices stand beside devices and runs beside runs; further down
        anything may stand beside anything.
        """
        beside = [c for c in self.cells if not c.wide and c.span == 1]
        loose = [c for c in beside if c.row[2].startswith("own")]
        bypass = BYPASS if any(self._passed(c.key) for c in self.cells if not c.open_end) else LEFT
        left = max([bypass, *(-self._left(c) for c in self.cells)])
        runs = max([text_size(c.run_lines, False)[0] for c in beside], default=0.0)
        nodes = max([self._reach(c) for c in beside], default=0.0)
        either = [max(self._reach(c), text_size(c.run_lines, False)[0]) for c in loose]
        loosely = max(either, default=0.0)
        widest = max(runs + bypass, nodes + left, loosely + left) + TEXT_X + GAP
        return max(self.least, math.ceil(widest / MODULE) * MODULE)

    def _left(self, cell: _Cell) -> float:
        """How far a cell's symbol goes to the left of its axis, as a negative length in mm."""
        if cell.open_end or cell.wide or self.plan.graph.nodes[cell.key].bar:
            return 0.0
        return self.look.stencil(cell.key).box.left

    def _reach(self, cell: _Cell) -> float:
        """How far a cell's symbol and its words go to the right of where texts begin, mm."""
        if cell.open_end:
            return self.look.reference_width(f"to {cell.key}") - TEXT_X
        if self.plan.graph.nodes[cell.key].bar:
            return 0.0
        box = self.look.stencil(cell.key).box
        return text_size(cell.lines, True)[0] + max(0.0, box.right + GAP - TEXT_X)

    def _passed(self, key: str) -> bool:
        """Whether the line runs on past a symbol that ends it: a load or socket wired through."""
        node = self.plan.graph.nodes[key]
        ends = kinds()[node.kind].acts == "load" or node.kind in ("socket", "battery")
        return ends and bool(self.plan.graph.outs[key]) and not self.look.turned(key)

    def _heights(self, head: str, top: float) -> None:
        """Rows get the height of their highest run and device; the cells follow each other."""
        runs: dict[tuple[str, int, str], float] = {}
        nodes: dict[tuple[str, int, str], float] = {}
        for cell in self.cells:
            if cell.run is not None:
                high = run_height(self.look, cell.run, cell.run_lines) + self._bar_lead(cell)
                runs[_run_row(cell)] = max(runs.get(_run_row(cell), 0.0), high)
            nodes[cell.row] = max(nodes.get(cell.row, 0.0), self._node_height(cell, head))
        for cell in self.cells:
            cell.top = cell.parent.bottom if cell.parent else top
            cell.middle = cell.top + runs.get(_run_row(cell), 0.0)
            cell.bottom = cell.middle + nodes[cell.row]

    def _bar_lead(self, cell: _Cell) -> float:
        below = cell.parent is not None and self.plan.graph.nodes[cell.parent.key].bar
        return BAR_LEAD if below else 0.0

    def _node_height(self, cell: _Cell, head: str) -> float:
        if cell.open_end:
            return REFERENCE
        text = text_size(cell.lines, True)[1]
        if self.plan.graph.nodes[cell.key].bar:
            return 0.0 if cell.key == head else text + 2 * GAP + 0.7
        high = max(text + GAP, self.look.stencil(cell.key).height + 1.0)
        return high + (TAP if self._passed(cell.key) else 0.0)

    # ---- parts -----------------------------------------------------------------------------

    def _draw(self, tree: Tree, cell: _Cell, head: str) -> None:
        x = cell.column * tree.pitch
        if cell.run is not None:
            self._draw_run(tree.piece, cell, x, cell.top, cell.middle)
        if cell.open_end:
            self._draw_open(tree.piece, cell, x, cell.middle)
        elif self.plan.graph.nodes[cell.key].bar:
            if cell.key != head:
                self._draw_bar(tree, cell, x, cell.middle, cell.bottom - cell.middle)
        else:
            self._draw_node(tree, cell, x, cell.middle, cell.bottom)

    def _draw_run(self, piece: Piece, cell: _Cell, x: float, top: float, bottom: float) -> None:
        assert cell.run is not None
        piece.add(Wire(cell.run, ((x, top), (x, bottom))))
        middle = (top + self._bar_lead(cell) + bottom) / 2
        _, high = text_size(cell.run_lines, False)
        piece.add(Tally(cell.run, x, middle), tally_room(self.look, cell.run, x, middle))
        piece.add(Label(cell.run.key, x + TEXT_X, middle - high / 2, cell.run_lines))

    def _draw_open(self, piece: Piece, cell: _Cell, x: float, y: float) -> None:
        assert cell.run is not None
        width = self.look.reference_width(f"to {cell.run.b}")
        piece.add(Open(cell.run, x, y, False, width))

    def _draw_bar(self, tree: Tree, cell: _Cell, x: float, y: float, high: float) -> None:
        last = max([x, *(child.column * tree.pitch for child in self._below(cell))])
        bar_y = y + high
        if cell.run is not None:
            tree.piece.add(Wire(cell.run, ((x, y), (x, bar_y))))
        label = Label(cell.key, x + TEXT_X, y + GAP / 2, cell.lines, True)
        right = max(last + BAR_END, x + 12)
        tree.piece.add(label)
        bar = Bar(cell.key, x - BAR_END, right, bar_y)
        tree.piece.add(bar, Box(bar.x, bar.y - 0.8, bar.right, bar.y + 0.8))
        self._taps(tree, cell, bar_y)

    def _taps(self, tree: Tree, cell: _Cell, y: float) -> None:
        """Joints on a bar, and the lines from it down to the next level."""
        for child in self._below(cell):
            x = child.column * tree.pitch
            tree.piece.add(Dot(x, y, ON_BAR))
            if child.run is not None and child.top > y:
                tree.piece.add(Wire(child.run, ((x, y), (x, child.top))))

    def _below(self, cell: _Cell) -> list[_Cell]:
        return [c for c in self.cells if c.parent is cell]

    def _draw_node(self, tree: Tree, cell: _Cell, x: float, y: float, bottom: float) -> None:
        piece, stencil = tree.piece, self.look.stencil(cell.key)
        passed, tap = self._passed(cell.key), y
        y += TAP if passed else 0.0
        piece.add(Sign(cell.key, x, y, self.look.turned(cell.key)), stencil.box.moved(x, y))
        text_x = max(x + TEXT_X, x + stencil.box.right + GAP)
        piece.add(Label(cell.key, text_x, y + self.look.text_drop(cell.key), cell.lines, True))
        below = self._below(cell)
        if not below or below[0].run is None:
            return
        run = below[0].run
        start = y + stencil.height
        if passed:
            left = x - BYPASS + 1.5
            piece.add(Dot(x, tap))
            piece.add(Wire(run, ((x, y), (x, tap), (left, tap), (left, bottom), (x, bottom))))
        elif start < bottom:
            piece.add(Wire(run, ((x, start), (x, bottom))))
        last = below[-1].column * tree.pitch
        if last > x:
            assert below[-1].run is not None
            piece.add(Wire(below[-1].run, ((x, bottom), (last, bottom))))
            for child in below[:-1]:
                piece.add(Dot(child.column * tree.pitch, bottom))


def _run_row(cell: _Cell) -> tuple[str, int, str]:
    """Runs share their height along a row, whatever they lead to."""
    return (cell.row[0], cell.row[1], "")


def run_height(look: Look, run: Run, lines: Sequence[str]) -> float:
    """The height a run needs for its texts and its strokes, mm."""
    high = max(text_size(lines, False)[1], look.strokes(run).box.height)
    return high + 2 * (LEAD + look.lead)


def tally_room(look: Look, run: Run, x: float, middle: float) -> Box:
    """The box round the strokes of a run whose middle is at a height."""
    box = look.strokes(run).box
    return Box(x + box.left, middle - box.height / 2, x + box.right, middle + box.height / 2)


def joined(words: Sequence[str], most: float, by: str = ", ") -> list[str]:
    """Short lines put together where they fit beside each other."""
    lines: list[str] = []
    for word in words:
        if lines and width(lines[-1] + by + word, T18) <= most:
            lines[-1] += by + word
        else:
            lines.append(word)
    return lines
