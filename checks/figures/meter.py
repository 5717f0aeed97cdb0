"""What somebody with a meter finds on a terminal in one mode: where it comes from, what it is at.

From the terminal back to every source that reaches it, through converters to what feeds them;
the role; the nominal voltages against neutral, earth and the other lines; what protects it.
"""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.records import record
from ..tracing.network import POLE, Edge
from ..tracing.trace import EARTH, GROUNDED, UNGROUNDED, ModeView, Source, wanted

NOT_STATED = "the source states no voltage"
ADRIFT = "not defined: this system is joined to earth nowhere in this mode"
# What holds the current of a source itself, by kind: the attribute, and the words for it.
HEADS = {
    "supply": ("rating", "device at the supply's own head"),
    "generator": ("rating", "device at the generator's own head"),
    "inverter": ("limit", "inverter's own limit"),
    "charger": ("rating", "charger's own limit"),
    "dcdc": ("rating", "converter's own limit"),
    "solar": ("rating", "the most the solar generator delivers"),
    "alternator": ("rating", "the most the alternator delivers"),
}


@record
class Step:
    """One edge of a way: from terminal to terminal, by a conductor or inside a device."""

    start: str
    by: str
    how: str
    end: str


@record
class Guard:
    """What limits the current on a way: a rating in A, a residual current in A, or both."""

    name: str
    rating_a: float | None
    residual_a: float | None
    words: str = ""


@record
class Way:
    """The way back to one source, or to earth; ``fed_by`` where the source is a converter."""

    source: str
    role: str
    steps: tuple[Step, ...]
    guards: tuple[Guard, ...]
    fed_by: tuple[Way, ...] = ()


@record
class Expected:
    """A nominal voltage against something; None with a ``note`` where it is not defined."""

    against: str
    volts: float | None
    note: str = ""


@record
class Probe:
    """One terminal in one mode.

    ``open`` names what keeps a dead one from what is next to it, ``bonds`` what joins its
    system's neutral or DC negative to earth.
    """

    mode: str
    terminal: str
    role: str
    ways: tuple[Way, ...]
    expected: tuple[Expected, ...]
    open: tuple[str, ...]
    bonds: tuple[str, ...]


def probe(view: ModeView, device: str, terminal: str) -> Probe:
    """What to expect on a terminal; raises KeyError where the rig has none of that name."""
    node = view.wiring.node(device, terminal)
    role = view.node_role(node)
    ways = _to_earth(view, node) if role == EARTH else _ways(view, node, frozenset())
    return Probe(
        mode=view.name,
        terminal=view.wiring.say(node),
        role=role,
        ways=tuple(ways),
        expected=tuple(_expected(view, node, role)),
        open=() if role else tuple(_open(view, node)),
        bonds=tuple(_bonds(view, node, role)),
    )


def _ways(view: ModeView, node: int, seen: frozenset[str]) -> Iterator[Way]:
    """A way to every source that reaches the node, each once."""
    for name, role in dict(view.roles.get(view.net[node], [])).items():
        if name in seen:
            continue
        source = view.live[name]
        edges = _edges(view, node, source.nodes[role])
        guards = (*_guards(view, edges, role), *_head(source, role))
        fed = tuple(_feeding(view, source, seen | {name})) if source.converter else ()
        yield Way(name, role, tuple(_steps(view, node, edges)), guards, fed)


def _feeding(view: ModeView, source: Source, seen: frozenset[str]) -> Iterator[Way]:
    """The ways back from a converter's line terminals."""
    for terminal in view.takes(source.name):
        if wanted(terminal) in UNGROUNDED:
            yield from _ways(view, view.wiring.node(source.name, terminal), seen)


def _to_earth(view: ModeView, node: int) -> Iterator[Way]:
    """The way to the nearest chassis, hull or electrode, or else to a source's own earth."""
    for acts in ("earth", "source"):
        for device in view.wiring.rig.devices.values():
            if view.wiring.kinds[device.name].acts != acts:
                continue
            names = (t.name for t in device.terminals if acts == "earth" or t.name == EARTH)
            goals = {view.wiring.node(device.name, name) for name in names}
            reached = view.network.walk([node]).keys() & goals
            if reached:
                edges = _edges(view, node, min(reached))
                yield Way(device.name, EARTH, tuple(_steps(view, node, edges)), ())
                return


def _edges(view: ModeView, start: int, goal: int) -> list[Edge]:
    return [edge for _, edge in view.network.path([start], goal) if edge is not None]


def _steps(view: ModeView, node: int, edges: list[Edge]) -> Iterator[Step]:
    for edge in edges:
        far = edge.other(node)
        yield Step(view.wiring.say(node), edge.owner, edge.kind, view.wiring.say(far))
        node = far


def _guards(view: ModeView, edges: list[Edge], role: str) -> Iterator[Guard]:
    """The protective and residual-current devices whose poles the way goes through.

    A pole in the grounded conductor opens with its device but holds no overcurrent.
    """
    for name in dict.fromkeys(edge.owner for edge in edges if edge.kind == POLE):
        device = view.wiring.rig.devices[name]
        residual = device.number("gfci") or device.number("rcd")
        holds = view.wiring.kinds[name].acts == "protective" and role in UNGROUNDED
        if holds or residual is not None:
            yield Guard(name, device.number("rating") if holds else None, residual)


def _head(source: Source, role: str) -> Iterator[Guard]:
    key, words = HEADS.get(source.device.kind, ("", ""))
    limit = source.device.number(key) if key else None
    if limit is not None and role in UNGROUNDED:
        yield Guard(source.name, limit, None, words)


def _expected(view: ModeView, node: int, role: str) -> Iterator[Expected]:
    if role == EARTH:
        yield from _against_earth(view)
        return
    for name, own in view.roles.get(view.net[node], [])[:1]:
        yield from _in_system(view, view.live[name], own, node)


def _in_system(view: ModeView, source: Source, role: str, node: int) -> Iterator[Expected]:
    """Against the neutral, earth and the other lines of the system the node belongs to."""
    here = view.line_phasor(node)
    volts = None if here is None else abs(here)
    note = NOT_STATED if here is None else ""
    if role not in GROUNDED:
        yield Expected("neutral" if source.grounded == "N" else "DC negative", volts, note)
    bonded = bool(view.bonds_of(source))
    yield Expected("earth", volts if bonded else None, note if bonded else ADRIFT)
    for line in source.lines:
        there = view.line_phasor(source.nodes[line])
        if line != role and here is not None and there is not None:
            yield Expected(line, abs(here - there))


def _against_earth(view: ModeView) -> Iterator[Expected]:
    """From earth to the lines of every live system that is joined to it."""
    for source in view.live.values():
        bonded = bool(view.bonds_of(source))
        for line in source.lines:
            there = view.line_phasor(source.nodes[line]) if bonded else None
            note = "" if there is not None else NOT_STATED if bonded else ADRIFT
            volts = None if there is None else abs(there)
            yield Expected(f"{source.name}.{line}", volts, note)


def _bonds(view: ModeView, node: int, role: str) -> Iterator[str]:
    """What joins the grounded pole of this system to earth; on earth, of every live system."""
    names = [name for name, _ in view.roles.get(view.net[node], [])]
    systems = view.live.values() if role == EARTH else [view.live[name] for name in names]
    yield from dict.fromkeys(bond.owner for source in systems for bond in view.bonds_of(source))


def _open(view: ModeView, node: int) -> Iterator[str]:
    """Devices that end a dead net where another state would join it on, and dead sources on it."""
    net = view.net[node]
    for name, variant in view.wiring.variants.items():
        state = view.network.states[name]
        closed = variant.poles if state == "closed" else ()
        every = [*variant.poles, *(pair for pairs in variant.joins.values() for pair in pairs)]
        ends = {
            view.net[view.wiring.node(name, terminal)]
            for pair in every
            if pair not in (*closed, *variant.joins.get(state, ()))
            for terminal in pair
        }
        if net in ends and len(ends) > 1:
            yield f"{name} {state}"
    for key in view.wiring.outer:
        state = view.network.states[key[0]]
        if state != "on" and view.net[view.wiring.nodes[key]] == net:
            yield f"{key[0]} {state}"
    for source in view.dead.values():
        if any(view.net[end] == net for end in source.nodes.values()):
            yield f"{source.name} off"
