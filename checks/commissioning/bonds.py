"""Neutral, or the DC negative, to earth in every mode: the one joint, and where to probe."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import inf

from ..tracing.bonding import bonds_of, neutral_net
from ..tracing.network import WIRE
from ..tracing.trace import EARTH, BondPoint, ModeView, Source, Stage
from .data import band, basis, clause, limit, said, tables
from .earth import Earths
from .trial import Trial


@dataclass(frozen=True, slots=True)
class System:
    """Live sources whose grounded poles are joined, in one mode, and all joints to earth."""

    view: ModeView
    sources: tuple[Source, ...]
    joints: tuple[BondPoint, ...]

    @property
    def first(self) -> Source:
        return self.sources[0]

    @property
    def owners(self) -> tuple[str, ...]:
        """The devices and conductors that are the joints."""
        return tuple(dict.fromkeys(joint.owner for joint in self.joints))

    @property
    def outside(self) -> bool:
        """Whether every source of it stands behind a plug, so that it can be unplugged."""
        wiring = self.view.wiring
        return all(_plugged(self.view, source) for source in self.sources) and bool(wiring.outer)


def systems(view: ModeView) -> list[System]:
    """The live systems of a mode, in the order in which they came alive."""
    found: dict[int, list[Source]] = {}
    for source in view.live.values():
        if source.grounded in source.nodes:
            found.setdefault(neutral_net(view, source), []).append(source)
    return [
        System(view, tuple(sources), tuple(bonds_of(view, sources[0])))
        for sources in found.values()
    ]


def _plugged(view: ModeView, source: Source) -> bool:
    """Whether the only conductors on a source's lines end on the outer side of a plug."""
    outer = set(view.wiring.outer.values())
    lines = (source.nodes[role] for role in source.lines)
    wires = [e for node in lines for e in view.network.neighbours[node] if e.kind == WIRE]
    ends = [end for edge in wires for end in (edge.a, edge.b)]
    return bool(wires) and any(end in outer for end in ends)


def bonds(stage: Stage) -> Iterator[Trial]:
    """For every mode and live system: line to earth, neutral to earth, and no joint on board."""
    earths = Earths(stage)
    for view in stage.modes:
        for system in systems(view):
            yield from _live(stage, earths, system)
            if system.outside:
                yield _on_board(stage, earths, system)


def _live(stage: Stage, earths: Earths, system: System) -> Iterator[Trial]:
    view, source = system.view, system.first
    neutral, earth = _probes(earths, system)
    say = view.wiring.say
    names = _names(system)
    what = "-" if source.dc else "N"
    key = f"{view.name}-{source.name}"
    if not system.joints:
        yield Trial(
            f"OPEN-{key}", "bonds", view.name, f"{say(neutral)} to {_say(view, earth)}",
            f"No joint of {what} and earth, by these sheets: dead, {source.name} off", "ohm", inf,
            limit("apart"), None, basis("apart"), names,
        )  # fmt: skip
        return
    if earth is None:
        return
    by = clause("bonds", stage.book.name)
    held = f"joint: {', '.join(system.owners)}"
    volts = ModeView.to_neutral(source)
    if volts is not None:
        below, above = band(stage.book.name, source.dc)
        range_by = said(tables()["volts"][stage.book.name])
        line = _best(system, view.net[source.nodes[source.lines[0]]])
        what_line = "+" if source.dc else source.lines[0]
        yield Trial(
            f"LE-{key}", "bonds", view.name, f"{say(line)} to {say(earth)}",
            f"{what_line} to earth, live ({held})", "V", volts, volts * (1 - below),
            volts * (1 + above), range_by, names,
        )  # fmt: skip
    most = "joined-dc" if source.dc else "joined-ac"
    yield Trial(
        f"NE-{key}", "bonds", view.name, f"{say(neutral)} to {say(earth)}",
        f"{what} to earth, live ({held})", "V", 0.0, None, limit(most), f"{by}; {basis(most)}",
        names,
    )  # fmt: skip


def _on_board(stage: Stage, earths: Earths, system: System) -> Trial:
    """With the plug out the joint must be gone: there is none on board, or only the one meant."""
    view, source = system.view, system.first
    neutral, earth = _probes(earths, system)
    where = f"{view.wiring.say(neutral)} to {_say(view, earth)}"
    aboard = [joint for joint in system.joints if joint.owner not in _names_of(system.sources)]
    key, what = f"DEAD-{view.name}-{source.name}", "- and earth" if source.dc else "N and earth"
    by = clause("bonds", stage.book.name)
    if aboard:
        owners = ", ".join(dict.fromkeys(joint.owner for joint in aboard))
        return Trial(
            key, "bonds", view.name, where, f"Dead, unplugged: {what} joined by {owners}", "ohm",
            0.0, None, 1.0, by, _names(system),
        )  # fmt: skip
    return Trial(
        key, "bonds", view.name, where, f"Dead, unplugged: no joint of {what} on board", "ohm",
        inf, limit("apart"), None, f"{by}; {basis('apart')}", _names(system),
    )  # fmt: skip


def _names_of(sources: tuple[Source, ...]) -> set[str]:
    return {source.name for source in sources}


def _probes(earths: Earths, system: System) -> tuple[int, int | None]:
    """Where to hold the leads: on the neutral's largest bar, and on the system's own earth."""
    view, source = system.view, system.first
    own = {n for joint in system.joints for n in (joint.a, joint.b)}
    nets = {view.net[node] for node in own} - {neutral_net(view, source)}
    nets |= {view.net[source.nodes[EARTH]]} if EARTH in source.nodes else set()
    main = earths.main()
    if main is not None and (view.net[main] in nets or not nets):
        return _best(system, neutral_net(view, source)), main
    return _best(system, neutral_net(view, source)), _best(system, min(nets)) if nets else None


def _best(system: System, net: int) -> int:
    """The terminal of a net to probe: on board and on its largest bar, where there is one."""
    view, source = system.view, system.first
    outer = set(view.wiring.outer.values())
    inside = [n for n in range(view.network.count) if view.net[n] == net and n not in outer]
    aboard = [n for n in inside if view.wiring.names[n][0] != source.name] or inside
    return max(aboard, key=lambda node: _rank(view, node))


def _rank(view: ModeView, node: int) -> tuple[int, int, int]:
    """A bar before anything else, the one with most conductors first, then where one is landed."""
    wiring = view.wiring
    device = wiring.names[node][0]
    bar = wiring.kinds[device].acts == "distribution"
    ends = [wiring.find(device, t.name) for t in wiring.rig.devices[device].terminals]
    wires = sum(len(view.network.neighbours[end]) for end in ends if end is not None)
    here = sum(edge.kind == WIRE for edge in view.network.neighbours[node])
    return int(bar), wires if bar else 0, int(here > 0) * 1000 - node // 1000


def _say(view: ModeView, node: int | None) -> str:
    return "earth" if node is None else view.wiring.say(node)


def _names(system: System) -> tuple[str, ...]:
    """All that is joined to the neutral in the mode, and what can bond: there a joint can hide."""
    view = system.view
    nets = {neutral_net(view, system.first)}
    found = dict.fromkeys(edge.owner for edge in view.network.edges if view.net[edge.a] in nets)
    found |= dict.fromkeys(bond.owner for bond in view.network.bonds)
    found |= dict.fromkeys(source.name for source in system.sources)
    ends = (name for node, (name, _) in enumerate(view.wiring.names) if view.net[node] in nets)
    return tuple(found | dict.fromkeys(ends))
