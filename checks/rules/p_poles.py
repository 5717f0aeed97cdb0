"""P: which conductors a device opens: never earth, never a neutral alone, all lines together."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

from ...dsl.model import Cable, Device, Span
from ..findings import Related
from ..registry import Hit, rule
from ..tracing.across import names_on
from ..tracing.cut import Protection, protection
from ..tracing.network import POLE
from ..tracing.trace import EARTH, GROUNDED, LINES, UNGROUNDED, ModeView, Stage, wanted

OPENS = ("protective", "residual", "switching")


def _breaking(view: ModeView) -> Iterator[tuple[Device, tuple[tuple[str, str], ...]]]:
    """The devices that open circuits, with their poles (and a changeover's joints)."""
    wiring = view.wiring
    for name, kind in wiring.kinds.items():
        if kind.acts in OPENS:
            variant = wiring.variants[name]
            joints = variant.joins.get(view.network.states[name], ())
            yield wiring.rig.devices[name], (*variant.poles, *joints)


def _pole_roles(view: ModeView, device: Device, pole: tuple[str, str]) -> set[str]:
    return {role for end in pole if (role := view.role(device.name, end))}


def _in_earth(stage: Stage, view: ModeView, device: Device, pole: tuple[str, str]) -> bool:
    """Whether a pole carries earth in this mode, and nothing else in any: else a neutral is joined
    to earth elsewhere (B04)."""
    if _pole_roles(view, device, pole) != {EARTH} or not _between_earths(view, device, pole):
        return False
    return all(_pole_roles(other, device, pole) <= {EARTH} for other in stage.modes)


def _between_earths(view: ModeView, device: Device, pole: tuple[str, str]) -> bool:
    """Whether something to be earthed lies on both sides: a relay in a bond has it on one alone."""
    kinds, names = view.wiring.kinds, view.wiring.names

    def earths(node: int) -> bool:
        reached = view.network.walk([node], lambda edge: edge.owner != device.name)
        ends = (node for node in reached if names[node][0] != device.name)
        return any(kinds[names[n][0]].acts == "earth" or wanted(names[n][1]) == EARTH for n in ends)

    bonds = {node for bond in view.network.bonds for node in (bond.neutral, bond.earth)}
    sides = [view.wiring.node(device.name, end) for end in pole]
    return not bonds & set(sides) or all(earths(node) for node in sides)


@rule(
    "P05",
    "device-in-earth",
    clauses={
        "nfpa70": "NFPA 70 250.124(B) (from memory)",
        "abyc-e11": "ABYC E-11 (from memory)",
        "iec60364": "IEC 60364-5-54 543.3 (from memory)",
    },
    yields_to=("B04", "B12", "B19", "S15"),
)
def device_in_earth(stage: Stage) -> Iterator[Hit]:
    """A breaker, fuse, switch or changeover that opens protective earth.

    All devices on one earth are one finding.
    Why: with its earth open, a metal case becomes live on the first fault and nothing trips.
    Breaks it: the earth core of a cable landed on a pole of a switch.
    Does not: an earth that runs from bar to bar without passing any device; a relay in a bond.
    """
    for view in stage.modes:
        found: dict[int, list[tuple[Device, tuple[str, str]]]] = {}
        for device, poles in _breaking(view):
            bad = next((p for p in poles if _in_earth(stage, view, device, p)), None)
            if bad is not None:
                net = view.net[view.wiring.node(device.name, bad[0])]
                found.setdefault(net, []).append((device, bad))
        for group in found.values():
            (first, pole), *rest = group
            behind = "; so do " + ", ".join(device.name for device, _ in rest) if rest else ""
            yield Hit(
                on=tuple(device.name for device, _ in group),
                span=first.span,
                message=f"{first.name} opens protective earth between {pole[0]} and {pole[1]}"
                + behind,
                fix=f"run the earth past {first.name}, from bar to bar",
                mode=view.name,
                related=tuple(Related(device.span, "opens it too") for device, _ in rest),
            )


@rule(
    "P06",
    "lone-device-in-neutral",
    clauses={
        "nfpa70": "NFPA 70 240.22, 404.2(B) (from memory)",
        "abyc-e11": "ABYC E-11 11.10 (from memory)",
        "iec60364": "IEC 60364-4-43 431.2 (from memory)",
    },
    yields_to=("S08", "S09", "S13"),
)
def lone_device_in_neutral(stage: Stage) -> Iterator[Hit]:
    """A device that opens a neutral or a DC negative and not its line with it.

    Why: when it opens, the load stops but stays live; a fault to earth is then not opened at all.
    Breaks it: a fuse in the battery's negative; a one-pole breaker in a neutral.
    Does not: a two-pole device with the line on its other pole.
    """
    over_modes: dict[str, set[str]] = {}
    where: dict[str, list[str]] = {}
    for view in stage.modes:
        for device, poles in _breaking(view):
            found = set().union(*(_pole_roles(view, device, pole) for pole in poles))
            over_modes.setdefault(device.name, set()).update(found)
            if found:
                where.setdefault(device.name, []).append(view.name)
    for name, found in over_modes.items():
        if not found or not found <= set(GROUNDED) or _has_dead_pole(stage, name):
            continue
        if _feeds_a_line(stage.modes[0], name):
            continue
        line = "line" if "N" in found else "positive"
        for mode in where[name]:
            yield Hit(
                on=(name,),
                span=stage.rig.devices[name].span,
                message=f"{name} stands in the {'neutral' if 'N' in found else 'negative'} "
                f"alone; the {line} stays closed when it opens",
                fix=f"put {name} in the {line}, or use one that opens both together",
                mode=mode,
            )


def _feeds_a_line(view: ModeView, name: str) -> bool:
    """Whether what hangs on its poles is the line of a load: then its feed is astray (S08, S09)."""
    pieces = view.network.groups(edge for edge in view.network.edges if edge.kind != POLE)
    poles = view.wiring.variants[name].poles
    ends = {pieces[view.wiring.node(name, end)] for pole in poles for end in pole}
    return any(
        pieces[node] in ends
        and view.wiring.kinds[device].acts in ("load", "outlet")
        and wanted(view.wiring.kind_name(node)) in UNGROUNDED
        for node, (device, _) in enumerate(view.wiring.names)
    )


def _has_dead_pole(stage: Stage, name: str) -> bool:
    """Whether another pole is wired and nothing reaches it: that is a dead circuit, not a lone
    device."""
    view = stage.modes[0]
    return any(
        not any(mode.role(name, end) for mode in stage.modes)
        and any(edge.owner != name for edge in view.network.neighbours[view.wiring.node(name, end)])
        for pole in view.wiring.variants[name].poles
        for end in pole
    )


@rule(
    "P04",
    "poles-on-different-circuits",
    clauses={
        "nfpa70": "NFPA 70 240.15(B) (from memory)",
        "": "common practice, no published source",
    },
    yields_to=("P05", "P06", "S01", "B05", "B08", "S08"),
)
def poles_on_different_circuits(stage: Stage) -> Iterator[Hit]:
    """A multi-pole device whose poles carry different sources, or the same line twice.

    Why: a fault on one circuit switches the other; and whoever opens one for work kills the other
    without knowing, or leaves half a circuit live.
    Breaks it: a two-pole breaker with one pole each on two lamps.
    Does not: line and neutral of one circuit; the two lines of a split supply to one load; one line
    that an adapter brings to both pins of a split inlet (S11 and P17 say what that does).
    """
    for view in stage.modes:
        for device, poles in _breaking(view):
            throws = device.kind == "selector"
            if (not throws and view.network.states[device.name] != "closed") or len(poles) < 2:
                continue
            yield from _mixed_poles(view, device, poles)


def _mixed_poles(
    view: ModeView, device: Device, poles: tuple[tuple[str, str], ...]
) -> Iterator[Hit]:
    seen: dict[tuple[str, str], tuple[str, str]] = {}
    sources: dict[str, str] = {}
    adapted = _adapted(view)
    for pole in poles:
        for source, role in view.roles_at(device.name, pole[0]):
            if role in LINES or role == "N":
                sources.setdefault(source, pole[0])
            if (role not in LINES and role != "+") or source in adapted:
                continue
            other = seen.setdefault((source, role), pole)
            if other != pole and not _same_circuit(view, device, other, pole):
                yield Hit(
                    on=(device.name,),
                    span=device.span,
                    message=f"{device.name}: poles {other[0]}-{other[1]} and {pole[0]}-{pole[1]} "
                    f"both carry {role} of {source}, to two circuits",
                    fix="one device for each circuit",
                    mode=view.name,
                )
                return
    if len(sources) > 1:
        behind = [view.wiring.node(device.name, t) for pole in poles for t in pole]
        yield Hit(
            on=(device.name, *sources),
            span=device.span,
            message=f"the poles of {device.name} carry different sources: "
            + ", ".join(f"{s} at {t}" for s, t in sources.items()),
            fix="land all poles of one device on the circuit of one source",
            mode=view.name,
            upsets=names_on(view, behind) if device.kind == "selector" else frozenset(),
        )


@lru_cache(maxsize=64)
def _adapted(view: ModeView) -> frozenset[str]:
    """The sources of which one line comes in on two line pins of an inlet."""
    found: set[str] = set()
    for device in view.wiring.rig.devices.values():
        if device.kind == "inlet":
            pins = [t for t in view.wiring.variants[device.name].terminals if t in LINES[1:]]
            nets = [view.net[view.wiring.node(device.name, pin)] for pin in pins]
            twice = {net for net in nets if nets.count(net) > 1}
            found |= {name for net in twice for name, _ in view.roles.get(net, ())}
    return frozenset(found)


def _same_circuit(
    view: ModeView, device: Device, one: tuple[str, str], two: tuple[str, str]
) -> bool:
    """Whether two poles only lie in series or side by side in one circuit (a DC practice)."""
    cell = protection(view).cell
    nodes = view.wiring.nodes
    cells = [{cell[nodes[device.name, end]] for end in pole} for pole in (one, two)]
    return bool(cells[0] & cells[1]) and device.flag("dc")


@rule(
    "P16",
    "no-common-trip",
    clauses={
        "nfpa70": "NFPA 70 210.4(B), 240.15(B) (from memory)",
        "abyc-e11": "ABYC E-11 11.10 (from memory)",
        "iec60364": "IEC 60364-4-43 431.2 (from memory)",
    },
)
def no_common_trip(stage: Stage) -> Iterator[Hit]:
    """Lines that belong together, of one load or of one cable with a common neutral, and that
    separate devices open.

    Why: one device trips and the load, its other line, or the neutral in the same cable, stay
    live for whoever works on it.
    Breaks it: a 240 V load on two one-pole breakers; a cable with two lines from two one-pole
    breakers and one neutral for both; a main of one pole ahead of two lines' bars.
    Does not: the same load, or the same cable, on one two-pole breaker.
    """
    for view in stage.modes:
        for device in stage.rig.devices.values():
            kind = view.wiring.kinds[device.name]
            lines = [t for t in view.wiring.variants[device.name].terminals if t in LINES[1:]]
            if kind.acts in ("load", "outlet") and kind.name != "inlet" and len(lines) > 1:
                nodes = [view.wiring.node(device.name, t) for t in lines]
                yield from _apart(stage, view, device.name, device.span, nodes)
        for cable in stage.rig.cables.values():
            nodes = _lines_with_one_neutral(stage, view, cable)
            yield from _apart(stage, view, cable.name, cable.span, nodes)


def _lines_with_one_neutral(stage: Stage, view: ModeView, cable: Cable) -> list[int]:
    """The line cores of a cable that has two or more of them and a single neutral, and that does
    not serve one device alone (that device is judged itself)."""
    wiring = view.wiring
    if len({stage.rig.conductors[name].b.device for name in cable.cores}) == 1:
        return []
    ends = [stage.rig.conductors[name].a for name in cable.cores]
    nodes = [wiring.node(e.device, e.terminal) for e in ends if wiring.has(e.device, e.terminal)]
    lines = [node for node in nodes if view.node_role(node) in LINES]
    neutrals = [node for node in nodes if view.node_role(node) == "N"]
    return lines if len(lines) > 1 and len(neutrals) == 1 else []


def _apart(stage: Stage, view: ModeView, name: str, span: Span, nodes: list[int]) -> Iterator[Hit]:
    held = protection(view)
    cuts = [held.way_in.get(held.cell[node]) for node in nodes]
    owners = sorted({edge.owner for edge in cuts if edge is not None})
    message = f"the lines of {name} are opened by separate devices: {', '.join(owners)}"
    if len(owners) < 2:
        owners = _of_some_lines(held, nodes)
        some = "opens" if len(owners) == 1 else "open"
        message = f"{' and '.join(owners)} {some} some of the lines of {name} and not all of them"
        owners = [] if all(stage.rig.devices[o].flag("site") for o in owners) else owners
    if owners:
        yield Hit(
            on=(name, *owners),
            span=span,
            message=message,
            fix="one device that opens all its lines together",
            mode=view.name,
            related=tuple(Related(stage.rig.devices[o].span, "opens one line") for o in owners),
        )


def _of_some_lines(held: Protection, nodes: list[int]) -> list[str]:
    """The devices on the one way to the source of some of the lines that are not on that of all."""
    ways: list[set[str]] = []
    for node in nodes:
        cell, names = held.cell[node], set[str]()
        while (edge := held.way_in.get(cell)) is not None:
            names.add(edge.owner)
            cell = held.cell[edge.a] if cell == held.cell[edge.b] else held.cell[edge.b]
        if cell not in held.sources:
            return []  # several ways lead on from there, or none
        ways.append(names)
    return sorted(ways[0].union(*ways) - ways[0].intersection(*ways)) if ways else []


@rule(
    "P20",
    "live-pole-left-closed",
    clauses={
        "nfpa70": "NFPA 70 551 (from memory)",
        "abyc-e11": "ABYC E-11 (from memory)",
        "iec60364": "IEC 60364-7-721 (overcurrent, all live conductors); ISO 13297 13.1.1",
    },
    yields_to=("B12", "B19", "S02"),
)
def live_pole_left_closed(stage: Stage) -> Iterator[Hit]:
    """Behind a supply whose plug may go in either way, a device that opens one pole only.

    Why: with the plug turned the other way the pole that opens is the neutral, and the circuit
    stays live when its breaker is off.
    Breaks it: a one-pole breaker behind a supply declared `unpolarised`.
    Does not: a breaker with a switched neutral pole (`poles=1N`, or two poles).
    """
    for view in stage.modes:
        loose = {name for name, s in view.live.items() if s.device.flag("unpolarised")}
        for device, poles in _breaking(view):
            if stage.wiring.kinds[device.name].acts != "protective" or not loose:
                continue
            reached = {s for pole in poles for s in view.sources(device.name, pole[0])} & loose
            roles = {
                role
                for other in stage.modes
                for pole in poles
                for role in _pole_roles(other, device, pole)
            }
            dead = _has_dead_pole(stage, device.name)
            if reached and roles & set(LINES) and "N" not in roles and not dead:
                yield Hit(
                    on=(device.name, *sorted(reached)),
                    span=device.span,
                    message=f"{device.name} opens one pole only, and the plug of "
                    f"{', '.join(sorted(reached))} may go in either way",
                    fix="use a device that opens line and neutral (poles=1N or poles=2)",
                    mode=view.name,
                    cause=" ".join(sorted(reached)),
                )
