"""Changes grouped into jobs: what hangs together at the bench is done in one go."""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator
from typing import NamedTuple

from ...dsl.changes import Added, Change, Changed, Removed, Replaced
from ...dsl.model import End, Rig
from ...dsl.things import DEVICE, PANEL, RUN, Fact, Spot, is_end

BENCH = (DEVICE, RUN, PANEL)
FEW = 3
"""Fewer new things than this, standing by themselves, are not worth a stop of their own."""
WORDS = ("relabelled", "renamed", "turned")
"""What changes a text, a marker or a label, and nothing that carries current."""
NOTED = (
    "maker", "order", "uses", "demand", "priority", "efficiency", "essential", "continuous",
    "fault", "holds", "clamp", "strip", "screw", "plate", "loop", "spring", "ip", "box",
    "enclosure", "height",
)  # fmt: skip
"""Facts that are known better now, or meant otherwise: nothing is another thing at the rig."""
ALWAYS_ON = ("battery", "solar")
"""Sources that nobody can switch off at their own terminals."""


def on_paper(change: Change) -> bool:
    """Whether nothing is done at the bench for a change: words, modes, what is known better."""
    noted = isinstance(change, Changed) and (change.fact in NOTED or _is_looked_at(change))
    return noted or change.group not in BENCH or change.verb in WORDS


def _is_looked_at(change: Changed) -> bool:
    """Whether somebody only looked, or has to look: the thing is there before and after."""
    return change.fact == "status" and {change.old, change.new} <= {None, "installed", "unverified"}


class Bundle(NamedTuple):
    """Changes that are done in one go; ``needs`` are the numbers of bundles that come before.

    ``apart``: new things that touch nothing of the rig as it is.
    """

    changes: tuple[Change, ...]
    needs: frozenset[int] = frozenset()
    apart: bool = False

    def spots(self, *rigs: Rig) -> frozenset[str]:
        """The panels and places it is done in, in any of these rigs; "" where none is said."""
        found = set()
        for change in self.changes:
            for rig in rigs:
                names = [change.name, *(e.device for e in _ends(rig, change))]
                there = (rig.devices[name] for name in names if name in rig.devices)
                found |= {device.panel or device.place or "" for device in there}
        return frozenset(found)


def _ends(rig: Rig, change: Change) -> Iterator[End]:
    """The ends of a changed conductor, or of all cores of a cable."""
    cable = rig.cables.get(change.name)
    for name in cable.cores if cable else (change.name,):
        conductor = rig.conductors.get(name) if change.group == RUN else None
        yield from (conductor.a, conductor.b) if conductor else ()


def jobs_of(changes: Iterable[Change], panels: Container[str] = ()) -> list[Bundle]:
    """The changes at the bench, those together that hang together.

    A large bundle is split in two where it can be: what is fitted and joined among new things
    only, and then what joins that to the rig as it is, and to new batteries and solar panels.
    ``panels`` are there before: what is fitted into one of them is work beside live parts.
    """
    found: list[Bundle] = []
    for group in _groups(changes):
        apart, joining = _apart(group, panels)
        if len(apart) < FEW or not joining:
            found.append(Bundle(group))
            continue
        found.append(Bundle(apart, apart=True))
        found.append(Bundle(joining, frozenset((len(found) - 1,))))
    return found


def _apart(
    group: tuple[Change, ...], panels: Container[str]
) -> tuple[tuple[Change, ...], tuple[Change, ...]]:
    """The new things that touch nothing of the old rig and nothing that is live, and the rest."""
    new = [c for c in group if isinstance(c, Added) and c.group != RUN and not _is_in(c, panels)]
    dead = {c.name for c in new if c.thing.sort not in ALWAYS_ON}
    runs = [c for c in group if isinstance(c, Added) and c.group == RUN and _lands_on(c, dead)]
    apart = tuple(c for c in group if c in new or c in runs)
    return apart, tuple(c for c in group if c not in apart)


def _is_in(change: Added, panels: Container[str]) -> bool:
    at = change.thing.facts.get("at")
    return change.group == DEVICE and isinstance(at, Spot) and at.where in panels


def _lands_on(change: Added, devices: set[str]) -> bool:
    return all(terminal.partition(".")[0] in devices for _, terminal in change.thing.ends())


def _groups(changes: Iterable[Change]) -> list[tuple[Change, ...]]:
    """Changes that share a changed thing or a terminal.

    A conductor goes with the changed devices it lands on, and with whatever leaves a terminal
    that it needs.  Bars that stay hold nothing together.
    """
    work = [c for c in changes if c.group in BENCH and not on_paper(c)]
    changed = {c.name for c in work if c.group != RUN}
    group = {index: index for index in range(len(work))}
    first: dict[str, int] = {}
    for index, change in enumerate(work):
        for tie in _ties(change, changed):
            _join(group, index, first.setdefault(tie, index))
    found: dict[int, list[Change]] = {}
    for index, change in enumerate(work):
        found.setdefault(_root(group, index), []).append(change)
    return [tuple(each) for each in found.values()]


def _ties(change: Change, changed: set[str]) -> Iterator[str]:
    """What a change is tied to: its own name, changed devices and panels, terminals."""
    yield f"{change.group} {change.name}" if change.group == RUN else change.name
    yield from (name for name in _named(change) if name in changed)
    if change.group != RUN:
        yield from _ways(change)
        return
    for terminal in terminals(change):
        yield terminal
        device = terminal.partition(".")[0]
        if device in changed:
            yield device


def _named(change: Change) -> Iterator[str]:
    """Where a device stands, before and after, and the entries a cable goes through."""
    for fact in _facts(change, "at", "entries"):
        if isinstance(fact, Spot):
            yield fact.where
        elif isinstance(fact, tuple):
            yield from fact


def _ways(change: Change) -> Iterator[str]:
    """The ways of a panel that a device takes, before and after: what leaves one goes first."""
    for fact in _facts(change, "at"):
        if isinstance(fact, Spot):
            yield from (f"{fact.where}.{way}" for way in fact.ways)


def _facts(change: Change, *names: str) -> list[Fact | None]:
    """What some facts were and are."""
    match change:
        case Added(thing) | Removed(thing):
            return [thing.facts.get(name) for name in names]
        case Replaced(old, new):
            return [thing.facts.get(name) for thing in (old, new) for name in names]
        case Changed(fact=fact, old=before, new=after) if fact in names:
            return [before, after]
        case _:
            return []


def terminals(change: Change) -> Iterator[str]:
    """The terminals a change of a conductor touches, before and after."""
    match change:
        case Added(thing) | Removed(thing):
            yield from (terminal for _, terminal in thing.ends())
        case Replaced(old, new):
            yield from (terminal for thing in (old, new) for _, terminal in thing.ends())
        case Changed(fact=fact, old=before, new=after) if is_end(fact):
            yield from (str(terminal) for terminal in (before, after) if terminal is not None)


def _root(group: dict[int, int], index: int) -> int:
    while group[index] != index:
        index = group[index]
    return index


def _join(group: dict[int, int], a: int, b: int) -> None:
    group[_root(group, a)] = _root(group, b)
