"""Overview sheets: the connection diagram of each place, in the manner of IEC 61082.

Device outlines with the device's symbol inside and its terminals as small circles on the outline;
conductors square, in their colour, named at both ends.  A device elsewhere that a conductor goes
to is an outline in chain line with its place, sheet and zone.  Small places share a sheet, each
in a frame.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import islice

from ..checks.tracing.trace import Stage
from ..dsl.model import Rig
from ..dsl.records import replace
from .canvas import Sheet
from .colours import colour_of, colours_of, swatches
from .frame import area, blank, zone_of
from .marks import BLUE, GREY, THIN, Box, Pen
from .metrics import T25, T35
from .options import Options
from .overview_dot import source
from .overview_draw import draw
from .overview_fit import Shape, arranged
from .overview_graph import Near, Pin, Shown, graph_of, near_of
from .overview_look import PITCH, looks_of, symbols_of
from .overview_pages import SIDE, Block, Page, Spot, pages, sparse
from .overview_parts import homes, parts
from .remarks import colour_key, remark
from .wiring import Ref, place_heading

__all__ = ["dot", "homes", "sheets", "symbols_of"]

DOC = "Wiring overview"
HEADING, KEY = 9.0, 1.2
TANGLED = 40
"""Where more lines cross in a diagram, it is parted. Common practice, no published source."""
SHAPES = 3
"""A diagram is offered to the sheets in at most so many shapes."""
LEGEND = (
    "Circle: terminal, marked as on the device; on both sides of an outline it is the same one. "
    "Letters after a conductor's name: its colour (IEC 60757).",
    "Chain-line outline: a device shown elsewhere, with its place, sheet and zone. Lines that "
    "cross are not joined. The terminal strips are the complete record.",
)
TOO_LARGE = "{} has more conductors than a sheet has room for: see the terminal strips."


def sheets(stage: Stage, options: Options) -> list[Sheet]:
    """An overview of each place: on sheets of its own where it is large, else beside others."""
    room = _Room(stage, options)
    blocks, large = room.blocks(parts(stage.rig, room.fits))
    filled = pages(blocks, room.whole)
    if sparse(filled):
        filled = min(filled, pages([block.lowered() for block in blocks], room.whole), key=len)
    refs: dict[Pin, str] = {}
    for number, page in enumerate(filled, options.first):
        refs.update(room.refs(number, page))
    drawn = [_sheet(stage, options, page.spots(room.box), refs) for page in filled]
    return drawn + [_too_large(options, *found) for found in large]


def dot(stage: Stage, place: str) -> str:
    """A place's devices and conductors as DOT source, for Graphviz or a viewer of graphs."""
    home = homes(stage.rig)
    here = {n: tuple(t.name for t in d.terminals) for n, d in stage.rig.devices.items()
            if home.get(n) == place}
    return source(stage.rig, graph_of(stage.rig, here, near_of(stage.rig)), place)


@dataclass(frozen=True)
class _Room:
    """Lays graphs out in the room of a sheet."""

    stage: Stage
    options: Options
    found: dict[tuple[tuple[str, tuple[str, ...]], ...], tuple[list[Shape], Iterator[Shape]]] = (
        field(default_factory=dict)
    )

    @property
    def rig(self) -> Rig:
        return self.stage.rig

    @cached_property
    def words(self) -> dict[str, str]:
        """By conductor what stands on its line: its name and the letters of its colour."""
        shown = colours_of(self.stage)
        return {name: f"{name} {shown[name].code}".strip() for name in self.rig.conductors}

    @cached_property
    def near(self) -> Near:
        return near_of(self.rig)

    @cached_property
    def whole(self) -> Box:
        """The drawing space: where frames go."""
        return area(blank(self.options.paper, "", DOC))

    @cached_property
    def box(self) -> Box:
        """The drawing space below a heading: where a diagram alone goes."""
        return self.whole._replace(top=self.whole.top + HEADING)

    def _layouts(self, shown: Shown, *, folded: bool = False) -> Iterator[Shape]:
        graph = graph_of(self.rig, shown, self.near, self.words)
        looks = looks_of(self.rig, graph, self.options.symbols, {})
        most = int(self.box.height // PITCH) - 1
        return arranged(graph, looks, most, self.box.width, folded=folded)

    def laid(self, shown: Shown, shapes: int = SHAPES) -> tuple[Shape, ...]:
        """So many of the layouts that fit; none where a single device alone does not."""
        key = tuple(shown.items())
        made, rest = self.found.setdefault(key, ([], self._layouts(shown)))
        made += islice(rest, max(0, shapes - len(made)))
        return tuple(made)

    def fits(self, shown: Shown) -> bool:
        """Whether these devices, and what they lead to, have room on one sheet, and are legible."""
        return any(shape.crossings <= TANGLED for shape in self.laid(shown, 1))

    def blocks(
        self, found: Sequence[tuple[str, Shown]]
    ) -> tuple[list[Block], list[tuple[str, Shown]]]:
        """The diagrams, and what is too large for one."""
        count, seen = Counter(place for place, _ in found), Counter[str]()
        made, large = [], []
        for place, shown in found:
            shapes = self.laid(shown) or tuple(self._layouts(shown, folded=True))[:1]
            if not shapes:
                large.append((place, shown))
                continue
            seen[place] += 1
            heading = place_heading(self.rig, place)
            made.append(Block(place, seen[place], count[place], heading, shapes))
        return made, large

    def refs(self, number: int, page: Page) -> dict[Pin, str]:
        """Sheet and zone of every terminal of a page."""
        paper = blank(self.options.paper, "", DOC)
        found = {}
        for spot in page.spots(self.box):
            for lay, origin in spot.shape.placed(spot.origin):
                for node in (node for node in lay.graph.nodes.values() if not node.away):
                    box = lay.outlines[node.name].moved(*origin)
                    at = str(Ref(number, zone_of(paper, box.left, box.top)))
                    found.update({Pin(node.name, terminal): at for terminal in node.terminals})
        return found


def _sheet(
    stage: Stage, options: Options, spots: Sequence[Spot], refs: Mapping[Pin, str]
) -> Sheet:
    sheet = blank(options.paper, ", ".join(["Overview", *_titles(spots)]), DOC)
    for spot in spots:
        _heading(sheet, spot)
        for lay, origin in spot.shape.placed(spot.origin):
            looks = looks_of(stage.rig, lay.graph, options.symbols, refs)
            draw(sheet, stage, replace(lay, looks=looks), origin)
    names = {n for spot in spots for lay in spot.shape.strips for n in lay.paths}
    shown = (
        colour_of(stage.rig.conductors[name], stage.rig, stage.conductor_role(name))
        for name in names
    )
    free = remark(sheet, LEGEND)
    colour_key(sheet, free + KEY, (colour for colour in shown if swatches(colour)))
    return sheet


def _titles(spots: Sequence[Spot]) -> Iterator[str]:
    """The places on a sheet, and which parts of those that go on elsewhere."""
    parts: dict[str, list[Block]] = {}
    for spot in spots:
        parts.setdefault(spot.block.place or spot.block.heading, []).append(spot.block)
    for place, blocks in parts.items():
        whole = len(blocks) == blocks[0].of
        numbers = ", ".join(str(block.part) for block in blocks)
        yield place if whole else f"{place} ({numbers} of {blocks[0].of})"


def _heading(sheet: Sheet, spot: Spot) -> None:
    """The place's name, over the sheet or in the corner of its frame."""
    words, frame = spot.block.words, spot.frame
    if frame is None:
        room = area(sheet)
        sheet.text(room.left, room.top, words, T35, bold=True, level="top", colour=BLUE)
        return
    with sheet.group(f"place-{spot.block.place}", "place", words):
        sheet.rect(frame, Pen(THIN, GREY))
        left, top = frame.left + SIDE, frame.top + SIDE / 2
        sheet.text(left, top, words, T25, bold=True, level="top", colour=BLUE)


def _too_large(options: Options, place: str, shown: Shown) -> Sheet:
    """Says where to find what no sheet has room for."""
    sheet = blank(options.paper, f"Overview, {place}", DOC)
    room = area(sheet)
    sheet.text(room.left, room.top + T25, TOO_LARGE.format(", ".join(shown)), T25)
    return sheet
