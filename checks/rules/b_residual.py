"""B: residual-current devices see there and back of every circuit behind them."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

from ..findings import Related
from ..registry import Hit, rule
from ..tracing.across import odd_one
from ..tracing.bonding import (
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
from ..tracing.trace import LINES, ModeView, Source, Stage

Seen = dict[int, frozenset[str]]
Shared = dict[frozenset[str], tuple[str, ...]]


@rule(
    "B06",
    "residual-mismatch",
    clauses={
        "nfpa70": "NFPA 70 300.3(B), 210.8 (from memory)",
        "abyc-e11": "ABYC E-11, residual-current devices see all live conductors (from memory)",
        "iec60364": "IEC 60364-5-53 531.3.1 (from memory)",
    },
    yields_to=("B04", "B05", "B09", "B12", "P24"),
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
        for source in ac_sources(view):
            lines, neutral = _seen(view, source.name)
            shared = _joined_behind(view, neutral)
            for devices in dict.fromkeys(shared.values()):
                yield _joined(view, devices)
            yield from _mismatches(view, source, lines, neutral, shared)


@lru_cache(maxsize=64)
def _seen(view: ModeView, source: str) -> tuple[Seen, Seen]:
    """The residual-current devices passed from a source's lines, and those from its neutral."""
    nodes, special = view.live[source].nodes, residual_pole(view)
    lines = passed(view.network, [n for role, n in nodes.items() if role in LINES], special)
    return lines, passed(view.network, [nodes["N"]], special)


def _joined_behind(view: ModeView, neutral: Seen) -> Shared:
    """Where more than one device leads into the same neutral: the devices, by what is passed.

    A second device leads into what another was passed to reach; or, where the search came through
    both alike, their neutrals meet on a conductor behind them.
    """
    special = residual_pole(view)
    found: dict[frozenset[str], set[str]] = {}
    for edge in view.network.edges:
        if edge.a not in neutral or edge.b not in neutral:
            continue
        ahead, behind = sorted((neutral[edge.a], neutral[edge.b]), key=len)
        if not special(edge):
            if ahead != behind:
                for region in (ahead, behind):
                    found.setdefault(region, set()).update(ahead ^ behind)
        elif len(ahead) < len(behind) and edge.owner not in behind:
            found.setdefault(behind, set()).update({edge.owner}, behind - ahead)
    return {region: tuple(sorted(names)) for region, names in found.items()}


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
    odd = odd_one(view, way, devices)
    return Hit(
        on=(*((odd,) if odd else ()), *devices),
        span=span_of(view, odd or first),
        mode=view.name,
        message=f"the neutrals of {listed(devices)} are joined behind them"
        + (f", by {odd}" if odd else ""),
        fix="give each its own neutral, from its own neutral terminal to its own loads"
        + (f"; {odd} may be what should not be there" if odd else ""),
        why=view.network.tell(way),
        related=tuple(
            Related(span_of(view, n), "opens on this") for n in (devices if odd else (second,))
        ),
    )


def _neutral_outs(view: ModeView, name: str) -> list[int]:
    """The nodes of a device's poles, those of its neutral pole first."""
    poles = view.wiring.variants[name].poles
    terminals = [t for pole in reversed(poles) for t in reversed(pole)]
    return [view.wiring.node(name, t) for t in terminals]


def _mismatches(
    view: ModeView, source: Source, lines: Seen, neutral: Seen, shared: Shared
) -> Iterator[Hit]:
    found: dict[tuple[tuple[str, ...], tuple[str, ...]], list[User]] = {}
    for user in users(view):
        back = view.wiring.node(user.name, user.neutral)
        if back not in neutral or neutral[back] in shared:
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


@rule(
    "B18",
    "residual-pole-crossed",
    clauses={
        "nfpa70": "NFPA 70 110.3(B), terminals marked for line and load (from memory)",
        "iec60364": "IEC 60364-5-53 531.3.1 (from memory)",
        "": "common practice, no published source",
    },
    yields_to=("B06",),
)
def residual_pole_crossed(stage: Stage) -> Iterator[Hit]:
    """A residual-current device whose line is fed from one side and its neutral from the other.

    Why: there and back then run the same way through its core and add up instead of cancelling:
    it opens as soon as anything behind it is switched on.
    Breaks it: the supply's line on 1 and the supply's neutral on N2.
    Does not: line and neutral both from above, or both from below.
    """
    for view in stage.modes:
        residual = residual_devices(view)
        for source in ac_sources(view):
            seen = _seen(view, source.name)
            for name in sorted(residual):
                fed = _supply_ends(view, name, seen)
                if len({side for _, side in fed}) > 1:
                    yield _pole_crossed(view, name, fed)


def _supply_ends(view: ModeView, name: str, seen: tuple[Seen, Seen]) -> list[tuple[str, int]]:
    """The terminal of each pole that is nearer to the source, and whether it is first or second."""
    found: list[tuple[str, int]] = []
    for pair in view.wiring.variants[name].poles:
        nodes = [view.wiring.node(name, terminal) for terminal in pair]
        for region in seen:
            if not all(node in region for node in nodes):
                continue
            past = [name in region[node] for node in nodes]
            if past[0] != past[1]:
                found.append((pair[past.index(False)], past.index(False)))
    return found


def _pole_crossed(view: ModeView, name: str, fed: list[tuple[str, int]]) -> Hit:
    sides = [side for _, side in fed]
    few = min((0, 1), key=sides.count) if sides.count(0) != sides.count(1) else fed[-1][1]
    odd = [terminal for terminal, side in fed if side == few]
    wires = [wire for terminal in odd for wire in wire_names(view, name, terminal)]
    return Hit(
        on=(name, *wires),
        span=span_of(view, wires[0] if wires else name),
        mode=view.name,
        message=f"{name} is fed at {listed(terminal for terminal, _ in fed)}: one pole from the "
        "other side than the rest, so it opens under load",
        fix=f"exchange the two conductors of the pole at {listed(odd)}",
        related=(Related(span_of(view, name), "residual-current device"),),
    )
