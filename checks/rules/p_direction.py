"""P: which way current can flow through a polarised device."""

from __future__ import annotations

from collections.abc import Iterator

from ..registry import Hit, rule
from ..tracing.cut import protection
from ..tracing.network import POLE
from ..tracing.trace import UNGROUNDED, Stage

CLAUSE = {"": "the maker's marking of supply and load side; common practice, no published source"}
MARKED = {
    "nfpa70": "NFPA 70 110.3(B); LINE and LOAD marked to UL 943 (from memory)",
    **CLAUSE,
}


def _ways(stage: Stage) -> dict[str, dict[str, set[str]]]:
    """For each device with a supply side: the modes in which current can flow forward, backward.

    Forward: from terminal 1 (3, 5), the supply's side.
    """
    found: dict[str, dict[str, set[str]]] = {}
    for view in stage.modes:
        held = protection(view)
        for edge in view.network.edges:
            if edge.kind != POLE or view.node_role(edge.a) not in UNGROUNDED:
                continue
            device = stage.rig.devices[edge.owner]
            if not device.flag("polarised") and "gfci" not in device.attrs:
                continue
            forward, backward = held.flows(edge)
            row = found.setdefault(device.name, {"forward": set(), "backward": set()})
            if forward:
                row["forward"].add(view.name)
            if backward:
                row["backward"].add(view.name)
    return found


@rule("P09", "polarised-reversed", clauses=MARKED, yields_to=("B18", "S08"))
def polarised_reversed(stage: Stage) -> Iterator[Hit]:
    """A device that has a supply side, with its supply on the load side.

    Terminals 1 (3, 5) and N1 are the supply's on a device that says `polarised`, and on one with
    `gfci=`, which is marked LINE and LOAD.
    Why: the arc of a polarised breaker is blown the wrong way: it carries normally and fails when
    it has to open.  A residual-current device fed through its load side goes on feeding its own
    electronics when it has opened, or never tests itself, and burns out unseen.
    Breaks it: the battery on terminal 2 of a polarised DC breaker; LINE and LOAD exchanged at a
    `gfci=` breaker, line and neutral alike.
    Does not: the supply on terminal 1; a rail device with `rcd=` that does not say `polarised`.
    """
    for name, row in _ways(stage).items():
        if row["backward"] and not row["forward"]:
            device = stage.rig.devices[name]
            for mode in sorted(row["backward"]):
                yield Hit(
                    on=(name,),
                    span=device.span,
                    message=f"{name} "
                    + ("is polarised" if device.flag("polarised") else "has a line and a load side")
                    + " and is fed from its load side",
                    fix=f"swap the conductors of {name}, pole by pole: the supply belongs on "
                    "terminal 1" + (" and N1" if device.terminal("N1") else ""),
                    mode=mode,
                )


@rule("P10", "polarised-both-ways", clauses=CLAUSE)
def polarised_both_ways(stage: Stage) -> Iterator[Hit]:
    """A polarised device in a circuit that current can flow in both ways.

    Why: for one of the two directions it is the wrong way round.
    Breaks it: a polarised breaker between a battery and an inverter that also charges.
    Does not: a device without polarity there; a polarised one towards a load.
    """
    for name, row in _ways(stage).items():
        device = stage.rig.devices[name]
        if row["backward"] and row["forward"] and device.flag("polarised"):
            for mode in sorted(row["backward"] | row["forward"]):
                yield Hit(
                    on=(name,),
                    span=device.span,
                    message=f"{name} is polarised and current can flow through it both ways",
                    fix="fit a device without polarity (or a fuse)",
                    mode=mode,
                    why=(
                        f"forward in {', '.join(sorted(row['forward']))}",
                        f"backward in {', '.join(sorted(row['backward']))}",
                    ),
                )
