"""Draws a layout of an overview on a sheet."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby, pairwise

from ..checks.tracing.trace import Stage
from ..checks.trade.colours import Colour
from .canvas import Sheet
from .colours import colour_of, swatches
from .marks import BLACK, BUS, GREY, MEDIUM, THICK, THIN, WHITE, Box, Pen, Point
from .metrics import T18, T25, extent, pitch, width
from .overview_graph import Node
from .overview_layout import Layout
from .overview_look import MARK, RISE, SPACE
from .overview_plan import LEFT
from .overview_rows import Landed
from .swatch import STATUS_DASH
from .wiring import conductor_id

EDGE, CORE = 0.6, 0.3
"""Widths in mm of a conductor's dark edge and of the colour in it."""
CIRCLE = 0.8
CLEAR = 1.01
GAP = 0.9
"""Half the stretch in mm that a crossing line is drawn over the one it crosses."""


def draw(sheet: Sheet, stage: Stage, lay: Layout, origin: Point) -> None:
    """Conductors first, the bridges over them, then devices and names."""
    pencil = _Pencil(sheet, stage, lay, origin)
    for name in lay.paths:
        pencil.conductor(name)
    pencil.bridges()
    for node in lay.graph.nodes.values():
        pencil.node(node)


@dataclass(frozen=True, slots=True)
class _Pencil:
    sheet: Sheet
    stage: Stage
    lay: Layout
    origin: Point

    def at(self, point: Point) -> Point:
        return point[0] + self.origin[0], point[1] + self.origin[1]

    def colour(self, name: str) -> Colour:
        conductor = self.stage.rig.conductors[name]
        return colour_of(conductor, self.stage.rig, self.stage.conductor_role(name))

    def strokes(self, name: str, points: list[Point]) -> None:
        """A line in its colour with a dark edge; dashed where it carries nothing."""
        conductor = self.stage.rig.conductors[name]
        dash = STATUS_DASH.get(conductor.status, "solid")
        fills = swatches(self.colour(name))
        if dash != "solid" or not fills:
            self.sheet.line(points, Pen(THICK, BLACK if fills else GREY, dash, "butt"))
            return
        self.sheet.line(points, Pen(EDGE, BLACK))
        if fills != ("#111111",):
            self.sheet.line(points, Pen(CORE, fills[0]))
        for fill in fills[1:]:
            self.sheet.line(points, Pen(CORE, fill, "short", "butt"))

    def conductor(self, name: str) -> None:
        conductor = self.stage.rig.conductors[name]
        shown = self.colour(name)
        ends = f"{conductor.a.name} to {conductor.b.name}"
        size = conductor.size.text if conductor.size else conductor.kind
        said = f"{name} {size} {shown.name}: {ends}"
        with self.sheet.group(conductor_id(name), "conductor", said):
            self.strokes(name, [self.at(point) for point in self.lay.paths[name]])
            for landing in self.lay.spots:
                if landing[1] == name:
                    self.name(landing)

    def name(self, landing: Landed) -> None:
        """The conductor's name over its line, beside the terminal."""
        pin, wire, _ = landing
        x, y = self.at(self.lay.spots[landing])
        left = self.lay.side[pin] == LEFT
        away = CIRCLE + THIN / 2 + CLEAR
        self.sheet.text(
            x - away if left else x + away,
            y - EDGE / 2 - CLEAR - extent(wire, T18)[1],
            wire,
            T18,
            anchor="end" if left else "start",
        )

    def bridges(self) -> None:
        """Where lines cross, the level one is drawn over the upright one, with a gap in it."""
        with self.sheet.group("crossings", "crossings", "Lines that cross are not joined"):
            for name, point in crossings(self.lay):
                x, y = self.at(point)
                over = [(x - GAP, y), (x + GAP, y)]
                self.sheet.line(over, Pen(EDGE + 0.8, WHITE, "solid", "butt"))
                self.strokes(name, over)

    def node(self, node: Node) -> None:
        look, box = self.lay.looks[node.name], self.lay.outlines[node.name].moved(*self.origin)
        said = " ".join(filter(None, (node.device, look.words, look.facts)))
        cls = "reference" if node.away else "device"
        with self.sheet.group(f"{'ref' if node.away else 'dev'}-{node.device}", cls, said):
            pen = Pen(THIN, GREY, "chain") if node.away else Pen(MEDIUM)
            self.sheet.rect(box, pen, WHITE if not node.away else None)
            self.symbol(node, box)
            self.words(node, box)
            for _, rows in groupby(self.terminals(node), key=lambda landing: landing[0]):
                self.terminal(list(rows))

    def terminals(self, node: Node) -> Iterator[Landed]:
        return (landing for landing in self.lay.spots if landing[0].node == node.name)

    def symbol(self, node: Node, box: Box) -> None:
        look, (x, y) = self.lay.looks[node.name], box.centre
        if look.bar:
            ends = [(x, box.top + RISE - 1), (x, box.bottom - RISE + 1)]
            self.sheet.line(ends, Pen(BUS, BLACK, "solid", "butt"))
        elif look.stencil:
            dx, dy = look.symbol_box.centre
            self.sheet.put(look.stencil, x - dx, y - dy, look.turn)

    def words(self, node: Node, box: Box) -> None:
        """Designation, label and figures above the outline."""
        look, block = self.lay.looks[node.name], self.sheet.block()
        colour = GREY if node.away else BLACK
        lines = look.lines(box.width)
        lowest = box.top - MEDIUM / 2 - CLEAR - extent("p,", T18)[1]
        y = lowest - len(lines) * pitch(T18)
        self.sheet.text(box.left, y, look.name, T25, bold=True, block=block, colour=colour)
        if look.beside(box.width):
            x = box.left + width(look.name, T25, True) + SPACE
            self.sheet.text(x, y, look.words, T18, block=block, colour=colour)
        self.sheet.paragraph(
            box.left, y + pitch(T18), lines, T18, block=block, colour=colour
        )

    def terminal(self, rows: list[Landed]) -> None:
        """A circle for each conductor, joined where one terminal holds several; one marking."""
        pin = rows[0][0]
        spots = [self.at(self.lay.spots[landing]) for landing in rows]
        for one, two in pairwise(spots):
            self.sheet.line([one, two], Pen(2 * CIRCLE - 0.6, BLACK))
        for x, y in spots:
            self.sheet.circle(x, y, CIRCLE, Pen(THIN), WHITE)
        left = self.lay.side[pin] == LEFT
        x, y = spots[0]
        self.sheet.text(
            x + MARK if left else x - MARK, y, pin.terminal, T18,
            anchor="start" if left else "end", level="middle",
        )  # fmt: skip


def crossings(lay: Layout) -> Iterator[tuple[str, Point]]:
    """Points where a level stretch of one conductor crosses an upright one of another."""
    level, upright = [], []
    for name, path in lay.paths.items():
        for (x0, y0), (x1, y1) in pairwise(path):
            if y0 == y1:
                level.append((name, min(x0, x1), max(x0, x1), y0))
            else:
                upright.append((name, x0, min(y0, y1), max(y0, y1)))
    for name, left, right, y in level:
        for other, x, top, bottom in upright:
            if name != other and left < x < right and top < y < bottom:
                yield name, (x, y)
