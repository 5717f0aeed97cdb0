"""S: what runs in one cable, and what has to stay on."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Cable, Conductor, Device
from ...dsl.records import replace
from ..findings import WARNING, Related
from ..registry import Hit, rule
from ..tracing.bonding import listed
from ..tracing.network import carries
from ..tracing.trace import EARTH, LINES, UNGROUNDED, ModeView, Stage, wanted

AC_SIDE = (*LINES, "N")
DC_SIDE = ("+", "-")


@rule(
    "S18",
    "mains-and-low-voltage-in-one-cable",
    clauses={
        "nfpa70": "NFPA 70 725.136(A), 300.3(C) (from memory)",
        "abyc-e11": "ABYC E-11, AC and DC conductors in separate sheaths (from memory)",
        "iec60364": "IEC 60364-4-41 414.4.2 (from memory)",
    },
    yields_to=("S12", "S15"),
)
def mains_and_low_voltage_in_one_cable(stage: Stage) -> Iterator[Hit]:
    """Cores of one cable carry mains, others direct current.

    Why: one nick in the sheath, or one strand astray at its end, puts mains on a lamp or a sensor
    that hands touch and that nothing earths.
    Breaks it: a lamp's 12 V and a socket's 230 V in one cable of four cores.
    Does not: a cable for each; mains' protective earth beside DC cores.
    """
    for cable in stage.rig.cables.values():
        mains = [core for core in cable.cores if _carries(stage, core, AC_SIDE)]
        direct = [core for core in cable.cores if _carries(stage, core, DC_SIDE)]
        if mains and direct:
            yield _mixed(cable, mains, direct)


def _carries(stage: Stage, core: str, side: tuple[str, ...]) -> bool:
    """Whether a core carries this kind of current in some mode, and is meant to.

    Where mains and direct current are joined, or earth is not where it belongs, that is the fault.
    """
    conductor = stage.rig.conductors[core]
    if any(wanted(end.terminal) not in ("", *side) for end in (conductor.a, conductor.b)):
        return False
    nodes = list(_nodes(stage, conductor))
    if any(view.net[node] in view.earth_nets for view in stage.modes for node in nodes):
        return False
    roles = ([view.roles.get(view.net[node], ()) for node in nodes] for view in stage.modes)
    found = ([role for at_end in ends for _, role in at_end] for ends in roles)
    return any(bool(here) and all(role in side for role in here) for here in found)


def _nodes(stage: Stage, conductor: Conductor) -> Iterator[int]:
    for end in (conductor.a, conductor.b):
        node = stage.wiring.find(end.device, end.terminal)
        if node is not None:
            yield node


def _mixed(cable: Cable, mains: list[str], direct: list[str]) -> Hit:
    return Hit(
        on=(cable.name, *direct, *mains),
        span=cable.span,
        message=f"{cable.name} carries mains on {', '.join(mains)} and direct current on "
        f"{', '.join(direct)}",
        fix="a cable of its own for each",
    )


@rule(
    "B20",
    "neutral-in-another-cable",
    clauses={
        "nfpa70": "NFPA 70 300.3(B) (from memory)",
        "abyc-e11": "ABYC E-11, circuits run with their return (from memory)",
        "iec60364": "IEC 60364-5-52 521.8 (from memory)",
    },
    yields_to=(
        *("B04", "B06", "B07", "B08", "B12", "B13", "B17", "B22", "B25"),
        *("D01", "D02", "P17", "P24", "S08"),
    ),
)
def neutral_in_another_cable(stage: Stage) -> Iterator[Hit]:
    """A load or a socket has its line in one cable and its neutral, or its earth, not in it.

    Of direct current it is told where plus and minus lie in two cables, a warning; an earth in
    another cable is one too.

    Why: the magnetic fields no longer cancel: steel boxes and glands heat, meters and hearing aids
    hum; and who disconnects the one cable finds the other's core live through the load.
    An earth borrowed from the next load goes when that one is taken out.
    Breaks it: the neutral brought from the next circuit's bar in a wire of its own; the earth of a
    lamp brought from the socket beside it, which another breaker feeds.
    Does not: line and neutral as wires within a panel; a switched line in the switch's cable, all
    cores together from the box to the lamp; an earth of its own where the cable has none.
    """
    landings: dict[tuple[str, str], list[Conductor]] = {}
    for conductor in stage.rig.conductors.values():
        for end in (conductor.a, conductor.b):
            if carries(conductor):
                landings.setdefault((end.device, end.terminal), []).append(conductor)
    for device in stage.rig.devices.values():
        kind = stage.wiring.kinds[device.name]
        names = [t.name for t in device.terminals]
        if (kind.acts != "load" and kind.name != "socket") or not carries(device):
            continue
        own: dict[str, list[Conductor]] = {}
        for name in names:
            own.setdefault(wanted(name), []).extend(landings.get((device.name, name), ()))
        for sides, back, severity in BACK:
            lines = [conductor for side in sides for conductor in own.get(side, ())]
            astray = _astray(stage, lines, own.get(back, []), back)
            if astray is not None:
                neutral = astray[1]
                far = neutral.b if neutral.a.device == device.name else neutral.a
                on_to = [c.name for c in landings[far.device, far.terminal] if c is not neutral]
                yield replace(_apart(device, *astray, on_to, SAID[back]), severity=severity)
                break


# What goes out, what comes back beside it, and how grave it is apart.
BACK = ((LINES, "N", ""), (("+",), "-", WARNING), (LINES, EARTH, WARNING))
SAID = {"N": "neutral", "-": "negative", EARTH: "earth"}


def _astray(
    stage: Stage, lines: list[Conductor], returns: list[Conductor], back: str
) -> tuple[Conductor, Conductor] | None:
    """A line in a cable that its return is not in, with the return; None where all is well."""
    if not returns or any(conductor.cable is None for conductor in lines):
        return None
    if any(_splices(stage, conductor) for conductor in returns):
        return None
    cables = {conductor.cable for conductor in returns}
    if back == EARTH and cables == {None}:
        return _borrowed(stage, lines, returns)
    alone = next((conductor for conductor in lines if conductor.cable not in cables), None)
    if alone is None or (back != "N" and (None in cables or not _has(stage, alone, back))):
        return None
    beside = {conductor.cable for conductor in lines}
    astray = next((c for c in returns if c.cable not in beside), None)
    return (alone, astray) if astray else None  # none: the cable that leads on lacks a core


def _borrowed(
    stage: Stage, lines: list[Conductor], returns: list[Conductor]
) -> tuple[Conductor, Conductor] | None:
    """A wire that brings the earth from another load or socket than the line, with the line."""
    beside = {end.device for line in lines for end in (line.a, line.b)}
    for earth in returns:
        for end in (earth.a, earth.b):
            kind = stage.wiring.kinds.get(end.device)
            lends = kind is not None and (kind.acts == "load" or kind.name == "socket")
            if lends and end.device not in beside and lines:
                return lines[0], earth
    return None


def _has(stage: Stage, conductor: Conductor, role: str) -> bool:
    """Whether a conductor's cable has a core of that role."""
    cores = stage.rig.cables[conductor.cable or ""].cores
    return any(stage.conductor_role(core) == role for core in cores)


def _splices(stage: Stage, conductor: Conductor) -> bool:
    """Whether a conductor leads to a box, where cables divide."""
    ends = (conductor.a.device, conductor.b.device)
    kinds = (stage.rig.devices[name].kind for name in ends if name in stage.rig.devices)
    return any(kind in ("joint", "block") for kind in kinds)


def _apart(device: Device, line: Conductor, neutral: Conductor, on_to: list[str], said: str) -> Hit:
    return Hit(
        on=(neutral.name, device.name, line.name, *on_to),
        span=neutral.span,
        message=f"the line of {device.name} comes in {line.cable}, its {said} in "
        f"{neutral.cable or neutral.name}",
        fix=f"bring line and {said} of {device.name} in one cable",
        related=(Related(line.span, "the line is here"),),
        cause=" ".join(sorted((line.statement, neutral.statement))),
    )


@rule(
    "S19",
    "essential-load-off",
    WARNING,
    clauses={
        "abyc-e11": "ABYC E-11, what may stand ahead of the battery switch (from memory)",
        "": "common practice, no published source",
    },
    yields_to=("D04", "S06", "S14", "C10"),
)
def essential_load_off(stage: Stage) -> Iterator[Hit]:
    """An `essential` load is dead in a mode in which the battery that feeds it otherwise is on.

    Why: the bilge pump, the gas or smoke alarm and the brake feed are wanted most when everything
    else has been switched off and nobody is there.
    Breaks it: the bilge pump's fuse behind the battery switch, and a mode with the switch open.
    Does not: a feed from ahead of the switch; a mode in which the load itself is off.
    """
    essential = [d for d in stage.rig.devices.values() if d.flag("essential") and carries(d)]
    batteries = {
        device.name: {
            name
            for view in stage.modes
            for name in _feeds(view, device)
            if stage.rig.devices[name].kind == "battery"
        }
        for device in essential
    }
    for view in stage.modes:
        dead = [
            device
            for device in essential
            if not _feeds(view, device)
            and view.network.states[device.name] != "off"
            and batteries[device.name] & view.live.keys()
        ]
        if dead:
            on = batteries[dead[0].name] & view.live.keys()
            yield _off(view, dead, sorted(on))


def _feeds(view: ModeView, device: Device) -> tuple[str, ...]:
    lines = (t.name for t in device.terminals if wanted(t.name) in UNGROUNDED)
    return tuple(name for t in lines for name in view.sources(device.name, t))


def _off(view: ModeView, dead: list[Device], batteries: list[str]) -> Hit:
    names = [device.name for device in dead]
    opened = [
        name
        for name, state in view.network.states.items()
        if state == "open" and view.wiring.kinds[name].acts == "switching"
    ]
    return Hit(
        on=(*names, *opened),
        span=dead[0].span,
        mode=view.name,
        message=f"{listed(names)} {'is' if len(names) == 1 else 'are'} essential, and dead while "
        f"{listed(batteries)} is on",
        fix=f"feed {listed(names)} from ahead of what this mode opens, through a fuse of its own",
        why=tuple(f"{name} is open" for name in opened),
        related=tuple(Related(device.span, "dead too") for device in dead[1:]),
    )
