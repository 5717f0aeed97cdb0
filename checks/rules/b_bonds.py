"""B: the one joint between a system's neutral and earth."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Device
from ..findings import WARNING, Related
from ..registry import Hit, rule
from ..tracing.bonding import (
    ac_sources,
    bond_ends,
    bonds_at,
    bonds_meant,
    bonds_of,
    listed,
    live_users,
    neutral_net,
    passed,
    residual_pole,
    span_of,
    way_between,
)
from ..tracing.network import carries
from ..tracing.trace import BondPoint, ModeView, Source, Stage

WORDS = {
    "inverter": ("bonds", "bonded", "separated"),
    "supply": ("bonded", "floating", "separated"),
    "generator": ("bonded", "floating", "separated"),
    "transformer": ("bonded", "floating", "separated"),
}


def _said(device: Device) -> str:
    """The word by which a source says how it stands to earth; "" where it says none."""
    return next((word for word in WORDS.get(device.kind, ()) if device.flag(word)), "")


def _where(view: ModeView, owner: str) -> str:
    inside = owner in view.wiring.rig.devices
    return f"inside {owner}" if inside else f"by {owner}"


@rule(
    "B01",
    "no-bond",
    clauses={
        "nfpa70": "NFPA 70 250.20(B), 551.30 (from memory)",
        "abyc-e11": "ABYC E-11, neutral grounded at the source of power (from memory)",
        "iec60364": "IEC 60364-4-41 411.4 (from memory)",
    },
)
def no_bond(stage: Stage) -> Iterator[Hit]:
    """A live alternating-current system whose neutral is joined to earth nowhere.

    Why: the first fault to a metal case then drives no current back, so no breaker opens and a
    residual-current device sees nothing; the case stays live until a second fault or a hand.
    Breaks it: an inverter without `bonds`, or a portable generator with a floating winding, that
    feeds the rig's sockets while nothing on board joins neutral and earth.
    Does not: the source is `bonded`, an inverter `bonds` while it inverts, a `bond` conductor does
    it in that mode, or the source is `separated` for one outlet.
    """
    for view in stage.modes:
        for source in ac_sources(view):
            if source.device.flag("separated") or bonds_of(view, source):
                continue
            yield Hit(
                on=(source.name,),
                span=source.device.span,
                mode=view.name,
                message=f"{source.name} feeds the rig and nothing joins its neutral to earth"
                + _unbonded_because(source.device),
                fix=_remedy(source.device),
                why=(f"no bond is closed on what {_neutral_name(view, source)} reaches",),
            )


def _unbonded_because(device: Device) -> str:
    word = _said(device)
    if word == "floating":
        return "; it is declared floating"
    return "" if word else f"; it says none of {', '.join(WORDS[device.kind])}"


def _remedy(device: Device) -> str:
    word = "bonds" if device.kind == "inverter" else "bonded"
    return (
        f"say `{word}` if {device.name} joins neutral and earth itself; else fit one `bond` at "
        f"{device.name} that is closed while it feeds and open while another source does"
    )


def _neutral_name(view: ModeView, source: Source) -> str:
    return view.wiring.say(source.nodes["N"])


@rule(
    "B02",
    "two-bonds",
    clauses={
        "nfpa70": "NFPA 70 250.24(A)(5), 551.54(C) (from memory)",
        "abyc-e11": "ABYC E-11, neutral grounded at the source only (from memory)",
        "iec60364": "IEC 60364-5-54 543.4, TN-S beyond the source (from memory)",
    },
    yields_to=("B04", "B05", "B09", "S02", "S12"),
)
def two_bonds(stage: Stage) -> Iterator[Hit]:
    """A system whose neutral is joined to earth in more than one place at the same time.

    Why: the neutral's current divides between the neutral and the protective earth, so cord earth,
    cases and chassis carry current all the time, and residual-current devices trip or go blind.
    Breaks it: a strap in the rig's panel while the shore supply is bonded; an inverter whose bond
    stays closed (`bonded`) while it passes the shore through.
    Does not: an inverter that `bonds` only while it inverts; one bond for each of two systems whose
    neutrals are apart.
    """
    for view in stage.modes:
        for source in ac_sources(view):
            points = bonds_meant(view, source)
            if len(points) < 2:
                continue
            owners = tuple(dict.fromkeys(point.owner for point in points))
            own = [name for name in owners if name != source.name]
            yield Hit(
                on=(*own, *(name for name in owners if name not in own)),
                span=span_of(view, own[0] if own else source.name),
                mode=view.name,
                message=f"the neutral of {source.name} is joined to earth in {len(points)} places: "
                + listed(_where(view, name) for name in owners),
                value=float(len(points)),
                limit=1.0,
                unit="joints",
                fix=f"keep one and open the others while {source.name} feeds; usually "
                f"the joint of {listed(own)} has to go"
                if own
                else "keep one of them",
                why=_loop(view, source, points),
                related=tuple(Related(span_of(view, o), "joined here") for o in owners),
            )


def _loop(view: ModeView, source: Source, points: list[BondPoint]) -> tuple[str, ...]:
    """From the earth of one bond over the neutral to the earth of another."""
    (n1, e1), (n2, e2) = (bond_ends(view, source, point) for point in points[:2])
    say = view.wiring.say
    return (
        f"{say(e1)} -- {points[0].owner} (bond) -- {say(n1)}",
        *way_between(view, n1, n2),
        f"{say(n2)} -- {points[1].owner} (bond) -- {say(e2)}",
    )


@rule(
    "B03",
    "bond-behind-residual-device",
    clauses={
        "nfpa70": "NFPA 70 250.24(A)(5) (from memory)",
        "abyc-e11": "ABYC E-11, no neutral-earth joint on the load side (from memory)",
        "iec60364": "IEC 60364-5-53 531.3 (from memory)",
    },
    yields_to=("B02", "B04"),
)
def bond_behind_residual_device(stage: Stage) -> Iterator[Hit]:
    """The bond stands on the load side of a residual-current device.

    Why: fault current comes back through the bond and then through the device's own neutral pole,
    so the device sees as much return as leave: it does not open on an earth fault.
    Breaks it: a `bond` from the neutral bar behind the residual-current device to the earth bar.
    Does not: the same bond ahead of the device, at the source's side of its neutral pole.
    """
    for view in stage.modes:
        special = residual_pole(view)
        for source in ac_sources(view):
            start = source.nodes["N"]
            if view.net[start] in view.earth_nets:
                continue  # joined by something else as well: B04 says so
            neutrals = {p: bond_ends(view, source, p)[0] for p in bonds_meant(view, source)}
            elsewhere = any(neutral != start for neutral in neutrals.values())
            behind = passed(view.network, [start], special) if elsewhere else {}
            for point, neutral in neutrals.items():
                for device in sorted(behind.get(neutral, ())):
                    yield Hit(
                        on=(point.owner, device),
                        span=span_of(view, point.owner),
                        mode=view.name,
                        message=f"{point.owner} joins neutral to earth behind {device}: {device} "
                        f"does not see a fault to earth",
                        fix=f"move the neutral end of {point.owner} to the supply side of {device}",
                        why=way_between(view, start, neutral),
                        related=(Related(span_of(view, device), "residual-current device"),),
                    )


@rule(
    "B16",
    "source-earthing-unsaid",
    WARNING,
    clauses={"": "cannot be read off the conductors: the text has to say it"},
    yields_to=("B01",),
)
def source_earthing_unsaid(stage: Stage) -> Iterator[Hit]:
    """A source of alternating current that does not say how it stands to earth.

    Why: whether a site post or a generator joins neutral and earth inside cannot be seen in a list
    of conductors; without the word, the count of bonds on board may be one too few.
    Breaks it: `generator GEN 230V 50Hz 20A` with none of `bonded`, `floating`, `separated`.
    Does not: a source that says one of them; an inverter or a transformer at which a `bond`
    conductor says it.
    """
    for device in stage.rig.devices.values():
        words = WORDS.get(device.kind)
        if words is None or device.flag("dc") or not carries(device) or _said(device):
            continue
        outside = stage.wiring.kinds[device.name].acts == "source"
        if outside or not _bonded_by_wire(stage, device.name):
            yield _unsaid(device, words)


def _unsaid(device: Device, words: tuple[str, ...]) -> Hit:
    return Hit(
        on=(device.name,),
        span=device.span,
        message=f"{device.name} does not say how its neutral stands to earth",
        fix=f"look at the {device.kind}, and say one of: {', '.join(words)}",
    )


def _bonded_by_wire(stage: Stage, name: str) -> bool:
    """Whether a `bond` is on the neutral of this converter in every mode in which it is live."""
    live = [view for view in stage.modes if name in view.live and not view.live[name].dc]
    return all(bonds_at(view, neutral_net(view, view.live[name])) for view in live)


@rule(
    "B23",
    "separated-feeds-several",
    clauses={
        "nfpa70": "NFPA 70 250.20(B), 250.21(B) (from memory)",
        "iec60364": "IEC 60364-4-41 413.3, one item; 418.3, several (from memory)",
        "": "common practice, no published source",
    },
)
def separated_feeds_several(stage: Stage) -> Iterator[Hit]:
    """A `separated` source, earth-free on purpose, that feeds more than one thing at a time.

    Why: a first fault in one does nothing and is not noticed; a second one, on the other line in
    another, puts the full voltage between two cases that one person can touch.
    Breaks it: a `separated` inverter with a double socket and a lamp.
    Does not: one socket, or one load, behind it; a shaver's transformer.
    """
    for view in stage.modes:
        for source in ac_sources(view):
            fed = [user for user, names in live_users(view) if source.name in names]
            if source.device.flag("separated") and len(fed) > 1:
                yield Hit(
                    on=(source.name, *(user.name for user in fed)),
                    span=source.device.span,
                    mode=view.name,
                    message=f"{source.name} is `separated` and feeds {len(fed)} things: "
                    f"{listed(user.name for user in fed)}",
                    value=float(len(fed)),
                    limit=1.0,
                    unit="things fed",
                    fix=f"leave one of them on {source.name}; or join its neutral and earth "
                    "(`bonds`, `bonded`) and protect its circuits by residual-current devices",
                    related=tuple(Related(u.device.span, "fed by it") for u in fed[:4]),
                )
