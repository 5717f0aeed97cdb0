"""The square router's channels: which track each upright stretch between two columns takes.

In a channel every wire has a stretch from one side to the other, or back to the same side.  Where
a wire leaves the left column at the height at which another enters the right one, the first must
turn before the second: a constraint on the order of tracks.  Where constraints form a ring, one of
the things in it is moved by a row; where none has room, the columns are shifted by half a row
against each other, which removes them all.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ..dsl.records import record

TURNS = 40
"""Passes over the tracks of a channel in which neighbours may still swap."""


@record
class Run:
    """One wire in one channel: its heights on the left and right, two on one side if it returns."""

    wire: str
    left: tuple[float, ...]
    right: tuple[float, ...]

    @property
    def span(self) -> tuple[float, float]:
        ends = self.left + self.right
        return min(ends), max(ends)

    @property
    def straight(self) -> bool:
        low, high = self.span
        return low == high

    def shifted(self, left: float, right: float) -> Run:
        """With its heights moved on either side."""
        moved = tuple(y + left for y in self.left), tuple(y + right for y in self.right)
        return Run(self.wire, *moved)


def meets(a: Run, b: Run) -> bool:
    """Whether two upright stretches would touch on one track."""
    return a.span[0] <= b.span[1] and b.span[0] <= a.span[1]


def _before(runs: Sequence[Run]) -> list[tuple[int, int]]:
    """Pairs (i, j): run i must turn left of run j."""
    entering = {y: j for j, run in enumerate(runs) for y in run.right}
    return [
        (i, entering[y])
        for i, run in enumerate(runs)
        for y in run.left
        if y in entering and entering[y] != i
    ]


def _ranked(count: int, before: Sequence[tuple[int, int]]) -> list[int] | None:
    """Least places that keep the pairs' order; None where they form a ring."""
    place = [0] * count
    for _ in range(count + 1):
        moved = False
        for i, j in before:
            if place[j] <= place[i]:
                place[j], moved = place[i] + 1, True
        if not moved:
            return place
    return None


def orderable(runs: Sequence[Run]) -> bool:
    """Whether the runs' tracks can be put in an order that keeps all constraints."""
    bent = [run for run in runs if not run.straight]
    return _ranked(len(bent), _before(bent)) is not None


def ring(runs: Sequence[Run]) -> set[str]:
    """The wires whose constraints form rings, and what hangs between rings."""
    bent = [run for run in runs if not run.straight]
    before = _before(bent)
    left = set(range(len(bent)))
    while True:
        inside = [(i, j) for i, j in before if i in left and j in left]
        kept = {i for i, _ in inside} & {j for _, j in inside}
        if kept == left:
            return {bent[i].wire for i in left}
        left = kept


def tracks(runs: Sequence[Run]) -> Mapping[str, int]:
    """The track, counted from the left, of every run that is not straight."""
    bent = sorted((run for run in runs if not run.straight), key=_turning)
    before = set(_before(bent))
    place = _ranked(len(bent), sorted(before))
    if place is None:
        raise ValueError("constraints of a channel form a ring: shift its columns first")
    queue = sorted(range(len(bent)), key=lambda i: (place[i], i))
    _untangle(bent, before, queue)
    return _packed(bent, before, queue)


def _turning(run: Run) -> tuple[int, float]:
    """First order of tracks: returns lie close to their side; downward ones from the right."""
    if not run.right:
        return 0, run.span[1] - run.span[0]
    if not run.left:
        return 3, run.span[0] - run.span[1]
    down = run.left[0] < run.right[0]
    return (2, -run.left[0]) if down else (1, run.left[0])


def _cost(first: Run, second: Run) -> int:
    """Crossings of two runs when the first turns left of the second."""
    return sum(second.span[0] < y < second.span[1] for y in first.right) + sum(
        first.span[0] < y < first.span[1] for y in second.left
    )


def _untangle(runs: Sequence[Run], before: set[tuple[int, int]], queue: list[int]) -> None:
    """Swaps neighbours while crossings fall."""
    for _ in range(TURNS):
        swapped = False
        for at in range(len(queue) - 1):
            i, j = queue[at], queue[at + 1]
            if (i, j) not in before and _cost(runs[j], runs[i]) < _cost(runs[i], runs[j]):
                queue[at], queue[at + 1], swapped = j, i, True
        if not swapped:
            return


def _packed(
    runs: Sequence[Run], before: set[tuple[int, int]], queue: Sequence[int]
) -> dict[str, int]:
    """Each run on the first track right of all earlier ones that it meets."""
    track: dict[int, int] = {}
    for j in queue:
        earlier = (track[i] for i in track if meets(runs[i], runs[j]) or (i, j) in before)
        track[j] = max(earlier, default=-1) + 1
    return {runs[i].wire: at for i, at in track.items()}
