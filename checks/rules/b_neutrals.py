"""B: there and back alike: the neutral of everything that is fed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from ..findings import Related
from ..registry import Hit, rule
from ..tracing.bonding import (
    User,
    ac_sources,
    ends_of,
    line_sources,
    listed,
    neutral_net,
    open_pairs,
    span_of,
    users,
    way_between,
    wire_names,
)
from ..tracing.trace import LINES, ModeView, Stage

Live = tuple[User, tuple[str, ...]]
Astray = tuple[User, tuple[str, ...], tuple[str, ...]]


def _live_users(view: ModeView) -> Iterator[Live]:
    """Users with a live line: (user, the sources of their lines)."""
    for user in users(view):
        names = line_sources(view, user.name, user.lines)
        if names:
            yield user, names


def _net_of_neutral(view: ModeView, user: User) -> int:
    return view.net[view.wiring.node(user.name, user.neutral)]


@rule(
    "B07",
    "neutral-lost",
    clauses={
        "nfpa70": "NFPA 70 200.4, 300.13(B) (from memory)",
        "abyc-e11": "ABYC E-11, circuits return to the source that feeds them (from memory)",
        "iec60364": "IEC 60364-5-53 530.3 (from memory)",
    },
    yields_to=("B04", "B08", "B12", "B17", "D02"),
)
def neutral_lost(stage: Stage) -> Iterator[Hit]:
    """A line is live where the neutral leads to no source.

    Why: nothing works, and every neutral terminal of the circuit stands at line voltage through the
    loads; with two lines, loads in series across both see far more than their rated voltage.
    Breaks it: a circuit's line moved to the inverter's bar, its neutral left on the shore's; a
    neutral core not landed; a neutral pole open in one mode; a socket for three lines and neutral
    on a cable of four cores.
    Does not: line and neutral moved together; a load on its lines alone, its neutral not used.
    """
    live = {view.name: list(_live_users(view)) for view in stage.modes}
    told = {u.name for view in stage.modes for u, _, _ in _astray(view, live[view.name])}
    for view in stage.modes:
        lost: dict[int, list[User]] = {}
        for user, _ in live[view.name]:
            if user.name in told:
                continue  # the same neutral, seen in another mode to return to another source
            net = _net_of_neutral(view, user)
            unused = (
                len(user.lines) > 1
                and user.device.kind != "socket"
                and not wire_names(view, user.name, user.neutral)
            )
            if net in view.roles or net in view.earth_nets or unused:
                continue
            lost.setdefault(net, []).append(user)
        for net, group in lost.items():
            yield _lost(view, net, group)


def _lost(view: ModeView, net: int, group: list[User]) -> Hit:
    first = group[0]
    opened = [name for name, a, b in open_pairs(view) if net in (view.net[a], view.net[b])]
    idle = [s.name for s in view.dead.values() if not s.dc and neutral_net(view, s) == net]
    ends = [f"it is open in {name}" for name in opened] + [f"it ends at {n}, off" for n in idle]
    wires = wire_names(view, first.name, first.neutral)
    bars = (*(ends_of(view, wires[0]) if wires else ()), *_bars(view, net))
    return Hit(
        on=tuple(dict.fromkeys((first.name, *wires, *opened, *idle, *bars))),
        span=span_of(view, wires[0] if wires else first.name),
        mode=view.name,
        message=f"the line of {listed(u.name for u in group)} is live and the neutral leads to "
        "no live source" + (f": {listed(ends)}" if ends else ""),
        fix=f"land the neutral of {first.name} where its line comes from"
        if wires
        else f"connect {first.name}.{first.neutral}",
        why=_line_way(view, first),
        related=tuple(Related(u.device.span, "on the same neutral") for u in group[1:4]),
    )


def _bars(view: ModeView, net: int) -> list[str]:
    """The bars on a net."""
    kinds = view.wiring.kinds
    names = {n for node, (n, _) in enumerate(view.wiring.names) if view.net[node] == net}
    return sorted(name for name in names if kinds[name].acts == "distribution")


def _line_way(view: ModeView, user: User) -> tuple[str, ...]:
    """How the line comes to a user, in words."""
    for terminal in user.lines:
        for name, role in view.roles_at(user.name, terminal):
            if role in LINES:
                goal = view.wiring.node(user.name, terminal)
                return way_between(view, view.live[name].nodes[role], goal)
    return ()


@rule(
    "B08",
    "neutral-of-another-source",
    clauses={
        "nfpa70": "NFPA 70 300.3(B), 200.4 (from memory)",
        "abyc-e11": "ABYC E-11, circuits return to the source that feeds them (from memory)",
        "iec60364": "IEC 60364-5-52 521.8 (from memory)",
    },
)
def neutral_of_another_source(stage: Stage) -> Iterator[Hit]:
    """A circuit takes its line from one source and returns to the neutral of another.

    Why: the current has to find its way back to where it came from, and does so over the bonds of
    both sources and the protective earth between them.
    Breaks it: a circuit moved to the inverter's panel, its neutral left on the shore panel's bar.
    Does not: line and neutral of the circuit on the bars of the same source.
    """
    for view in stage.modes:
        found: dict[tuple[str, str], list[User]] = {}
        for user, lines, returns in _astray(view, _live_users(view)):
            found.setdefault((lines[0], returns[0]), []).append(user)
        for (fed_by, back_to), group in found.items():
            yield _crossed(view, fed_by, back_to, group)


def _astray(view: ModeView, live: Iterable[Live]) -> Iterator[Astray]:
    """Users whose neutral is that of other sources than their lines."""
    for user, lines in live:
        returns = tuple(n for n, r in view.roles_at(user.name, user.neutral) if r == "N")
        if returns and not set(returns) & set(lines):
            yield user, lines, returns


def _crossed(view: ModeView, fed_by: str, back_to: str, group: list[User]) -> Hit:
    user = group[0]
    wires = wire_names(view, user.name, user.neutral)
    neutral = view.wiring.node(user.name, user.neutral)
    back = way_between(view, neutral, view.live[back_to].nodes["N"])
    names = [row.name for row in group]
    return Hit(
        on=(*names, *wires, fed_by, back_to),
        span=span_of(view, wires[0] if wires else user.name),
        mode=view.name,
        message=f"{listed(names)}: line from {fed_by}, neutral to {back_to}",
        fix=f"move the neutral to the neutral of {fed_by}, beside the line",
        why=(*_line_way(view, user), *back),
        related=(
            Related(span_of(view, fed_by), "fed from here"),
            Related(span_of(view, back_to), "returns to here"),
        ),
        cause=" ".join(sorted((fed_by, back_to))),
    )


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
        live = {_net_of_neutral(view, user): user for user, _ in reversed([*_live_users(view)])}
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
                    why=_line_way(view, user),
                    related=(Related(user.device.span, "still at line voltage"),),
                )


def _line_openers(view: ModeView, pairs: list[tuple[str, int, int]]) -> set[str]:
    """The devices that part a live line from a dead one in this mode."""

    def live(node: int) -> bool:
        return any(role in LINES for _, role in view.roles.get(view.net[node], []))

    return {name for name, a, b in pairs if live(a) != live(b)}
