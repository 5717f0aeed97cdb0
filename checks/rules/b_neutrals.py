"""B: there and back alike: the neutral of everything that is fed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from ...dsl.model import Device
from ..findings import Related
from ..registry import Hit, rule
from ..tracing.across import island, standing
from ..tracing.bonding import (
    User,
    ends_of,
    holds_neutral,
    line_sources,
    line_way,
    listed,
    live_users,
    neutral_net,
    open_pairs,
    span_of,
    way_between,
    wire_names,
    wires_at,
)
from ..tracing.network import carries
from ..tracing.trace import ModeView, Stage, wanted

Live = tuple[User, tuple[str, ...]]
Astray = tuple[User, tuple[str, ...], tuple[str, ...]]


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
    live = {view.name: list(live_users(view)) for view in stage.modes}
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
    opened = _open_to_a_neutral(view, net)
    idle = [s.name for s in view.dead.values() if not s.dc and neutral_net(view, s) == net]
    ends = [f"it is open in {name}" for name in opened]
    ends += [f"it ends at {name}, which is off" for name in idle]
    wires = wire_names(view, first.name, first.neutral)
    bars = (*(ends_of(view, wires[0]) if wires else ()), *_named(view, net, "distribution"))
    entry = [] if ends else _named(view, net, "outlet", "inlet")
    heads = [] if ends else entry or _named(view, net, "distribution")
    ends += [f"none comes to {head}" for head in heads[:1]]
    return Hit(
        on=tuple(dict.fromkeys((*heads[:1], first.name, *wires, *opened, *idle, *bars))),
        span=span_of(view, (*heads, *wires, first.name)[0]),
        mode=view.name,
        message=f"the line of {listed(u.name for u in group)} is live and the neutral leads to "
        "no live source" + (f": {listed(ends)}" if ends else ""),
        fix=_homeward(view, first, wires, heads),
        why=line_way(view, first),
        related=tuple(Related(u.device.span, "on the same neutral") for u in group[1:4]),
    )


def _homeward(view: ModeView, user: User, wires: tuple[str, ...], heads: list[str]) -> str:
    """What to land so that a neutral leads home again."""
    if not wires:
        return f"connect {user.name}.{user.neutral}"
    if heads:
        fed_by = line_sources(view, user.name, user.lines)[0]
        return f"bring the neutral of {fed_by} to {heads[0]}, beside the line"
    return f"land the neutral of {user.name} where its line comes from"


def _open_to_a_neutral(view: ModeView, net: int) -> list[str]:
    """The devices that in this mode part this net from the neutral of a live source."""
    pairs = [(name, view.net[a], view.net[b]) for name, a, b in open_pairs(view)]
    found = {name: b if a == net else a for name, a, b in pairs if net in (a, b)}
    return [name for name, far in found.items() if holds_neutral(view, far)]


def _named(view: ModeView, net: int, acts: str, kind: str = "") -> list[str]:
    """The devices on a net that act so, and are of that kind where one is given; bars first."""
    kinds = view.wiring.kinds
    names = {n for node, (n, _) in enumerate(view.wiring.names) if view.net[node] == net}
    found = [n for n in names if kinds[n].acts == acts and kind in ("", kinds[n].name)]
    return sorted(found, key=lambda n: (kinds[n].name != "bus", n))


@rule(
    "B08",
    "neutral-of-another-source",
    clauses={
        "nfpa70": "NFPA 70 300.3(B), 200.4 (from memory)",
        "abyc-e11": "ABYC E-11, circuits return to the source that feeds them (from memory)",
        "iec60364": "IEC 60364-5-52 521.8 (from memory)",
    },
    yields_to=("D13",),
)
def neutral_of_another_source(stage: Stage) -> Iterator[Hit]:
    """A circuit takes its line from one source and returns to the neutral of another.

    Of direct current: its plus from one system, its minus to that of another, which no conductor
    joins to the first.

    Why: the current has to find its way back to where it came from, and does so over the bonds of
    both sources and the protective earth or the chassis between them.
    Breaks it: a circuit moved to the inverter's panel, its neutral left on the shore panel's bar;
    a 12 V radio behind an isolating converter, its minus on the 24 V negative bar; such a
    converter between two batteries, its two plus leads exchanged.
    Does not: line and neutral of the circuit on the bars of the same source; systems of direct
    current with one negative; a load across part of a bank in series.
    """
    for view in stage.modes:
        found: dict[tuple[str, str], list[User]] = {}
        for user, lines, returns in _astray(view, live_users(view)):
            found.setdefault((lines[0], returns[0]), []).append(user)
        for (fed_by, back_to), group in found.items():
            yield _crossed(view, fed_by, back_to, group)
        yield from _minus_astray(view)


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
        why=(*line_way(view, user), *back),
        related=(
            Related(span_of(view, fed_by), "fed from here"),
            Related(span_of(view, back_to), "returns to here"),
        ),
        cause=" ".join(sorted((fed_by, back_to))),
    )


def _minus_astray(view: ModeView) -> Iterator[Hit]:
    """What takes its plus from one direct-current system and returns to another."""
    for device in view.wiring.rig.devices.values():
        if not carries(device):
            continue
        for plus, minus in _plus_and_minus(view, device):
            nets = view.net[plus], view.net[minus]
            if any(
                nets[0] in systems and nets[1] in systems and systems[nets[0]] != systems[nets[1]]
                for systems in (island(view), standing(view))
            ):
                yield _minus_crossed(view, device, nets[0], minus)
                break


def _plus_and_minus(view: ModeView, device: Device) -> Iterator[tuple[int, int]]:
    """The two poles a device is fed through, and those through which a converter gives."""
    terminals = view.takes(device.name)
    if device.kind == "socket":
        terminals = view.wiring.variants[device.name].terminals
    poles = {wanted(t): view.wiring.node(device.name, t) for t in terminals}
    if "+" in poles and "-" in poles:
        yield poles["+"], poles["-"]
    given = view.live.get(device.name)
    if given and given.dc and given.converter:
        yield given.nodes["+"], given.nodes["-"]


def _minus_crossed(view: ModeView, device: Device, plus: int, minus: int) -> Hit:
    fed_by, back_to = (
        next((name for name, _ in view.roles[net] if name != device.name), device.name)
        for net in (plus, view.net[minus])
    )
    wires = wires_at(view, minus)[:1]
    return Hit(
        on=(device.name, *wires, fed_by, back_to),
        span=span_of(view, wires[0] if wires else device.name),
        mode=view.name,
        message=f"{device.name}: plus from {fed_by}, minus to {back_to}, and no conductor joins "
        "the two systems",
        fix=f"move the minus of {device.name} to the minus of {fed_by}, beside its plus",
        why=way_between(view, minus, view.live[back_to].nodes["-"]),
        related=(
            Related(span_of(view, fed_by), "fed from here"),
            Related(span_of(view, back_to), "returns to here"),
        ),
        cause=" ".join(sorted((fed_by, back_to))),
    )
