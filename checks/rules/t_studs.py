"""T: studs: the lug's hole, how many lugs, and what lies between them."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from ...dsl.model import Conductor, Device
from ..books.book import Missing
from ..findings import ERROR, NOTE, WARNING, Related
from ..registry import Hit, rule
from ..tracing.trace import EARTH, Stage
from ..trade.ends import grip_of, said
from ..trade.fittings import LUG_SOURCE, THREAD_NEAR, lug_studs, thread_mm
from .t_sizes import Landed

PRACTICE = "common practice, no published source"
MOST_LUGS = 4.0
HARDWARE = ("lug", "washer", "spring-washer", "nut", "nylon-nut")


@rule("T05", "lug-against-stud", clauses={"": f"{LUG_SOURCE}; {PRACTICE}"})
def lug_against_stud(stage: Stage) -> Iterator[Hit]:
    """A lug whose hole is not that of the stud, or a stud that no lug of its section is made for.

    A hole too small is an error, one too wide a warning, a lug that is not made a note.
    Why: a hole drilled up leaves too little metal, and a wide one too little of it under the nut;
    either runs hot.
    Breaks it: `lug=M6` on a bar with `stud=M8`; 1 mm2 on a stud M12.
    Does not: a lug and a stud of one thread; ends of which the text says nothing.
    """
    for device, ends in stage.landed:
        stud = device.terminals[0].stud
        if stud is None:
            continue
        conductor, end = ends[0]
        hole = said(conductor, "lug", end)
        if hole:
            hit = _hole(device, conductor, end.name, hole, stud)
        elif _in_no_table(stage, conductor):
            continue  # a size of no trade: P18 says so
        else:
            hit = _not_made(device, conductor, end.name, stud)
        if hit:
            yield hit


def _in_no_table(stage: Stage, conductor: Conductor) -> bool:
    """Whether a conductor carries current and is of a size that the book has no figure for."""
    role = stage.conductor_role(conductor.name)
    return role not in ("", EARTH) and isinstance(stage.limit(conductor), Missing)


def _hole(device: Device, conductor: Conductor, where: str, hole: str, stud: str) -> Hit | None:
    wide, thick = thread_mm(hole), thread_mm(stud)
    if hole == stud or (wide and thick and 1 / THREAD_NEAR <= wide / thick <= THREAD_NEAR):
        return None
    small = wide is None or thick is None or wide < thick
    return Hit(
        on=(conductor.name, device.name),
        span=conductor.span_of("lug"),
        message=f"the lug of {conductor.name} is for {hole}, the stud {where} is {stud}"
        + ("" if wide is None or not small else ": it does not go on"),
        fix=f"take a lug for {stud}",
        value=round(wide, 2) if wide else None,
        limit=round(thick, 2) if thick else None,
        unit="mm" if wide and thick else "",
        severity=ERROR if small else WARNING,
        related=(Related(device.span_of("stud"), "the stud"),),
        cause=conductor.statement,
    )


def _not_made(device: Device, conductor: Conductor, where: str, stud: str) -> Hit | None:
    thick = thread_mm(stud)
    made = lug_studs(conductor.size.mm2) if conductor.size else None
    if thick is None or made is None or made[0] - 0.1 <= thick <= made[1] + 0.1:
        return None
    return Hit(
        on=(conductor.name, device.name),
        span=conductor.span,
        message=f"lugs for {conductor.size} are made for studs M{made[0]:g} to M{made[1]:g}, "
        f"{where} is {stud}",
        fix=f"bring {conductor.name} to another terminal, or take a thicker conductor",
        value=thick,
        limit=made[1] if thick > made[1] else made[0],
        unit="mm",
        severity=NOTE,
        related=(Related(device.span_of("stud"), "the stud"),),
    )


@rule(
    "T06",
    "stud-crowded",
    clauses={"abyc-e11": "ABYC E-11: four at most on one stud", "": PRACTICE},
    yields_to=("D03",),
)
def stud_crowded(stage: Stage) -> Iterator[Hit]:
    """More lugs on one stud than its book has (four, ABYC E-11), whatever `holds=` says.

    Why: the stack is as good as its worst face; nobody tightens one lug again without loosening
    all others.
    Breaks it: five lugs on a post of the battery.
    Does not: four; a bar with many studs.
    """
    own = stage.book.value("per-stud")
    most = own.value if own else MOST_LUGS
    for (name, terminal), ends in stage.landings.items():
        device = stage.rig.devices[name]
        if len(ends) <= most or grip_of(device, device.terminals[0]) != "stud":
            continue
        names = tuple(conductor.name for conductor, _ in ends)
        yield Hit(
            on=(*reversed(names), name),
            span=ends[-1][1].span,
            message=f"{len(names)} lugs on the stud {name}.{terminal}: {', '.join(names)}",
            fix=f"put a bar behind {name}.{terminal}, and land {names[-1]} there",
            value=float(len(names)),
            limit=most,
            unit="lugs",
            severity=ERROR if own else WARNING,
            related=(Related(device.span, "the stud"),),
        )


def _stacks(stage: Stage) -> Iterator[tuple[Device, tuple[str, ...]]]:
    for device in stage.rig.devices.values():
        stack = device.attrs.get("stack")
        if isinstance(stack, tuple):
            yield device, stack


@rule(
    "T07",
    "stack-order",
    WARNING,
    clauses={"abyc-e11": "ABYC E-10 10.8.4, 10.8.5, as surveyors quote it", "": PRACTICE},
)
def stack_order(stage: Stage) -> Iterator[Hit]:
    """A washer between lug and face or between lugs, or a thin lug under a thick one.

    Why: the current goes from face to face.  Steel or brass between them is a resistor; and the
    lug that carries most belongs next to the face.
    Breaks it: `stack=washer,lug,nut`; `stack=D2,D1,washer,nut` with D2 thinner than D1.
    Does not: washers under the nut alone.
    """
    for device, stack in _stacks(stage):
        lugs = [n for n, word in enumerate(stack) if word not in HARDWARE or word == "lug"]
        between = [word for word in stack[: lugs[-1]] if "washer" in word] if lugs else []
        if between:
            yield _stacked(
                device,
                stack,
                f"a {between[0]} lies under a lug on {device.name}, in the path of the current",
                "put all lugs face to face, and the washers under the nut",
            )
        sizes = [(word, _mm2(stage, word)) for word in stack if word not in HARDWARE]
        known = [(word, mm2) for word, mm2 in sizes if mm2]
        for (low, thin), (high, thick) in pairwise(known):
            if thin < thick / 1.005:
                yield _stacked(
                    device,
                    stack,
                    f"the thinner {low} lies under {high} on {device.name}",
                    f"put {high} next to the face, {low} on top of it",
                    low,
                    high,
                )


def _mm2(stage: Stage, name: str) -> float:
    conductor = stage.rig.conductors.get(name)
    return conductor.size.mm2 if conductor and conductor.size else 0.0


def _stacked(device: Device, stack: tuple[str, ...], message: str, fix: str, *also: str) -> Hit:
    why = (f"from the face outwards: {', '.join(stack)}",)
    return Hit((device.name, *also), device.span_of("stack"), message, fix, why=why)


@rule("T08", "nylon-insert-nut", NOTE, clauses={"": PRACTICE})
def nylon_insert_nut(stage: Stage) -> Iterator[Hit]:
    """A nut with a nylon insert on a stud that carries current.

    Why: it brakes on its thread, so the torque wrench reads the brake and not the joint; and the
    insert melts when the joint runs hot, just when it is needed.
    Breaks it: `stack=lug,washer,nylon-nut` on a battery, a fuse or a bar.
    Does not: a plain nut on a spring washer; a stud that only earths (`earth`).
    """
    for device, stack in _stacks(stage):
        if "nylon-nut" in stack and device.kind not in ("earth", "panel"):
            yield _stacked(
                device,
                stack,
                f"a nut with a nylon insert holds the joint on {device.name}",
                "take a plain nut and a spring washer, and tighten it to its torque",
            )


@rule("T09", "stack-names-nothing", clauses={"": "the language: what `stack=` may say"})
def stack_names_nothing(stage: Stage) -> Iterator[Hit]:
    """A word of `stack=` that is neither hardware nor a conductor on that device.

    Why: the order of the stack is then not what its author thinks, and is not checked.
    Breaks it: `stack=D1,wahser,nut`; a conductor that lands elsewhere.
    Does not: lug, washer, spring-washer, nut, nylon-nut; a conductor that lands there.
    """
    for device, stack in _stacks(stage):
        ends = [e for t in device.terminals for e in _on(stage, device, t.name)]
        here = {word for c, _ in ends for word in (c.name, c.statement)}
        odd = [word for word in stack if word not in HARDWARE and word not in here]
        if odd:
            yield _stacked(
                device,
                stack,
                f"`{odd[0]}` in the stack of {device.name} is no conductor that lands there",
                f"name one that does, or one of: {' '.join(HARDWARE)}",
            )


def _on(stage: Stage, device: Device, terminal: str) -> list[Landed]:
    return stage.landings.get((device.name, terminal), [])
