"""Nominal voltage between two terminals, and where a role arrives that a terminal is not for."""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator
from functools import lru_cache, partial
from operator import is_not

from ...dsl.records import record
from .network import WIRE, Edge, Groups
from .trace import GROUNDED, SAME_VOLTAGE, UNGROUNDED, ModeView, Source, wanted

Way = list[tuple[int, Edge | None]]


@lru_cache(maxsize=16)
def island(view: ModeView) -> dict[int, int]:
    """For every net of the DC systems the system it belongs to: nets that sources couple."""
    return _coupled(view, [s for s in view.live.values() if s.dc])


@lru_cache(maxsize=64)
def standing(view: ModeView) -> dict[int, int]:
    """As ``island``, by what gives without being fed: a converter astray couples two systems."""
    return _coupled(view, [s for s in view.live.values() if s.dc and not s.converter])


def _coupled(view: ModeView, sources: list[Source]) -> dict[int, int]:
    groups = Groups(view.network.count)
    nets: set[int] = set()
    for source in sources:
        plus, minus = (view.net[source.nodes[role]] for role in "+-")
        groups.join(plus, minus)
        nets |= {plus, minus}
    return {net: groups.find(net) for net in nets}


def sources_at(view: ModeView, node: int) -> dict[str, str]:
    """The sources that reach a node, with the role each reaches it in."""
    return dict(view.roles.get(view.net[node], ()))


def volts_across(view: ModeView, a: int, b: int) -> complex | None:
    """Nominal voltage from node b to node a, V; None where one system does not reach both.

    Direct voltages are signed: negative where a is the lower.
    """
    ends = view.net[a], view.net[b]
    direct = [net in view.potential for net in ends]
    if all(direct):
        systems = island(view)
        if systems[ends[0]] != systems[ends[1]] or systems[ends[0]] not in _stated(view):
            return None
        return complex(view.potential[ends[0]] - view.potential[ends[1]])
    if any(direct):
        return None
    if not sources_at(view, a).keys() & sources_at(view, b).keys():
        return None
    one, two = view.line_phasor(a), view.line_phasor(b)
    return None if one is None or two is None else one - two


@lru_cache(maxsize=64)
def _stated(view: ModeView) -> frozenset[int]:
    """The DC systems in which any source states its voltage."""
    systems = island(view)
    return frozenset(
        systems[view.net[source.nodes["+"]]]
        for source in view.live.values()
        if source.dc and source.volts is not None
    )


@lru_cache(maxsize=64)
def dc_conflicts(view: ModeView) -> tuple[tuple[Source, float], ...]:
    """Direct-current sources whose own voltage is not what the others put across them."""
    return tuple(_conflicts(view))


def _conflicts(view: ModeView) -> Iterator[tuple[Source, float]]:
    for source in view.live.values():
        if not source.dc or source.volts is None:
            continue
        plus, minus = (view.net[source.nodes[role]] for role in "+-")
        volts = view.potential[plus] - view.potential[minus]
        if abs(volts - source.volts) > SAME_VOLTAGE * min(volts, source.volts):
            yield source, volts


def turned(view: ModeView, device: str, plus: int) -> int | None:
    """The minus node beside a plus node where there is no voltage, or a negative one, across the
    two; None where it is as it should be, or where one of them is not reached."""
    name = view.wiring.kind_name(plus).replace("+", "-")
    if not view.wiring.has(device, name):
        return None
    minus = view.wiring.node(device, name)
    volts = volts_across(view, plus, minus)
    same = view.net[plus] == view.net[minus]
    return minus if volts is not None and (volts.real < 0 or same) else None


@lru_cache(maxsize=64)
def _reached(view: ModeView, start: int) -> dict[int, Edge | None]:
    return view.network.walk([start])


def way(view: ModeView, start: int, goal: int) -> Way:
    """As ``Network.path``, with one search for all goals of a start."""
    reached = _reached(view, start)
    if goal not in reached:
        return []
    steps: Way = []
    while True:
        edge = reached[goal]
        steps.append((goal, edge))
        if edge is None:
            return steps[::-1]
        goal = edge.other(goal)


def shorted(view: ModeView, node: int) -> bool:
    """Whether the net of a node holds an ungrounded and the grounded role of one source."""
    found = view.roles.get(view.net[node], ())
    grounded = {name for name, role in found if role in GROUNDED}
    return any(name in grounded for name, role in found if role in UNGROUNDED)


def crosses(terminal: str, role: str) -> bool:
    """Whether a role is of the opposite side to what a terminal's name asks for."""
    want = wanted(terminal)
    sides = (UNGROUNDED, GROUNDED)
    return any(want in one and role in two for one, two in (sides, sides[::-1]))


@record
class Stray:
    """One role on terminals of the other side: the nodes it reaches, the nearest first, the
    conductors that may take it there, the likeliest last, and the way in words."""

    role: str
    nodes: tuple[int, ...]
    suspects: tuple[str, ...]
    why: tuple[str, ...]


def strays(view: ModeView, nodes: Iterable[int]) -> Iterator[Stray]:
    """For terminals whose role is not what their name asks for: where it comes from, by net."""
    found: dict[tuple[int, str, str], list[int]] = {}
    for node in nodes:
        terminal = view.wiring.names[node][1]
        for name, role in view.roles.get(view.net[node], ()):
            if crosses(terminal, role) and not shorted(view, node):
                found.setdefault((view.net[node], name, role), []).append(node)
                break
    for (_, name, role), group in found.items():
        start = view.live[name].nodes[role]
        group.sort(key=lambda node: len(way(view, start, node)))
        steps = way(view, start, group[0])
        sides = (UNGROUNDED, GROUNDED) if role in UNGROUNDED else (GROUNDED, UNGROUNDED)
        suspects = culprits(view, steps, *sides)
        if suspects:
            yield Stray(role, tuple(group), suspects, view.network.tell(steps))


def beyond(view: ModeView, nodes: Iterable[int], conductor: str) -> frozenset[str]:
    """The devices and conductors that hang on these nodes without one conductor."""
    network = view.network
    reached = network.walk(nodes, lambda edge: edge.owner != conductor)
    owners = {edge.owner for node in reached for edge in network.neighbours[node]}
    devices = (view.wiring.names[node][0] for node in reached)
    return frozenset((*devices, *(owners - {conductor})))


def names_on(view: ModeView, nodes: Iterable[int]) -> frozenset[str]:
    """The devices and conductors on the nets of these nodes."""
    nets = {view.net[node] for node in nodes}
    devices = (name for node, (name, _) in enumerate(view.wiring.names) if view.net[node] in nets)
    wires = (edge.owner for edge in view.network.edges if view.net[edge.a] in nets)
    return frozenset((*devices, *wires))


def culprits(view: ModeView, steps: Way, one: Iterable[str], two: Iterable[str]) -> tuple[str, ...]:
    """The conductors on a way that most likely join what should be apart.

    ``one`` and ``two`` are the roles at its two ends.  Taking the culprit out leaves the terminals
    named for each on their own side: the fewer stand on the wrong one, the likelier.
    """
    one, two = frozenset(one), frozenset(two)
    score: dict[str, int] = {}
    whole = set(view.network.walk([steps[0][0]]))
    for _, edge in steps:
        if edge is not None and edge.kind == WIRE:
            near = set(view.network.walk([steps[0][0]], partial(is_not, edge)))
            score[edge.owner] = sum(
                wanted(view.wiring.names[node][1]) in (two if node in near else one)
                for node in whole
            )
    best = min(score.values(), default=0)
    return tuple(name for name, wrong in score.items() if wrong == best)


def odd_one(view: ModeView, way: Way, devices: Container[str]) -> str:
    """The conductor of a way that most likely should not be there; "" where it has none.

    Neither the devices' own leads nor a core that runs beside others of its cable is likely; of
    the rest, the one that stands last in the text.
    """
    wires = [edge.owner for _, edge in way if edge is not None and edge.kind == WIRE]
    table = view.wiring.rig.conductors

    def likely(name: str) -> tuple[bool, bool, int]:
        conductor = table[name]
        leads = conductor.a.device in devices or conductor.b.device in devices
        return not leads, conductor.cable is None, conductor.span.line

    return max(wires, key=likely, default="")
