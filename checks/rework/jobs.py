"""Changes grouped into jobs: what hangs together at the bench is done in one go."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from ...dsl.changes import Added, Change, Changed, Removed, Replaced
from ...dsl.things import DEVICE, PANEL, RUN, Spot, is_end

BENCH = (DEVICE, RUN, PANEL)
FEW = 3
"""A part of a bundle with fewer changes is not worth a stop of its own."""
WORDS = ("relabelled", "renamed", "turned")
"""What changes a text, a marker or a label, and nothing that carries current."""


def on_paper(change: Change) -> bool:
    """Whether a change is one of words alone: names, labels, accepts, title block."""
    return change.group not in (*BENCH, "mode") or change.verb in WORDS


class Bundle(NamedTuple):
    """Changes that are done in one go; ``needs`` are the numbers of bundles that come before."""

    changes: tuple[Change, ...]
    needs: frozenset[int] = frozenset()


def jobs_of(changes: Iterable[Change]) -> list[Bundle]:
    """The changes at the bench, those together that hang together.

    A large bundle is split in two where it can be: what is fitted and joined among new things
    only, and then what joins that to the rig as it is.
    """
    found: list[Bundle] = []
    for group in _groups(changes):
        apart, joining = _apart(group)
        if min(len(apart), len(joining)) < FEW:
            found.append(Bundle(group))
            continue
        found.append(Bundle(apart))
        found.append(Bundle(joining, frozenset((len(found) - 1,))))
    return found


def _apart(group: tuple[Change, ...]) -> tuple[tuple[Change, ...], tuple[Change, ...]]:
    """The new things that touch nothing of the old rig, and the rest."""
    new = {c.name for c in group if isinstance(c, Added) and c.group != RUN}
    apart = tuple(c for c in group if isinstance(c, Added) and _lands_on(c, new))
    return apart, tuple(c for c in group if c not in apart)


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
        return
    for terminal in terminals(change):
        yield terminal
        device = terminal.partition(".")[0]
        if device in changed:
            yield device


def _named(change: Change) -> Iterator[str]:
    """Where a device stands, before and after, and the entries a cable goes through."""
    match change:
        case Added(thing) | Removed(thing):
            facts = [thing.facts.get("at"), thing.facts.get("entries")]
        case Replaced(old, new):
            facts = [thing.facts.get(f) for thing in (old, new) for f in ("at", "entries")]
        case Changed(fact="at" | "entries", old=before, new=after):
            facts = [before, after]
        case _:
            facts = []
    for fact in facts:
        if isinstance(fact, Spot):
            yield fact.where
        elif isinstance(fact, tuple):
            yield from fact


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
