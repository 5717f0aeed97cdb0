"""Overview sheets: the connection diagram of each place, in the manner of IEC 61082.

Device outlines with the device's symbol inside and its terminals as small circles on the outline;
conductors square, in their colour, named at both ends.  A device elsewhere that a conductor goes
to is an outline in chain line with its place, sheet and zone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from ..checks.trace import Stage
from ..dsl.model import Rig
from .canvas import Sheet
from .frame import area, blank, zone_of
from .marks import BLUE, Box, Point
from .metrics import T25, T35
from .options import Options
from .overview_dot import dot_order, source
from .overview_draw import draw
from .overview_graph import Near, Pin, Shown, graph_of, near_of
from .overview_layout import Layout, Orderer, layout
from .overview_look import PITCH, looks_of
from .overview_parts import homes, parts
from .remarks import remark
from .wiring import Ref, place_label

__all__ = ["dot", "homes", "sheets"]

DOC = "Wiring overview"
HEADING = 9.0
APART = 8.0
"""Between two diagrams of a sheet, mm."""
LEGEND = (
    "Circle: terminal, marked as on the device. Chain-line outline: a device shown elsewhere, "
    "with its place, sheet and zone.",
    "Lines that cross are not joined. The terminal strips are the complete record.",
)
TOO_LARGE = "{} has more conductors than a sheet has room for: see the terminal strips."


def sheets(stage: Stage, options: Options) -> list[Sheet]:
    """An overview of each place, on as many sheets as it needs."""
    room = _Room(stage.rig, options)
    pages = room.pages(parts(stage.rig, room.fits))
    refs: dict[Pin, str] = {}
    for number, page in enumerate(pages, options.first):
        refs.update(room.refs(number, page))
    return [_sheet(stage, options, page, refs, _count(pages, page)) for page in pages]


def _count(pages: Sequence[Page], page: Page) -> str:
    """Which of a place's sheets this is, where it has several."""
    own = [other for other in pages if other.place == page.place]
    at = next(index for index, other in enumerate(own, 1) if other is page)
    return f" ({at} of {len(own)})" if len(own) > 1 else ""


def dot(stage: Stage, place: str) -> str:
    """A place's devices and conductors as DOT source, for Graphviz or a viewer of graphs."""
    home = homes(stage.rig)
    here = {n: tuple(t.name for t in d.terminals) for n, d in stage.rig.devices.items()
            if home[n] == place}
    return source(stage.rig, graph_of(stage.rig, here, near_of(stage.rig)), place)


@dataclass
class Page:
    """A sheet being filled with diagrams, shelf below shelf; ``placed`` gives their origins."""

    place: str
    box: Box
    placed: list[tuple[Layout, Point]] = field(default_factory=list)
    shelves: list[Box] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)

    def take(self, lay: Layout) -> bool:
        """Places a diagram where it fits; False where it does not."""
        shelf = next((s for s in self.shelves if self._fits(s, lay)), None)
        if shelf is None:
            top = self.shelves[-1].bottom + APART if self.shelves else self.box.top
            if top + lay.height > self.box.bottom:
                return False
            shelf = Box(self.box.left, top, self.box.left, top + lay.height)
            self.shelves.append(shelf)
        self.placed.append((lay, (shelf.right, shelf.top)))
        self.shelves[self.shelves.index(shelf)] = Box(
            shelf.left,
            shelf.top,
            shelf.right + lay.width + APART,
            max(shelf.bottom, shelf.top + lay.height),
        )
        return True

    def _fits(self, shelf: Box, lay: Layout) -> bool:
        """Beside what stands on a shelf; the lowest shelf may grow down to the paper's end."""
        deepest = self.box.bottom if shelf is self.shelves[-1] else shelf.bottom
        return shelf.top + lay.height <= deepest and shelf.right + lay.width <= self.box.right


@dataclass(frozen=True)
class _Room:
    """Lays graphs out in the room of a sheet."""

    rig: Rig
    options: Options

    @cached_property
    def near(self) -> Near:
        return near_of(self.rig)

    @cached_property
    def box(self) -> Box:
        whole = area(blank(self.options.paper, "", DOC))
        return Box(whole.left, whole.top + HEADING, whole.right, whole.bottom)

    def _layout(self, shown: Shown, orderers: tuple[Orderer, ...]) -> Layout | None:
        graph = graph_of(self.rig, shown, self.near)
        looks = looks_of(self.rig, graph, self.options.symbols, {})
        most = int(self.box.height // PITCH) - 1
        return layout(graph, looks, most, self.box.width, orderers)

    def fits(self, shown: Shown) -> bool:
        """Whether these devices, and what they lead to, have room on one sheet."""
        return self._layout(shown, ()) is not None

    def laid(self, shown: Shown) -> Layout | None:
        """The best layout that fits; None where a single device alone does not."""
        return self._layout(shown, (dot_order,)) or self._layout(shown, ())

    def pages(self, found: Sequence[tuple[str, Shown]]) -> list[Page]:
        """Diagrams on sheets: each on the first sheet of its place that has room for it."""
        pages: list[Page] = []
        for place, shown in found:
            lay = self.laid(shown)
            if lay is None:
                pages.append(Page(place, self.box, [], [], [TOO_LARGE.format(", ".join(shown))]))
            elif not any(page.take(lay) for page in pages if page.place == place):
                pages.append(Page(place, self.box))
                pages[-1].take(lay)
        return pages

    def refs(self, number: int, page: Page) -> dict[Pin, str]:
        """Sheet and zone of every terminal of a page."""
        paper = blank(self.options.paper, "", DOC)
        found = {}
        for lay, (x, y) in page.placed:
            for node in (node for node in lay.graph.nodes.values() if not node.away):
                box = lay.outlines[node.name].moved(x, y)
                at = str(Ref(number, zone_of(paper, box.left, box.top)))
                found.update({Pin(node.name, terminal): at for terminal in node.terminals})
        return found


def _sheet(
    stage: Stage, options: Options, page: Page, refs: Mapping[Pin, str], count: str
) -> Sheet:
    words = f"{page.place}  {place_label(stage.rig, page.place)}".strip() + count
    sheet = blank(options.paper, f"Overview, {page.place}{count}", DOC)
    whole = area(sheet)
    sheet.text(whole.left, whole.top, words, T35, bold=True, level="top", colour=BLUE)
    for lay, origin in page.placed:
        looks = looks_of(stage.rig, lay.graph, options.symbols, refs)
        draw(sheet, stage, replace(lay, looks=looks), origin)
    for index, line in enumerate(page.remarks, 1):
        sheet.text(whole.left, whole.top + index * HEADING + T25, line, T25)
    remark(sheet, LEGEND)
    return sheet
