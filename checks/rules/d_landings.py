"""D: what lands on a terminal: too little, too much, or the same thing twice."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

from ...dsl.model import Conductor, Device, End
from ...dsl.records import replace
from ..findings import WARNING, Related
from ..registry import Hit, rule
from ..tracing.parallel import alike
from ..tracing.trace import EARTH, Stage

Landing = tuple[Conductor, End]


@rule(
    "D02",
    "dangling-end",
    clauses={
        "nfpa70": "NFPA 70 110.12, 110.14(B): free ends are insulated or terminated (from memory)",
        "": "common practice, no published source",
    },
)
def dangling_end(stage: Stage) -> Iterator[Hit]:
    """A conductor ends on a splice or a block position from which nothing goes on.

    Why: such an end is a left-over or a circuit cut in two.  It may be live, and nobody who looks
    at the far end would think so.
    Breaks it: one conductor alone on `JX.1`, or on a position of a terminal block.
    Does not: a block position with no conductor at all (a spare), or with two.
    """
    joined: dict[str, list[Landing]] = defaultdict(list)
    for (name, terminal), found in stage.landings.items():
        if stage.rig.devices[name].kind in ("block", "joint"):
            alone = stage.rig.devices[name].kind == "block"
            joined[f"{name}.{terminal}" if alone else name] += found
    dangling: dict[str, dict[str, Landing]] = defaultdict(dict)
    for where, found in joined.items():
        if len(found) == 1:
            dangling[found[0][1].device][where] = found[0]
    for name, ends in dangling.items():
        cables = {c.cable for c in stage.rig.conductors.values() if name in _at(c) and c.cable}
        beside = (d for c in stage.rig.conductors.values() if c.cable in cables for d in _at(c))
        yield _dangling(stage.rig.devices[name], ends, beside)


def _at(conductor: Conductor) -> tuple[str, str]:
    return conductor.a.device, conductor.b.device


def _dangling(device: Device, ends: dict[str, Landing], beside: Iterable[str]) -> Hit:
    """``beside``: what the cables on it lead to, where the missing conductor is missed as well."""
    names = [conductor.name for conductor, _ in ends.values()]
    where = ", ".join(ends)
    return Hit(
        on=tuple(dict.fromkeys((*names, device.name, *beside))),
        span=next(iter(ends.values()))[1].span,
        message=f"{', '.join(names)}: the end on {where} leads no further",
        fix=f"land what should go on from {where}, or remove the conductor",
        why=tuple(
            f"the other end of {conductor.name} is on {conductor.other(end).name}"
            for conductor, end in ends.values()
        ),
        related=(Related(device.span, "ends here"),),
    )


FOUR_TO_A_STUD = 4
STUD = "ABYC E-11, four conductors to a stud at most (from memory)"


@rule(
    "D03",
    "terminal-overfull",
    clauses={
        "nfpa70": "NFPA 70 110.14(A); neutral bars 408.41 (from memory)",
        "abyc-e11": "common practice, no published source: one conductor to a terminal, unless "
        "`holds=` says more",
        "iec60364": "IEC 60364-5-52 526.2 (from memory)",
    },
    yields_to=("D05", "D06", "B06", "P24"),
    follows=("B04", "S12", "S15"),
)
def terminal_overfull(stage: Stage) -> Iterator[Hit]:
    """More conductors on a terminal than it holds.

    A cord into an inlet or a socket counts as one, and so do several cords with plugs into one
    inlet, as it takes but one of them at a time.  Links on one terminal count as one: a comb bar
    is one piece of metal that passes under many screws.
    Why: under a screw made for one conductor the second holds the first off the metal; both work
    loose, heat up, and burn the terminal.
    Breaks it: two neutrals in one hole of the bar; a second circuit on a breaker's terminal.
    Does not: as many conductors as the part's `holds=` says; two on a socket, an inlet, a block.
    """
    for (name, terminal), found in stage.landings.items():
        holds = _holds(stage.rig.devices[name], terminal)
        kept = _pieces(stage.rig.devices[name], found)
        if holds is not None and len(kept) > holds:
            hit = _overfull(f"{name}.{terminal}", name, kept, holds)
            boat_stud = stage.book.name == "abyc-e11" and holds >= FOUR_TO_A_STUD
            yield replace(hit, clause=STUD) if boat_stud else hit


def _holds(device: Device, terminal: str) -> int | None:
    found = device.terminal(terminal)
    return None if found is None else found.holds


def _pieces(device: Device, found: list[Landing]) -> list[Landing]:
    """The pieces of metal that one terminal has to hold."""
    links = [landing for landing in found if landing[0].kind == "link"]
    plugs = [landing for landing in found if device.kind == "inlet" and landing[0].flag("plug")]
    return [row for row in found if row not in links and row not in plugs] + links[:1] + plugs[:1]


def _overfull(where: str, device: str, found: list[Landing], holds: int) -> Hit:
    names = tuple(conductor.name for conductor, _ in found)
    last = found[-1]
    return Hit(
        on=(*reversed(names), device),
        span=last[1].span,
        message=f"{len(names)} conductors land on {where}, which holds {holds}: {', '.join(names)}",
        fix=f"move {names[-1]} to a terminal of its own, or join them before {where}",
        value=float(len(names)),
        limit=float(holds),
        unit="conductors",
        related=tuple(Related(end.span, "lands here too") for _, end in found[:-1]),
        cause=f"{last[0].statement} on {device}",
    )


@rule("D05", "joined-to-itself", clauses={"": "common practice, no published source"})
def joined_to_itself(stage: Stage) -> Iterator[Hit]:
    """A conductor from a terminal to itself, or between two terminals that are joined anyway.

    Why: it does nothing, so one of its ends was meant for another terminal, and what it should
    connect is not connected.
    Breaks it: `wire W3 10AWG 0.2m LBAR.1 -> LBAR.5`, both on one bar.
    Does not: a jumper between two bars, or between two positions of a block.
    """
    bar = _permanent(stage)
    for conductor in stage.rig.conductors.values():
        a, b = conductor.a, conductor.b
        if a.device != b.device or a.device not in stage.rig.devices:
            continue
        same = a.terminal == b.terminal
        one, two = (bar.get((end.device, end.terminal), end.name) for end in (a, b))
        if one == two:
            how = "on one terminal" if same else f"on {a.device}, which joins them anyway"
            yield Hit(
                on=(conductor.name, a.device),
                span=conductor.span,
                message=f"both ends of {conductor.name} are {how}: {a.name} and {b.name}",
                fix=f"land one end where it was meant to go, or remove {conductor.statement}",
                related=(Related(stage.rig.devices[a.device].span, "declared here"),),
            )


def _permanent(stage: Stage) -> dict[tuple[str, str], str]:
    """For every terminal that its device joins to others in every state, what it is joined to."""
    table: dict[tuple[str, str], str] = {}
    for name, device in stage.rig.devices.items():
        variant, kind = stage.wiring.variants[name], stage.wiring.kinds[name]
        if variant.numbered in ("all", "free"):
            table.update({(name, t.name): name for t in device.terminals})
        states = kind.states or (kind.default_state,)
        always = set.intersection(*(set(variant.joins.get(state, ())) for state in states))
        for a, b in always:
            table[name, a] = table[name, b] = f"{name}.{a}"
    return table


@rule(
    "D06",
    "doubled-conductor",
    WARNING,
    clauses={
        "nfpa70": "NFPA 70 310.10(G): in parallel only from 1/0 AWG, and alike (from memory)",
        "iec60364": "IEC 60364-5-52 523.7 (from memory)",
        "": "common practice, no published source",
    },
    yields_to=("D05", "P02", "P37"),
)
def doubled_conductor(stage: Stage) -> Iterator[Hit]:
    """Two conductors between the same two terminals, or the same two bars.

    Protective earth may well be doubled between two bars, and is left alone there.
    Why: it is a slip of the pen, or two conductors in parallel that share the current by chance:
    when one works loose the other carries it all.
    Breaks it: `wire W4` and `wire W9`, both from the line bar to `Q1.1`.
    Does not: two circuits from one bar to two breakers; two alike of 1/0 AWG (53 mm2) or thicker;
    the two negatives of a converter that joins them inside.
    """
    bar = {end: name for end, name in _permanent(stage).items() if "." not in name}
    seen: dict[frozenset[str], Conductor] = {}
    for conductor in stage.rig.conductors.values():
        if conductor.status == "removed":
            continue
        ends = ((end.device, end.terminal) for end in (conductor.a, conductor.b))
        pair = frozenset(bar.get(end, ".".join(end)) for end in ends)
        if len(pair) < 2:
            continue
        first = seen.setdefault(pair, conductor)
        bars = any("." not in name for name in pair)
        if first is conductor or (bars and stage.conductor_role(conductor.name) == EARTH):
            continue
        if conductor.name not in alike(stage):
            yield _doubled(conductor, first)


def _doubled(conductor: Conductor, first: Conductor) -> Hit:
    return Hit(
        on=(conductor.name, first.name, conductor.a.device, conductor.b.device),
        span=conductor.span,
        message=f"{conductor.name} runs from {conductor.a.name} to {conductor.b.name}, and "
        f"{first.name} joins the same two already",
        fix=f"remove one of the two, or land {conductor.name} where it was meant to go",
        related=(Related(first.span, "the first is here"),),
    )
