"""Who feeds what, for people at the panel: from where a device is fed, and what hangs on it.

    feed_of(view, "E1")       the source, the line, the devices and the bar on the way; None: dead
    behind(stage, "Q1")       what a device is the last one ahead of, over all modes
    supply_of(view, "Q1")     what the source gives there at most, and what sets that limit
    sources_of(view, "Q1")    every source that reaches it, chargers and the like too

The way is the one of ``chains.Ways``.  Where several sources feed a place, the one that drives a
fault by itself (a supply, a battery) is told before chargers and the like.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from math import inf, sqrt
from typing import NamedTuple

from ...dsl.model import Device
from ..figures.chains import Ways, ways
from ..figures.meter import HEADS
from .network import BAR, WIRE
from .trace import UNGROUNDED, ModeView, Source, Stage

USERS = ("load", "outlet", "converter")


class Feed(NamedTuple):
    """How one device is fed in one mode.

    ``lines``: the roles it takes; ``devices``: the protective and residual-current devices on the
    way, the source's side first; ``bar``: the nearest bar on the way ("" where there is none).
    """

    source: str
    lines: tuple[str, ...]
    devices: tuple[str, ...]
    bar: str


class Supply(NamedTuple):
    """What may come to a place: ``amps`` (None: nothing says) as ``by`` limits it."""

    source: str
    amps: float | None
    by: str


class Behind(NamedTuple):
    """What a device is the last one ahead of: users, and further devices, in the text's order."""

    users: tuple[str, ...]
    devices: tuple[str, ...]


@lru_cache(maxsize=64)
def every_way(view: ModeView) -> tuple[Ways, ...]:
    """The ways out of every live source, those of sources that drive a fault first."""
    first = ways(view)
    there = {way.source.name for way in first}
    rest = (source for source in view.live.values() if source.name not in there)
    return (*first, *(Ways(view, source, role) for source in rest for role in source.lines))


def _reaching(view: ModeView, device: str) -> Iterator[tuple[Ways, int]]:
    """The ways that reach a device, each with the terminal's node that it reaches first."""
    wiring = view.wiring
    own = (terminal.name for terminal in wiring.rig.devices[device].terminals)
    nodes = [wiring.node(device, terminal) for terminal in view.takes(device) or own]
    for way in every_way(view):
        found = [node for node in nodes if node in way.came and view.node_role(node) in UNGROUNDED]
        if found and way.source.name != device:
            yield way, min(found, key=lambda node: _steps(way, node))


def _steps(way: Ways, node: int) -> int:
    return sum(1 for _ in _back(way, node))


def _back(way: Ways, node: int) -> Iterator[tuple[str, str]]:
    """The edges from a node back to the source, as (kind, owner)."""
    while (edge := way.came[node]) is not None:
        yield edge.kind, edge.owner
        node = edge.other(node)


def feed_of(view: ModeView, device: str) -> Feed | None:
    """How a device is fed; None where no source reaches it."""
    found = list(_reaching(view, device))
    if not found:
        return None
    way, node = found[0]
    mine = [pair for pair in found if pair[0].source.name == way.source.name]
    lines = tuple(dict.fromkeys(view.node_role(at) for _, at in mine))
    bar = next((owner for kind, owner in _back(way, node) if kind == BAR), "")
    return Feed(way.source.name, lines, way.devices[node], bar)


def sources_of(view: ModeView, device: str) -> tuple[str, ...]:
    """Every source that reaches a line of a device, converters among them."""
    return tuple(dict.fromkeys(way.source.name for way, _ in _reaching(view, device)))


def supply_of(view: ModeView, device: str) -> Supply | None:
    """What the source of a device gives there at most, A; None where no source reaches it.

    The least of the source's own limit and the ratings of all devices on the way; the device itself
    does not count.
    """
    found = next(_reaching(view, device), None)
    if found is None:
        return None
    way, node = found
    limits = {way.source.name: _head(way.source)}
    for kind, owner in _back(way, node):
        if kind != WIRE and owner != device:
            limits[owner] = _rating(view.wiring.rig.devices[owner])
    by = min(limits, key=lambda name: limits[name])
    return Supply(way.source.name, None if limits[by] == inf else limits[by], by)


def _head(source: Source) -> float:
    """What a source gives on each line, A: as it says, else its VA or W over its voltage."""
    device = source.device
    key = "discharge" if device.kind == "battery" else HEADS.get(device.kind, ("rating", ""))[0]
    amps = device.number(key)
    power = device.number("apparent") or device.number("power")
    if amps is None and power and source.volts:
        return power / source.volts / (sqrt(3) if len(source.lines) == 3 else 1.0)
    return amps or inf


def _rating(device: Device) -> float:
    key = "transfer" if device.kind == "inverter" else "rating"
    return device.number(key) or inf


def takes(stage: Stage, device: str) -> bool:
    """Whether a device takes power: a load, an outlet (no inlet), a converter's input."""
    kind = stage.wiring.kinds[device]
    return kind.acts in USERS and kind.name != "inlet"


@lru_cache(maxsize=16)
def _all_behind(stage: Stage) -> dict[str, tuple[set[str], set[str]]]:
    """For each device the users and the devices it is the last one ahead of."""
    found: dict[str, tuple[set[str], set[str]]] = {}
    for view in stage.modes:
        for way, node in _first_reached(view):
            passed = way.devices[node]
            if passed and _is_input(stage, view, way, node):
                user = view.wiring.names[node][0]
                found.setdefault(passed[-1], (set(), set()))[0].add(user)
            for ahead, device in zip(passed[-2:-1], passed[-1:], strict=False):
                found.setdefault(ahead, (set(), set()))[1].add(device)
    return found


def _first_reached(view: ModeView) -> Iterator[tuple[Ways, int]]:
    """Every node by the ways that count there: seen from chargers and the like only where nothing
    else feeds it."""
    first = ways(view)
    fed = {node for way in first for node in way.came}
    for way in every_way(view):
        yield from ((way, node) for node in way.came if way in first or node not in fed)


def _is_input(stage: Stage, view: ModeView, way: Ways, node: int) -> bool:
    """Whether a user takes its power at a node."""
    user = view.wiring.names[node][0]
    if user == way.source.name or not takes(stage, user):
        return False
    inputs = [view.wiring.node(user, terminal) for terminal in view.takes(user)]
    return node in inputs if inputs else stage.wiring.kinds[user].acts != "converter"


def behind(stage: Stage, device: str) -> Behind:
    """What a device is the last one ahead of, in any mode."""
    users, devices = _all_behind(stage).get(device, (set(), set()))
    order = list(stage.rig.devices)
    return Behind(*(tuple(n for n in order if n in names) for names in (users, devices)))
