"""P: every ungrounded conductor held by a device, and neutrals by the devices of their lines."""

from __future__ import annotations

from collections.abc import Iterator

from ..books.book import Allowance, Missing
from ..findings import WARNING, Related
from ..judged import judged_once
from ..registry import Hit, rule
from ..runs import NEAR, Run, Weak
from ..tracing.cut import protection
from ..tracing.network import WIRE
from ..tracing.parallel import together
from ..tracing.trace import Stage


def _hits(stage: Stage, code: str) -> Iterator[Hit]:
    make = {"P01": _unprotected, "P02": _undersized, "P03": _too_far}[code]
    for view in stage.modes:
        for weak, own, run, allowed in judged_once(stage, view):
            if own == code:
                yield make(weak, run, allowed)


def _size(weak: Weak) -> str:
    return f"{weak.conductor.name} ({weak.conductor.size})"


def _at_most(weak: Weak) -> str:
    """The largest device a conductor allows, and of that the largest that is made."""
    most = weak.limit.value
    below = weak.stage.book.rating_below(most)
    made = f" ({below:g} A is a standard rating)" if below is not None and below < most else ""
    return f"{most:g} A at most{made}"


def _begins(weak: Weak) -> str:
    """Where a device ahead of it belongs: at the source, or where it leaves what feeds it."""
    ends = (weak.conductor.a.device, weak.conductor.b.device)
    at = next((name for name in weak.cut.names if name in ends), "")
    return f"leaves {at}" if at else "begins"


def _feeds(weak: Weak) -> tuple[Related, ...]:
    devices = weak.stage.rig.devices
    names = [part for name in weak.cut.names for part in name.split(", ")]
    return tuple(Related(devices[n].span, f"fed through {n}") for n in names if n in devices)


def _unprotected(weak: Weak, run: Run, allowed: Allowance | None) -> Hit:
    sources = " and ".join(weak.cut.names)
    too_big = f"; {' and '.join(run.devices)} at its end let more through"
    if run.ends_well:
        away = f"stand{'s' * (len(run.devices) == 1)} up to {run.length_m:g} m away"
        too_big = f"; {' and '.join(run.devices)} at its end {away}"
    held = protection(weak.view)
    round_it = dict.fromkeys(e.owner for e in held.bridged.get(held.cell[weak.edge.a], ()))
    ending = too_big if run.devices else ""
    ending = f"; a way leads round {' and '.join(round_it)}" if round_it else ending
    return Hit(
        on=(weak.conductor.name, *weak.cut.names[:1], *round_it, *run.devices),
        span=weak.conductor.span,
        message=f"nothing protects {_size(weak)}: {sources} reaches it through no overcurrent "
        f"device, and it may carry {weak.limit.value:g} A{ending}",
        fix=f"put a device of {_at_most(weak)} where {weak.conductor.name} {_begins(weak)}",
        mode=weak.view.name,
        limit=weak.limit.value,
        unit="A",
        why=(*weak.limit.steps,),
        related=_feeds(weak),
        clause=weak.limit.clause,
    )


def _hot(weak: Weak) -> str:
    """The place or route whose heat alone makes it weak; "" where it is weak at 30 degC too."""
    stage, conductor = weak.stage, weak.conductor
    cool = stage.book.limit_in_the_cool(conductor, stage.rig, stage.groups)
    if cool is None:
        return ""
    where, limit = cool
    limit = together(stage, conductor, limit)
    holds = not isinstance(limit, Missing) and weak.cut.amps <= limit.value * NEAR
    return where if holds else ""


def _mended(weak: Weak, holding: str, several: bool, hot: str) -> str:
    """What to do about a conductor that may carry less than its device lets through."""
    cooler = f"insulation for more heat, or a way past {hot}" if hot else "a larger conductor"
    if not weak.limit.value:
        return cooler
    larger = "a larger conductor, " if hot else ""
    return f"{larger}{cooler}, or {holding} of {_at_most(weak)}{' together' if several else ''}"


def _undersized(weak: Weak, run: Run, allowed: Allowance | None) -> Hit:
    holding = " + ".join(weak.cut.names)
    held = protection(weak.view)
    nearest = held.nearest(weak.edge.a)
    idle = nearest if nearest not in weak.cut.names else ""
    hot = _hot(weak)
    heat = f" in the heat of {hot}" if hot else ""
    return Hit(
        on=(weak.conductor.name, *weak.cut.names, *(name for name in (idle, hot) if name)),
        span=weak.conductor.span,
        message=f"{_size(weak)} can come to carry {weak.cut.amps:g} A, held only by {holding}; "
        f"its device may be {weak.limit.value:g} A at most{heat}",
        fix=_mended(weak, idle or holding, len(weak.cut.names) > 1 and not idle, hot),
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
        cause=f"heat of {hot}" if hot else held.circuit(weak.edge.a),
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
