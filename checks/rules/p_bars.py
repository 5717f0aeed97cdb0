"""P: what bars carry."""

from __future__ import annotations

from collections.abc import Iterator
from math import inf

from ..registry import Hit, rule
from ..tracing.cut import NOTHING, Protection, protection
from ..tracing.flow import Cut
from ..tracing.trace import UNGROUNDED, ModeView, Stage

NEAR = 1.0 + 1e-9


@rule(
    "P13",
    "bar-overloaded",
    clauses={
        "nfpa70": "NFPA 70 705.12(B) idea, 408.30 (from memory)",
        "abyc-e11": "ABYC E-11 11.10 (from memory)",
        "iec60364": "IEC 60364-4-43 433.1",
    },
    yields_to=("P01", "P03", "P24", "S13"),
    follows=("P02",),
)
def bar_overloaded(stage: Stage) -> Iterator[Hit]:
    """More can reach a bar, or a terminal of a block, from all its feeds than it is rated for.

    Why: each feed's device sees only its own current; the bar carries the sum.
    Breaks it: a 100 A bar with a 100 A battery feed and a 40 A charger.
    Does not: a bar rated for the sum, or feeds that a changeover keeps apart; a bar on a battery's
    post whose fuses together are rated no more than the bar.
    """
    for view in stage.modes:
        held = protection(view)
        for device in stage.rig.devices.values():
            rating = device.number("rating")
            if device.kind not in ("bus", "joint", "block") or rating is None:
                continue
            nodes = [view.wiring.node(device.name, t.name) for t in device.terminals]
            cuts = [held.arriving(n) for n in nodes if view.node_role(n) in UNGROUNDED]
            cut = max(cuts, key=lambda cut: cut.amps, default=NOTHING)
            if cut.amps == inf:
                cut = _leaving(view, held, nodes[0]) or cut
            if cut.amps > rating * NEAR:
                worst = "an unlimited current" if cut.amps == float("inf") else f"{cut.amps:g} A"
                yield Hit(
                    on=(device.name, *cut.names),
                    span=device.span,
                    message=f"{device.name} is rated {rating:g} A; {' + '.join(cut.names)} "
                    f"{'together ' if len(cut.names) > 1 else ''}can bring it {worst}",
                    fix="a bar of a higher rating, or smaller devices in its feeds",
                    mode=view.name,
                    value=None if cut.amps == float("inf") else cut.amps,
                    limit=rating,
                    unit="A",
                    why=(f"the cut: {' + '.join(cut.names)}",),
                    cause=held.circuit(nodes[0]),
                )


def _leaving(view: ModeView, held: Protection, node: int) -> Cut | None:
    """What the fuses on a bar at a battery's post let out together; None: not fuses alone.

    How far they may stand from the post is for P01 and P03 to say.
    """
    cell = held.cell[node]
    names = view.wiring.names
    devices = (names[at][0] for at, own in enumerate(held.cell) if own == cell)
    if any(view.wiring.kinds[name].acts in ("load", "outlet", "converter") for name in devices):
        return None
    owners = tuple(dict.fromkeys(edge.owner for edge in held.poles.get(cell, ())))
    return Cut(sum(held.ratings[name] for name in owners), owners) if owners else None
