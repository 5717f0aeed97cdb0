"""Circuits as somebody tests them: what hangs on each overcurrent device, in every mode."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache

from ..figures.chains import Ways, line_nodes
from ..tracing.network import Edge, carries
from ..tracing.trace import EARTH, ModeView, Stage, wanted

USERS = ("load", "outlet", "converter")


@dataclass(frozen=True, slots=True)
class Feed:
    """A user's line terminal (a node) fed in one mode, by one way out of a source."""

    way: Ways
    user: str
    node: int

    @property
    def view(self) -> ModeView:
        return self.way.view


@dataclass(slots=True)
class Circuit:
    """What has one device (or source) as the nearest ahead; users in the order of the text.

    ``volts`` from line to neutral or from + to -, the most in any mode.  ``names``: all devices
    and conductors from its sources to its users, back, and along its earth; ``own``: those from
    its device, and from the bars of neutral and earth, onwards.
    """

    head: str
    dc: bool
    volts: float = 0.0
    feeds: list[Feed] = field(default_factory=list)
    names: dict[str, None] = field(default_factory=dict)
    own: dict[str, None] = field(default_factory=dict)

    @property
    def users(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(feed.user for feed in self.feeds))

    @property
    def modes(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(feed.view.name for feed in self.feeds))


@lru_cache(maxsize=16)
def circuits(stage: Stage) -> tuple[Circuit, ...]:
    """All circuits of a stage that feed something, in the order of the text."""
    found: dict[str, Circuit] = {}
    for view in stage.modes:
        for way in every_way(view):
            for feed, head in _fed(stage, way):
                circuit = found.setdefault(head, Circuit(head, way.source.dc))
                circuit.volts = max(circuit.volts, ModeView.to_neutral(way.source) or 0.0)
                circuit.feeds.append(feed)
                for part in ways_of(feed):
                    circuit.names |= dict.fromkeys(part)
                    circuit.own |= dict.fromkeys(_onwards(stage, part, head))
    order = {name: index for index, name in enumerate(stage.rig.devices)}
    for circuit in found.values():
        circuit.feeds.sort(key=lambda feed: order[feed.user])
    return tuple(sorted(found.values(), key=lambda circuit: order[circuit.head]))


@lru_cache(maxsize=64)
def every_way(view: ModeView) -> tuple[Ways, ...]:
    """The ways out of every line of every live source."""
    sources = view.live.values()
    return tuple(Ways(view, source, role) for source in sources for role in source.lines)


def _fed(stage: Stage, way: Ways) -> Iterator[tuple[Feed, str]]:
    """What a way feeds, with the device nearest ahead of it (the source itself if none)."""
    view, source = way.view, way.source.name
    for name, device in stage.rig.devices.items():
        acts = view.wiring.kinds[name].acts
        if acts not in USERS or name == source or not carries(device):
            continue
        for node in line_nodes(view, name):
            if node in way.came:
                yield Feed(way, name, node), (way.protective(node) or (source,))[-1]
                break


def ways_of(feed: Feed) -> Iterator[list[str]]:
    """Devices and conductors from a user to its source, by line, by neutral and by earth."""
    view, source = feed.view, feed.way.source
    yield list(owners(view, feed.way.came, feed.node))
    for terminal in view.wiring.variants[feed.user].terminals:
        role, node = wanted(terminal), view.wiring.node(feed.user, terminal)
        if role == source.grounded and source.grounded in source.nodes:
            yield list(between(view, [source.nodes[source.grounded]], node))
        elif role == EARTH:
            yield list(to_earth(view, node))


def _onwards(stage: Stage, part: list[str], head: str) -> Iterator[str]:
    """Of a way from a user inwards, what comes before the circuit's device or the first bar."""
    for name in part:
        yield name
        device = stage.rig.devices.get(name)
        if name == head or (device is not None and device.kind in ("bus", "earth")):
            return


def to_earth(view: ModeView, node: int) -> Iterator[str]:
    """What lies between a terminal and the chassis, hull or electrode, or a source's earth."""
    wiring = view.wiring
    goals = [n for n, (name, _) in enumerate(wiring.names) if wiring.kinds[name].acts == "earth"]
    sources = (s.nodes[EARTH] for s in view.live.values() if EARTH in s.nodes)
    for starts in (goals, *([node] for node in sources)):
        reached = view.network.walk(starts)
        if node in reached:
            yield from owners(view, reached, node)
            return


def between(view: ModeView, starts: Iterable[int], goal: int) -> Iterator[str]:
    """What lies on the shortest way between nodes; nothing where there is none."""
    reached = view.network.walk(starts)
    if goal in reached:
        yield from owners(view, reached, goal)


def owners(view: ModeView, came: dict[int, Edge | None], node: int) -> Iterator[str]:
    """The conductors and devices on the way that a walk came to a node by."""
    edge = came[node]
    yield view.wiring.names[node][0]
    while edge is not None:
        yield edge.owner
        node = edge.other(node)
        yield view.wiring.names[node][0]
        edge = came[node]
