"""B: what opens a neutral opens its line as well."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from ..findings import Related
from ..registry import Hit, rule
from ..tracing.bonding import (
    User,
    ac_sources,
    line_way,
    listed,
    live_users,
    neutral_net,
    open_pairs,
    passed,
    residual_devices,
    span_of,
    users,
    way_between,
    wire_names,
)
from ..tracing.network import JOINT, POLE, WIRE, Edge
from ..tracing.trace import LINES, ModeView, Source, Stage


@rule(
    "B17",
    "lone-open-neutral",
    clauses={
        "nfpa70": "NFPA 70 404.2(B) (from memory)",
        "abyc-e11": "ABYC E-11, the neutral opens only with its line (from memory)",
        "iec60364": "IEC 60364-5-53 530.3 (from memory)",
    },
    yields_to=("P06", "S02"),
)
def lone_open_neutral(stage: Stage) -> Iterator[Hit]:
    """A mode opens a neutral in a device that leaves the circuit's line live.

    Why: the circuit looks dead and is not: everything on it, up to the open neutral, stands at line
    voltage, and whoever repairs it finds that out by hand.
    Breaks it: a switch in the neutral alone; a changeover that opens the neutral while the line
    has another way round it.
    Does not: a device that opens line and neutral together; a neutral no line is live beside.
    """
    for view in stage.modes:
        fed = reversed([user for user, _ in live_users(view)])
        live = {view.net[view.wiring.node(user.name, user.neutral)]: user for user in fed}
        neutrals = {neutral_net(view, source): source.name for source in ac_sources(view)}
        pairs = sorted(open_pairs(view))
        parting = _line_openers(view, pairs)
        for name, a, b in pairs:
            if name in parting:
                continue  # it opens a line as well: what hangs on the wrong side is lost, not cut
            nets = (view.net[a], view.net[b])
            for here, there in (nets, nets[::-1]):
                if here not in neutrals or there not in live or there in view.roles:
                    continue
                user = live[there]
                yield Hit(
                    on=(name, user.name),
                    span=span_of(view, name),
                    mode=view.name,
                    message=f"{name} opens the neutral of {user.name} to {neutrals[here]} and "
                    "the line stays live",
                    fix=f"open the line together with the neutral: {name} has to switch both",
                    why=line_way(view, user),
                    related=(Related(user.device.span, "still at line voltage"),),
                )


def _line_openers(view: ModeView, pairs: list[tuple[str, int, int]]) -> set[str]:
    """The devices that part a live line from a dead one in this mode."""

    def live(node: int) -> bool:
        return any(role in LINES for _, role in view.roles.get(view.net[node], []))

    return {name for name, a, b in pairs if live(a) != live(b)}


@rule(
    "B22",
    "neutral-through-another-device",
    clauses={
        "nfpa70": "NFPA 70 200.4(A), 300.3(B), 404.2(B) (from memory)",
        "abyc-e11": "ABYC E-11, circuits return to the source that feeds them (from memory)",
        "iec60364": "IEC 60364-5-53 530.3; -3 314.1, circuits apart (from memory)",
    },
    yields_to=(
        *("B04", "B05", "B06", "B07", "B08", "B09", "B12", "B17", "B18", "B21"),
        *("P04", "P06", "P24", "S01", "S02", "S08", "S11", "S15"),
    ),
)
def neutral_through_another_device(stage: Stage) -> Iterator[Hit]:
    """The neutral of a circuit passes a device that opens it, and the circuit's line does not.

    Why: that device belongs to another circuit.  Open it, and this circuit's neutral is cut off
    while its line stays live: all of it, up to the open pole, stands at line voltage, beside a
    device that says off.
    Breaks it: the neutral of a socket borrowed from the neutral pole of the next breaker, or from
    a lamp behind it; a line taken ahead of the inverter, its neutral behind it.
    Does not: line and neutral through the same devices; a breaker in the line alone.
    """
    for view in stage.modes:
        for source in ac_sources(view):
            yield from _borrowed(view, source)


def _borrowed(view: ModeView, source: Source) -> Iterator[Hit]:
    opens = _opening(view)
    lines = passed(view.network, [source.nodes[role] for role in source.lines], opens)
    back = passed(view.network, [source.nodes["N"]], opens)
    found: dict[str, list[User]] = {}
    for user in users(view):
        ends = [view.wiring.node(user.name, terminal) for terminal in user.lines]
        there = [lines[node] for node in ends if node in lines]
        neutral = view.wiring.node(user.name, user.neutral)
        if there and neutral in back:
            for name in sorted(back[neutral] - frozenset[str]().union(*there)):
                found.setdefault(name, []).append(user)
    for name, group in found.items():
        if not _bypassed(view, name):
            yield _lent(view, source, name, group)


def _bypassed(view: ModeView, opener: str) -> bool:
    """Whether a line has a way round a device: then that is astray, not the neutral (P24, S01)."""
    own = [edge for edge in view.network.edges if edge.owner == opener]
    return any(
        edge.b in view.network.walk([edge.a], lambda step: step.owner != opener)
        for edge in own
        if view.node_role(edge.a) in LINES
    )


def _opening(view: ModeView) -> Callable[[Edge], bool]:
    """Whether an edge is one that a device opens; what residual-current devices pass is B06's."""
    residual = residual_devices(view)
    return lambda edge: edge.kind in (POLE, JOINT) and edge.owner not in residual


def _lent(view: ModeView, source: Source, opener: str, group: list[User]) -> Hit:
    user = group[0]
    wires = wire_names(view, user.name, user.neutral)
    names = [row.name for row in group]
    neutral = view.wiring.node(user.name, user.neutral)
    opened = "off" if view.wiring.kinds[opener].acts == "converter" else "open"
    return Hit(
        on=tuple(dict.fromkeys((user.name, *wires, opener, *names))),
        span=span_of(view, wires[0] if wires else user.name),
        mode=view.name,
        message=f"the neutral of {listed(names)} passes {opener}, and the line does not: with "
        f"{opener} {opened} it stays live and its neutral leads nowhere",
        fix=f"bring the neutral of {listed(names)} back the way its line comes, not through "
        f"{opener}",
        why=(*line_way(view, user), *way_between(view, neutral, source.nodes["N"])),
        related=(Related(span_of(view, opener), "opens its neutral"),),
        cause=opener,
    )


@rule(
    "B25",
    "shared-neutral-through-a-device",
    clauses={
        "nfpa70": "NFPA 70 300.13(B) (from memory)",
        "": "common practice, no published source",
    },
    yields_to=("B04", "B06", "B07", "B08", "B22", "P17", "S01", "S08", "S11", "S15"),
)
def shared_neutral_through_a_device(stage: Stage) -> Iterator[Hit]:
    """A neutral common to two lines reaches what hangs on the one only over a socket or a load of
    the other.

    Why: take that socket out and the neutral behind it is open while both lines are live: what
    hangs on the two lines lies in series across them, and the smaller load sees nearly all of it.
    Breaks it: one neutral for two lines, led from socket to socket and on to the lamps.
    Does not: a splice or a bar from which each goes on by a tail of its own; one line alone.
    """
    for view in stage.modes:
        for source in ac_sources(view):
            if len(source.lines) > 1:
                yield from _led_through(view, source)


def _led_through(view: ModeView, source: Source) -> Iterator[Hit]:
    held: dict[int, User] = {}
    line_of: dict[str, set[str]] = {}
    for user in users(view):
        roles = {r for t in user.lines for n, r in view.roles_at(user.name, t) if n == source.name}
        if len(roles) == 1:
            held[view.wiring.node(user.name, user.neutral)] = user
            line_of[user.name] = roles
    for node, through in held.items():
        lines = line_of[through.name]
        behind = [held[n] for n in _only_behind(view, node) if n in held]
        cut = [user for user in behind if line_of[user.name] != lines]
        if cut:
            yield _led(view, through, cut)


def _only_behind(view: ModeView, node: int) -> Iterator[int]:
    """The nodes that nothing but this one joins to a bar or to a pole that opens the circuit."""
    edges = [edge for edge in view.network.neighbours[node] if edge.kind == WIRE]
    for edge in edges if len(edges) > 1 else ():
        reached = view.network.walk(
            [edge.other(node)],
            lambda step: node not in (step.a, step.b) and not _ends_a_circuit(view, step),
        )
        near = (step for n in reached for step in view.network.neighbours[n])
        if not any(_ends_a_circuit(view, step) for step in near):
            yield from reached


def _ends_a_circuit(view: ModeView, edge: Edge) -> bool:
    return edge.kind != WIRE and view.wiring.kinds[edge.owner].name not in ("joint", "block")


def _led(view: ModeView, through: User, cut: list[User]) -> Hit:
    names = [user.name for user in cut]
    return Hit(
        on=(through.name, *names),
        span=through.device.span,
        mode=view.name,
        message=f"the neutral of {listed(names)} goes on from {through.name}, which is on another "
        f"line: take {through.name} out and the two lines lie in series",
        fix=f"splice the neutral ahead of {through.name}, with a tail of its own for it",
        why=way_between(
            view,
            view.wiring.node(through.name, through.neutral),
            view.wiring.node(cut[0].name, cut[0].neutral),
        ),
        related=tuple(Related(user.device.span, "behind it") for user in cut[:4]),
    )
