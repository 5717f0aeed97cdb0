"""What a job does to conductors' ends and to devices: lifted, landed, pulled, laid, exchanged.

touched = touch(before, after, changes)
touched.lift, touched.land      every end that is opened, as it lies before and as it lies after
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from ...dsl.changes import Added, Change, Changed, Removed, Replaced
from ...dsl.kinds import kinds
from ...dsl.model import Conductor, End, Rig
from ...dsl.names import natural
from ...dsl.things import DEVICE, PANEL, RUN

ABSENT = ("planned", "removed")
"""What is not there yet, or no longer, though the text has it."""
NEW_RUN = (
    "size", "length", "insulation", "type", "solid", "tinned", "fine", "stranded", "cord", "plug",
)  # fmt: skip
"""Facts of a conductor that make it another piece of cable; a shorter one is cut back."""
NEW_END = ("ends", "lug", "ferrule", "length")
"""Facts of a conductor by which its ends are made anew."""
NEW_WAY = ("via", "entries")
STAY = ("fuse", "supply", "panel")
"""Kinds changed without opening a terminal: a fuse's link, what is ashore, an enclosure."""
SIDES = ("a", "b")
OTHER_BUILD = ("positions", "terminals", "at")
"""Facts of a device besides its ratings for which its conductors come off."""


class Landing(NamedTuple):
    """A conductor's end on its terminal."""

    conductor: Conductor
    end: End


class Touch(NamedTuple):
    """Ends lifted and landed, runs (wires, cables, links) pulled out, laid, led another way.

    ``opened`` are devices whose conductors come off because of what is done to the device.
    """

    lift: tuple[Landing, ...]
    land: tuple[Landing, ...]
    pull: tuple[str, ...]
    lay: tuple[str, ...]
    lead: tuple[str, ...]
    opened: tuple[str, ...]


def touch(before: Rig, after: Rig, changes: Iterable[Change]) -> Touch:
    """What a job touches; ``before`` and ``after`` call everything by the same names."""
    changes = tuple(changes)
    opened = tuple(dict.fromkeys(_opened(before, after, changes)))
    facts = _facts(changes)
    lift: list[Landing] = []
    land: list[Landing] = []
    pull: dict[str, None] = {}
    lay: dict[str, None] = {}
    lead: dict[str, None] = {}
    for name in sorted({*before.conductors, *after.conductors}, key=natural):
        old, new = _there(before, name), _there(after, name)
        changed = facts.get(name.partition("/")[0], set())
        if old is None or new is None or not changed.isdisjoint(_piece(old, new)):
            pull |= {old.statement: None} if old else {}
            lay |= {new.statement: None} if new else {}
            sides: tuple[str, ...] = SIDES
        else:
            lead |= {old.statement: None} if changed.intersection(NEW_WAY) else {}
            passed = _passed(before, after, old.statement) if "entries" in changed else set()
            sides = tuple(_ends_opened(old, new, {*opened, *passed}, changed))
        lift += [Landing(old, end) for end in _ends(before, old, sides)] if old else []
        land += [Landing(new, end) for end in _ends(after, new, sides)] if new else []
    return Touch(tuple(lift), tuple(land), tuple(pull), tuple(lay), tuple(lead), opened)


def _ends(rig: Rig, conductor: Conductor, sides: Iterable[str]) -> list[End]:
    """The ends on these sides, on devices that are there."""
    ends = {"a": conductor.a, "b": conductor.b}
    return [ends[side] for side in sides if ends[side].device in rig.devices]


def _ends_opened(
    old: Conductor, new: Conductor, opened: set[str], changed: set[str]
) -> Iterator[str]:
    """The sides on which a conductor that stays comes off its terminal."""
    for side, was, now in (("a", old.a, new.a), ("b", old.b, new.b)):
        if was.name != now.name or was.device in opened or _anew(changed, side):
            yield side


def _there(rig: Rig, name: str) -> Conductor | None:
    """The conductor, where the text has it and does not say that it is not there."""
    found = rig.conductors.get(name)
    return found if found and found.status not in ABSENT else None


def _facts(changes: Iterable[Change]) -> dict[str, set[str]]:
    """The facts of every run that change; all that makes a piece where it is another thing now."""
    found: dict[str, set[str]] = {}
    for change in changes:
        if change.group == RUN and isinstance(change, Changed | Replaced):
            facts = [change.fact] if isinstance(change, Changed) else NEW_RUN
            found.setdefault(change.name, set()).update(facts)
    return found


def _piece(old: Conductor, new: Conductor) -> set[str]:
    """The facts whose change needs another piece: not the length, where less is needed."""
    return {fact for fact in NEW_RUN if fact != "length" or new.length_m > old.length_m}


def _anew(changed: set[str], side: str) -> bool:
    """Whether an end is made anew: both where fittings or the way change, one to cut it back."""
    if changed.isdisjoint((*NEW_END, "via")):
        return False
    return side == "b" or changed != {"length"}


def _passed(before: Rig, after: Rig, run: str) -> set[str]:
    """The devices in the panels that a run comes into through another entry now."""
    sides = [_entries(rig, run) for rig in (before, after)]
    other = sides[0] ^ sides[1]
    panels = {rig.devices[e].panel for rig in (before, after) for e in other if e in rig.devices}
    inside = {d.name for d in after.devices.values() if d.panel in panels}
    return inside | {str(panel) for panel in panels}


def _entries(rig: Rig, run: str) -> set[str]:
    laid = rig.cables.get(run) or rig.conductors.get(run)
    value = laid.attrs.get("entries", ()) if laid else ()
    return set(value) if isinstance(value, tuple) else {str(value)}


def _opened(before: Rig, after: Rig, changes: Iterable[Change]) -> Iterator[str]:
    """Devices taken out, put in, exchanged or moved: conductors on them come off and go on."""
    for change in changes:
        if change.group == PANEL:
            yield from _in_panel(before, after, change)
        elif change.group == DEVICE and (
            not isinstance(change, Changed) or is_exchanged(change, after)
        ):
            yield change.name


def _in_panel(before: Rig, after: Rig, change: Change) -> Iterator[str]:
    """What is in a panel that is another one now, or elsewhere."""
    if isinstance(change, Removed | Added) or (
        isinstance(change, Changed) and change.fact not in ("at", "ways")
    ):
        return
    yield change.name
    for rig in (before, after):
        yield from (d.name for d in rig.devices.values() if d.panel == change.name)


def is_exchanged(change: Changed, rig: Rig) -> bool:
    """Whether a change of a device is another device in its place (or itself in another place).

    Settings of converters are made at their panel; a fuse's link is changed with its ends landed.
    """
    device = rig.devices.get(change.name)
    if device is None or device.kind in STAY:
        return change.fact == "at"
    if change.fact in OTHER_BUILD:
        return True
    return change.verb == "re-rated" and kinds()[device.kind].acts != "converter"
