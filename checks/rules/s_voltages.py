"""S: sources of direct current whose voltages do not agree, or that are shorted."""

from __future__ import annotations

from collections.abc import Iterator

from ..findings import Related
from ..registry import Hit, rule
from ..tracing.across import culprits, dc_conflicts, island, names_on
from ..tracing.bonding import listed
from ..tracing.network import BAR, POLE, carries
from ..tracing.trace import ModeView, Source, Stage
from .s_polarity import others_on


@rule(
    "S13",
    "dc-sources-conflict",
    clauses={"": "common practice, no published source"},
)
def dc_sources_conflict(stage: Stage) -> Iterator[Hit]:
    """Sources of direct current in parallel whose voltages do not agree, or plus joined to minus.

    Voltages within 25 % are the same: 12.8 V, 13.8 V and 14.4 V are all 12 V.
    Why: the stronger drives into the weaker whatever the leads let through; a bank joined plus to
    minus burns.
    Breaks it: a 12 V battery across a 24 V bank; a 24 V charger on a 12 V battery; a lead from the
    positive bar to the negative bar.
    Does not: two 12 V batteries in series with a 24 V charger across both.
    """
    for view in stage.modes:
        systems = island(view)
        by_system: dict[int, list[tuple[Source, float]]] = {}
        for source, volts in dc_conflicts(view):
            if volts >= 0:
                system = systems[view.net[source.nodes["+"]]]
                by_system.setdefault(system, []).append((source, volts))
        for found in by_system.values():
            shorts = [s for s, _ in found if view.net[s.nodes["+"]] == view.net[s.nodes["-"]]]
            yield _shorted(view, shorts) if shorts else _at_odds(view, found)


def _shorted(view: ModeView, shorts: list[Source]) -> Hit:
    first = shorts[0]
    way = view.network.path([first.nodes["+"]], first.nodes["-"])
    names = culprits(view, way, ("+",), ("-",))
    span = view.wiring.rig.conductors[names[0]].span if names else first.device.span
    poles = dict.fromkeys(e.owner for _, e in way if e is not None and e.kind == POLE)
    return Hit(
        on=(*names, first.name, *poles),
        span=span,
        mode=view.name,
        message=f"the plus and the minus of {first.name} are joined, a short circuit"
        + (f", by {names[0]}" if len(names) == 1 else ""),
        fix=f"land {' or '.join(names) or 'what joins them'} where it was meant to go",
        why=view.network.tell(way),
        upsets=names_on(view, first.nodes.values()),
    )


def _at_odds(view: ModeView, found: list[tuple[Source, float]]) -> Hit:
    source, volts = found[0]
    others = _across(view, source)
    names = dict.fromkeys((*(s.name for s, _ in found), *others))
    assert source.volts is not None
    across = f"{', '.join(others)} {'puts' if len(others) == 1 else 'put'} {volts:g} V across it"
    bank = _in_series(view, others)
    odd = [s.name for s, _ in found]
    told = f"{listed(bank)} in series give {volts:g} V, and {listed(odd)} {_is_or_are(odd)} for "
    fix = f"put {listed(bank)} in parallel, each behind a fuse of its own, or take what is made for"
    idle = _waiting(view) if source.device.kind == "solar" else []
    if idle:
        return _past_its_regulator(view, source, volts, others, idle[0])
    return Hit(
        on=tuple(dict.fromkeys((*bank, *names))),
        span=view.live[bank[-1]].device.span if bank else source.device.span,
        mode=view.name,
        message=f"{told}{source.volts:g} V"
        if bank
        else f"{source.name} is {source.volts:g} V, and {across}",
        fix=f"{fix} {volts:g} V"
        if bank
        else f"join in parallel only what has the same voltage: move {source.name}, or put the "
        "bank in series or in parallel as it was meant",
        value=volts,
        limit=source.volts,
        unit="V",
        related=tuple(Related(view.live[n].device.span, "against this one") for n in others),
        cause=next((n for n in names if view.live[n].device.kind == "battery"), source.name),
    )


def _waiting(view: ModeView) -> list[str]:
    """The DC converters on whose input nothing live lies."""
    wiring = view.wiring
    return [
        name
        for name, device in wiring.rig.devices.items()
        if device.kind == "dcdc" and carries(device) and not view.roles_at(name, "in+")
    ]


def _past_its_regulator(
    view: ModeView, source: Source, volts: float, others: tuple[str, ...], regulator: str
) -> Hit:
    """A solar generator on the battery's bar, while a regulator waits for it."""
    goals = (view.live[name].nodes["+"] for name in others)
    ways = [view.network.path([source.nodes["+"]], goal) for goal in goals]
    way = min((way for way in ways if way), key=len, default=[])
    assert source.volts is not None
    return Hit(
        on=(source.name, regulator, *others),
        span=source.device.span,
        mode=view.name,
        message=f"{source.name} is {source.volts:g} V and lies straight on {', '.join(others)}, "
        f"{volts:g} V; no line comes to {regulator}",
        fix=f"land {source.name} on the input of {regulator}",
        value=volts,
        limit=source.volts,
        unit="V",
        why=view.network.tell(way),
        related=(Related(view.live[others[0]].device.span, "against this one"),),
        upsets=frozenset(edge.owner for _, edge in way if edge is not None and edge.kind != BAR),
        cause=source.name,
    )


def _is_or_are(names: list[str]) -> str:
    return "is" if len(names) == 1 else "are"


def _across(view: ModeView, source: Source) -> tuple[str, ...]:
    """The other sources that fix the voltage across one: on its plus, and in series with those."""
    live = [s for s in view.live.values() if s.dc and s.name != source.name]
    reached = [view.net[source.nodes["+"]]]
    found: dict[str, None] = {}
    for net in reached:
        for other in live:
            plus, minus = (view.net[other.nodes[role]] for role in "+-")
            if plus == net and other.name not in found:
                found[other.name] = None
                if minus != view.net[source.nodes["-"]]:
                    reached.append(minus)
    return tuple(found) or others_on(view, source)


def _in_series(view: ModeView, names: tuple[str, ...]) -> list[str]:
    """Of these sources, the batteries that follow each other from plus to minus; [] if none do."""
    cells = [view.live[n] for n in names if view.live[n].device.kind == "battery"]
    plus = {view.net[cell.nodes["+"]] for cell in cells}
    joined = [cell for cell in cells if view.net[cell.nodes["-"]] in plus]
    minus = {view.net[cell.nodes["-"]] for cell in joined}
    return [c.name for c in cells if c in joined or view.net[c.nodes["+"]] in minus]
