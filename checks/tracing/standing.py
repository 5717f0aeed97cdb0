"""Each protective device in its place: what it protects, what it sees in a fault, who stands ahead.

Over all modes: the greatest fault current where it stands, the least at the ends of what it
protects, the latest it opens there, and up to which current it opens before the device ahead.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from ...dsl.model import Conductor, Device
from ..bands import Band
from ..bands.selective import selective_to
from ..books.book import Figure, Missing
from ..figures.chains import Ways, bands, ways, worst_fault
from ..solve import Fault, solution
from .feeds import every_way, takes
from .network import POLE, WIRE
from .trace import ModeView, Stage

NOTHING = 1e-3
"""A current, A, below which the solution says that none flows."""
PRINTED = 1.005
"""A load that prints as its device's rating is not more than it."""


class Guarded(NamedTuple):
    """The conductor that bears least of those a device is the nearest to, and its ampacity."""

    conductor: Conductor
    ampacity: Figure | Missing


class Least(NamedTuple):
    """The least fault that a device has to open: at ``user`` (a load, the next device) in ``mode``.

    ``seconds``: the latest it opens (infinite: it need not); ``limit``: the time the book asks for
    (None: none); ``residual``: the residual-current devices that open it too.
    """

    mode: str
    user: str
    fault: Fault
    seconds: float | Missing
    limit: Figure | None
    residual: tuple[str, ...]


class Ahead(NamedTuple):
    """The overcurrent device ahead: up to which current, A, this one opens first."""

    device: str
    selective: float | Missing


class Standing(NamedTuple):
    """One device.  ``load``: the greatest steady current through it, A, and the mode; ``most``:
    the greatest prospective current where it stands, and the mode.  ``unknown``: why there is no
    such figure.  ``before`` and ``after``: residual-current devices ahead and behind.
    """

    device: Device
    guarded: Guarded | None
    load: tuple[float, str] | None
    most: tuple[Fault, str] | None
    unknown: str
    least: Least | None
    ahead: tuple[Ahead, ...]
    before: tuple[str, ...]
    after: tuple[str, ...]


def standings(stage: Stage) -> Iterator[Standing]:
    """Every overcurrent and residual-current device, in the order of the text."""
    for name, kind in stage.wiring.kinds.items():
        device = stage.rig.devices[name]
        if kind.acts in ("protective", "residual") and device.status != "removed":
            yield standing(stage, device)


def standing(stage: Stage, device: Device) -> Standing:
    """One device in its place."""
    spots = [(view, way, near) for view in stage.modes for way, near in _poles(view, device)]
    most, unknown = _most(spots)
    least = [found for view, way, _ in spots for found in _least(stage, view, way, device)]
    before = dict.fromkeys(name for _, way, near in spots for name in way.residual(near))
    after = dict.fromkeys(name for _, way, _ in spots for name in _residual_after(way, device))
    return Standing(
        device,
        _guarded(stage, spots, device),
        _load(stage, device),
        most,
        unknown,
        min(least, key=lambda each: each.fault.amps, default=None),
        tuple(_ahead(stage, spots, device)),
        tuple(before),
        tuple(name for name in after if name not in before),
    )


Spot = tuple[ModeView, Ways, int]


def _poles(view: ModeView, device: Device) -> list[tuple[Ways, int]]:
    """The ways through a device, each with the node on the source's side of its pole.

    From sources that drive a fault; only where none does, from those that hold their own current.
    """
    edges = [e for e in view.network.device_edges if e.kind == POLE and e.owner == device.name]
    for some in (ways, every_way):
        ends = [(way, edge, way.outer_end(edge)) for way in some(view) for edge in edges]
        found = [(way, edge.other(outer)) for way, edge, outer in ends if outer is not None]
        if found:
            return found
    return []


def _most(spots: list[Spot]) -> tuple[tuple[Fault, str] | None, str]:
    """The greatest fault ahead of a device, with its mode; or why it is not known."""
    found = [(worst[1], v.name) for v, _, near in spots if (worst := worst_fault(v, near))]
    if found:
        return max(found, key=lambda pair: pair[0].amps), ""
    for view, _, near in spots:
        device, terminal = view.wiring.names[near]
        why = solution(view).fault(device, terminal, "neutral", "max")
        if isinstance(why, Missing):
            return None, why.reason
    return None, "no source that drives a fault reaches it"


def _least(stage: Stage, view: ModeView, way: Ways, device: Device) -> Iterator[Least]:
    """The least fault at each end of what a device protects: to earth, or from + to -."""
    held = bands(stage).get(device.name)
    for node in way.nearest_to(device.name):
        user, terminal = view.wiring.names[node]
        if user in (way.source.name, device.name) or way.leads_on(node):
            continue
        fault = solution(view).fault(user, terminal, "neutral" if way.source.dc else "earth", "min")
        if isinstance(fault, Fault) and held is not None:
            seconds = held.times(fault.amps)[1] if isinstance(held, Band) else held
            limit = _asked(stage, way, device, user)
            yield Least(view.name, user, fault, seconds, limit, way.residual(node))


def _asked(stage: Stage, way: Ways, device: Device, user: str) -> Figure | None:
    """The time the book asks a fault to earth at a user to be opened in."""
    volts = ModeView.to_neutral(way.source)
    if way.source.dc or volts is None:
        return None
    rated = device.number("rating") or 0.0
    return stage.book.disconnect_time(volts, final=takes(stage, user), rated_a=rated)


def _residual_after(way: Ways, device: Device) -> Iterator[str]:
    for node in way.behind(device.name):
        yield from (name for name in way.residual(node) if name != device.name)


def _guarded(stage: Stage, spots: list[Spot], device: Device) -> Guarded | None:
    """The conductor with the least ampacity of those behind a device, before the next one."""
    found: dict[str, Conductor] = {}
    for _, way, _ in spots:
        for node in way.nearest_to(device.name):
            edge = way.came[node]
            if edge is not None and edge.kind == WIRE:
                conductor = stage.rig.conductors[edge.owner]
                if conductor.size is not None:
                    found[conductor.name] = conductor
    rated = [Guarded(conductor, stage.ampacity(conductor)) for conductor in found.values()]
    known = [each for each in rated if isinstance(each.ampacity, Figure)]
    return min(known or rated, key=_bears, default=None)


def _bears(guarded: Guarded) -> float:
    """Its ampacity; its area where that is not known."""
    if isinstance(guarded.ampacity, Figure):
        return guarded.ampacity.value
    return guarded.conductor.size.mm2 if guarded.conductor.size else 0.0


def loads(stage: Stage, device: Device) -> list[tuple[float, str]]:
    """The steady current through the poles of a device, A, all loads on, with each mode."""
    poles = stage.wiring.variants[device.name].poles
    ends = {terminal for pair in poles for terminal in pair}
    return [
        (max((solution(view).pole_amps(device.name, end) for end in ends), default=0.0), view.name)
        for view in stage.modes
    ]


def _load(stage: Stage, device: Device) -> tuple[float, str] | None:
    """The greatest of those currents."""
    best = max(loads(stage, device), key=lambda pair: pair[0], default=None)
    return best if best and best[0] > NOTHING else None


def overloads(stage: Stage, device: Device) -> tuple[tuple[float, str], ...]:
    """Those of the currents that are more than its rating, the greatest first."""
    rating = device.number("rating")
    found = [] if rating is None else [p for p in loads(stage, device) if p[0] > rating * PRINTED]
    return tuple(sorted(found, key=lambda pair: -pair[0]))


def _ahead(stage: Stage, spots: list[Spot], device: Device) -> Iterator[Ahead]:
    """The overcurrent devices next ahead, over all modes."""
    table = bands(stage)
    mine = table.get(device.name)
    for name in dict.fromkeys(n for _, way, near in spots for n in way.protective(near)[-1:]):
        theirs = table[name]
        if mine is None:
            continue
        lacking = next((b for b in (mine, theirs) if isinstance(b, Missing)), None)
        if lacking is not None:
            yield Ahead(name, lacking)
        elif isinstance(mine, Band) and isinstance(theirs, Band):
            yield Ahead(name, selective_to(mine, theirs))
