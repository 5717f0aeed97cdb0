"""What is live where a job is done: which sources to isolate, and where to prove them dead."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from ...dsl.changes import Change, Removed
from ...dsl.model import Rig
from ...dsl.things import DEVICE, RUN
from ..meter import probe
from ..trace import EARTH, GROUNDED, ModeView, Stage
from .jobs import terminals
from .states import AS_BEFORE


class Point(NamedTuple):
    """A terminal to prove dead: what a meter shows there while it is live, V (None: no figure)."""

    terminal: str
    role: str
    mode: str
    volts: float | None


class Live(NamedTuple):
    """A source that reaches the work: the modes in which it does, and where to prove it dead.

    ``panels``: panels that the work is in and that it is live in besides.
    """

    source: str
    modes: tuple[str, ...]
    points: tuple[Point, ...]
    panels: tuple[str, ...]


def live(before: Stage, after: Stage, changes: Iterable[Change]) -> tuple[Live, ...]:
    """The sources that reach what is touched, as it is wired before the job or after it."""
    rigs = (before.rig, after.rig)
    touched = list(dict.fromkeys(_touched(*rigs, changes)))
    panels = {p for p in (_panel(rig, d) for rig in rigs for d, _ in touched) if p}
    found: dict[str, dict[str, None]] = {}
    points: dict[str, dict[str, Point]] = {}
    inside: dict[str, set[str]] = {}
    for view in (*before.modes, *after.modes):
        for device, terminal in touched:
            for source in view.sources(device, terminal):
                found.setdefault(source, {})[_mode(view)] = None
                at = points.setdefault(source, {})
                point = _point(view, device, terminal)
                if point is not None:
                    at.setdefault(point.terminal, point)
        for source, panel in _in_panels(view, panels):
            found.setdefault(source, {})[_mode(view)] = None
            inside.setdefault(source, set()).add(panel)
    return tuple(
        Live(source, tuple(modes), tuple(points.get(source, {}).values()),
             tuple(sorted(inside.get(source, ()))))
        for source, modes in sorted(found.items())
    )  # fmt: skip


def _mode(view: ModeView) -> str:
    """The mode's name; the old and the new one of a name are one way to run the rig."""
    return view.name.removesuffix(AS_BEFORE)


def _touched(before: Rig, after: Rig, changes: Iterable[Change]) -> Iterator[tuple[str, str]]:
    """The terminals that are worked on, in either state."""
    for change in changes:
        if change.group == RUN:
            ends = list(terminals(change)) or [*_ends(before, change.name)]
            for name in ends:
                device, _, terminal = name.partition(".")
                yield device, terminal
        elif change.group == DEVICE:
            rig = before if isinstance(change, Removed) else after
            for each in (rig.devices.get(change.name),):
                yield from ((each.name, t.name) for t in (each.terminals if each else ()))


def _ends(rig: Rig, name: str) -> Iterator[str]:
    """The ends of a wire, or of a cable's cores."""
    cable = rig.cables.get(name)
    for core in cable.cores if cable else (name,):
        conductor = rig.conductors.get(core)
        if conductor is not None:
            yield from (conductor.a.name, conductor.b.name)


def _panel(rig: Rig, device: str) -> str | None:
    found = rig.devices.get(device)
    return found.panel if found else None


def _in_panels(view: ModeView, panels: set[str]) -> Iterator[tuple[str, str]]:
    """What is live in the panels that are opened for the work."""
    for device in view.wiring.rig.devices.values():
        if device.panel in panels:
            for terminal in device.terminals:
                for source in view.sources(device.name, terminal.name):
                    yield source, str(device.panel)


def _point(view: ModeView, device: str, terminal: str) -> Point | None:
    """Where a meter goes: lines and positives, not what is at earth's potential."""
    role = view.role(device, terminal)
    if not role or role in (*GROUNDED, EARTH):
        return None
    expected = probe(view, device, terminal).expected
    volts = next((row.volts for row in expected if row.volts is not None), None)
    return Point(f"{device}.{terminal}", role, _mode(view), volts)
