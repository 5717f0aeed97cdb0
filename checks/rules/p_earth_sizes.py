"""P: sizes of protective and bonding conductors, and the smallest a conductor may be."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Conductor, Device, End, Size
from ..books.book import Figure, Missing
from ..figures.chains import ways
from ..findings import WARNING, Related
from ..registry import Hit, rule
from ..tracing.network import WIRE, carries
from ..tracing.parallel import groups, unlike
from ..tracing.trace import LINES, UNGROUNDED, Stage, wanted
from ..trade.sizes import NEAR, at_least


@rule(
    "P34",
    "earth-conductor-thin",
    clauses={
        "nfpa70": "NFPA 70 250.122",
        "abyc-e11": "ABYC E-11 11.16, 11.18 (from memory)",
        "iec60364": "IEC 60364-5-54 543.1",
    },
    yields_to=("P02", "B10"),
)
def earth_conductor_thin(stage: Stage) -> Iterator[Hit]:
    """A protective conductor of its own that is thinner than its circuit asks.

    By the book: by the rating of the device ahead (NFPA 70), or by the line conductor (IEC, E-11;
    for the case of a device on the battery, by its positive lead).  Of several that land on the
    device the thickest counts.
    Why: it has to carry the whole fault until the device opens, and must be whole afterwards.
    Breaks it: a 12 AWG earth to an inverter on a 150 A fuse and 2/0 leads.
    Does not: an earth core of the circuit's own cable.
    """
    for device in stage.rig.devices.values():
        if stage.wiring.kinds[device.name].acts not in ("load", "outlet", "converter"):
            continue
        earths = earths_of(stage, device)
        if not earths or any(conductor.cable for conductor in earths):
            continue
        best = max(earths, key=lambda c: c.size.mm2 if c.size else 0.0)
        needs = _earth_needed(stage, device)
        if needs is not None and best.size and best.size.mm2 * NEAR < needs[0].value:
            yield _thin(best, device, *needs)


def earths_of(stage: Stage, device: Device) -> list[Conductor]:
    """The conductors on a device's protective-earth terminals."""
    wiring = stage.wiring
    own = [wiring.names[wiring.node(device.name, t)] for t in wiring.variants[device.name].pe]
    return [
        conductor
        for terminal in own
        for conductor, _ in stage.landings.get(terminal, ())
        if carries(conductor) and conductor.size is not None
    ]


def _earth_needed(stage: Stage, device: Device) -> tuple[Figure, Conductor, float] | None:
    """The least area for a device's earth, from the worst of its line conductors."""
    worst: tuple[Figure, Conductor, float] | None = None
    for conductor, node, dc in lines_of(stage, device):
        rating = rating_ahead(stage, node)
        if conductor.size is None or not rating:
            continue
        needs = stage.book.earth_min(rating, conductor.size, dc=dc, separate=True)
        if not isinstance(needs, Missing) and (worst is None or needs.value > worst[0].value):
            worst = needs, conductor, rating
    return worst


def lines_of(stage: Stage, device: Device) -> Iterator[tuple[Conductor, int, bool]]:
    """The line conductors of a device; the battery's positive lead too where the book asks it."""
    direct = stage.book.data.earth.smaller_above[True] < float("inf")
    for terminal in device.terminals:
        node = stage.wiring.node(device.name, terminal.name)
        role = wanted(stage.wiring.kind_name(node))
        if role in LINES or (direct and role == "+"):
            for conductor, _ in stage.landings.get((device.name, terminal.name), ()):
                yield conductor, node, role == "+"


def rating_ahead(stage: Stage, node: int) -> float:
    """The rating, A, of the largest of the devices that are nearest to a node over all modes."""
    found = 0.0
    for view in stage.modes:
        for way in ways(view):
            ahead = way.protective(node)
            if ahead:
                found = max(found, stage.rig.devices[ahead[-1]].number("rating") or 0.0)
    return found


def _thin(earth: Conductor, device: Device, needs: Figure, line: Conductor, rating: float) -> Hit:
    least = at_least(needs.value, str(earth.size))
    return Hit(
        on=(earth.name, device.name),
        span=earth.span,
        message=f"{earth.name} ({earth.size}) earths {device.name} on a device of {rating:g} A, "
        f"line {line.size}; at least {least} is asked for",
        fix=f"an earth of at least {least}",
        value=earth.size.mm2 if earth.size else None,
        limit=needs.value,
        unit="mm2",
        why=needs.steps,
        clause=needs.clause,
        related=(Related(line.span, "its line"),),
    )


@rule(
    "P35",
    "bonding-thin",
    clauses={
        "nfpa70": "NFPA 70 551.56(C), 552.10",
        "abyc-e11": "ABYC E-2, E-11 (from memory)",
        "iec60364": "IEC 60364-7-721, -5-54",
    },
)
def bonding_thin(stage: Stage) -> Iterator[Hit]:
    """A conductor to the chassis or the hull that is thinner than the book's least.

    Why: the chassis is the last way home for a chafed line; the strap has to outlast the fuse.
    Breaks it: a 14 AWG wire from the earth bar to the chassis stud where 8 AWG is asked for.
    Does not: 8 AWG (NFPA 70, E-2), 4 mm2 (IEC 60364-7-721); straps between two earth studs.
    """
    least = stage.book.value("bonding-min")
    if least is None:
        return
    for conductor in stage.rig.conductors.values():
        size = conductor.size
        if size is None or not carries(conductor) or not _ties(stage, conductor):
            continue
        if size.mm2 * NEAR < least.value:
            yield Hit(
                on=(conductor.name,),
                span=conductor.span,
                message=f"{conductor.name} ({size}) ties the chassis; at least {least.steps[0]} "
                "is asked for",
                fix=f"{least.steps[0]} or thicker",
                value=size.mm2,
                limit=least.value,
                unit="mm2",
                why=least.steps,
                clause=least.clause,
            )


def _ties(stage: Stage, conductor: Conductor) -> bool:
    """Whether it ends on the chassis with one end, and its own line is no circuit's."""
    ends = [stage.wiring.kinds.get(end.device) for end in (conductor.a, conductor.b)]
    earths = [kind is not None and kind.acts == "earth" for kind in ends]
    if sum(earths) != 1 or conductor.cable:
        return False
    end = (conductor.a, conductor.b)[earths.index(False)]
    bar = stage.wiring.kinds.get(_past_splices(stage, conductor, end).device)
    return bar is not None and bar.acts in ("distribution", "source")


def _past_splices(stage: Stage, conductor: Conductor, end: End) -> End:
    """Where a conductor leads to, splices of two passed over."""
    seen = {conductor.name}
    while (kind := stage.wiring.kinds.get(end.device)) is not None and kind.name == "joint":
        landed = [
            c
            for c in stage.rig.conductors.values()
            if c.name not in seen and end.device in (c.a.device, c.b.device)
        ]
        if len(landed) != 1:
            return end
        seen.add(landed[0].name)
        end = landed[0].b if landed[0].a.device == end.device else landed[0].a
    return end


@rule(
    "P36",
    "size-below-minimum",
    WARNING,
    clauses={
        "nfpa70": "NFPA 70 310.3(A) (from memory)",
        "abyc-e11": "ABYC E-11 11.14.1.2",
        "iec60364": "IEC 60364-5-52 Table 52.2",
    },
    yields_to=("P02", "P18", "P01"),
)
def size_below_minimum(stage: Stage) -> Iterator[Hit]:
    """A fixed conductor that carries current and is thinner than the book's smallest.

    Flexible cords go by the standard of what they connect; low voltage below 50 V under NFPA 70 is
    left to its own article (552.10).
    Why: thin conductors break and work loose where a vehicle shakes, whatever they carry.
    Breaks it: 1 mm2 to a lamp under IEC 60364; 18 AWG to a pump under E-11.
    Does not: the book's least size or more; a `cord`; sense and control conductors under 1 A
    protected by 1 A or less.
    """
    least = stage.book.value("size-min")
    if least is None:
        return
    told: set[str] = set()
    for view in stage.modes:
        for edge in view.network.edges:
            if edge.kind != WIRE or edge.owner in told:
                continue
            conductor = stage.rig.conductors[edge.owner]
            size, role = conductor.size, view.node_role(edge.a)
            if size is None or size.mm2 * NEAR >= least.value or role not in UNGROUNDED:
                continue
            if _exempt(stage, conductor, role):
                continue
            told.add(edge.owner)
            yield _small(conductor, size, least)


def _exempt(stage: Stage, conductor: Conductor, role: str) -> bool:
    cable = stage.rig.cables.get(conductor.cable or "")
    if conductor.flag("cord") or (cable is not None and cable.flag("cord")):
        return True
    limit = stage.limit(conductor)
    return (role == "+" and stage.book.name == "nfpa70") or isinstance(limit, Missing)


def _small(conductor: Conductor, size: Size, least: Figure) -> Hit:
    return Hit(
        on=(conductor.name,),
        span=conductor.span,
        message=f"{conductor.name} ({size}) is thinner than {least.steps[0]}, the least for a "
        "fixed conductor",
        fix=f"{least.steps[0]} or thicker",
        value=size.mm2,
        limit=least.value,
        unit="mm2",
        why=least.steps,
        clause=least.clause,
    )


@rule(
    "P37",
    "parallel-unlike",
    clauses={
        "nfpa70": "NFPA 70 310.10(G) (from memory)",
        "abyc-e11": "common practice, no published source",
        "iec60364": "IEC 60364-5-52 523.7 (from memory)",
    },
    yields_to=("S15", "B04", "B15", "D05"),
)
def parallel_unlike(stage: Stage) -> Iterator[Hit]:
    """Conductors side by side between the same two bars or terminals, of unlike size or length.

    Alike ones of 1/0 AWG (53 mm2) or thicker share the current, and count together everywhere.
    Why: current divides as the resistances do: the shorter or thicker one carries more than its
    share, and no device knows.
    Breaks it: two leads from one fuse to one bar, one of 0.5 m and one of 1 m.
    Does not: alike in size and length; protective earth; thin ones (D06).
    """
    for group in {group[0].name: group for group in groups(stage).values()}.values():
        what = unlike(group)
        if not what.startswith("unlike"):
            continue
        names = " and ".join(f"{c.name} ({c.size}, {c.length_m:g} m)" for c in group)
        lengths = [c.length_m for c in group]
        yield Hit(
            on=tuple(c.name for c in group),
            span=group[0].span,
            message=f"{names} lie in parallel, {what}",
            fix="one conductor for the whole current, or parallel ones alike in size, length and "
            "ends, at least 1/0 AWG",
            related=tuple(Related(c.span, "in parallel") for c in group[1:]),
            value=max(lengths),
            limit=min(lengths),
            unit="m",
        )
