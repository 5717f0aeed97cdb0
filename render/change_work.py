"""What a change comes to at the bench: what to take out, fit, lay, land, and to print anew.

work(changes)               what there is to do, a few lines
crowded(old, new)           terminals that now take more than one conductor
legends(old, new, changes)  panels whose door legend is no longer right
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from ..dsl.changes import Change
from ..dsl.model import Rig
from ..dsl.names import natural
from ..dsl.things import DEVICE, PANEL, RUN
from .change_rows import joined


class Work(NamedTuple):
    """Something to do, and what with."""

    task: str
    names: tuple[str, ...]


def work(changes: Iterable[Change]) -> list[Work]:
    """What there is to do at the bench; tasks of nothing are left out."""
    changes = list(changes)
    resized = _names(changes, (RUN,), "re-sized")
    longer = tuple(n for n in _names(changes, (RUN,), "lengthened") if n not in resized)
    rows = [
        Work("take out devices", _names(changes, (DEVICE, PANEL), "removed", "replaced")),
        Work("pull out conductors", _names(changes, (RUN,), "removed", "replaced")),
        Work("fit devices", _names(changes, (DEVICE, PANEL), "added", "replaced")),
        Work("set or exchange devices", _names(changes, (DEVICE,), "re-rated")),
        Work("move devices", _names(changes, (DEVICE, PANEL), "moved")),
        Work("lay conductors", _names(changes, (RUN,), "added", "replaced")),
        Work("lay again in another size", resized),
        Work("lay again, longer", longer),
        Work("shorten", _names(changes, (RUN,), "shortened")),
        Work("lead along another route or entry", _names(changes, (RUN,), "re-routed")),
        Work("land elsewhere", _landed(changes)),
        Work("mark in another colour", _names(changes, (RUN,), "re-coloured")),
        Work("mark anew", _names(changes, (RUN, DEVICE), "renamed")),
    ]
    return [row for row in rows if row.names]


def _names(changes: Iterable[Change], groups: tuple[str, ...], *verbs: str) -> tuple[str, ...]:
    found = {c.name: None for c in changes if c.group in groups and c.verb in verbs}
    return tuple(sorted(found, key=natural))


def _landed(changes: Iterable[Change]) -> tuple[str, ...]:
    ends: dict[str, int] = {}
    for change in changes:
        if change.verb == "re-landed":
            ends[change.name] = ends.get(change.name, 0) + 1
    return tuple(f"{n} ({ends[n]} ends)" if ends[n] > 1 else n for n in sorted(ends, key=natural))


def crowded(old: Rig, new: Rig) -> list[Work]:
    """Terminals that take several conductors and took fewer before, those of a device together."""
    before, after = (_landings(rig) for rig in (old, new))
    found: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for terminal, names in after.items():
        device = new.devices.get(terminal.partition(".")[0])
        if device is None or device.kind == "joint":
            continue
        if len(names) > max(1, len(before.get(terminal, ()))):
            there = tuple(sorted({name.partition("/")[0] for name in names}, key=natural))
            found.setdefault((device.name, there), []).append(terminal)
    return [Work(joined(terminals), names) for (_, names), terminals in found.items()]


def _landings(rig: Rig) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for conductor in rig.conductors.values():
        for end in (conductor.a, conductor.b):
            found.setdefault(end.name, []).append(conductor.name)
    return found


def reprint(old: Rig, new: Rig, changes: Iterable[Change]) -> list[Work]:
    """What is printed and no longer right: door legends, markers of conductors, device labels.

    A marker says where both ends lie, so an end landed elsewhere is a new marker at either end.
    What is added has no old print; it is not among them.
    """
    changes = list(changes)
    rows = [
        Work("door legend", _legends(old, new, changes)),
        Work("markers", _names(changes, (RUN,), "re-landed", "renamed", "replaced")),
        Work("labels", _names(changes, (DEVICE, PANEL), "relabelled", "renamed")),
    ]
    return [row for row in rows if row.names]


def _legends(old: Rig, new: Rig, changes: Iterable[Change]) -> tuple[str, ...]:
    """The panels whose ways, or what stands on them, are not what they were."""
    found: dict[str, None] = {}
    for change in changes:
        for rig in (old, new):
            device = rig.devices.get(change.name) if change.group == DEVICE else None
            if change.group == PANEL and change.name in old.panels:
                found[change.name] = None
            elif device and device.panel and device.panel in old.panels and device.ways:
                found[device.panel] = None
    return tuple(sorted(found, key=natural))
