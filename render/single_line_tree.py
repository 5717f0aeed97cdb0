"""One tree of the single-line diagram: levels downwards, equal columns to the right.

Level by level every symbol stands at one height; a level is as high as its highest run and
device.  The stem, down to the first branching, has the width to itself and writes each cable in
one line; below it the columns share one pitch, measured from their texts.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from ..dsl.kinds import kinds
from .marks import Box
from .metrics import T18, T25, width, wrap
from .single_line_graph import Run
from .single_line_look import Look
from .single_line_parts import GAP, Bar, Dot, Label, Open, Piece, Sign, Tally, Wire, text_size
from .single_line_plan import Plan

MODULE = 2.5  # grid of IEC 61082
TEXT_X = 5.0  # from a column's axis to its texts
LEFT = 4.5  # from a column's axis to the left edge of its symbols
BYPASS = 7.0  # left of the axis: the line past a load to the next one
NARROW, WIDE = (15.0, 25.0), 48.0  # widths at which texts wrap
LEAD = 1.5
REFERENCE = 9.0  # height kept for a reference at an open end
BAR_END = 4.0


@dataclass(slots=True)
class _Cell:
    """Where a node or an open end stands: its column and level."""

    key: str
    column: int
    level: int
    run: Run | None
    wide: bool
    open_end: bool = False
    lines: tuple[str, ...] = ()
    run_lines: tuple[str, ...] = ()


@dataclass(slots=True)
class Tree:
    """A laid tree: its piece, the heights of its levels, and the columns' pitch."""

    piece: Piece
    pitch: float
    columns: int
    tops: list[float] = field(default_factory=list)


def lay(
    plan: Plan, look: Look, head: str, branches: Sequence[Run] | None = None, top: float = 0.0
) -> Tree:
    """Lays the tree below a head with its first axis at x = 0.

    ``branches`` limits a bar to some of its runs (a stretch of it); the head itself is not drawn
    where it is a bar: the caller draws it, for it may have to reach further.
    """
    return _Layout(plan, look).tree(head, branches, top)


class _Layout:
    def __init__(self, plan: Plan, look: Look) -> None:
        self.plan, self.look = plan, look
        self.cells: list[_Cell] = []
        self.at: dict[str, _Cell] = {}

    def tree(self, head: str, branches: Sequence[Run] | None, top: float) -> Tree:
        stem = not self.plan.graph.nodes[head].bar
        columns = self._place(head, 0, 0, None, stem, branches)
        wrap_at = self._wrap_width()
        for cell in self.cells:
            self._letter(cell, WIDE if cell.wide else wrap_at)
        step = self._pitch()
        run_h, node_h = self._heights(head)
        tree = Tree(Piece(head), step, columns)
        y = top
        for runs, nodes in zip(run_h, node_h, strict=True):
            tree.tops.append(y)
            y += runs + nodes
        tree.tops.append(y)
        for cell in self.cells:
            self._draw(tree, cell, run_h, node_h, head)
        return tree

    # ---- where everything stands ----------------------------------------------------------

    def _place(
        self, key: str, column: int, level: int, run: Run | None, wide: bool,
        branches: Sequence[Run] | None = None,
    ) -> int:  # fmt: skip
        cell = _Cell(key, column, level, run, wide)
        self.cells.append(cell)
        self.at[key] = cell
        runs = list(self.plan.graph.outs[key]) if branches is None else list(branches)
        ends = set(self.plan.open_outs[key])
        straight = wide and len(runs) == 1 and not self.plan.graph.nodes[key].bar
        used = 0
        for out in runs:
            if out in ends:
                self.cells.append(_Cell(out.b, column + used, level + 1, out, straight, True))
                used += 1
            else:
                used += self._place(out.b, column + used, level + 1, out, straight)
        return max(used, 1)

    # ---- texts and measures ----------------------------------------------------------------

    def _letter(self, cell: _Cell, most: float) -> None:
        if cell.run is not None:
            words = self.look.run_lines(cell.run)
            cell.run_lines = tuple(_joined(words, most))
        if cell.open_end:
            return
        name, *rest = self.look.node_lines(cell.key)
        if self.plan.graph.nodes[cell.key].bar:
            most = max(most, WIDE)
        lines = [part for line in rest for part in wrap(line, T18, most)]
        cell.lines = (*wrap(name, T25, max(most, 20), True), *lines)

    def _wrap_width(self) -> float:
        """Wide enough for the longest word of the columns, within reason."""
        widest = NARROW[0]
        for cell in self.cells:
            if cell.wide:
                continue
            texts = [] if cell.open_end else list(self.look.node_lines(cell.key)[1:])
            if self.plan.graph.nodes[cell.key].bar:
                texts = []
            words = [word for text in texts for word in text.split()]
            words += self.look.run_lines(cell.run) if cell.run else []
            widest = max([widest, *(width(word, T18) for word in words)])
        return min(widest + 0.1, NARROW[1])

    def _pitch(self) -> float:
        right = 0.0
        for cell in self.cells:
            if cell.wide:
                continue
            right = max(right, text_size(cell.run_lines, False)[0])
            if not cell.open_end and not self.plan.graph.nodes[cell.key].bar:
                right = max(right, text_size(cell.lines, True)[0])
                box = self.look.stencil(cell.key).box
                right = max(right, box.right - TEXT_X + GAP)
        bypass = any(self._passed(c.key) for c in self.cells if not c.open_end)
        left = BYPASS if bypass else LEFT
        return math.ceil((left + TEXT_X + right + GAP) / MODULE) * MODULE

    def _passed(self, key: str) -> bool:
        """Whether the line runs on past a symbol that ends it: a load or socket wired through."""
        node = self.plan.graph.nodes[key]
        ends = kinds()[node.kind].acts == "load" or node.kind in ("socket", "battery")
        return ends and bool(self.plan.graph.outs[key]) and not self.look.turned(key)

    def _heights(self, head: str) -> tuple[list[float], list[float]]:
        levels = 1 + max(c.level for c in self.cells)
        runs, nodes = [0.0] * levels, [0.0] * levels
        for cell in self.cells:
            if cell.run is not None:
                high = run_height(self.look, cell.run, cell.run_lines)
                runs[cell.level] = max(runs[cell.level], high)
            nodes[cell.level] = max(nodes[cell.level], self._node_height(cell, head))
        return runs, nodes

    def _node_height(self, cell: _Cell, head: str) -> float:
        if cell.open_end:
            return REFERENCE
        text = text_size(cell.lines, True)[1]
        if self.plan.graph.nodes[cell.key].bar:
            return 0.0 if cell.key == head else text + 2 * GAP
        return max(text + GAP, self.look.stencil(cell.key).height + 1.0)

    # ---- parts -----------------------------------------------------------------------------

    def _draw(
        self, tree: Tree, cell: _Cell, run_h: Sequence[float], node_h: Sequence[float], head: str
    ) -> None:
        x = cell.column * tree.pitch
        top = tree.tops[cell.level]
        middle = top + run_h[cell.level]
        if cell.run is not None:
            self._draw_run(tree.piece, cell, x, top, middle)
        if cell.open_end:
            self._draw_open(tree.piece, cell, x, middle)
        elif self.plan.graph.nodes[cell.key].bar:
            if cell.key != head:
                self._draw_bar(tree, cell, x, middle, node_h[cell.level])
        else:
            self._draw_node(tree, cell, x, middle, tree.tops[cell.level + 1])

    def _draw_run(self, piece: Piece, cell: _Cell, x: float, top: float, bottom: float) -> None:
        assert cell.run is not None
        piece.add(Wire(cell.run, ((x, top), (x, bottom))))
        middle = (top + bottom) / 2
        _, high = text_size(cell.run_lines, False)
        piece.add(Tally(cell.run, x, middle), tally_room(self.look, cell.run, x, middle))
        piece.add(Label(cell.run.key, x + TEXT_X, middle - high / 2, cell.run_lines))

    def _draw_open(self, piece: Piece, cell: _Cell, x: float, y: float) -> None:
        assert cell.run is not None
        room = Box(x - 2, y, x + TEXT_X + 14, y + REFERENCE)
        piece.add(Open(cell.run, x, y, False), room)

    def _draw_bar(self, tree: Tree, cell: _Cell, x: float, y: float, high: float) -> None:
        runs = self.plan.graph.outs[cell.key]
        columns = self.plan.columns(cell.key) if runs else 1
        last = x + (columns - 1) * tree.pitch
        bar_y = y + high - 0.7
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
            tree.piece.add(Dot(x, y))
            if child.run is not None:
                tree.piece.add(Wire(child.run, ((x, y), (x, tree.tops[child.level]))))

    def _below(self, cell: _Cell) -> list[_Cell]:
        runs = set(self.plan.graph.outs[cell.key])
        return [c for c in self.cells if c.run in runs and c.level == cell.level + 1]

    def _draw_node(self, tree: Tree, cell: _Cell, x: float, y: float, bottom: float) -> None:
        piece, stencil = tree.piece, self.look.stencil(cell.key)
        piece.add(Sign(cell.key, x, y, self.look.turned(cell.key)), stencil.box.moved(x, y))
        text_x = max(x + TEXT_X, x + stencil.box.right + GAP)
        piece.add(Label(cell.key, text_x, y + self.look.text_drop(cell.key), cell.lines, True))
        below = self._below(cell)
        if not below or below[0].run is None:
            return
        run = below[0].run
        start = y + stencil.height
        if self._passed(cell.key):
            left = x - BYPASS + 1.5
            piece.add(Dot(x, y - 0.4))
            piece.add(Wire(run, ((x, y - 0.4), (left, y - 0.4), (left, bottom), (x, bottom))))
        elif start < bottom:
            piece.add(Wire(run, ((x, start), (x, bottom))))
        last = below[-1].column * tree.pitch
        if last > x:
            assert below[-1].run is not None
            piece.add(Wire(below[-1].run, ((x, bottom), (last, bottom))))
            for child in below[:-1]:
                piece.add(Dot(child.column * tree.pitch, bottom))


def run_height(look: Look, run: Run, lines: Sequence[str]) -> float:
    """The height a run needs for its texts and its strokes, mm."""
    return max(text_size(lines, False)[1], look.strokes(run).box.height) + 2 * LEAD


def tally_room(look: Look, run: Run, x: float, middle: float) -> Box:
    """The box round the strokes of a run whose middle is at a height."""
    box = look.strokes(run).box
    return Box(x + box.left, middle - box.height / 2, x + box.right, middle + box.height / 2)


def _joined(words: Sequence[str], most: float) -> list[str]:
    """Short lines put together where they fit beside each other."""
    lines: list[str] = []
    for word in words:
        if lines and width(f"{lines[-1]}  {word}", T18) <= most:
            lines[-1] = f"{lines[-1]}  {word}"
        else:
            lines.append(word)
    return lines
