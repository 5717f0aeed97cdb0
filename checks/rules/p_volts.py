"""P: what kind of current a device is made for, and of what voltage."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

from ...dsl.model import Device
from ..findings import ERROR, WARNING
from ..registry import Hit, rule
from ..tracing.trace import UNGROUNDED, ModeView, Stage

NEAR = 1.0 + 1e-9
MAINS_ONLY = ("IEC60898", "IEC60898-1", "IEC61009", "IEC61009-1")
VEHICLE_VOLTS = 32.0
"""What blade and strip fuses of vehicles are rated for (ISO 8820-3, -5; from memory)."""
COLD = 1.20
COLD_SAID = "NFPA 70 Table 690.7(A), crystalline silicon at -21 to -25 degC (from memory)"
BLADES = ("ATO", "ISO8820-3", "ISO8820-3-C", "ISO8820-3-E", "ISO8820-3-F")
STRIPS = ("MIDI", "MEGA", "SF30", "SF51", "ISO8820-5", "ANL")


def line_poles(view: ModeView, acts: tuple[str, ...]) -> Iterator[tuple[Device, str, str]]:
    """Every live ungrounded pole of devices that act so, as (device, terminal, role)."""
    kinds = view.wiring.kinds
    return (pole for pole in _line_poles(view) if kinds[pole[0].name].acts in acts)


@lru_cache(maxsize=64)
def _line_poles(view: ModeView) -> list[tuple[Device, str, str]]:
    """Those of all devices."""
    found = []
    for device in view.wiring.carrying:
        for pole in view.wiring.variants[device.name].poles:
            roles = ((terminal, view.role(device.name, terminal)) for terminal in pole)
            live = next(((t, role) for t, role in roles if role in UNGROUNDED), None)
            if live:
                found.append((device, *live))
    return found


@rule(
    "P07",
    "wrong-kind-of-current",
    clauses={
        "nfpa70": "NFPA 70 240.85, 110.3(B) (from memory)",
        "abyc-e11": "ABYC E-11 11.10 (from memory)",
        "iec60364": "IEC 60898-1 scope: alternating current only",
    },
)
def wrong_kind_of_current(stage: Stage) -> Iterator[Hit]:
    """An alternating-current device in a direct-current circuit, or the other way about.

    Why: a direct current has no zero to go out at; a contact made for alternating current may
    carry it for years and then burn on, arcing, at the first fault.
    Breaks it: a rail breaker without `dc` in a battery circuit; a `dc` breaker on mains.
    Does not: a device that says `dc` on DC; one that says both `dc` and `ac`.
    """
    for view in stage.modes:
        for device, _, role in line_poles(view, ("protective", "residual")):
            dc = role == "+"
            standard = device.text("standard").replace(" ", "")
            if dc and (not device.flag("dc") or standard in MAINS_ONLY):
                message = f"{device.name} stands in a DC circuit and is not rated for DC"
            elif not dc and device.flag("dc") and not device.flag("ac"):
                message = f"{device.name} is a DC device and stands in a mains circuit"
            else:
                continue
            yield Hit(
                on=(device.name,),
                span=device.span,
                message=message,
                fix="fit a device rated for that current, and say `dc` (or `dc ac`) on it",
                mode=view.name,
                cause=device.part or "",
            )


@rule("P08", "voltage-above-rating", clauses={"": "the device's own rating; NFPA 70 110.3(B)"})
def voltage_above_rating(stage: Stage) -> Iterator[Hit]:
    """A device whose rated voltage is below that of the circuit it stands in.

    Panels give more in the cold: 1.20 times their open-circuit voltage at -25 degC (NFPA 70 Table
    690.7(A), from memory).  A device that has less than that is a warning: the text does not say
    how cold it gets.
    Why: it cannot put out the arc of a higher voltage.
    Breaks it: a 32 V blade fuse in a 48 V circuit; a 50 V breaker on panels of 45 V.
    Does not: a device rated at the nominal voltage or above, on panels 1.20 times that.
    """
    for view in stage.modes:
        acts = ("protective", "residual", "switching")
        for device, terminal, _ in line_poles(view, acts):
            node = view.wiring.node(device.name, terminal)
            rated, phasor = device.number("voltage"), view.line_phasor(node)
            if rated is None or phasor is None:
                continue
            cold = COLD if _panels_alone(view, node) else 1.0
            volts = abs(phasor) * cold
            if volts <= rated * NEAR:
                continue
            frost = abs(phasor) <= rated * NEAR
            yield Hit(
                on=(device.name,),
                span=device.span_of("voltage"),
                message=f"{device.name} is rated {rated:g} V and stands at {volts:.4g} V"
                + (" when the panels are cold" if cold > 1 else ""),
                fix=f"fit a device rated at least {volts:.4g} V",
                mode=view.name,
                value=volts,
                limit=rated,
                unit="V",
                why=(f"{abs(phasor):g} V x {cold:g}: {COLD_SAID}",) if cold > 1 else (),
                severity=WARNING if frost else "",
                cause=f"{rated:g} V at {volts:.4g} V",
            )


def _panels_alone(view: ModeView, node: int) -> bool:
    """Whether only solar generators feed a node."""
    names = [name for name, _ in view.roles.get(view.net[node], ())]
    return bool(names) and all(view.live[name].device.kind == "solar" for name in names)


@rule(
    "P45",
    "voltage-rating-unsaid",
    WARNING,
    clauses={
        "nfpa70": "NFPA 70 240.60, 240.83, 110.3(B) (from memory)",
        "abyc-e11": "ABYC E-11 11.10 (from memory)",
        "iec60364": "IEC 60364-5-53, 60364-4-43 432 (from memory)",
    },
    yields_to=("P07", "S13"),
)
def voltage_rating_unsaid(stage: Stage) -> Iterator[Hit]:
    """A fuse or a breaker above 32 V of direct current that does not say what voltage it opens.

    Most fuses and many breakers for vehicles are made for 32 V.  A blade or strip fuse (ISO 8820-3,
    -5) that says nothing is taken as one of 32 V: an error; of anything else it is not known.
    Why: at 48 V a fuse of 32 V melts and goes on arcing across its own gap, and its housing burns.
    Breaks it: a blade fuse in a 48 V panel; a breaker without `voltage=` on a string of panels.
    Does not: `voltage=58V` on the blade fuse; whatever stands in a 12 V or 24 V system.
    """
    for view in stage.modes:
        for device, terminal, role in line_poles(view, ("protective",)):
            phasor = view.line_phasor(view.wiring.node(device.name, terminal))
            if role != "+" or phasor is None or "voltage" in device.attrs:
                continue
            volts = abs(phasor)
            if volts <= VEHICLE_VOLTS * NEAR:
                continue
            made_for_it = device.text("class") in (*BLADES, *STRIPS)
            taken = f", and fuses of class {device.text('class')} are made for {VEHICLE_VOLTS:g} V"
            yield Hit(
                on=(device.name,),
                span=device.span,
                message=f"{device.name} stands at {volts:g} V of direct current and states no "
                f"voltage={taken if made_for_it else ''}",
                fix=f"state voltage= from its data, {volts:g} V at least, or fit one made for it",
                mode=view.name,
                value=volts,
                limit=VEHICLE_VOLTS,
                unit="V",
                severity=ERROR if made_for_it else "",
                cause=f"{device.text('class')} at {volts:g} V",
            )
