"""What each limit of one mode gives against what is connected behind it.

A limit is a protective device, a source or a converter.  What is behind a device has one way to its
sources, through it; where several sources feed together, the cut of their devices is the limit.
The ratings of what protects nothing (inlets, switches, bars) are no limits here: other rules hold
them above the devices ahead.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cached_property, lru_cache
from math import inf

from ...dsl.model import Device
from ...dsl.records import record
from ..books.book import book
from ..tracing.cut import protection
from ..tracing.trace import ModeView, Source
from .converters import alone
from .draws import Draw, Item, behind, drawn

Sums = dict[str, float]


@record
class Point:
    """A limit: ``gives`` (A, W or VA) against what each item takes there at full.

    ``name`` is a device, or several that feed together; ``role`` the line.  ``factor`` is the
    book's for continuous loads.  ``source``: a source or converter, not a device in between.
    """

    name: str
    devices: tuple[str, ...]
    role: str
    gives: float
    unit: str
    draws: Mapping[str, float]
    factor: float = 1.0
    source: bool = False


@record
class Demand:
    """One mode: the items, what they draw where, the limits, and the loads that give no figure."""

    items: Mapping[str, Item]
    draws: tuple[Draw, ...]
    points: tuple[Point, ...]
    unknown: tuple[Device, ...]

    @cached_property
    def of(self) -> Mapping[str, list[Draw]]:
        """By item what it draws, and where."""
        found: dict[str, list[Draw]] = {}
        for draw in self.draws:
            found.setdefault(draw.item, []).append(draw)
        return found

    def counted(self, point: Point, name: str) -> float:
        """What an item counts at a limit: with its ``demand=`` and the factor for continuous.

        A charger that yields counts nothing: it makes room.
        """
        item = self.items[name]
        if item.yields:
            return 0.0
        return point.draws[name] * item.share * (point.factor if item.continuous else 1.0)

    def total(self, point: Point) -> float:
        """What all items count at a limit."""
        return sum(self.counted(point, name) for name in point.draws)


@lru_cache(maxsize=64)
def demand(view: ModeView) -> Demand:
    """What is connected in a mode against every limit, worked out once."""
    items, draws, unknown = drawn(view)
    points = (*_devices(view, draws), *_sources(view, draws))
    return Demand(items, tuple(draws), points, tuple(unknown))


def _add(table: Sums, draw: Draw, amount: float) -> None:
    table[draw.item] = table.get(draw.item, 0.0) + amount


def _factor(view: ModeView) -> float:
    figure = book(view.wiring.rig.book).value("continuous-factor")
    return figure.value if figure else 1.0


def _devices(view: ModeView, draws: list[Draw]) -> Iterator[Point]:
    """Protective devices with what hangs on each, and where several sources feed together."""
    held = protection(view)
    through: dict[int, Sums] = {}  # by the cell behind each device
    roots: dict[int, Sums] = {}
    first: dict[int, int] = {}  # a node at which something draws, for each of them
    for draw in draws:
        cell = held.cell[draw.node]
        while cell in held.way_in:
            edge = held.way_in[cell]
            _add(through.setdefault(cell, {}), draw, draw.amps)
            cell = held.cell[edge.b] if held.cell[edge.a] == cell else held.cell[edge.a]
        first.setdefault(cell, draw.node)
        _add(roots.setdefault(cell, {}), draw, draw.amps)
    factor = _factor(view)
    for behind_it, sums in through.items():
        edge = held.way_in[behind_it]
        rating, role = held.ratings[edge.owner], view.node_role(edge.a)
        if rating < inf:
            yield Point(edge.owner, (edge.owner,), role, rating, "A", sums, factor)
    for cell, sums in roots.items():
        if cell in held.core or len(held.sources.get(cell, ())) > 1:
            cut = held.into(cell)
            if 0 < cut.amps < inf:
                role = view.node_role(first[cell])
                yield Point(" + ".join(cut.names), cut.names, role, cut.amps, "A", sums, factor)


def _sources(view: ModeView, draws: list[Draw]) -> Iterator[Point]:
    """What each source that feeds its lines alone can give, per line and in all."""
    for source in view.live.values():
        if not alone(view, source):
            continue
        mine = behind(view, source, draws)
        for key, unit in _figures(source):
            gives = source.device.number(key)
            if gives is not None and mine:
                factor = _factor(view) if source.device.kind in ("supply", "generator") else 1.0
                yield from _point(view, source, mine, gives, unit, factor)


def _figures(source: Source) -> tuple[tuple[str, str], ...]:
    """The attributes that say what a source gives continuously, with their units."""
    device = source.device
    if device.kind == "inverter" and source.dc:
        return (("charge", "A"),)
    return {
        "inverter": (("power", "W"), ("apparent", "VA")),
        "transformer": (("apparent", "VA"),),
        "battery": (("discharge", "A"),),
        "dcdc": (("rating", "A"), ("power", "W")),
    }.get(device.kind, (("rating", "A"),))


def _point(
    view: ModeView, source: Source, mine: list[Draw], gives: float, unit: str, factor: float
) -> Iterator[Point]:
    """One limit in W or VA over all lines, or one in A for each line."""
    lines = source.lines if unit == "A" else ("",)
    for role in lines:
        sums: Sums = {}
        for draw in mine:
            if not role or view.net[draw.node] == view.net[source.nodes[role]]:
                amount = {"A": draw.amps, "W": draw.watts, "VA": draw.va}[unit]
                _add(sums, draw, amount)
        if sums:
            yield Point(source.name, (source.name,), role, gives, unit, sums, factor, source=True)
