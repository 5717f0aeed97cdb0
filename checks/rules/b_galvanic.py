"""B: what an isolation transformer keeps apart stays apart."""

from __future__ import annotations

from collections.abc import Iterator

from ..findings import WARNING, Related
from ..registry import Hit, rule
from ..tracing.bonding import bond_earths, way_between
from ..tracing.network import PLUG, WIRE
from ..tracing.trace import ModeView, Source, Stage

AFLOAT = "abyc-e11"


@rule(
    "B24",
    "shore-earth-past-transformer",
    WARNING,
    clauses={"abyc-e11": "ABYC E-11, isolation transformer systems (from memory)"},
    yields_to=("B02", "B04", "B05", "S01"),
)
def shore_earth_past_transformer(stage: Stage) -> Iterator[Hit]:
    """The shore's protective earth is joined to the craft's, past an isolation transformer.

    It is judged under the rules of craft alone: on land a transformer is there for its voltage.

    Why: the transformer is there to end the galvanic way between this hull and all others on the
    dock.  With the earths joined the hull is the anode of the marina, and a fault ashore brings
    its voltage aboard.
    Breaks it: the earth core of the inlet's cable on the craft's earth bar.
    Does not: the shore's earth ended at the transformer's screen; a craft without a transformer.
    """
    for view in stage.modes if stage.book.name == AFLOAT else ():
        for source in view.live.values():
            if source.device.kind == "transformer":
                for name in view.feeders(source.name):
                    if view.live[name].device.kind == "supply":
                        yield from _past(view, view.live[name], source)


def _past(view: ModeView, shore: Source, transformer: Source) -> Iterator[Hit]:
    terminals = view.wiring.variants[shore.name].pe
    outer = [view.wiring.node(shore.name, terminal) for terminal in terminals]
    for start in outer:
        for goal in bond_earths(view, transformer):
            way = view.network.path([start], goal)
            wires = [edge.owner for _, edge in way if edge is not None and edge.kind == WIRE]
            if not wires:
                continue
            plugs = [n for n, (_, edge) in enumerate(way) if edge is not None and edge.kind == PLUG]
            inside = [e.owner for _, e in way[plugs[-1] :] if e and e.kind == WIRE] if plugs else []
            culprit = (inside or wires)[0]
            yield Hit(
                on=(culprit, transformer.name, shore.name),
                span=view.wiring.rig.conductors[culprit].span,
                mode=view.name,
                message=f"{culprit} joins the earth of {shore.name} to that of {transformer.name}, "
                "which is to separate the two",
                fix=f"take {culprit} out; or, where {transformer.name} is there for polarity, "
                "`accept` this and fit a galvanic isolator",
                why=way_between(view, start, goal),
                related=(Related(transformer.device.span, "separates all but the earth"),),
                cause=transformer.name,
            )
            return
