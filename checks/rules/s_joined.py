"""S: conductors of two systems, or of the two sides of one, joined."""

from __future__ import annotations

from collections.abc import Iterator

from ..findings import Related
from ..network import WIRE, Edge
from ..registry import Hit, rule
from ..trace import EARTH, GROUNDED, LINES, UNGROUNDED, ModeView, Source, Stage, wanted

AC_SIDE = (*LINES, "N")
DC_SIDE = ("+", "-")


def _meeting(view: ModeView, net: int, one: tuple[str, ...], two: tuple[str, ...]) -> list[str]:
    """The conductors at which terminals named for one side meet terminals named for the other."""
    side: dict[int, int] = {}
    for node, (_, terminal) in enumerate(view.wiring.names):
        if view.net[node] == net:
            want = wanted(terminal)
            if want in one or want in two:
                side[node] = 0 if want in one else 1
    queue = list(side)
    for node in queue:
        for edge in view.network.neighbours[node]:
            far = edge.other(node)
            if far not in side:
                side[far] = side[node]
                queue.append(far)
    return [
        edge.owner
        for edge in view.network.edges
        if view.net[edge.a] == net and edge.kind == WIRE and side.get(edge.a) != side.get(edge.b)
    ]


def _owners(way: list[tuple[int, Edge | None]]) -> list[str]:
    return [edge.owner for _, edge in way if edge is not None and edge.kind == WIRE]


@rule(
    "S12",
    "ac-and-dc-joined",
    clauses={
        "nfpa70": "NFPA 70 725.136, 551.30 (from memory)",
        "abyc-e11": "ABYC E-11, AC and DC conductors apart (from memory)",
        "iec60364": "IEC 60364-4-41 414.4 (from memory)",
    },
    yields_to=("S15",),
)
def ac_and_dc_joined(stage: Stage) -> Iterator[Hit]:
    """A conductor of an alternating-current system is joined to one of a direct-current system.

    Neutral and DC negative may meet at earth, where each is bonded.
    Why: mains then stands on every 12 V terminal that a hand may touch.
    Breaks it: the white of a mains cable landed on the DC negative bar.
    Does not: DC negative and neutral each bonded to the chassis by its own `bond`.
    """
    for view in stage.modes:
        for net, roles in view.roles.items():
            ac = [(name, role) for name, role in roles if not view.live[name].dc]
            dc = [(name, role) for name, role in roles if view.live[name].dc]
            at_earth = net in view.earth_nets and all(r in GROUNDED for _, r in roles)
            if ac and dc and not at_earth:
                yield _joined(view, net, ac[0], dc[0])


def _joined(view: ModeView, net: int, ac: tuple[str, str], dc: tuple[str, str]) -> Hit:
    one, two = view.live[ac[0]], view.live[dc[0]]
    way = view.network.path([one.nodes[ac[1]]], two.nodes[dc[1]])
    names = _meeting(view, net, AC_SIDE, DC_SIDE) or _owners(way)
    conductor = view.wiring.rig.conductors.get(names[0]) if names else None
    return Hit(
        on=(*names, one.name, two.name),
        span=conductor.span if conductor else one.device.span,
        mode=view.name,
        message=f"{ac[1]} of {one.name} is joined to {dc[1]} of {two.name}"
        + (f" by {', '.join(names)}" if names else ""),
        fix=f"land {names[0] if names else 'the conductor'} on the bar of its own system",
        why=view.network.tell(way),
        related=(
            Related(one.device.span, "AC from here"),
            Related(two.device.span, "DC from here"),
        ),
    )


@rule(
    "S15",
    "source-shorted",
    clauses={
        "nfpa70": "NFPA 70 110.7 (from memory)",
        "iec60364": "IEC 60364-6 6.4.3.3 (from memory)",
        "": "common practice, no published source",
    },
)
def source_shorted(stage: Stage) -> Iterator[Hit]:
    """A line is joined to another line or the neutral of its own source, or to earth.

    Why: it is a short circuit: the device ahead opens at once, or what has none burns.
    Breaks it: a jumper from the line bar to the neutral bar; a line landed on the earth bar.
    Does not: a load between line and neutral.
    """
    for view in stage.modes:
        for source in view.live.values():
            if not source.dc:
                yield from _shorts(view, source)


def _shorts(view: ModeView, source: Source) -> Iterator[Hit]:
    at = {role: view.net[node] for role, node in source.nodes.items()}
    for line in source.lines:
        if line not in UNGROUNDED:
            continue
        others = [role for role, net in at.items() if net == at[line] and role != line]
        if others:
            way = view.network.path([source.nodes[line]], source.nodes[others[0]])
            names = _meeting(view, at[line], (line, wanted(line)), tuple(others)) or _owners(way)
            yield _short(view, source, line, others[0], names, view.network.tell(way))
            return
        if at[line] in view.earth_nets:
            names = _meeting(view, at[line], LINES, (EARTH,)) or _owners([])
            yield _short(view, source, line, "earth", names, ())
            return


def _short(
    view: ModeView,
    source: Source,
    line: str,
    other: str,
    names: list[str],
    why: tuple[str, ...],
) -> Hit:
    conductor = view.wiring.rig.conductors.get(names[0]) if names else None
    return Hit(
        on=(*names, source.name),
        span=conductor.span if conductor else source.device.span,
        mode=view.name,
        message=f"{line} of {source.name} is joined to {other}: a short circuit"
        + (f" through {', '.join(names)}" if names else ""),
        fix=f"part them: {', '.join(names) or 'one conductor'} lands on the wrong terminal",
        why=why,
        related=(Related(source.device.span, "fed from here"),),
    )
