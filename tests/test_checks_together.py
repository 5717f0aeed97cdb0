"""Which loads may run together: against an enumeration of every subset, and laws that must hold."""

from __future__ import annotations

from itertools import chain, combinations, product

from ferrule.checks.capacity.together import Counts, Group, Limit, Together, together
from hypothesis import given, settings
from hypothesis import strategies as st

NAMES = "ABCDEFGHIJKL"
Sets = set[frozenset[str]]
# Few different amounts, so that loads that count alike come up, and sums that just fit.
AMOUNTS = st.sampled_from([0.0, 0.5, 1.0, 2.0, 2.0, 3.0, 5.0, 8.0, 12.5])


@st.composite
def problems(draw: st.DrawFn) -> tuple[str, list[Limit]]:
    """Up to twelve loads against up to four limits."""
    names = NAMES[: draw(st.integers(1, 12))]
    limits = [
        Limit(
            draw(st.sampled_from([4.0, 10.0, 16.0, 20.0, 30.0])),
            {name: draw(AMOUNTS) for name in names if draw(st.booleans())},
        )
        for _ in range(draw(st.integers(0, 4)))
    ]
    return names, limits


def fits(names: frozenset[str], limits: list[Limit]) -> bool:
    """Straight from the statement of the problem, with a margin for rounding."""
    return all(
        sum(limit.counts.get(name, 0.0) for name in names) <= limit.gives + 1e-6 for limit in limits
    )


def by_hand(names: str, limits: list[Limit]) -> tuple[Sets, Sets]:
    """The largest sets that fit and the smallest that do not, by trying all 2^n."""
    subsets = [
        frozenset(subset)
        for subset in chain.from_iterable(combinations(names, n) for n in range(len(names) + 1))
    ]
    good = {subset for subset in subsets if fits(subset, limits)}
    largest = {s for s in good if all(s | {name} not in good for name in names if name not in s)}
    smallest = {s for s in subsets if s not in good and all(s - {name} in good for name in s)}
    return largest, smallest


def spread(group: Group, counts: Counts) -> Sets:
    """A set by numbers as sets of names."""
    picks = (combinations(names, n) for names, n in zip(group.alike, counts, strict=True))
    return {frozenset(chain.from_iterable(pick)) for pick in product(*picks)}


def largest_of(found: Together) -> Sets:
    """The largest sets of all groups together."""
    every: Sets = {frozenset(found.free)}
    for group in found.groups:
        own = set().union(*(spread(group, counts) for counts in group.sets))
        every = {a | b for a in every for b in own}
    return every


def forbidden_of(found: Together) -> Sets:
    each = (spread(group, counts) for group in found.groups for counts in group.forbidden)
    return {frozenset(name) for name in found.never}.union(*each)


@settings(max_examples=400, deadline=None)
@given(problems())
def test_the_sets_are_those_found_by_trying_every_subset(problem: tuple[str, list[Limit]]) -> None:
    names, limits = problem
    found = together(names, limits)
    largest, smallest = by_hand(names, limits)
    assert largest_of(found) == largest
    assert forbidden_of(found) == smallest
    assert all(group.whole for group in found.groups)


@settings(max_examples=150, deadline=None)
@given(problems(), st.data())
def test_with_a_load_less_everything_that_fitted_still_does(
    problem: tuple[str, list[Limit]], data: st.DataObject
) -> None:
    names, limits = problem
    gone = data.draw(st.sampled_from(names))
    before = largest_of(together(names, limits))
    after = largest_of(together(names.replace(gone, ""), limits))
    assert all(any(old - {gone} <= new for new in after) for old in before)


@settings(max_examples=150, deadline=None)
@given(problems(), st.floats(1.0, 3.0))
def test_limits_that_give_more_forbid_nothing_new(
    problem: tuple[str, list[Limit]], times: float
) -> None:
    names, limits = problem
    wider = [Limit(limit.gives * times, limit.counts) for limit in limits]
    before = largest_of(together(names, limits))
    after = largest_of(together(names, wider))
    assert all(any(old <= new for new in after) for old in before)


def test_loads_that_count_alike_are_taken_by_number() -> None:
    """Any three of six 5 A heaters on 16 A: one set of a number, not twenty of names."""
    found = together("ABCDEF", [Limit(16.0, dict.fromkeys("ABCDEF", 5.0))])
    assert found.groups[0].sets == ((3,),)
    assert found.groups[0].forbidden == ((4,),)


def test_a_load_that_never_matters_stands_aside() -> None:
    """12.5 A and 12 A against 15 A, with a lamp of 1 A: the lamp fits beside either."""
    found = together("ABL", [Limit(15.0, {"A": 12.5, "B": 12.0, "L": 1.0})])
    assert found.groups[0].alike == (("A",), ("B",), ("L",))
    assert largest_of(found) == {frozenset("AL"), frozenset("BL")}
    apart = together("ABL", [Limit(15.0, {"A": 12.5, "B": 12.0}), Limit(10.0, {"L": 1.0})])
    assert apart.free == ("L",)


def test_many_loads_are_bounded_and_say_so() -> None:
    """Thirty loads, no two alike: more sets than anybody reads."""
    counts = {f"X{n}": 1.0 + n / 7 + n * n / 97 for n in range(30)}
    found = together(tuple(counts), [Limit(40.0, counts)])
    assert not found.groups[0].whole
    assert len(found.groups[0].sets) == 1_000
