"""What is live where a job is done: which sources to isolate, and where to prove them dead."""

from __future__ import annotations

from collections.abc import Iterator, Set
from typing import NamedTuple

from ...dsl.kinds import kinds
from ...dsl.model import Rig
from ...dsl.names import natural
from ...dsl.things import PANEL
from ..figures.meter import probe
from ..tracing.network import BAR
from ..tracing.trace import EARTH, GROUNDED, UNGROUNDED, ModeView, Source, Stage, wanted
from .jobs import ALWAYS_ON
from .touch import Touch

OPENS = ("breaker", "fuse", "switch", "selector", "contactor", "inlet")
"""Kinds that somebody opens by hand, or pulls."""


NO_STORE = "transformer"
"""The kind of converter that holds no charge."""


class Point(NamedTuple):
    """A terminal to prove dead: its role, what a meter shows while it is live (V, None: no figure),
    and in which mode."""

    device: str
    terminal: str
    role: str
    volts: float | None
    mode: str


class Live(NamedTuple):
    """A source that reaches the work: the modes in which it does, and what parts it from there.

    ``at``: devices that open all ways from it to the work; none: only the source itself does.
    ``panels``: panels opened for the work in which it is live.
    """

    source: str
    modes: tuple[str, ...]
    at: tuple[str, ...]
    panels: tuple[str, ...]


Spot = tuple[str, str]


class Isolation:
    """What is live where somebody is to work, as the rig is wired before the job."""

    def __init__(self, before: Stage, after: Rig, touched: Touch) -> None:
        self.stage = before
        self.worked = self._worked(touched)
        names = {*touched.opened, *(device for device, _ in self.worked)}
        found = (rig.devices[n] for rig in (before.rig, after) for n in names if n in rig.devices)
        inside = {device.name if device.kind == PANEL else device.panel for device in found}
        self.panels = {panel for panel in inside if panel in before.rig.panels}

    def _worked(self, touched: Touch) -> tuple[Spot, ...]:
        """The terminals that are there and are worked on."""
        ends = (landing.end for landing in (*touched.lift, *touched.land))
        found = [(end.device, end.terminal) for end in ends]
        devices = self.stage.rig.devices
        found += [(d, t.name) for d in touched.opened if d in devices for t in devices[d].terminals]
        there = (spot for spot in found if spot[0] in devices and self._has(*spot))
        return tuple(sorted(dict.fromkeys(there), key=lambda s: (natural(s[0]), natural(s[1]))))

    def _has(self, device: str, terminal: str) -> bool:
        return self.stage.rig.devices[device].terminal(terminal) is not None

    def _inside(self) -> Iterator[Spot]:
        """All terminals in the panels that are opened."""
        for device in self.stage.rig.devices.values():
            if device.panel in self.panels:
                yield from ((device.name, terminal.name) for terminal in device.terminals)

    def live(self) -> tuple[Live, ...]:
        """The sources that reach the work, or what stands beside it in an open panel."""
        modes: dict[str, dict[str, None]] = {}
        panels: dict[str, set[str]] = {}
        spots = dict.fromkeys((*self.worked, *self._inside()))
        for view in self.stage.modes:
            for device, terminal in spots:
                for source in _reaching(view, device, terminal):
                    modes.setdefault(source, {})[view.name] = None
                    panel = self.stage.rig.devices[device].panel
                    known = panels.setdefault(source, set())
                    known.update({panel} if panel and panel in self.panels else ())
        return tuple(
            Live(s, tuple(modes[s]), self._at(s), tuple(sorted(panels[s])))
            for s in sorted(modes, key=natural)
        )

    def _at(self, source: str) -> tuple[str, ...]:
        """What somebody opens, nearest to the source, so that it reaches none of the work."""
        spots = tuple(dict.fromkeys((*self.worked, *self._inside())))
        found: dict[str, None] = {}
        for view in self.stage.modes:
            given = view.live.get(source)
            if given is None:
                continue
            own = {view.wiring.node(d, t) for d, t in spots}
            names = _parting(view, given, own, {d for d, _ in spots})
            if names is None:
                return ()
            found |= dict.fromkeys(names)
        return tuple(found)

    def points(self) -> tuple[Point, ...]:
        """Where to prove dead: the live terminals worked on, and one for what else is live inside.

        Neutral and negative are proved against earth at the same places; they are no points.
        """
        found: dict[Spot, Point] = {}
        nets: set[tuple[str, int]] = set()
        for view in self.stage.modes:
            for spot in self.worked:
                self._prove(view, spot, found)
                nets.add((view.name, view.net[view.wiring.node(*spot)]))
        for view in self.stage.modes:
            for spot in self._inside():
                at = (view.name, view.net[view.wiring.node(*spot)])
                if at not in nets and spot not in found:
                    nets.add(at)
                    self._prove(view, spot, found)
        return tuple(sorted(found.values(), key=lambda p: (natural(p.device), natural(p.terminal))))

    def charged(self) -> tuple[str, ...]:
        """Converters whose capacitors may feed the work: joined to it by a line or a positive."""
        found: dict[str, None] = {}
        devices = self.stage.rig.devices.values()
        holding = [d for d in devices if kinds()[d.kind].acts == "converter" and d.kind != NO_STORE]
        for view in self.stage.modes:
            nets = {view.net[view.wiring.node(*spot)] for spot in self.worked}
            for device in holding:
                lines = (t.name for t in device.terminals if wanted(t.name) in UNGROUNDED)
                if any(view.net[view.wiring.node(device.name, line)] in nets for line in lines):
                    found[device.name] = None
        return tuple(sorted(found, key=natural))

    def _prove(self, view: ModeView, spot: Spot, found: dict[Spot, Point]) -> None:
        """Note a terminal that is live in a mode, with the highest voltage of all modes."""
        role = view.role(*spot)
        if not role or role in (*GROUNDED, EARTH):
            return
        shown = [row.volts for row in probe(view, *spot).expected if row.volts is not None]
        volts = max(shown, default=None)
        known = found.get(spot)
        if known is None or (volts or 0.0) > (known.volts or 0.0):
            found[spot] = Point(*spot, role, volts, view.name)


def _reaching(view: ModeView, device: str, terminal: str) -> tuple[str, ...]:
    """The sources that make a terminal live; none where it is at earth's potential."""
    role = view.role(device, terminal)
    return () if not role or role == EARTH else view.sources(device, terminal)


def _parting(view: ModeView, source: Source, goals: set[int], worked: set[str]) -> list[str] | None:
    """The first devices on the ways from a source to the work that open; None: a way has none.

    A device that is itself worked on does not count: its own line terminals would stay live.
    """
    if source.device.kind in ALWAYS_ON and source.name in worked:
        return None
    devices = view.wiring.rig.devices
    opening = {n for n, device in devices.items() if device.kind in OPENS and n not in worked}
    start = {node for role, node in source.nodes.items() if role in UNGROUNDED}
    near, crossings = _walk(view, start, opening)
    if near & goals:
        return None
    ways = {name: _walk(view, far, opening, near)[0] for name, far in crossings.items()}
    return [name for name, reached in ways.items() if reached & goals]


def _walk(
    view: ModeView, start: set[int], opening: set[str], near: Set[int] = frozenset()
) -> tuple[set[int], dict[str, set[int]]]:
    """What is reached without going through what opens; and beyond each such device, its far nodes.

    With ``near``, the nodes on the source's side, all is gone through that does not lead back.
    """
    seen, line = set(start), list(start)
    beyond: dict[str, set[int]] = {}
    while line:
        for edge in view.network.neighbours[(at := line.pop())]:
            far = edge.other(at)
            if not near and edge.owner in opening and edge.kind != BAR:
                beyond.setdefault(edge.owner, set()).add(far)
            elif far not in seen and far not in near:
                seen.add(far)
                line.append(far)
    return seen, beyond
