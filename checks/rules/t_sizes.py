"""T: the conductor's size against the terminal's range and against its ferrule."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Conductor, Device, End, Size
from ..findings import NOTE, WARNING, Related
from ..registry import Hit, rule
from ..tracing.trace import Stage
from ..trade.ends import ferrule_said, said
from ..trade.fittings import FERRULE_SOURCE, ferrule_mm2, shortest_sleeve_mm
from ..trade.sizes import NEAR, same_size

PRACTICE = "common practice, no published source"
FINE_FERRULE = {"": f"{FERRULE_SOURCE}; common practice"}
Landed = tuple[Conductor, End]


@rule(
    "T01",
    "size-outside-terminal",
    clauses={
        "nfpa70": "NFPA 70 110.3(B), 110.14(A): as the terminal is listed (from memory)",
        "iec60364": "IEC 60364-5-52 526.2 (from memory)",
        "": f"the instructions of the device; {PRACTICE}",
    },
)
def size_outside_terminal(stage: Stage) -> Iterator[Hit]:
    """A conductor thinner or thicker than what the terminal takes.

    A ferrule that the text names counts with its own section.
    Why: a terminal does not hold what is thinner than its least size, and the strands that do not
    fit into it are cut off or left outside.
    Breaks it: `wire W1 6AWG` on a breaker with `clamp=2..10mm2`.
    Does not: a conductor at either end of the range; a terminal of which no range is said.
    """
    for device, ends in stage.landed:
        clamp = device.terminals[0].clamp
        conductor = ends[0][0]
        if clamp is None or conductor.size is None:
            continue
        ferrule = ferrule_said(conductor) if said(conductor, "ends", ends[0][1]) != "bare" else None
        size = ferrule or conductor.size
        if clamp.low / NEAR <= size.mm2 <= clamp.high * NEAR:
            continue
        thick = size.mm2 > clamp.high
        yield _outside(device, ends, size, ferrule is not None, thick)


def _outside(device: Device, ends: list[Landed], size: Size, ferrule: bool, thick: bool) -> Hit:
    clamp = device.terminals[0].clamp
    assert clamp is not None
    where = ", ".join(end.name for _, end in ends)
    name = ends[0][0].statement
    what = f"the ferrule of {name} is for {size}" if ferrule else f"{name} is {size}"
    if str(size).endswith("AWG") and str(clamp).endswith("mm2"):
        what += f" ({size.mm2:.3g} mm2)"
    return Hit(
        on=(*(conductor.name for conductor, _ in ends), device.name),
        span=ends[0][1].span,
        message=f"{what}, {where} {_takes(len(ends))} {clamp}",
        fix=f"take a terminal made for {size}, or "
        + ("splice on a thinner conductor that is protected" if thick else "a thicker conductor"),
        value=round(size.mm2, 2),
        limit=clamp.high if thick else clamp.low,
        unit="mm2",
        related=(Related(device.span_of("clamp"), "takes these sizes"),),
        cause=name,
    )


def _takes(count: int) -> str:
    return "takes" if count == 1 else "take"


@rule("T13", "ferrule-of-another-size", WARNING, clauses=FINE_FERRULE)
def ferrule_of_another_size(stage: Stage) -> Iterator[Hit]:
    """A ferrule that is not made for its conductor.

    Why: strands that do not go into a ferrule are cut off or folded back; in one too wide they lie
    loose, and the crimp does not hold.
    Breaks it: `wire W1 2.5mm2 … ferrule=1.5mm2`; a 6 mm2 ferrule on it.
    Does not: `ferrule=2.5mm2` on 14 AWG, whose ferrule that is.
    """
    for conductor in stage.rig.conductors.values():
        ferrule = ferrule_said(conductor)
        if ferrule is None or conductor.size is None or conductor.core > 1:
            continue
        usual = ferrule_mm2(conductor.size)
        if usual is not None and not same_size(ferrule.mm2, usual):
            yield Hit(
                on=(conductor.name,),
                span=conductor.span_of("ferrule"),
                message=f"the ferrules of {conductor.statement} are {ferrule}, those made for "
                f"{conductor.size} are {usual:g} mm2",
                fix=f"take ferrules of {usual:g} mm2",
                value=ferrule.mm2,
                limit=usual,
                unit="mm2",
            )


@rule("T14", "ferrule-longer-than-terminal", NOTE, clauses=FINE_FERRULE)
def ferrule_longer_than_terminal(stage: Stage) -> Iterator[Hit]:
    """A ferrule whose shortest sleeve is longer than what the terminal's `strip=` lets in.

    Why: metal stands out of the terminal where fingers and neighbours can touch it; cut short, the
    sleeve no longer holds all strands.
    Breaks it: `ends=ferrule` on 6 mm2 (12 mm sleeve) into a terminal with `strip=9mm`.
    Does not: a terminal that says nothing of its depth; a sleeve as long as it.
    """
    for device, ends in stage.landed:
        depth = device.number("strip")
        conductor, end = ends[0]
        if depth is None or said(conductor, "ends", end) != "ferrule" or conductor.size is None:
            continue
        size = ferrule_said(conductor)
        made = shortest_sleeve_mm(size.mm2 if size else ferrule_mm2(conductor.size) or 0.0)
        if made is not None and made > depth * 1000 + 0.05:
            yield Hit(
                on=(conductor.name, device.name),
                span=end.span,
                message=f"the shortest ferrule for {conductor.statement} has a sleeve of {made} mm,"
                f" {end.name} takes {depth * 1000:g} mm",
                fix="take a terminal with more depth, or one that takes the bare strands",
                value=float(made),
                limit=round(depth * 1000, 1),
                unit="mm",
                related=(Related(device.span_of("strip"), "its depth"),),
            )
