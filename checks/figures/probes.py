"""The probe table: what a voltmeter shows between every terminal and neutral, earth, its return.

Nominal, in each mode.  Terminals of one device that read alike in every mode are one row.  As
``Trial`` records the same figures have bounds, for readings that are entered.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from ...dsl.model import Device
from ..commissioning.circuits import every_way, owners
from ..commissioning.data import band, basis, limit, said, tables
from ..commissioning.trial import Trial, tidy
from ..tracing.network import carries
from ..tracing.trace import EARTH, GROUNDED, UNGROUNDED, ModeView, Source, Stage, wanted

AGAINST = ("N", "PE", "R")
"""What the other lead is on: the neutral or DC negative, earth, the device's own return."""
WORDS = {"N": "neutral or DC negative", "PE": "earth", "R": "its own return"}


class Reading(NamedTuple):
    """Volts at one terminal in one mode against neutral, earth and its return.

    None: not defined (nothing joins the system to earth, no voltage is stated, no return there).
    ``role`` is "" where the terminal is dead: then all are 0.  ``sun``: only solar panels feed it,
    in this mode or by day: the volts are the most, and none are told where the mode has them off,
    for panels in the light are never dead.
    """

    role: str
    neutral: float | None
    earth: float | None
    back: float | None
    dc: bool = False
    sun: bool = False

    @property
    def volts(self) -> tuple[float | None, float | None, float | None]:
        """In the order of ``AGAINST``."""
        return self.neutral, self.earth, self.back


class ProbeRow(NamedTuple):
    """Terminals of a device that read alike; one ``Reading`` a mode, in the order of the modes."""

    device: Device
    terminals: tuple[str, ...]
    readings: tuple[Reading, ...]


def probe_rows(stage: Stage) -> Iterator[ProbeRow]:
    """Every terminal that something is landed on or that a mode makes live, device by device."""
    for device in stage.rig.devices.values():
        if not carries(device):
            continue
        alike: dict[tuple[Reading, ...], list[str]] = {}
        for terminal in device.terminals:
            key = tuple(reading(view, device, terminal.name) for view in stage.modes)
            alike.setdefault(key, []).append(terminal.name)
        for readings, terminals in alike.items():
            yield ProbeRow(device, tuple(terminals), readings)


def reading(view: ModeView, device: Device, terminal: str) -> Reading:
    """What to expect at one terminal in one mode."""
    node = view.wiring.node(device.name, terminal)
    role = view.node_role(node)
    if not role:
        off = any(s.device.kind == "solar" and _reaches(view, s, node) for s in view.dead.values())
        return Reading("", None, None, None, True, True) if off else Reading("", 0.0, 0.0, 0.0)
    if role == EARTH:
        return Reading(EARTH, 0.0 if _bonded_beside(view, device) else None, 0.0, None)
    source = view.live[view.roles[view.net[node]][0][0]]
    here = view.line_phasor(node)
    if here is None:
        return Reading(role, None, None, None, source.dc)
    bonded = bool(view.bonds_of(source))
    to_earth = _round(abs(here)) if bonded else None
    back = None if role in GROUNDED else _back(view, device, terminal, here, source)
    names = (name for name, _ in view.roles[view.net[node]])
    sun = all(view.live[name].device.kind == "solar" for name in names)
    return Reading(role, _round(abs(here)), to_earth, back, source.dc, sun)


def _reaches(view: ModeView, source: Source, node: int) -> bool:
    """Whether the plus of a source that is off would reach a terminal."""
    plus = source.nodes.get("+")
    return plus is not None and view.net[plus] == view.net[node]


def _round(volts: float) -> float:
    """To a tenth of a volt: what two ways of reckoning agree on."""
    return round(volts, 1)


def _bonded_beside(view: ModeView, device: Device) -> bool:
    """Whether the system beside a terminal is joined to earth; of any, where there is none.

    A bar, a chassis or a metal case has no system of its own.
    """
    own = {name for t in device.terminals for name, _ in view.roles_at(device.name, t.name)}
    systems = [view.live[name] for name in own] or list(view.live.values())
    return any(view.bonds_of(source) for source in systems)


def _back(
    view: ModeView, device: Device, terminal: str, here: complex, source: Source
) -> float | None:
    """To the grounded terminal beside it, or else to another line of the same system."""
    others = []
    for other in device.terminals:
        node = view.wiring.node(device.name, other.name)
        there = view.line_phasor(node)
        names = [name for name, _ in view.roles.get(view.net[node], ())]
        if other.name == terminal or there is None or source.name not in names:
            continue
        side = terminal.rpartition("-")[0] == other.name.rpartition("-")[0]
        if view.node_role(node) in GROUNDED or wanted(other.name) in GROUNDED:
            others.append((0 if side else 1, abs(here - there)))
        elif view.node_role(node) in UNGROUNDED and abs(here - there) > 1.0:
            others.append((2, abs(here - there)))
    return _round(min(others)[1]) if others else None


def trials(stage: Stage) -> Iterator[Trial]:
    """The whole table as trials, one a voltage that is defined."""
    for row in probe_rows(stage):
        for view, read in zip(stage.modes, row.readings, strict=True):
            names = _names(view, row)
            for against, volts in zip(AGAINST, read.volts, strict=True):
                if volts is not None and (read.role or against == "PE"):
                    yield tidy(_trial(stage, view, row, read, against, volts, names))


def _trial(
    stage: Stage, view: ModeView, row: ProbeRow, read: Reading, against: str, volts: float,
    names: tuple[str, ...],
) -> Trial:  # fmt: skip
    at = f"{row.device.name}.{row.terminals[0]}"
    low, high, by = bounds(stage, read, volts)
    return Trial(
        f"V-{view.name}-{at}-{against}", "probes", view.name, f"{at} to {WORDS[against]}",
        read.role or "dead", "V", volts, low, high, by, names,
    )  # fmt: skip


def bounds(stage: Stage, read: Reading, volts: float) -> tuple[float | None, float, str]:
    """The least and the most that may be read, and where that comes from."""
    if volts == 0:
        key = "joined-dc" if read.dc else "joined-ac"
        key = key if read.role else "dead"
        return None, limit(key), basis(key)
    below, above = band(stage.book.name, read.dc)
    by = said(tables()["volts"][stage.book.name])
    if read.sun:
        return None, volts * (1 + above), f"by the light on the panels, none in the dark; {by}"
    return volts * (1 - below), volts * (1 + above), by


def _names(view: ModeView, row: ProbeRow) -> tuple[str, ...]:
    """What lies between the terminal and its sources in the mode; itself where it is dead."""
    node = view.wiring.node(row.device.name, row.terminals[0])
    found = {row.device.name: None}
    for way in every_way(view):
        if node in way.came:
            found |= dict.fromkeys(owners(view, way.came, node))
    return tuple(found)
