"""P: every ungrounded conductor held by a device, and neutrals by the devices of their lines."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from math import inf

from ..books.book import Allowance, Missing
from ..findings import WARNING, Related
from ..registry import Hit, rule
from ..runs import NEAR, Run, Weak, allowance, run_of, weak_conductors
from ..tracing.cut import Protection, protection
from ..tracing.network import WIRE
from ..tracing.trace import ModeView, Stage


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
    for weak in weak_conductors(stage, view, held):
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
        rest = _judged(stage, view, Protection(view, without=row[0].edge))
        if not any(weak.cut.amps == inf for weak, *_ in rest):
            return [row, *(r for r in judged if r[0].cut.amps < inf)]
    return judged


def _without_followers(judged: list[Judged]) -> list[Judged]:
    """Leave out the lead to a device that is too big for what it feeds: told once, behind it."""
    too_big = {weak.cut.names for weak, *_ in judged if len(weak.cut.names) == 1}
    near = ((weak.protection.nearest(weak.edge.a), weak.cut.names) for weak, *_ in judged)
    too_big |= {(name,) for name, names in near if name and name not in names}
    return [
        row for row in judged if row[2].devices not in too_big or row[0].cut.names == row[2].devices
    ]


def _hits(stage: Stage, code: str) -> Iterator[Hit]:
    make = {"P01": _unprotected, "P02": _undersized, "P03": _too_far}[code]
    for view in stage.modes:
        for weak, own, run, allowed in _judged_once(stage, view):
            if own == code:
                yield make(weak, run, allowed)


@lru_cache(maxsize=64)
def _judged_once(stage: Stage, view: ModeView) -> tuple[Judged, ...]:
    return tuple(_causes(stage, view))


def _size(weak: Weak) -> str:
    return f"{weak.conductor.name} ({weak.conductor.size})"


def _feeds(weak: Weak) -> tuple[Related, ...]:
    devices = weak.stage.rig.devices
    names = [part for name in weak.cut.names for part in name.split(", ")]
    return tuple(Related(devices[n].span, f"fed through {n}") for n in names if n in devices)


def _unprotected(weak: Weak, run: Run, allowed: Allowance | None) -> Hit:
    sources = " and ".join(weak.cut.names)
    too_big = f"; {' and '.join(run.devices)} at its end let more through"
    held = protection(weak.view)
    round_it = dict.fromkeys(e.owner for e in held.bridged.get(held.cell[weak.edge.a], ()))
    ending = too_big if run.devices else ""
    ending = f"; a way leads round {' and '.join(round_it)}" if round_it else ending
    return Hit(
        on=(weak.conductor.name, *weak.cut.names[:1], *round_it, *run.devices),
        span=weak.conductor.span,
        message=f"nothing protects {_size(weak)}: {sources} reaches it through no overcurrent "
        f"device, and it may carry {weak.limit.value:g} A{ending}",
        fix=f"put a device of at most {weak.limit.value:g} A where {weak.conductor.name} "
        f"leaves {sources}",
        mode=weak.view.name,
        limit=weak.limit.value,
        unit="A",
        why=(*weak.limit.steps,),
        related=_feeds(weak),
        clause=weak.limit.clause,
    )


def _undersized(weak: Weak, run: Run, allowed: Allowance | None) -> Hit:
    holding = " + ".join(weak.cut.names)
    held = protection(weak.view)
    nearest = held.nearest(weak.edge.a)
    idle = nearest if nearest not in weak.cut.names else ""
    return Hit(
        on=(weak.conductor.name, *weak.cut.names, *([idle] if idle else ())),
        span=weak.conductor.span,
        message=f"{_size(weak)} can come to carry {weak.cut.amps:g} A, held only by {holding}; "
        f"its device may be {weak.limit.value:g} A at most",
        fix=f"a larger conductor, or {idle or holding} of {weak.limit.value:g} A at most"
        + (" together" if len(weak.cut.names) > 1 and not idle else ""),
        mode=weak.view.name,
        value=weak.cut.amps,
        limit=weak.limit.value,
        unit="A",
        why=(
            f"the cut: {holding} = {weak.cut.amps:g} A",
            *([f"{idle}, its own device, is rated {held.ratings[idle]:g} A"] if idle else ()),
            *weak.limit.steps,
        ),
        related=_feeds(weak),
        clause=weak.limit.clause,
        cause=held.circuit(weak.edge.a),
    )


def _far(weak: Weak, allowed: Allowance) -> str:
    """A length in the units its book is written in as well."""
    metres = f"{allowed.value:.3g} m"
    if weak.stage.book.name == "iec60364":
        return metres
    return f"{metres} ({allowed.value / 0.0254:.0f} in)"


def _too_far(weak: Weak, run: Run, allowed: Allowance | None) -> Hit:
    assert allowed is not None
    device = ", ".join(run.devices)
    return Hit(
        on=(weak.conductor.name, *run.devices),
        span=weak.conductor.span,
        message=f"{_size(weak)} runs {run.length_m:g} m to its device {device}; "
        f"{_far(weak, allowed)} may run unprotected",
        fix=f"bring {device} within {_far(weak, allowed)} along the conductor, or protect it "
        "where it begins",
        mode=weak.view.name,
        value=run.length_m,
        limit=allowed.value,
        unit="m",
        why=allowed.steps,
        related=_feeds(weak),
        clause=allowed.clause,
        cause=protection(weak.view).circuit(weak.edge.a),
    )


PROTECT = {
    "nfpa70": "NFPA 70 240.4, 240.21",
    "abyc-e11": "ABYC E-11 (rating of overcurrent protection)",
    "iec60364": "IEC 60364-4-43 433.1, 433.2 (from memory)",
}


@rule(
    "P01",
    "conductor-unprotected",
    clauses=PROTECT,
    yields_to=("S08", "S09", "B10", "B19"),
)
def conductor_unprotected(stage: Stage) -> Iterator[Hit]:
    """A source reaches an ungrounded conductor through no overcurrent device at all.

    Why: a battery or a supply gives as much current into a fault as it can; with nothing to open
    the circuit the conductor is the fuse, and burns along its whole length.
    Breaks it: a lead from the battery's positive post straight to a load or a bar.
    Does not: a lead that ends in a fuse within the length the book allows from the post; leads
    between the batteries of one bank.
    """
    return _hits(stage, "P01")


@rule(
    "P02",
    "conductor-undersized",
    clauses=PROTECT,
    yields_to=("S08", "S09", "B10", "B19"),
)
def conductor_undersized(stage: Stage) -> Iterator[Hit]:
    """The devices ahead of a conductor let more current through than it may carry.

    The worst current is a maximum flow: every device at its rating, every self-limiting source at
    its limit, all feeds added up.  The devices named are the minimum cut.
    Why: an overloaded conductor overheats without any device knowing.
    Breaks it: 14 AWG behind a 20 A breaker; a lead behind a bar that two 30 A feeds reach.
    Does not: a conductor whose largest allowed device is at least the worst current; a tap within
    the book's length that ends in a device that holds it.
    """
    return _hits(stage, "P02")


@rule("P03", "device-too-far", clauses=PROTECT, follows=("P02",))
def device_too_far(stage: Stage) -> Iterator[Hit]:
    """A conductor is protected only at its far end, farther away than the book allows.

    Why: a fault on the way to the device is cleared by nothing.
    Breaks it: the battery fuse half a metre from the post where 7 in are allowed.
    Does not: the same fuse within the allowed length, or a conductor protected where it begins.
    """
    return _hits(stage, "P03")


@rule(
    "P18",
    "size-not-checked",
    WARNING,
    clauses={"": "the book has no figure for it"},
    yields_to=("T01",),
)
def size_not_checked(stage: Stage) -> Iterator[Hit]:
    """The book has no figure for a conductor that carries current, line or return.

    Why: a conductor that cannot be checked must not pass in silence.
    Breaks it: a size that the book's table does not have.
    Does not: any size of the table.
    """
    silent = {
        conductor.name: reason
        for conductor in stage.rig.conductors.values()
        if conductor.size is not None and isinstance(reason := stage.limit(conductor), Missing)
    }
    for view in stage.modes:
        for edge in view.network.edges if silent else ():
            if (
                edge.kind != WIRE
                or edge.owner not in silent
                or not view.roles.get(view.net[edge.a])
            ):
                continue
            conductor, reason = stage.rig.conductors[edge.owner], silent[edge.owner]
            yield Hit(
                on=(conductor.name,),
                span=conductor.span,
                message=f"{conductor.name} ({conductor.size}) was not checked: {reason.reason}",
                fix="use what the book has a figure for, or check it by hand",
                mode=view.name,
                clause=reason.clause,
                cause=reason.reason,
            )
