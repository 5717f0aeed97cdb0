"""Which loads may run together within limits: all of it, exactly.

Each limit is a number and what each load counts there; a set fits where no limit is exceeded.
Loads that never matter and loads that fit nowhere are set aside, limits that share no load are
taken apart, and loads that count alike everywhere are taken by number, so that what is left to
search stays small.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import islice
from typing import NamedTuple

NEAR = 1.0 + 1e-9
MOST = 1_000  # sets of a group that are worked out; nobody reads more
STEPS = 30_000  # of the search for them; where they do not suffice, that is said

Counts = tuple[int, ...]


class Limit(NamedTuple):
    """``gives`` and what each load counts there, in one unit."""

    gives: float
    counts: Mapping[str, float]

    def binds(self, names: frozenset[str]) -> bool:
        """Whether these loads all at once exceed it."""
        total = sum(amount for name, amount in self.counts.items() if name in names)
        return total > self.gives * NEAR


class Group(NamedTuple):
    """Loads that have to do with each other through ``limits`` (numbers in the order given).

    ``alike`` are the loads, those that count alike together; a set says how many of each.
    ``sets`` are the largest that fit, ``forbidden`` the smallest that do not; ``whole`` is False
    where there are more of either than were worked out.
    """

    limits: tuple[int, ...]
    alike: tuple[tuple[str, ...], ...]
    sets: tuple[Counts, ...]
    forbidden: tuple[Counts, ...]
    whole: bool


class Together(NamedTuple):
    """``free`` loads never matter, ``never`` exceed a limit alone; the others stand in groups."""

    free: tuple[str, ...]
    never: tuple[str, ...]
    groups: tuple[Group, ...]


def together(names: Sequence[str], limits: Sequence[Limit]) -> Together:
    """What may run together of the named loads; their order is kept."""
    never = tuple(
        name for name in names if any(k.counts.get(name, 0.0) > k.gives * NEAR for k in limits)
    )
    left = frozenset(names) - frozenset(never)
    binding = [index for index, limit in enumerate(limits) if limit.binds(left)]
    parts = _parts(binding, limits, left)
    held = {n for part in parts for i in part for n, amount in limits[i].counts.items() if amount}
    free = tuple(name for name in names if name in left and name not in held)
    ordered = [name for name in names if name in left]
    return Together(free, never, tuple(_group(part, limits, ordered) for part in parts))


def _parts(
    binding: Sequence[int], limits: Sequence[Limit], left: frozenset[str]
) -> list[list[int]]:
    """The limits that bind, those that share a load together."""
    parts: list[tuple[list[int], set[str]]] = []
    for index in binding:
        mine = {name for name, amount in limits[index].counts.items() if amount > 0} & left
        touching = [part for part in parts if part[1] & mine]
        parts = [part for part in parts if part not in touching]
        parts.append(
            (
                sorted([index, *(i for part in touching for i in part[0])]),
                mine.union(*(part[1] for part in touching)),
            )
        )
    return sorted(part[0] for part in parts)


def _group(part: Sequence[int], limits: Sequence[Limit], names: Sequence[str]) -> Group:
    """One group: its loads by kind, heaviest first, and its sets."""
    kinds: dict[tuple[float, ...], list[str]] = {}
    for name in names:
        weights = tuple(limits[index].counts.get(name, 0.0) for index in part)
        if any(weights):
            kinds.setdefault(tuple(round(w, 9) for w in weights), []).append(name)
    gives = tuple(limits[index].gives * NEAR for index in part)
    rows = sorted(
        kinds.items(), key=lambda row: -max(w / g for w, g in zip(row[0], gives, strict=True))
    )
    search = _Search([row[0] for row in rows], [len(row[1]) for row in rows], gives)
    sets = tuple(islice(search.largest(), MOST + 1))
    forbidden = tuple(islice(search.smallest_beyond(), MOST + 1))
    return Group(
        tuple(part),
        tuple(tuple(row[1]) for row in rows),
        sets[:MOST],
        forbidden[:MOST],
        whole=len(sets) <= MOST and len(forbidden) <= MOST and search.whole,
    )


class _Search:
    """Kinds of loads (what one counts at each limit, and how many there are) within limits."""

    def __init__(
        self, weights: Sequence[tuple[float, ...]], many: Sequence[int], gives: tuple[float, ...]
    ) -> None:
        self.weights, self.many, self.gives = weights, many, gives
        self.steps, self.whole = STEPS, True
        zero = (0.0,) * len(gives)
        self.rest = [zero]  # what all kinds from an index on count together
        for weight, count in zip(reversed(weights), reversed(many), strict=True):
            self.rest.insert(0, _more(self.rest[0], weight, count))

    def fits(self, totals: Sequence[float]) -> bool:
        return all(total <= limit for total, limit in zip(totals, self.gives, strict=True))

    def largest(self) -> Iterator[Counts]:
        """Every set that fits and to which nothing can be added."""
        yield from self._largest((), (0.0,) * len(self.gives))

    def _largest(self, taken: Counts, totals: tuple[float, ...]) -> Iterator[Counts]:
        """Sets that begin with what is taken.

        Where one more of a kind would fit whatever else comes, none of them is a largest one.
        """
        index = len(taken)
        self.steps -= 1
        self.whole = self.whole and self.steps >= 0
        if self.steps < 0 or self._has_room(taken, _more(totals, self.rest[index], 1)):
            return
        if index == len(self.many):
            yield taken
            return
        weight = self.weights[index]
        for count in range(self.many[index], -1, -1):
            here = _more(totals, weight, count)
            if self.fits(here):
                yield from self._largest((*taken, count), here)

    def _has_room(self, taken: Counts, totals: Sequence[float]) -> bool:
        """Whether one more fits of any kind of which some were left out."""
        return any(
            count < most and self.fits(_more(totals, weight, 1))
            for count, most, weight in zip(taken, self.many, self.weights, strict=False)
        )

    def smallest_beyond(self) -> Iterator[Counts]:
        """Every set that exceeds a limit and does not without any one of its loads.

        What is so for one limit may hold a smaller set that exceeds another.
        """
        found: dict[Counts, None] = {}
        for limit in range(len(self.gives)):
            order = sorted(range(len(self.many)), key=lambda kind: -self.weights[kind][limit])
            mine = list(islice(self._beyond(limit, order), MOST + 1))
            self.whole = self.whole and len(mine) <= MOST
            found.update(dict.fromkeys(mine))
        for counts in sorted(found, key=lambda c: (sum(c), [-n for n in c])):
            if all(self.fits(self._less(counts, kind)) for kind, c in enumerate(counts) if c):
                yield counts

    def _less(self, counts: Counts, one: int) -> tuple[float, ...]:
        """What a set counts at each limit without one load of a kind."""
        totals = (0.0,) * len(self.gives)
        for kind, (weight, count) in enumerate(zip(self.weights, counts, strict=True)):
            totals = _more(totals, weight, count - (kind == one))
        return totals

    def _beyond(self, limit: int, order: Sequence[int]) -> Iterator[Counts]:
        """The smallest sets beyond one limit.

        Taken in falling weight, a set that exceeds the limit with its last load, the lightest, is
        one of them: without any other of its loads it is lighter still.
        """
        counts = [0] * len(self.many)

        def step(place: int, total: float) -> Iterator[Counts]:
            if place == len(order):
                return
            kind = order[place]
            weight = self.weights[kind][limit]
            rest = sum(self.weights[k][limit] * self.many[k] for k in order[place:])
            if weight <= 0 or total + rest <= self.gives[limit]:
                return
            for count in range(self.many[kind] + 1):
                counts[kind] = count
                if total + count * weight > self.gives[limit]:
                    yield tuple(counts)
                    break
                yield from step(place + 1, total + count * weight)
            counts[kind] = 0

        yield from step(0, 0.0)


def _more(totals: Sequence[float], weight: Sequence[float], count: int) -> tuple[float, ...]:
    return tuple(total + w * count for total, w in zip(totals, weight, strict=True))
