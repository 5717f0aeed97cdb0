"""Draws a layout of an overview on a sheet."""

from __future__ import annotations

from itertools import groupby, pairwise

from ..checks.tracing.trace import Stage
from ..checks.trade.colours import Colour
from ..dsl.records import record
from .canvas import Sheet
from .colours import SWATCHES, colour_of, swatches
from .marks import BLACK, BUS, FRAME, GREY, MEDIUM, THICK, THIN, WHITE, Box, Pen, Point
from .metrics import T18, T25, extent, pitch, width
from .overview_graph import Landed, Node
from .overview_layout import Layout, crossed
from .overview_look import MARK, RISE, SPACE, Look
from .overview_plan import LEFT, RIGHT
from .swatch import STATUS_DASH
from .wiring import conductor_id

PLAIN, EDGED, CORE = FRAME, 0.9, 0.4
"""Widths of a conductor's line in mm: of a dark colour; of a pale or striped one between dark edges
of a quarter of a millimetre each, which a screen of 1,400 dots across an A3 sheet still shows."""
FAINT = frozenset(SWATCHES[code] for code in ("WH", "YE", "PK", "SR", "OG", "TQ", "GD"))
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


@record
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
        """A line in its colour, with a dark edge where it is pale or striped; dashed where idle."""
        conductor = self.stage.rig.conductors[name]
        dash = STATUS_DASH.get(conductor.status, "solid")
        fills = swatches(self.colour(name))
        if dash != "solid" or not fills:
            self.sheet.line(points, Pen(THICK, BLACK if fills else GREY, dash, "butt"))
            return
        if len(fills) == 1 and fills[0] not in FAINT:
            self.sheet.line(points, Pen(PLAIN, fills[0]))
            return
        self.sheet.line(points, Pen(EDGED, BLACK))
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
                if landing[1] == name and not (name in self.lay.once and self.left(landing)):
                    self.name(landing)

    def left(self, landing: Landed) -> bool:
        """Whether a terminal is on the left side of its outline."""
        return self.lay.side[landing] == LEFT

    def name(self, landing: Landed) -> None:
        """The conductor's name and colour over its line, beside the terminal."""
        words = self.lay.graph.words[landing[1]]
        x, y = self.at(self.lay.spots[landing])
        away = CIRCLE + THIN / 2 + CLEAR
        self.sheet.text(
            x - away if self.left(landing) else x + away,
            y - EDGED / 2 - CLEAR - extent(words, T18)[1],
            words,
            T18,
            anchor="end" if self.left(landing) else "start",
        )

    def bridges(self) -> None:
        """Where lines cross, the level one is drawn over the upright one, with a gap in it."""
        with self.sheet.group("crossings", "crossings", "Lines that cross are not joined"):
            for name, point in crossed(self.lay.paths):
                x, y = self.at(point)
                over = [(x - GAP, y), (x + GAP, y)]
                self.sheet.line(over, Pen(EDGED + 0.8, WHITE, "solid", "butt"))
                self.strokes(name, over)

    def node(self, node: Node) -> None:
        look, box = self.lay.looks[node.name], self.lay.outlines[node.name].moved(*self.origin)
        said = " ".join(filter(None, (node.device, look.words, look.facts)))
        cls = "reference" if node.away else "device"
        with self.sheet.group(f"{'ref' if node.away else 'dev'}-{node.device}", cls, said):
            pen = Pen(THIN, GREY, "fine-chain") if node.away else Pen(MEDIUM)
            self.sheet.rect(box, pen, WHITE if not node.away else None)
            landings = self.terminals(node)
            if node.away:
                self.words_inside(look, landings)
            else:
                self.words(look, box)
                self.through(look, landings)
                self.symbol(look, box)
            for _, rows in groupby(landings, key=lambda each: (each[0], self.lay.side[each])):
                self.terminal(list(rows))

    def terminals(self, node: Node) -> list[Landed]:
        """The wire ends and unused terminals of a node: terminal by terminal, side by side."""
        own = {(node.name, name): at for at, name in enumerate(node.terminals)}
        found = [each for each in self.lay.spots if each[0].node == node.name]
        return sorted(
            found,
            key=lambda each: (
                own[each[0].node, each[0].terminal], self.lay.side[each], self.lay.spots[each][1]
            ),
        )  # fmt: skip

    def through(self, look: Look, landings: list[Landed]) -> None:
        """A terminal that stands on both sides is one: a thin line says so, behind the symbol."""
        for _, ends in groupby(landings, key=lambda each: each[0]):
            spots = {self.lay.side[each]: self.at(self.lay.spots[each]) for each in [*ends][::-1]}
            if len(spots) == 2:
                self.through_line(look, *spots[LEFT], spots[RIGHT][0])

    def through_line(self, look: Look, left: float, y: float, right: float) -> None:
        clear = MARK + look.marks + CLEAR + THIN / 2
        pen = Pen(THIN, GREY)
        node = self.lay.outlines[look.name].moved(*self.origin)
        shape = look.symbol_box.moved(*_offset(look, node)).grown(CLEAR)
        whole = look.bar or not shape.top < y < shape.bottom
        start, stop = left + clear, right - clear
        for x0, x1 in [(start, stop)] if whole else [(start, shape.left), (shape.right, stop)]:
            if x0 < x1:
                self.sheet.line([(x0, y), (x1, y)], pen)

    def symbol(self, look: Look, box: Box) -> None:
        x, _ = box.centre
        if look.bar:
            ends = [(x, box.top + RISE - 1), (x, box.bottom - RISE + 1)]
            self.sheet.line(ends, Pen(BUS, BLACK, "solid", "butt"))
        elif look.stencil:
            self.sheet.put(look.stencil, *_offset(look, box), look.turn)

    def words(self, look: Look, box: Box) -> None:
        """Designation, label and figures above the outline."""
        block = self.sheet.block()
        lines = look.lines(box.width)
        lowest = box.top - MEDIUM / 2 - CLEAR - extent("p,", T18)[1]
        y = lowest - len(lines) * pitch(T18)
        self.sheet.text(box.left, y, look.name, T25, bold=True, block=block)
        if look.beside(box.width):
            x = box.left + width(look.name, T25, True) + SPACE
            self.sheet.text(x, y, look.words, T18, block=block)
        self.sheet.paragraph(box.left, y + pitch(T18), lines, T18, block=block)

    def words_inside(self, look: Look, landings: list[Landed]) -> None:
        """Of a reference: the designation, then label, place, sheet and zone, a line a row."""
        spots = sorted(self.at(self.lay.spots[each]) for each in landings)
        box = self.lay.outlines[landings[0][0].node].moved(*self.origin)
        left = box.left + SPACE + (MARK + look.marks if self.left(landings[0]) else 0.0)

        def name(words: str, x: float, y: float, *, bold: bool = False) -> None:
            self.sheet.text(x, y, words, T18, bold=bold, level="middle", colour=GREY, cell=True)

        for row, ((_, y), line) in enumerate(zip(spots, look.inside, strict=False)):
            x = left
            if not row:
                name(look.name, x, y, bold=True)
                x += look.name_width
            name(line, x, y)

    def terminal(self, rows: list[Landed]) -> None:
        """A circle for each conductor, joined where one terminal holds several; one marking."""
        pin = rows[0][0]
        spots = [self.at(self.lay.spots[landing]) for landing in rows]
        for one, two in pairwise(spots):
            self.sheet.line([one, two], Pen(2 * CIRCLE - 0.6, BLACK))
        for x, y in spots:
            self.sheet.circle(x, y, CIRCLE, Pen(THIN), WHITE)
        left = self.left(rows[0])
        x, y = spots[0]
        self.sheet.text(
            x + MARK if left else x - MARK, y, pin.terminal, T18,
            anchor="start" if left else "end", level="middle",
            cell=self.lay.graph.nodes[pin.node].away,
        )  # fmt: skip


def _offset(look: Look, box: Box) -> Point:
    """Where a symbol's origin goes for its extents to lie in the middle of an outline."""
    (x, y), (dx, dy) = box.centre, look.symbol_box.centre
    return x - dx, y - dy
