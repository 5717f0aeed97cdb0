"""P: devices in series, overcurrent and residual-current: which of them opens first."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from math import inf

from ...dsl.records import record
from ..bands import Band
from ..figures.chains import Ways, band_of, ways, worst_fault
from ..findings import WARNING, Related
from ..registry import Hit, rule
from ..tracing.network import JOINT, POLE
from ..tracing.trace import ModeView, Stage
from ..trade.sizes import plain

NEAR = 1.0 + 1e-9
ALIKE = 2.0
"""Ratio from which fuses of one class follow each other, whatever their band (common practice, no
published source: the band is that of all makes and ratings, each fuse has a curve in it)."""
STEPS = 200
"""Currents at which two bands are compared, evenly spaced on a log scale."""


@record
class Pair:
    """Two devices in series, ``upper`` nearer to the source, and the node between them."""

    upper: str
    lower: str
    node: int


def _pairs(
    view: ModeView, way: Ways, acts: frozenset[str], neighbours: bool = True
) -> Iterator[Pair]:
    """Devices in series that are in ``acts`` (names), on the way out: neighbours, or all."""
    for node, edge in way.came.items():
        if edge is None or edge.kind != POLE or edge.owner not in acts:
            continue
        near = edge.other(node)
        ahead = [name for name in way.devices[near] if name in acts]
        for name in ahead[-1:] if neighbours else dict.fromkeys(ahead):
            if name != edge.owner:
                yield Pair(name, edge.owner, near)


@lru_cache(maxsize=64)
def _below(view: ModeView) -> dict[str, frozenset[str]]:
    """For each device the loads, outlets and converters that hang on it."""
    found: dict[str, set[str]] = {}
    kinds = view.wiring.kinds
    passing = {edge.owner for edge in view.network.edges if edge.kind == JOINT}
    for way in ways(view):
        for node, devices in way.devices.items():
            user = view.wiring.names[node][0]
            if kinds[user].acts in ("load", "outlet", "converter") and user not in passing:
                for name in devices:
                    found.setdefault(name, set()).add(user)
    return {name: frozenset(users) for name, users in found.items()}


def _feeds_others(view: ModeView, pair: Pair) -> bool:
    """Whether more goes dark when the upper one opens than when the lower one does."""
    below = _below(view)
    return below.get(pair.upper, frozenset()) > below.get(pair.lower, frozenset())


@rule(
    "P27",
    "upstream-opens-first",
    WARNING,
    clauses={
        "iec60364": "IEC 60364-5-53 535.1, selectivity of protective devices (from memory)",
        "": "common practice, no published source",
    },
    yields_to=("P01", "P02", "P13", "P14", "B08", "S01", "S02", "S03", "S10"),
    follows=("P22",),
)
def upstream_opens_first(stage: Stage) -> Iterator[Hit]:
    """Of two devices in series, the one nearer to the source may open first on a fault behind both.

    Compared are their trip bands up to the prospective current at the lower one; told is a pair
    where the upper one is rated no higher, or may open before the current at which the lower one
    opens at once.  That both may open together at still higher currents is usual with breakers and
    is not told; nor is a pair where nothing else hangs on the upper one, nor a device that says
    `site` (the shore's own, beyond the rig's control), nor a main that is as large as its supply.
    Why: a fault in one circuit then darkens all of them.
    Breaks it: a feeder of 16 A ahead of a branch of 16 A, on a supply of 32 A; a B 20 ahead of
    a C 16; a 40 A gG fuse ahead of one of 32 A.
    Does not: a C 20 ahead of a C 16; gG fuses in the ratio of 1.6, others of one class in that of
    2; devices without a published band, where the ratings rise.
    """
    for view in stage.modes:
        acts = frozenset(n for n, kind in stage.wiring.kinds.items() if kind.acts == "protective")
        told: set[tuple[str, str]] = set()
        for way in ways(view):
            for pair in _pairs(view, way, acts):
                if (pair.upper, pair.lower) in told or not _feeds_others(view, pair):
                    continue
                told.add((pair.upper, pair.lower))
                if not stage.rig.devices[pair.upper].flag("site"):
                    yield from _compared(stage, view, way, pair)


def _compared(stage: Stage, view: ModeView, way: Ways, pair: Pair) -> Iterator[Hit]:
    devices = stage.rig.devices
    above = devices[pair.upper].number("rating") or inf
    below = devices[pair.lower].number("rating") or 0.0
    if above <= below * NEAR:
        head = way.source.device.number("rating") or inf
        if above < head / NEAR:
            words = f"is rated {above:g} A, {pair.lower} {below:g} A"
            yield _hit(stage, view, pair, (above, below), words, ())
        return
    upper, lower = band_of(stage, pair.upper), band_of(stage, pair.lower)
    if upper is None or lower is None or upper.assumed or lower.assumed or not upper.shortest:
        return
    if not upper.instantaneous and upper.title == lower.title and above >= ALIKE * below / NEAR:
        return
    found = _overlap(view, pair, upper, lower)
    if found is not None:
        low, high = found
        words = f"may open before {pair.lower} from {plain(low)} to {plain(high)} A"
        why = tuple(
            f"{band.device}: {band.title}, {band.clause} ({band.status})" for band in (upper, lower)
        )
        yield _hit(stage, view, pair, (low, high), words, why)


def _hit(
    stage: Stage,
    view: ModeView,
    pair: Pair,
    figures: tuple[float, float],
    words: str,
    why: tuple[str, ...],
) -> Hit:
    devices = stage.rig.devices
    return Hit(
        on=(pair.upper, pair.lower),
        span=devices[pair.upper].span,
        message=f"{pair.upper} stands ahead of {pair.lower} and {words}",
        fix=f"a larger or slower {pair.upper}, a smaller or faster {pair.lower}, or an `accept` "
        "that says why it may be so",
        mode=view.name,
        value=figures[1],
        limit=figures[0],
        unit="A",
        why=why,
        related=(Related(devices[pair.lower].span, "should open first"),),
        cause=pair.upper,
    )


def _overlap(view: ModeView, pair: Pair, upper: Band, lower: Band) -> tuple[float, float] | None:
    """The range of current, A, in which the upper one may open first although it need not.

    Of two breakers: where the upper one may open and the lower one cannot yet (their bands are wide
    and overlap anyway).  Where a fuse is one of them: where the upper one may open before the lower
    one surely has, up to where a breaker opens at once.
    """
    first = lower.trips * NEAR
    for bound in _bounds(view, pair, upper, lower):
        corners = _corners(upper, lower, first, bound)
        if bound <= first or not any(_mixed(upper, lower, amps) for amps in corners):
            return None
    ratio = (bound / first) ** (1 / STEPS)
    currents = (first * ratio**step for step in range(STEPS + 1))
    mixed = [amps for amps in currents if _mixed(upper, lower, amps)]
    return (mixed[0], mixed[-1]) if mixed else None


def _bounds(view: ModeView, pair: Pair, upper: Band, lower: Band) -> Iterator[float]:
    """Up to which current to compare: what the sources state at most, then the current there."""
    stated = sum(source.device.number("fault") or 0.0 for source in view.live.values()) or inf
    ends = [stated]
    if lower.instantaneous is not None:
        ends.append(lower.instantaneous[0 if upper.instantaneous else 1])
    elif upper.instantaneous is not None:
        ends.append(upper.instantaneous[0])
    bound = min(ends)
    if bound == inf or _graded(upper, lower):
        yield 0.0
        return
    yield bound
    found = worst_fault(view, pair.node)
    if found is not None:
        yield min(bound, found[1].amps)


def _mixed(upper: Band, lower: Band, amps: float) -> bool:
    """Whether the upper one may open first at a current (see ``_overlap``)."""
    both = lower.instantaneous is not None and upper.instantaneous is not None
    return upper.soonest(amps) < (lower.soonest(amps) if both else lower.latest(amps)) / NEAR


def _corners(upper: Band, lower: Band, first: float, bound: float) -> Iterator[float]:
    """The currents at which an edge turns or jumps: between two of them nothing changes sides."""
    yield first
    yield bound
    for band in (upper, lower):
        turns = [amps for edge in (band.shortest, band.longest) for amps, _ in edge]
        for amps in (*turns, *(band.instantaneous or ())):
            yield from (a for a in (amps, amps * 1.0001) if first < a < bound)


def _graded(upper: Band, lower: Band) -> bool:
    """Whether of two fuses the upper one melts at no less I2t than the lower one lets through."""
    if upper.instantaneous or lower.instantaneous:
        return False
    (amps, seconds), (below, latest) = upper.shortest[-1], lower.longest[-1]
    return amps * amps * seconds >= below * below * latest / NEAR


@rule(
    "P28",
    "residual-in-series",
    WARNING,
    clauses={
        "iec60364": "IEC 60364-5-53 535.3: type S ahead, three times the current (from memory)",
        "": "common practice, no published source",
    },
    yields_to=("B06", "B08", "P27", "S01", "S03"),
)
def residual_in_series(stage: Stage) -> Iterator[Hit]:
    """Two residual-current devices in series, the upper one no slower or no less sensitive.

    Why: a fault in one circuit opens either of them, or both; which, is chance, and all that hangs
    on the upper one goes dark.
    Breaks it: 30 mA at the main and 30 mA in a branch behind it, with or without a delayed one
    between them.
    Does not: a `delayed` one of at least three times the current ahead; one that nothing else hangs
    on; a device that says `site`.
    """
    for view in stage.modes:
        devices = stage.rig.devices
        acts = frozenset(n for n, d in devices.items() if d.attrs.keys() & {"rcd", "gfci"})
        told: set[tuple[str, str]] = set()
        for way in ways(view) if len(acts) > 1 else ():
            for pair in _pairs(view, way, acts, neighbours=False):
                if (pair.upper, pair.lower) in told or not _feeds_others(view, pair):
                    continue
                told.add((pair.upper, pair.lower))
                yield from _in_series(stage, view, pair)


def _in_series(stage: Stage, view: ModeView, pair: Pair) -> Iterator[Hit]:
    devices = stage.rig.devices
    upper, lower = devices[pair.upper], devices[pair.lower]
    above, below = (d.number("rcd") or d.number("gfci") or 0.0 for d in (upper, lower))
    if upper.flag("site") or above >= 3 * below / NEAR:
        return
    slower = ", and is delayed" if upper.flag("delayed") else ""
    yield Hit(
        on=(pair.upper, pair.lower),
        span=upper.span,
        message=f"{pair.upper} ({1000 * above:g} mA{slower}) stands ahead of {pair.lower} "
        f"({1000 * below:g} mA): either may open first",
        fix=f"a delayed device of at least {3000 * below:g} mA ahead, or one of the two",
        mode=view.name,
        value=1000 * above,
        limit=3000 * below,
        unit="mA",
        related=(Related(lower.span, "the other one"),),
        cause=pair.upper,
    )
