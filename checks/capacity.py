"""Capacity of one mode: every limit, what may run together within them, and how batteries last.

    capacity(view) -> Capacity

Besides the limits that the rules look at (``demand``) there are the ratings of what protects
nothing itself: inlets, switches, bars, residual-current devices, an inverter's pass-through.
Conductors are not among them: that a conductor bears what its devices let through is the cut's.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import NamedTuple

from ..dsl.model import Device
from .battery import Life, lives
from .demand import Demand, Point, demand
from .network import WIRE, Edge
from .together import Limit, Together, together
from .trace import UNGROUNDED, ModeView

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


class Capacity(NamedTuple):
    """One mode; ``together`` numbers its limits by those of ``limits``."""

    mode: str
    label: str
    demand: Demand
    rows: tuple[Row, ...]
    together: Together
    lives: tuple[Life, ...]

    @property
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

    @property
    def unknown(self) -> tuple[Device, ...]:
        """Live loads that say neither W, VA nor A: nothing here counts them."""
        return self.demand.unknown


def capacity(view: ModeView) -> Capacity:
    """What a mode can carry."""
    found = demand(view)
    points = sorted([*found.points, *passing(view, found)], key=lambda p: not p.source)
    rows = tuple(_row(found, point, points) for point in points)
    limits = [
        Limit(row.point.gives, {name: found.counted(row.point, name) for name in row.point.draws})
        for row in rows
        if not row.within
    ]
    names = [name for name, item in found.items.items() if not item.yields]
    label = view.wiring.rig.modes[view.name].label
    return Capacity(view.name, label, found, rows, together(names, limits), lives(view))


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
