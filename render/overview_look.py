"""How a node of an overview looks: the device's symbol, its words, and the room they take."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from ..dsl.kinds import kinds
from ..dsl.model import Device, Rig
from ..dsl.records import record, replace
from .marks import Box, Placement, Stencil
from .metrics import T18, T25, fit, pitch, width, wrap
from .overview_graph import Graph, Node, Pin
from .symbols import symbol
from .wiring import place_name, rating_text

PITCH = 5.4
"""Distance of rows in mm: room for any name, 1 mm clear of its line and of the one above."""
RISE = 3.2
"""From the first row up to the outline, and from the last row down to it, mm."""
MARK = 2.0
"""From the outline to a terminal's marking inside, mm."""
AIR = 0.9
"""From a symbol to the outline above and below it, mm."""
FLAG = 2.1
"""As RISE, of a reference, which is as high as its rows and 1 mm clear of the next one, mm."""
LABEL = 30.0
"""The most that a reference shows of the label of its device, mm."""
NARROWEST = 30.0
SPACE = 1.6
"""Between a designation and the label beside it, mm."""
OVER = 4.4
"""From the words up to the row above them and down to the outline, less what a row leaves, mm."""
SOMEWHERE = "88/C8"
"""Holds the room of a reference while it is not known where a device comes to lie."""
ACROSS = frozenset({"protective", "switching", "residual"})
"""What power flows through: drawn lying, the supply's side to the left."""
RESIDUAL = ("gfci", "rcd")
LEFT_OUT = frozenset({"breaks", "class"})
"""Figures that nobody looks for on an overview."""
NEEDS_DC = frozenset({"motor", "generator", "supply", "socket"})


@record
class Look:
    """A node's symbol (None: a bar, or elsewhere), its turn, and its words above the outline.

    Of a reference the words stand in the outline: ``inside``, a line a row.  ``least``: rows that
    the words have at the least, so that devices side by side are level.
    """

    name: str
    words: str
    facts: str
    stencil: Stencil | None
    turn: int
    bar: bool
    marks: float
    inside: tuple[str, ...] = ()
    least: int = 0

    @property
    def symbol_box(self) -> Box:
        """Extents of the symbol round its own origin, turned."""
        if self.stencil is None:
            return Box(0, 0, 1.4 if self.bar else 0, 0)
        box, where = self.stencil.box, Placement(0, 0, self.turn)
        x0, y0 = where.point((box.left, box.top))
        x1, y1 = where.point((box.right, box.bottom))
        return Box(min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1))

    @property
    def rise(self) -> float:
        """From the first and last row to the outline, mm."""
        return FLAG if self.inside else RISE

    @property
    def width(self) -> float:
        """The least width of the outline in mm."""
        if self.inside:
            words = [
                width(line, T18) + (self.name_width if not row else 0.0)
                for row, line in enumerate(self.inside)
            ]
            return MARK + self.marks + 2 * SPACE + max(words)
        inside = self.symbol_box.width + 2 * (self.marks + MARK + 1.5)
        return max(NARROWEST, inside, width(self.name, T25, True))

    @property
    def name_width(self) -> float:
        """Of the designation in a reference, with the space after it, mm."""
        return width(self.name, T18, True) + SPACE

    @property
    def body(self) -> int:
        """The least number of rows inside the outline."""
        if self.inside:
            return 1
        spare = self.symbol_box.height + 2 * AIR - 2 * RISE
        return max(1, math.ceil(spare / PITCH) + 1)

    def beside(self, room: float) -> bool:
        """Whether the label has room beside the designation."""
        return width(self.name, T25, True) + SPACE + width(self.words, T18) <= room

    def lines(self, room: float) -> tuple[str, ...]:
        """The words under the designation, wrapped to the outline's width in mm."""
        label = [] if self.beside(room) else wrap(self.words, T18, room)
        return (*label, *wrap(self.facts, T18, room))

    def head(self, room: float) -> int:
        """Rows of the words above the outline."""
        if self.inside:
            return 0
        tall = T25 + len(self.lines(room)) * pitch(T18)
        return max(self.least, math.ceil((tall + OVER) / PITCH))

    def rows(self, terminals: int) -> int:
        """Rows in all, with so many rows of terminals."""
        return max(self.body, terminals) + self.head(self.width)


def look_of(rig: Rig, node: Node, standard: str) -> Look:
    """The look of a device of the sheet."""
    marks = _marks(node)
    device = rig.devices[node.device]
    acts = kinds()[device.kind].acts
    bar = device.kind == "bus"
    stencil = None if bar else _stencil(device, standard)
    turn = 90 if acts in ACROSS else 0
    status = "" if device.status == "installed" else device.status
    facts = " ".join(filter(None, (rating_text(device, LEFT_OUT), status)))
    return Look(device.name, device.label, facts, stencil, turn, bar, marks)


def _marks(node: Node) -> float:
    """The room of the terminals' markings, mm."""
    return max((width(terminal, T18) for terminal in node.terminals), default=0.0)


def reference_of(rig: Rig, node: Node, rows: int, where: str) -> Look:
    """The look of a reference in so many rows; ``where`` is the sheet and zone of its device."""
    device = rig.devices.get(node.device)
    known = device is not None and all(device.terminal(name) for name in node.terminals)
    place = place_name(rig, node.device) if known else "not landed"
    label = device.label if device else ""
    facts = f"{place} {where}".strip()
    inside = (facts,) if rows == 1 else (fit(label, T18, LABEL) if label else "", facts)
    return Look(node.device, label, facts, None, 0, False, _marks(node), inside)


def symbols_of(rig: Rig, standard: str) -> tuple[str, ...]:
    """Names of the symbols that the overviews of a rig use."""
    drawn = (device for device in rig.devices.values() if device.kind != "bus")
    return tuple(dict.fromkeys(_stencil(device, standard).name for device in drawn))


def _stencil(device: Device, standard: str) -> Stencil:
    options: dict[str, bool] = {}
    if device.kind == "breaker" and any(key in device.attrs for key in RESIDUAL):
        options["residual"] = True
    if device.kind in NEEDS_DC and device.flag("dc"):
        options["dc"] = True
    return symbol(kinds()[device.kind].symbol, standard, **options)


def looks_of(
    rig: Rig, graph: Graph, standard: str, refs: Mapping[Pin, str]
) -> dict[str, Look]:
    """The looks of all nodes; ``refs`` gives sheet and zone by terminal, as far as known."""
    looks = {}
    for name, node in graph.nodes.items():
        if not node.away:
            looks[name] = look_of(rig, node, standard)
            continue
        pins = [Pin(node.device, terminal) for terminal in node.terminals]
        where = next((refs[pin] for pin in pins if pin in refs), "" if refs else SOMEWHERE)
        rows = sum(len(graph.at[Pin(name, terminal)]) for terminal in node.terminals)
        looks[name] = reference_of(rig, node, rows, where)
    return looks


def widest(looks: Mapping[str, Look], names: Sequence[str]) -> float:
    """The outline width of a column with these nodes, mm."""
    return max((looks[name].width for name in names), default=0.0)


def evened(looks: Mapping[str, Look]) -> dict[str, Look]:
    """The looks with as many rows for the words of every device."""
    devices = [look for look in looks.values() if not look.inside]
    broad = max((look.width for look in devices), default=0.0)
    least = max((look.head(broad) for look in devices), default=0)
    return {n: look if look.inside else replace(look, least=least) for n, look in looks.items()}
