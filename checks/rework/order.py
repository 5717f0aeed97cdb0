"""The order of jobs: after each the rig must be safe, as long as there is such an order."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import combinations
from typing import NamedTuple

from .states import Done, States

MOST_TRIED = 150
"""States checked at most in the search; what comes then is taken as it comes, joined if need be."""
MOST_TOGETHER = 3
"""Jobs that are tried as one where none is safe alone; after that, all that are left."""


class Stop(NamedTuple):
    """A point where the builder may stop: the numbers of the last jobs, and of all done by then."""

    taken: tuple[int, ...]
    done: Done


def ordered(states: States) -> list[Stop]:
    """The jobs in an order whose every stop is safe, in jobs as small as there is one for.

    First an order of single jobs is looked for, depth first in the order of the text, then one in
    which two, then three are done together; else jobs follow each other as long as the next is
    safe, and what is left then is one job.  Its end is the new rig, so there is always an order.
    Where there is a choice, work goes on where it was.
    """
    every = tuple(range(len(states.jobs)))
    for most in range(1, MOST_TOGETHER + 1):
        found = _search(every, Stop((), frozenset()), states, most, set())
        if found is not None:
            return found
    return list(_one_by_one(every, states))


def _search(
    left: tuple[int, ...], last: Stop, states: States, most: int, dead: set[Done]
) -> list[Stop] | None:
    """Stops from a state on, of so many jobs together at most; None: no safe order begins there."""
    if not left:
        return []
    done = last.done
    if done in dead or states.tried > MOST_TRIED:
        return None
    for taken in _choices(_near(left, last, states), done, states, most):
        stop = Stop(taken, done.union(taken))
        if _safe(stop.done, states):
            more = _search(_without(left, taken), stop, states, most, dead)
            if more is not None:
                return [stop, *more]
        if states.tried > MOST_TRIED:
            return None
    dead.add(done)
    return None


def _one_by_one(left: tuple[int, ...], states: States) -> Iterator[Stop]:
    """The first jobs that are safe, one after the other; all the rest together where none is."""
    done: Done = frozenset()
    while left:
        choices = _choices(left, done, states, MOST_TOGETHER)
        taken = next((t for t in choices if _may(done.union(t), states)), left)
        done = done.union(taken)
        left = _without(left, taken)
        yield Stop(tuple(taken), done)


def _may(after: Done, states: States) -> bool:
    """Whether a state is known to be safe; none is checked any more when too many were."""
    return (states.tried <= MOST_TRIED or states.known(after)) and _safe(after, states)


def _safe(after: Done, states: States) -> bool:
    """Whether nothing is wrong after these jobs; after all of them it is the new rig."""
    return len(after) == len(states.jobs) or not states.wrong(after)


def _choices(
    left: Sequence[int], done: Done, states: States, most: int
) -> Iterator[tuple[int, ...]]:
    """What to do next: one job, else a few together, none before what it needs."""
    for count in range(1, min(most, len(left)) + 1):
        for taken in combinations(left, count):
            ready = done.union(taken)
            if all(states.jobs[index].needs <= ready for index in taken):
                yield taken


def _without(left: Sequence[int], taken: Sequence[int]) -> tuple[int, ...]:
    return tuple(index for index in left if index not in taken)


def _near(left: Sequence[int], last: Stop, states: States) -> list[int]:
    """What is left, first what is done where the last work was."""
    return sorted(left, key=lambda index: not _same_spot((index,), last.taken, states))


def _same_spot(one: Iterable[int], other: Iterable[int], states: States) -> bool:
    """Whether all of the one is done where the other is, or all of the other."""
    a, b = (frozenset().union(*(states.spots[i] for i in some)) for some in (one, other))
    return a <= b or b <= a


def merged(stops: Sequence[Stop], states: States) -> list[Stop]:
    """Stops with those left out between which nobody walks: the next work is in the same place.

    New things that are built apart are not mixed with work on the rig as it is.
    """
    found: list[Stop] = []
    for stop in stops:
        if found and _goes_on(found[-1], stop, states):
            stop = Stop((*found.pop().taken, *stop.taken), stop.done)
        found.append(stop)
    return found


def _goes_on(before: Stop, after: Stop, states: States) -> bool:
    apart = {states.jobs[index].apart for index in (*before.taken, *after.taken)}
    needed = any(states.jobs[index].needs.intersection(before.taken) for index in after.taken)
    return len(apart) == 1 and not needed and _same_spot(after.taken, before.taken, states)
