"""Which devices stand one behind the other between a source and a terminal, in one mode.

The way is the one with the fewest edges; where several lead there, rules that ask what *must*
open look at the device nearest to the terminal, which all of them share in a tree.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property, lru_cache

from ...dsl.model import Device
from ..bands import Band, band
from ..books.book import Missing
from ..solve import Case, Fault, To, solution
from ..tracing.network import POLE, Edge, Wiring
from ..tracing.trace import UNGROUNDED, ModeView, Source, Stage

Owners = tuple[str, ...]
# What drives a fault by itself, and what makes mains of a battery.
FAULT_KINDS = ("supply", "generator", "battery", "transformer")


class Ways:
    """From one line of a source outwards: how every node is reached, and past which devices.

    ``devices``: for each node the protective and residual-current devices passed, the source's
    side first.  ``came``: the edge it was reached by.
    """

    def __init__(self, view: ModeView, source: Source, role: str) -> None:
        self.view, self.source, self.role = view, source, role
        self.came: dict[int, Edge | None] = view.network.walk([source.nodes[role]])
        self.devices = self._passed(OPENING)
        self._protective = self._passed(("protective",))

    def _passed(self, acts: tuple[str, ...]) -> dict[int, Owners]:
        """For each node the devices of some sorts on the way to it."""
        kinds = self.view.wiring.kinds
        passed: dict[int, Owners] = {}
        for node, edge in self.came.items():
            before = passed[edge.other(node)] if edge is not None else ()
            if edge is not None and edge.kind == POLE and kinds[edge.owner].acts in acts:
                before = (*before, edge.owner)
            passed[node] = before
        return passed

    def protective(self, node: int) -> Owners:
        """The overcurrent devices on the way to a node."""
        return self._protective.get(node, ())

    def nearest_to(self, device: str) -> list[int]:
        """The nodes that an overcurrent device is the nearest to."""
        return self._nearest.get(device, [])

    @cached_property
    def _nearest(self) -> dict[str, list[int]]:
        found: dict[str, list[int]] = {}
        for node, passed in self._protective.items():
            if passed:
                found.setdefault(passed[-1], []).append(node)
        return found

    def leads_on(self, node: int) -> bool:
        """Whether there is more behind a node before the next overcurrent device.

        The least fault current is never there, but farther out.
        """
        return node in self._inner

    @cached_property
    def _inner(self) -> set[int]:
        table = self._protective
        steps = ((node, edge.other(node)) for node, edge in self.came.items() if edge is not None)
        return {before for node, before in steps if table[node] == table[before]}

    @cached_property
    def reached(self) -> list[Device]:
        """The devices that the way leads to, in the order of the text."""
        names = {self.view.wiring.names[node][0] for node in self.came}
        place = _places(self.view.wiring)
        devices = self.view.wiring.rig.devices
        return [devices[name] for name in sorted(names, key=place.__getitem__)]

    def behind(self, device: str) -> list[int]:
        """The nodes that a device is on the way to."""
        return self._behind.get(device, [])

    @cached_property
    def _behind(self) -> dict[str, list[int]]:
        found: dict[str, list[int]] = {}
        for node, passed in self.devices.items():
            for device in dict.fromkeys(passed):
                found.setdefault(device, []).append(node)
        return found

    def residual(self, node: int) -> Owners:
        """The residual-current devices on the way to a node."""
        devices = self.view.wiring.rig.devices
        return tuple(
            d for d in self.devices.get(node, ()) if devices[d].attrs.keys() & {"rcd", "gfci"}
        )

    def outer_end(self, edge: Edge) -> int | None:
        """The end of an edge that is farther from the source; None: it closes a loop."""
        ends = (end for end in (edge.a, edge.b) if self.came.get(end) is edge)
        return next(ends, None)


OPENING = ("protective", "residual")


@lru_cache(maxsize=64)
def ways(view: ModeView) -> tuple[Ways, ...]:
    """The ways out of every live source that drives a fault, and of every inverter's output."""
    return tuple(
        Ways(view, source, role)
        for source in view.live.values()
        if source.device.kind in FAULT_KINDS or (source.device.kind == "inverter" and not source.dc)
        for role in source.lines
    )


@lru_cache(maxsize=16)
def _places(wiring: Wiring) -> dict[str, int]:
    """The place of every device in the text."""
    return {name: place for place, name in enumerate(wiring.rig.devices)}


@lru_cache(maxsize=16)
def bands(stage: Stage) -> dict[str, Band | Missing]:
    """The trip band of every overcurrent device of a stage."""
    return {
        name: band(stage.rig.devices[name], stage.rig)
        for name, kind in stage.wiring.kinds.items()
        if kind.acts == "protective"
    }


def band_of(stage: Stage, name: str) -> Band | None:
    """The trip band of a device; None where it is not known."""
    found = bands(stage).get(name)
    return found if isinstance(found, Band) else None


def faults(view: ModeView, node: int, case: Case) -> Iterator[tuple[To, Fault]]:
    """The prospective currents of all kinds of fault at a node that can be worked out."""
    device, terminal = view.wiring.names[node]
    for to in TO.get(view.node_role(node), SEVERAL):
        found = solution(view).fault(device, terminal, to, case)
        if isinstance(found, Fault):
            yield to, found


SEVERAL: tuple[To, ...] = ("line", "neutral", "earth")
TO: dict[str, tuple[To, ...]] = {"+": ("neutral",), "L": ("neutral", "earth")}


def worst_fault(view: ModeView, node: int) -> tuple[To, Fault] | None:
    """The largest prospective current at a node; None where none can be worked out."""
    return max(faults(view, node, "max"), key=lambda row: row[1].amps, default=None)


def line_nodes(view: ModeView, device: str) -> list[int]:
    """The nodes of a device's terminals that an ungrounded pole reaches."""
    wiring = view.wiring
    nodes = (wiring.node(device, terminal) for terminal in wiring.variants[device].terminals)
    return [node for node in nodes if view.node_role(node) in UNGROUNDED]
