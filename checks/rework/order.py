"""The order of jobs: after each the rig must be safe, as long as there is such an order."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import NamedTuple

from ...dsl.changes import Change
from ..findings import Finding
from .states import Done, States

MOST_TRIED = 400
"""States checked at most; what is left then is one last job."""
MOST_TOGETHER = 3
"""Jobs that are tried as one where none is safe alone; after that, all that are left."""


class Stop(NamedTuple):
    """A point where the builder may stop: the last work, the jobs done by then, what is wrong."""

    changes: tuple[Change, ...]
    done: Done
    wrong: tuple[Finding, ...]


def ordered(states: States) -> list[Stop]:
    """The jobs in an order whose every stop is safe; some are joined where that is the only way.

    It is searched depth first, single jobs before joined ones, in the order of the text; the way
    found has the smallest jobs that this search comes to.  All in one job is always an order: its
    only stop is the new rig.
    """
    found = _search(tuple(range(len(states.jobs))), frozenset(), states, set())
    return found or []


def _search(
    left: tuple[int, ...], done: Done, states: States, dead: set[Done]
) -> list[Stop] | None:
    """Stops from a state on; None: no safe order begins there with jobs this small."""
    if not left:
        return []
    if done in dead:
        return None
    for taken in _choices(left, done, states):
        changes = tuple(change for index in taken for change in states.jobs[index].changes)
        after = done | frozenset(taken)
        last = len(taken) == len(left)
        wrong = () if last else states.wrong(after)
        if wrong:
            continue
        rest = tuple(index for index in left if index not in taken)
        more = _search(rest, after, states, dead)
        if more is not None:
            return [Stop(changes, after, states.wrong(after) if last else wrong), *more]
        if states.tried > MOST_TRIED:
            break
    dead.add(done)
    return None


def _choices(left: Sequence[int], done: Done, states: States) -> Iterator[tuple[int, ...]]:
    """What to do next: one job, else a few together, else all that are left.

    None before what it needs, unless that is done with it.
    """
    for count in range(1, min(MOST_TOGETHER, len(left) - 1) + 1):
        for taken in combinations(left, count):
            ready = done.union(taken)
            if all(states.jobs[index].needs <= ready for index in taken):
                yield taken
    yield tuple(left)
