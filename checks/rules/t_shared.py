"""T: terminals that hold more than one conductor."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Device
from ..findings import ERROR, WARNING, Related
from ..registry import Hit, rule
from ..tracing.trace import EARTH, Stage
from ..trade.ends import grip_of, told_grip
from ..trade.sizes import same_size
from .t_sizes import Landed

PRACTICE = "common practice, no published source"
# Kinds whose terminals have a hole of its own for each conductor, or a screw on each side.
TWO_HOLES = ("block", "joint", "inlet", "socket")


def _shared(stage: Stage) -> Iterator[tuple[Device, str, list[Landed]]]:
    """Terminals with one screw, clamp or spring and several conductors in it."""
    for (name, terminal), ends in stage.landings.items():
        if len(ends) < 2:
            continue
        device = stage.rig.devices[name]
        if device.kind not in TWO_HOLES and grip_of(device, device.terminals[0]) != "stud":
            yield device, terminal, [(c, e) for c, e in ends if c.kind != "link"]


@rule(
    "T10",
    "sizes-mixed-under-screw",
    WARNING,
    clauses={
        "nfpa70": "NFPA 70 110.14(A), 110.3(B): as the terminal is listed (from memory)",
        "iec60364": "IEC 60364-5-52 526.2 (from memory)",
        "": PRACTICE,
    },
    yields_to=("D03", "D06", "B04", "B13", "B14"),
)
def sizes_mixed_under_screw(stage: Stage) -> Iterator[Hit]:
    """Two conductors of different size under one screw that may hold two.

    Why: the screw stands on the thick one, and the thin one lies beside it without pressure.
    Breaks it: 10 AWG and 14 AWG in one hole of a bar with `holds=2`.
    Does not: two of one size; lugs on a stud; a terminal row, an inlet or a socket, where each
    conductor has a screw of its own; a terminal of which the text says nothing.
    """
    for device, terminal, ends in _shared(stage):
        sizes = [(c, c.size) for c, _ in ends if c.size is not None]
        if len(sizes) < 2 or not told_grip(device, device.terminals[0]):
            continue
        thin = min(sizes, key=lambda pair: pair[1].mm2)
        thick = max(sizes, key=lambda pair: pair[1].mm2)
        if same_size(thin[1].mm2, thick[1].mm2):
            continue
        yield Hit(
            on=(thin[0].name, thick[0].name, device.name),
            span=next(end.span for c, end in ends if c is thin[0]),
            message=f"{thin[0].name} ({thin[1]}) and {thick[0].name} ({thick[1]}) share "
            f"{device.name}.{terminal}",
            fix=f"give {thin[0].name} a terminal of its own, or join the two in one ferrule made "
            "for both",
            value=round(thin[1].mm2, 2),
            limit=round(thick[1].mm2, 2),
            unit="mm2",
            related=tuple(Related(end.span, "lands here too") for c, end in ends if c is thick[0]),
        )


@rule(
    "T11",
    "neutral-not-alone",
    WARNING,
    clauses={"nfpa70": "NFPA 70 408.41", "": PRACTICE},
    yields_to=("D03", "D06", "B04"),
)
def neutral_not_alone(stage: Stage) -> Iterator[Hit]:
    """A neutral that shares a hole of the bar with another neutral or with protective earth.

    Under NFPA 70 an error, whatever the bar's `holds=` says; elsewhere poor practice.
    Why: to take one circuit out, the neutral of another must be lifted; while it is off, its line
    is still live and its loads stand at full voltage, or its earth is gone.
    Breaks it: two neutrals on `NBAR.2` of a bar with `holds=2`; N and PE in one hole.
    Does not: two earths under one screw of an earth bar that holds two.
    """
    for device, terminal, ends in _shared(stage):
        if device.kind != "bus" or len(ends) < 2:
            continue
        roles = [stage.conductor_role(c.name) for c, _ in ends]
        if "N" not in roles or not set(roles) <= {"N", EARTH}:
            continue
        first = ends[roles.index("N")][0]
        others = [c.name for c, _ in ends if c is not first]
        yield Hit(
            on=(first.name, *others, device.name),
            span=ends[-1][1].span,
            message=f"the neutral {first.name} shares {device.name}.{terminal} with "
            f"{', '.join(others)}",
            fix="give each neutral a hole of its own",
            value=float(len(ends)),
            limit=1.0,
            unit="conductors",
            severity=ERROR if stage.book.name == "nfpa70" else WARNING,
            related=(Related(device.span, "the bar"),),
        )
