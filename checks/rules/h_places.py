"""H: devices and cables in places that are wet, open, or hold petrol or gas."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Device, Panel, Place
from ..findings import ERROR, NOTE, WARNING, Related
from ..registry import Hit, rule
from ..tracing.trace import Stage
from ..trade.housing import MAINS, names, on, place_of, statements, voltage_class

PRACTICE = "common practice, no published source"
SPLASH = 4
"""Second digit of IP that a wet place and the open ask: splashing water (IEC 60529)."""
STANDS = {"outside": "in the open", "wet": "in a wet place", "engine": "in an engine space"}
INLET_MOST_M = 1.8
SPARKS = ("source", "protective", "residual", "switching", "converter", "outlet", "load")


def _in(stage: Stage, *flags: str) -> Iterator[tuple[Place, str, list[Device]]]:
    """The places with one of these flags, and the devices that stand there."""
    places = stage.rig.places.values()
    marked = {
        p.name: next(f for f in flags if p.flag(f)) for p in places if any(map(p.flag, flags))
    }
    if not marked:
        return
    found: dict[str, list[Device]] = {}
    for device in stage.rig.devices.values():
        where = stage.rig.place_of(device)
        if where in marked:
            found.setdefault(where, []).append(device)
    for name, flag in marked.items():
        yield stage.rig.places[name], flag, found.get(name, [])


@rule(
    "H12",
    "wrong-for-wet-place",
    clauses={
        "iec60364": "IEC 60364-7-721, 7-708, 7-709: IP44, IPX4 (from memory)",
        "nfpa70": "NFPA 70 406.9, 312.2: weatherproof (from memory)",
        "": f"IEC 60529; {PRACTICE}",
    },
)
def wrong_for_wet_place(stage: Stage) -> Iterator[Hit]:
    """A socket, an inlet or a panel in a wet or open place, whose housing lets splashes in.

    Where the text has no `ip=`, that is a note: it cannot be checked.  A panel in an engine space
    has to say its protection, too, whatever it is.
    Why: water on live contacts tracks to earth and to whoever plugs in.
    Breaks it: `socket X3 at=DECK ip=IP20`, where DECK is `outside`.
    Does not: IP44 and better; a socket in a panel, whose housing counts.
    """
    for place, flag, devices in _in(stage, "wet", "outside", "engine"):
        panels = [p for p in stage.rig.panels.values() if p.place == place.name]
        outlets = [d for d in devices if d.kind in ("socket", "inlet") and d.panel is None]
        things: list[Device | Panel] = [*outlets, *panels] if flag != "engine" else [*panels]
        for thing in things:
            said = thing.text("ip")
            water = said[3:4] if said[:2].upper() == "IP" else ""
            if (water and flag == "engine") or (water.isdigit() and int(water) >= SPLASH):
                continue
            where = STANDS[flag]
            what = f"is {said}" if said else "does not say its ip="
            yield Hit(
                on=(thing.name, place.name),
                span=thing.span_of("ip"),
                message=f"{thing.name} stands {where} ({place.name}) and {what}",
                fix=f"take one of IP44 or better for {place.name}"
                if said
                else f"write ip= of {thing.name}",
                severity=ERROR if water else NOTE,
                related=(Related(place.span_of(flag), "said here"),),
            )


@rule("H03", "inlet-too-high", WARNING, clauses={"": "IEC 60364-7-721: 1.8 m at most"})
def inlet_too_high(stage: Stage) -> Iterator[Hit]:
    """An inlet more than 1.8 m above the ground.

    Why: whoever plugs in has to reach it from the ground, in the rain.
    Breaks it: `inlet XS height=2.1m`.
    Does not: 1.8 m; an inlet of which no height is said.
    """
    for device in stage.rig.devices.values():
        height = device.number("height") if device.kind == "inlet" else None
        if height is not None and height > INLET_MOST_M:
            yield Hit(
                on=(device.name,),
                span=device.span_of("height"),
                message=f"{device.name} is {height:g} m above the ground",
                fix=f"put {device.name} at {INLET_MOST_M:g} m at most",
                value=height,
                limit=INLET_MOST_M,
                unit="m",
            )


@rule(
    "H13",
    "spark-in-explosive-place",
    clauses={
        "abyc-e11": "33 CFR 183.410: ignition protected, or 2 ft of open space between",
        "iec60364": "IEC 60364-7-721: no equipment in gas compartments (from memory)",
        "": "33 CFR 183.410 as a yardstick",
    },
)
def spark_in_explosive_place(stage: Stage) -> Iterator[Hit]:
    """A device that can spark where petrol vapour or gas may gather.

    Why: both sink, lie at the bottom of the space, and wait for the next switch to open.
    Breaks it: a battery switch in a place with the flag `petrol`; a pump in a `gas` locker.
    Does not: a device that is `ignition-protected`; bars, terminals and earth studs.
    """
    for place, flag, devices in _in(stage, "petrol", "gas"):
        sparks = [
            d
            for d in devices
            if stage.wiring.kinds[d.name].acts in SPARKS and "ignition-protected" not in d.attrs
        ]
        if sparks:
            listed = ", ".join(d.name for d in sparks)
            what = "petrol vapour" if flag == "petrol" else "gas"
            yield Hit(
                on=(*(d.name for d in sparks), place.name),
                span=sparks[0].span_of("at"),
                message=f"{listed} can spark in {place.name}, where {what} may gather",
                fix=f"move {listed} out of {place.name}, or take what is `ignition-protected`",
                related=(Related(place.span_of(flag), "said here"),),
            )


@rule(
    "H14",
    "cable-through-gas-locker",
    clauses={
        "iec60364": "IEC 60364-7-721: no wiring in gas compartments but their own (from memory)",
        "": PRACTICE,
    },
    yields_to=("H13",),
)
def cable_through_gas_locker(stage: Stage) -> Iterator[Hit]:
    """A cable through a gas locker that does not serve it, or mains that ends there.

    Why: the locker is the one place where gas is expected; chafed insulation there is a lighter.
    Breaks it: `via=LOCKER` where that route has the flag `gas`, on the way to somewhere else.
    Does not: the low-voltage lead of a gas valve or a sensor in the locker.
    """
    rig = stage.rig
    routes = {name for name, route in rig.routes.items() if route.flag("gas")}
    places = {name for name, place in rig.places.items() if place.flag("gas")}
    if not routes and not places:
        return
    for run in statements(rig).values():
        passes = routes & set(run[0].via)
        serves = any(place_of(rig, e.device) in places for c in run for e in (c.a, c.b))
        mains = any(voltage_class(stage, conductor) == MAINS for conductor in run)
        if (passes and not serves) or (serves and mains):
            where = next(iter(passes)) if passes else _gas_place(stage, run[0].name, places)
            yield Hit(
                on=(*names(run), where),
                span=run[0].span_of("via"),
                message=f"{on(run)} {'carries mains and ends in' if serves else 'runs through'} "
                f"{where}, where gas may gather",
                fix=f"end {on(run)} elsewhere: what needs mains stands outside {where}"
                if serves
                else f"lead {on(run)} round {where}",
                related=(Related((rig.routes.get(where) or rig.places[where]).span, "gas"),),
            )


def _gas_place(stage: Stage, name: str, places: set[str]) -> str:
    conductor = stage.rig.conductors[name]
    found = (place_of(stage.rig, e.device) for e in (conductor.a, conductor.b))
    return next((place for place in found if place in places), next(iter(places)))


@rule(
    "H17",
    "plug-fits-two-systems",
    WARNING,
    clauses={"iec60364": "IEC 60364-7-721: not interchangeable (from memory)", "": PRACTICE},
)
def plug_fits_two_systems(stage: Stage) -> Iterator[Hit]:
    """Sockets of one `pattern=` on systems of different voltage.

    Why: a 12 V lamp in a 230 V socket bursts; a 230 V lead in a 12 V socket puts its pins live.
    Breaks it: `pattern=5-15` on a 120 V socket and on a 24 V one.
    Does not: sockets of one voltage; sockets that do not say their pattern.
    """
    seen: dict[str, tuple[Device, float]] = {}
    for device in stage.rig.devices.values():
        if device.kind != "socket" or "pattern" not in device.attrs:
            continue
        volts = _volts(stage, device)
        first = seen.setdefault(device.text("pattern"), (device, volts)) if volts else None
        if first and abs(first[1] - volts) > 0.2 * max(first[1], volts):
            yield Hit(
                on=(device.name, first[0].name),
                span=device.span_of("pattern"),
                message=f"{device.name} ({volts:g} V) and {first[0].name} ({first[1]:g} V) are "
                f"both {device.text('pattern')}",
                fix=f"take another pattern for {device.name}",
                related=(Related(first[0].span_of("pattern"), "the same"),),
            )


def _volts(stage: Stage, device: Device) -> float:
    """Nominal voltage of the source that feeds an outlet; 0 where none does or it says none."""
    for view in stage.modes:
        for terminal in device.terminals:
            for name in view.sources(device.name, terminal.name):
                if view.live[name].volts:
                    return view.live[name].volts or 0.0
    return 0.0
