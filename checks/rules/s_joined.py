"""S: conductors of two systems, or of the two sides of one, joined."""

from __future__ import annotations

from collections.abc import Iterator

from ..findings import Related
from ..registry import Hit, rule
from ..tracing.across import Way, culprits, names_on
from ..tracing.trace import EARTH, GROUNDED, LINES, ModeView, Source, Stage, wanted

AC_SIDE = (*LINES, "N")
DC_SIDE = ("+", "-")


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
    Breaks it: the white of a mains cable landed on the DC negative bar; the battery's lead and the
    shore's exchanged at an inverter.
    Does not: DC negative and neutral each bonded to the chassis by its own `bond`.
    """
    for view in stage.modes:
        for net, roles in view.roles.items():
            ac = [(name, role) for name, role in roles if not view.live[name].dc]
            dc = [(name, role) for name, role in roles if view.live[name].dc]
            at_earth = net in view.earth_nets and all(r in GROUNDED for _, r in roles)
            if ac and dc and not at_earth:
                yield _joined(view, ac[0], dc[0])
        yield from _strays(view)


def _strays(view: ModeView) -> Iterator[Hit]:
    """Terminals for the one kind of current that the other kind alone reaches."""
    done: set[tuple[str, ...]] = set()
    for node, (_, terminal) in enumerate(view.wiring.names):
        want, roles = wanted(terminal), view.roles.get(view.net[node], ())
        side = AC_SIDE if want in AC_SIDE else DC_SIDE
        if not roles or want not in side or any(role in side for _, role in roles):
            continue
        hit = _stray(view, node, roles[0], side)
        if hit.on[:-1] not in done:
            done.add(hit.on[:-1])
            yield hit


def _stray(view: ModeView, node: int, role: tuple[str, str], side: tuple[str, ...]) -> Hit:
    source = view.live[role[0]]
    way = view.network.path([source.nodes[role[1]]], node)
    first = next(at for at, (n, _) in enumerate(way) if wanted(view.wiring.names[n][1]) in side)
    node = way[first][0]
    names = culprits(view, way[: first + 1], DC_SIDE if source.dc else AC_SIDE, side)
    device = view.wiring.rig.devices[view.wiring.names[node][0]]
    span = view.wiring.rig.conductors[names[0]].span if names else device.span
    return Hit(
        on=(*names, device.name),
        span=span,
        mode=view.name,
        message=f"{role[1]} of {source.name} reaches {view.wiring.say(node)}, which is for "
        + ("alternating current" if side == AC_SIDE else "direct current")
        + (f", by {' or '.join(names)}" if names else ""),
        fix=f"land {names[0] if names else 'the conductor'} on the bar of its own system",
        why=view.network.tell(way[: first + 1]),
        related=(Related(source.device.span, "fed from here"),),
        upsets=names_on(view, [node]),
        cause=" ".join(sorted(names)),
    )


def _joined(view: ModeView, ac: tuple[str, str], dc: tuple[str, str]) -> Hit:
    one, two = view.live[ac[0]], view.live[dc[0]]
    way = view.network.path([one.nodes[ac[1]]], two.nodes[dc[1]])
    names = culprits(view, way, AC_SIDE, DC_SIDE)
    span = view.wiring.rig.conductors[names[0]].span if names else one.device.span
    return Hit(
        on=(*names, one.name, two.name),
        span=span,
        mode=view.name,
        message=f"{ac[1]} of {one.name} is joined to {dc[1]} of {two.name}"
        + (f" by {' or '.join(names)}" if names else ""),
        fix=f"land {names[0] if names else 'the conductor'} on the bar of its own system",
        why=view.network.tell(way),
        related=(
            Related(one.device.span, "AC from here"),
            Related(two.device.span, "DC from here"),
        ),
        upsets=names_on(view, (*one.nodes.values(), *two.nodes.values())),
        cause=" ".join(sorted(names)),
    )


@rule(
    "S15",
    "source-shorted",
    clauses={
        "nfpa70": "NFPA 70 110.7 (from memory)",
        "iec60364": "IEC 60364-6 6.4.3.3 (from memory)",
        "": "common practice, no published source",
    },
    follows=("S09",),
)
def source_shorted(stage: Stage) -> Iterator[Hit]:
    """A line or a plus is joined to another line or the return of its own source, or to earth.

    Why: it is a short circuit: the device ahead opens at once, or what has none burns.
    Breaks it: a jumper from the line bar to the neutral bar; a line landed on the earth bar; the
    positive bar joined to a bonded hull; a bond landed on the positive bar; a plus on a case.
    Does not: a load between line and neutral.
    """
    for view in stage.modes:
        plus: dict[int, Source] = {}
        for source in view.live.values():
            if not source.dc:
                yield from _shorts(view, source)
            elif _plus_at_earth(view, source):
                plus.setdefault(view.net[source.nodes["+"]], source)
        for source in plus.values():
            way = _to_earth(view, source.nodes["+"])
            yield _short(view, source, ("+", EARTH), way)
        yield from _bonds_on_lines(view)
        yield from _live_cases(view)


def _plus_at_earth(view: ModeView, source: Source) -> bool:
    """Whether earth stands on the plus of a source whose minus is bonded to it."""
    plus, minus = (view.net[source.nodes[role]] for role in "+-")
    return plus in view.earth_nets and plus != minus and bool(view.bonds_of(source))


def _live_cases(view: ModeView) -> Iterator[Hit]:
    """Earth terminals that a plus reaches, and earth does not (B10 tells of mains lines)."""
    done = set(view.earth_nets)
    for node, (device, terminal) in enumerate(view.wiring.names):
        net = view.net[node]
        roles = view.roles.get(net, ())
        if not roles or net in done or wanted(terminal) != EARTH:
            continue
        done.add(net)
        name, role = roles[0]
        if any(role != "+" for _, role in roles):
            continue
        source = view.live[name]
        way = view.network.path([source.nodes[role]], node)
        names = culprits(view, way, (role,), (EARTH,))
        yield Hit(
            on=(*names, device, name),
            span=view.wiring.rig.conductors[names[0]].span if names else source.device.span,
            mode=view.name,
            message=f"{role} of {name} reaches the protective earth of {device}"
            + (f" by {' or '.join(names)}" if names else "")
            + ": its case is live",
            fix=f"land {' or '.join(names) or 'what joins them'} where it was meant to go",
            why=view.network.tell(way),
            related=(Related(source.device.span, "fed from here"),),
            upsets=names_on(view, [node]),
        )


def _bonds_on_lines(view: ModeView) -> Iterator[Hit]:
    """Bonds with an end on a line or a plus; the middle of a bank in series is a minus as well."""
    for bond in view.network.bonds:
        conductor = view.wiring.rig.conductors.get(bond.owner)
        for node in (bond.neutral, bond.earth):
            roles = view.roles.get(view.net[node], ())
            if conductor is None or not roles or view.net[node] in view.earth_nets:
                continue  # a line on earth is a short circuit by another conductor
            if any(role in GROUNDED for _, role in roles):
                continue
            name, role = roles[0]
            yield Hit(
                on=(bond.owner, name),
                span=conductor.span,
                mode=view.name,
                message=f"the bond {bond.owner} lands on {role} of {name}, at "
                f"{view.wiring.say(node)}: a short circuit as soon as {name} is earthed",
                fix=f"land {bond.owner} on the {'negative' if role == '+' else 'neutral'} bar",
                why=view.network.tell(view.network.path([view.live[name].nodes[role]], node)),
                related=(Related(view.live[name].device.span, "fed from here"),),
                upsets=names_on(view, view.live[name].nodes.values()),
                cause=name,
            )


def _shorts(view: ModeView, source: Source) -> Iterator[Hit]:
    at = {role: view.net[node] for role, node in source.nodes.items()}
    for line in source.lines:
        others = [role for role, net in at.items() if net == at[line] and role != line]
        if others:
            way = view.network.path([source.nodes[line]], source.nodes[others[0]])
            yield _short(view, source, (line, others[0]), way)
            return
        if at[line] in view.earth_nets:
            way = _to_earth(view, source.nodes[line])
            yield _short(view, source, (line, EARTH), way)
            return


def _to_earth(view: ModeView, node: int) -> Way:
    """The way to the nearest terminal meant for earth."""
    names = view.wiring.names
    for end in view.network.walk([node]):
        device, terminal = names[end]
        if wanted(terminal) == EARTH or view.wiring.kinds[device].acts == "earth":
            return view.network.path([node], end)
    return []


def _short(view: ModeView, source: Source, roles: tuple[str, str], way: Way) -> Hit:
    line, other = roles
    own = (line, "L") if len(source.lines) == 1 else (line,)
    names = culprits(view, way, own, (other,))
    if other == EARTH and way and way[-1][1] is not None and way[-1][1].owner in names:
        names = (way[-1][1].owner,)  # as likely as the others, and the one that lands on earth
    span = view.wiring.rig.conductors[names[0]].span if names else source.device.span
    return Hit(
        on=(*names, source.name),
        span=span,
        mode=view.name,
        message=f"{line} of {source.name} is joined to {'earth' if other == EARTH else other}, a "
        f"short circuit{f', by {names[0]}' if len(names) == 1 else ''}",
        fix=f"land {' or '.join(names) or 'what joins them'} where it was meant to go",
        why=view.network.tell(way),
        related=(Related(source.device.span, "fed from here"),),
        upsets=names_on(view, source.nodes.values()),
        cause=" ".join(sorted(names)),
    )
