"""Capacity of one mode: every limit, what may run together within them, and how batteries last.

    capacity(view) -> Capacity

Besides the limits that the rules look at (``demand``) there are the ratings of what protects
nothing itself: inlets, switches, bars, residual-current devices, an inverter's pass-through.
Conductors are not among them: that a conductor bears what its devices let through is the cut's.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cached_property, partial
from types import MappingProxyType
from typing import NamedTuple

from ...dsl.model import Device
from ...dsl.records import replace
from ..tracing.network import WIRE, Edge
from ..tracing.trace import UNGROUNDED, ModeView
from .battery import Life, lives
from .demand import Demand, Point, demand
from .together import Limit, Together, together

NOTHING_ELSE: Mapping[str, float] = MappingProxyType({})
ALIKE = 1e-9  # parts of a limit closer than this are the same


class Row(NamedTuple):
    """One limit: ``connected`` is the plain sum, ``counted`` the one held against it.

    ``within``: the tighter limit for the same loads, "" where there is none; what fits that one
    fits this one.
    """

    point: Point
    connected: float
    counted: float
    within: str

    @property
    def left(self) -> float:
        return self.point.gives - self.counted


class Capacity:
    """What one mode can carry; each part is worked out when it is asked for.

    ``gives``: for some sources by name, A that they give in place of what the text says (a smaller
    supply, by an adapter).
    """

    def __init__(self, view: ModeView, gives: Mapping[str, float]) -> None:
        self.view = view
        self.mode = view.name
        self.label = view.wiring.rig.modes[view.name].label
        found = demand(view)
        points = tuple(
            replace(point, gives=gives[point.name])
            if point.source and point.unit == "A" and point.name in gives
            else point
            for point in found.points
        )
        self.demand = replace(found, points=points)

    @cached_property
    def rows(self) -> tuple[Row, ...]:
        """Every limit, sources first."""
        found = self.demand
        every = [*found.points, *passing(self.view, found)]
        points = sorted(every, key=lambda point: not point.source)
        return tuple(_row(found, point, points) for point in points)

    @cached_property
    def limits(self) -> tuple[Row, ...]:
        """The rows that no other for the same loads holds tighter."""
        return tuple(row for row in self.rows if not row.within)

    @property
    def telling(self) -> tuple[Row, ...]:
        """Of these the sources, those that carry several loads, and those that are exceeded."""
        return tuple(
            row
            for row in self.limits
            if row.point.source or len(row.point.draws) > 1 or row.counted > row.point.gives
        )

    @cached_property
    def together(self) -> Together:
        """What may run together; it numbers its limits by those of ``limits``."""
        count = self.demand.counted
        limits = [
            Limit(row.point.gives, {name: count(row.point, name) for name in row.point.draws})
            for row in self.limits
        ]
        names = [name for name, item in self.demand.items.items() if not item.yields]
        return together(names, limits)

    @cached_property
    def lives(self) -> tuple[Life, ...]:
        """How long each bank lasts and charges."""
        return lives(self.view)

    @property
    def unknown(self) -> tuple[Device, ...]:
        """Live loads that say neither W, VA nor A: nothing here counts them."""
        return self.demand.unknown


def capacity(view: ModeView, gives: Mapping[str, float] = NOTHING_ELSE) -> Capacity:
    """What a mode can carry; see ``Capacity``."""
    return Capacity(view, gives)


def _row(found: Demand, point: Point, points: list[Point]) -> Row:
    fixed = [name for name in point.draws if not found.items[name].yields]
    connected = sum(point.draws[name] for name in fixed)
    tighter = next((other for other in points if _tighter(found, other, point, points)), None)
    return Row(point, connected, found.total(point), tighter.name if tighter else "")


def _tighter(found: Demand, one: Point, other: Point, order: list[Point]) -> bool:
    """Whether every load takes a greater part of one limit than of the other, or the same of both
    and stands first."""
    if one is other or one.draws.keys() != other.draws.keys():
        return False
    parts = [
        (found.counted(one, name) / one.gives, found.counted(other, name) / other.gives)
        for name in one.draws
    ]
    if all(abs(a - b) <= ALIKE * max(a, b) for a, b in parts):
        return order.index(one) < order.index(other)
    return all(a >= b * (1 - ALIKE) for a, b in parts)


def passing(view: ModeView, found: Demand) -> Iterator[Point]:
    """The ratings of devices that protect nothing, with the loads that are dark without each."""
    starts = [s.nodes[role] for s in view.live.values() for role in s.lines]
    for device in _unprotecting(view):
        rating = device.number("transfer" if device.kind == "inverter" else "rating")
        if rating is None:
            continue
        lit = view.network.walk(starts, partial(_not_through, device.name))
        sums: dict[str, dict[str, float]] = {}
        for draw in found.draws:
            if draw.node not in lit:
                line = sums.setdefault(view.node_role(draw.node), {})
                line[draw.item] = line.get(draw.item, 0.0) + draw.amps
        for role, draws in sums.items():
            yield Point(device.name, (device.name,), role, rating, "A", draws)


def _not_through(name: str, edge: Edge) -> bool:
    return edge.owner != name


def _unprotecting(view: ModeView) -> list[Device]:
    """The devices that a line leads through and that have no protection of their own."""
    owners = {
        edge.owner
        for edge in view.network.edges
        if edge.kind != WIRE and view.node_role(edge.a) in UNGROUNDED
    }
    return [
        device
        for name, device in view.wiring.rig.devices.items()
        if name in owners and view.wiring.kinds[name].acts != "protective"
    ]
