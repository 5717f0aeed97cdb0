"""T: what does not stand the shaking of a vehicle or a boat, and what has no torque."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Conductor
from ..findings import ERROR, NOTE, WARNING
from ..registry import Hit, rule
from ..tracing.trace import Stage
from ..trade.fittings import usual_torque

PRACTICE = "common practice, no published source"
SOLID = {"abyc-e11": ERROR, "iec60364": ERROR, "nfpa70": NOTE}
TWISTED = {"abyc-e11": ERROR}


@rule(
    "T12",
    "solid-conductor",
    WARNING,
    clauses={
        "abyc-e11": "ABYC E-11: stranded copper, type 2 at least",
        "iec60364": "IEC 60364-7-721: flexible, or at least seven strands (from memory)",
        "nfpa70": f"{PRACTICE}; NFPA 70 551.47 allows it (from memory)",
    },
)
def solid_conductor(stage: Stage) -> Iterator[Hit]:
    """A solid conductor in a rig that drives or floats.

    An error under ABYC E-11 and IEC 60364, a note under NFPA 70.
    Why: what shakes bends the conductor where the screw holds it, some million times; a solid one
    breaks there, out of sight.
    Breaks it: `wire W1 2.5mm2 … solid`.
    Does not: stranded copper, which a conductor is that says nothing.
    """
    solid: dict[str, Conductor] = {}
    for conductor in stage.rig.conductors.values():
        if "solid" in conductor.attrs and conductor.kind != "link":
            solid.setdefault(conductor.statement, conductor)
    if not solid:
        return
    names = ", ".join(solid)
    yield Hit(
        on=tuple(conductor.name for conductor in solid.values()),
        span=next(iter(solid.values())).span_of("solid"),
        message=f"{names} {'is' if len(solid) == 1 else 'are'} solid, and the rig shakes",
        fix="take stranded conductors, with ferrules where a screw holds them",
        severity=SOLID.get(stage.book.name, WARNING),
    )


@rule(
    "T15",
    "twist-on-connector",
    WARNING,
    clauses={"abyc-e11": "ABYC E-11: no twist-on connectors (from memory)", "": PRACTICE},
)
def twist_on_connector(stage: Stage) -> Iterator[Hit]:
    """A splice made with a connector twisted onto the bare ends.

    Why: it holds stranded ends by their stiffness alone, and shaking unscrews it.
    Breaks it: `joint J1 twist-on`.
    Does not: a splice with a lever or a spring, a crimped sleeve, a terminal row.
    """
    for device in stage.rig.devices.values():
        if "twist-on" in device.attrs:
            yield Hit(
                on=(device.name,),
                span=device.span_of("twist-on"),
                message=f"{device.name} is a twist-on connector",
                fix="take a splice with levers or a crimped sleeve, in a box",
                severity=TWISTED.get(stage.book.name, WARNING),
            )


@rule(
    "T16",
    "torque-unsaid",
    NOTE,
    clauses={
        "nfpa70": "NFPA 70 110.14(D): a calibrated tool where a torque is stated",
        "": PRACTICE,
    },
)
def torque_unsaid(stage: Stage) -> Iterator[Hit]:
    """A device that is said to be installed, whose screws have no torque to be tightened to.

    Why: too loose gets hot, too tight breaks strands and screws; "by feel" is neither.
    Breaks it: `breaker Q1 15A status=installed` with conductors on it and no `torque=`.
    Does not: a terminal with a spring; a device of which the text does not say that it is in.
    """
    told: set[str] = set()
    for device, ends in stage.landed:
        if device.attrs.get("status") != "installed" or device.name in told:
            continue
        told.add(device.name)
        terminal = device.terminals[0]
        if terminal.torque is None and terminal.grip != "spring":
            usual = usual_torque(ends[0][0].size, terminal.stud)
            yield Hit(
                on=(device.name,),
                span=device.span_of("status"),
                message=f"{device.name} is installed, and the text has no torque for its terminals",
                fix=f"write torque= of {device.name} as its instructions have it",
                why=(f"where its maker gives none: {usual[0]:g} Nm, {usual[1]}",) if usual else (),
            )
