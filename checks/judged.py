"""Which weak conductors are told, and as what: P01, P02 or P03; of one cause one.

A weak conductor is one that more can reach than it may carry (``runs``).
"""

from __future__ import annotations

from functools import lru_cache
from math import inf

from .books.book import Allowance
from .runs import NEAR, Run, Weak, allowance, run_of, weak_conductors
from .tracing.cut import Protection, protection
from .tracing.trace import ModeView, Stage


@lru_cache(maxsize=64)
def weak_of(stage: Stage, view: ModeView) -> tuple[Weak, ...]:
    """The weak conductors of a mode as it is wired, worked out once."""
    return tuple(weak_conductors(stage, view, protection(view)))


def _verdict(weak: Weak) -> tuple[str, Run, Allowance | None] | None:
    """P01, P02 or P03 for a weak conductor, with its run; None where the book allows it."""
    worst: tuple[str, Run, Allowance | None] | None = None
    for end in weak.excess_ends or (weak.edge.a,):
        run = run_of(weak, end)
        allowed = allowance(weak, run)
        if allowed is not None and run.length_m <= allowed.value * NEAR:
            continue
        ends_there = allowed is not None and len(run.devices) == 1
        code = "P03" if ends_there else "P01" if weak.cut.amps == inf else "P02"
        if worst is None or code < worst[0]:
            worst = (code, run, allowed)
    return worst


def _end(view: ModeView, node: int) -> str:
    """What a conductor lands on: a bar as a whole, or a terminal."""
    device, terminal = view.wiring.names[node]
    bar = view.wiring.variants[device].numbered in ("all", "free")
    return device if bar else f"{device}.{terminal}"


Judged = tuple[Weak, str, Run, Allowance | None]


def _judged(stage: Stage, view: ModeView, held: Protection) -> list[Judged]:
    """The weak conductors of a mode that the book does not allow, with their verdicts."""
    found = []
    told: set[object] = set()
    plain = held is protection(view)
    for weak in weak_of(stage, view) if plain else weak_conductors(stage, view, held):
        pair = frozenset(_end(view, node) for node in (weak.edge.a, weak.edge.b))
        cores = (weak.conductor.cable or weak.conductor.name, weak.cut)
        if told & {pair, cores}:
            continue  # beside another one that is told
        told |= {pair, cores}
        verdict = _verdict(weak)
        if verdict is not None:
            found.append((weak, *verdict))
    return found


def _causes(stage: Stage, view: ModeView) -> list[Judged]:
    """As ``_judged``, but one cause once: where a source passes its device through a second
    way, all behind it is unprotected, and the conductor without which nothing is, is the cause.
    """
    judged = _without_followers(_judged(stage, view, protection(view)))
    bare = [row for row in judged if row[0].cut.amps == inf]
    if len(bare) < 2:
        return judged
    for row in reversed(bare):
        without = Protection(view, without=row[0].edge)
        rest = _judged(stage, view, without)
        if not any(weak.cut.amps == inf for weak, *_ in rest):
            others = [r for r in bare if r is not row]
            if not all(without.arriving(weak.edge.a).amps for weak, *_ in others):
                others = _left_over(stage, view, row[0], others)
            else:
                others = []
            return [row, *others, *(r for r in judged if r[0].cut.amps < inf)]
    return judged


def _left_over(stage: Stage, view: ModeView, cause: Weak, others: list[Judged]) -> list[Judged]:
    """Of the conductors that one alone feeds, those that a device where it begins does not mend."""
    mended = Protection(view, fused=(cause.edge, cause.limit.value))
    still = {weak.conductor.name for weak, *_ in _judged(stage, view, mended)}
    return [row for row in others if row[0].conductor.name in still]


def _without_followers(judged: list[Judged]) -> list[Judged]:
    """Leave out the lead to a device that is too big for what it feeds: told once, behind it.

    A lead that holds the device's rating and is too long has a fault of its own.  One that is short
    enough to the nearest of several devices is left to the conductor that is not.
    """
    too_big = {weak.cut.names for weak, *_ in judged if len(weak.cut.names) == 1}
    near = ((weak.protection.nearest(weak.edge.a), weak.cut.names) for weak, *_ in judged)
    too_big |= {(name,) for name, names in near if name and name not in names}
    kept = [
        row
        for row in judged
        if row[2].ends_well
        or row[2].devices not in too_big
        or row[0].cut.names == row[2].devices
    ]
    return [row for row in kept if not _left_to_another(row, kept)]


def _left_to_another(row: Judged, judged: list[Judged]) -> bool:
    _, _, run, allowed = row
    if allowed is None or run.nearest_m > allowed.value * NEAR:
        return False
    return any(set(other[2].devices) < set(run.devices) for other in judged)


@lru_cache(maxsize=64)
def judged_once(stage: Stage, view: ModeView) -> tuple[Judged, ...]:
    return tuple(_causes(stage, view))
