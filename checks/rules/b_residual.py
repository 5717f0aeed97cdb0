"""B: residual-current devices see there and back of every circuit behind them."""

from __future__ import annotations

from collections.abc import Iterator

from ..bonding import (
    User,
    ac_sources,
    listed,
    passed,
    residual_devices,
    residual_pole,
    span_of,
    users,
    way_between,
    wire_names,
)
from ..findings import Related
from ..registry import Hit, rule
from ..trace import ModeView, Source, Stage

Seen = dict[int, frozenset[str]]


@rule(
    "B06",
    "residual-mismatch",
    clauses={
        "nfpa70": "NFPA 70 300.3(B), 210.8 (from memory)",
        "abyc-e11": "ABYC E-11, residual-current devices see all live conductors (from memory)",
        "iec60364": "IEC 60364-5-53 531.3.1 (from memory)",
    },
    yields_to=("B04", "B05", "B09", "B12"),
)
def residual_mismatch(stage: Stage) -> Iterator[Hit]:
    """The residual-current devices on a line are not those on its neutral.

    Why: such a device compares what leaves with what comes back.  Where the neutral goes past it,
    or through another one, it opens as soon as the circuit is used, or it cannot see a fault.
    Breaks it: the circuit's neutral on the bar instead of the device's neutral terminal; neutrals
    of two devices joined behind them; a device with `gfci=` and no neutral pole.
    Does not: line and neutral of every circuit through the same devices.
    """
    for view in stage.modes:
        if not residual_devices(view):
            continue
        special = residual_pole(view)
        for source in ac_sources(view):
            lines = passed(view.network, [source.nodes[role] for role in source.lines], special)
            neutral = passed(view.network, [source.nodes["N"]], special)
            shared = _joined_behind(view, neutral)
            for devices in dict.fromkeys(shared.values()):
                yield _joined(view, devices)
            yield from _mismatches(view, source, lines, neutral, shared)


def _joined_behind(view: ModeView, neutral: Seen) -> dict[int, tuple[str, ...]]:
    """The neutral regions that more than one device leads into: region -> those devices."""
    special = residual_pole(view)
    network = view.network
    regions = network.groups(edge for edge in network.edges if not special(edge))
    into: dict[int, dict[str, None]] = {}
    for edge in network.edges:
        if not special(edge) or edge.a not in neutral or edge.b not in neutral:
            continue
        a, b = len(neutral[edge.a]), len(neutral[edge.b])
        if a != b:
            behind = edge.b if b > a else edge.a
            into.setdefault(regions[behind], {})[edge.owner] = None
    shared = {region: tuple(sorted(names)) for region, names in into.items() if len(names) > 1}
    return {node: shared[regions[node]] for node in neutral if regions[node] in shared}


def _joined(view: ModeView, devices: tuple[str, ...]) -> Hit:
    first, second = devices[:2]
    special = residual_pole(view)
    starts, goals = (_neutral_outs(view, name) for name in (first, second))
    ways = (
        view.network.path([start], goal, lambda edge: not special(edge))
        for start in starts
        for goal in goals
    )
    way = next((way for way in ways if way), [])
    return Hit(
        on=devices,
        span=span_of(view, first),
        mode=view.name,
        message=f"the neutrals of {listed(devices)} are joined behind them",
        fix="give each its own neutral, from its own neutral terminal to its own loads",
        why=view.network.tell(way),
        related=(Related(span_of(view, second), "the other device"),),
    )


def _neutral_outs(view: ModeView, name: str) -> list[int]:
    """The nodes of a device's poles, those of its neutral pole first."""
    poles = view.wiring.variants[name].poles
    terminals = [t for pole in reversed(poles) for t in reversed(pole)]
    return [view.wiring.node(name, t) for t in terminals]


def _mismatches(
    view: ModeView, source: Source, lines: Seen, neutral: Seen, shared: dict[int, tuple[str, ...]]
) -> Iterator[Hit]:
    found: dict[tuple[tuple[str, ...], tuple[str, ...]], list[User]] = {}
    for user in users(view):
        back = view.wiring.node(user.name, user.neutral)
        if back not in neutral or back in shared:
            continue
        there = [view.wiring.node(user.name, t) for t in user.lines]
        sets = [lines[node] for node in there if node in lines]
        if not sets:
            continue
        out = frozenset[str]().union(*sets)
        key = (tuple(sorted(out - neutral[back])), tuple(sorted(neutral[back] - out)))
        if any(key):
            found.setdefault(key, []).append(user)
    for (ahead, behind), group in found.items():
        yield _mismatch(view, source, ahead, behind, group)


def _mismatch(
    view: ModeView,
    source: Source,
    ahead: tuple[str, ...],
    behind: tuple[str, ...],
    group: list[User],
) -> Hit:
    user = group[0]
    wires = wire_names(view, user.name, user.neutral)
    return Hit(
        on=(*ahead, *behind, user.name, *wires),
        span=span_of(view, wires[0] if wires else user.name),
        mode=view.name,
        message=f"{listed(u.name for u in group)}: {_in_words(ahead, behind)}",
        fix=_remedy(view, ahead, behind),
        why=way_between(view, source.nodes["N"], view.wiring.node(user.name, user.neutral)),
        related=tuple(Related(span_of(view, n), "residual-current device") for n in ahead + behind),
    )


def _in_words(ahead: tuple[str, ...], behind: tuple[str, ...]) -> str:
    if not behind:
        return f"the line passes through {listed(ahead)}, and the neutral past it"
    if not ahead:
        return f"the neutral passes through {listed(behind)}, and the line past it"
    return f"the line passes through {listed(ahead)}, the neutral through {listed(behind)}"


def _remedy(view: ModeView, ahead: tuple[str, ...], behind: tuple[str, ...]) -> str:
    bare = [name for name in ahead if len(view.wiring.variants[name].poles) == 1]
    if bare:
        return f"{listed(bare)} has no neutral terminals: use one with a neutral pole (poles=1N)"
    if ahead:
        return f"land the circuit's neutral on the neutral terminal of {listed(ahead)}"
    return f"take the circuit's neutral off {listed(behind)}, or its line through it too"
