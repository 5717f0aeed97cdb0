"""Conductors in parallel: which join the same two bars or terminals, and carry together."""

from __future__ import annotations

from functools import lru_cache

from ...dsl.model import Conductor
from ...dsl.records import replace
from ..books.book import Figure, Missing
from ..trade.sizes import area_mm2, same_size
from .network import BAR, carries
from .trace import EARTH, Stage

ALIKE = 1.05
"""Lengths within 5 % count as the same (common practice, no published source)."""
LEAST = area_mm2("1/0AWG")
"""What conductors in parallel are at least, mm2 (NFPA 70 310.10(G)); elsewhere common practice."""


@lru_cache(maxsize=16)
def groups(stage: Stage) -> dict[str, tuple[Conductor, ...]]:
    """For every current-carrying conductor that lies in parallel with others: all of them."""
    wiring = stage.wiring
    bars = {edge.b: edge.a for edge in wiring.edges if edge.kind == BAR}
    found: dict[frozenset[int], list[Conductor]] = {}
    for conductor in stage.rig.conductors.values():
        if not carries(conductor) or conductor.size is None:
            continue
        nodes = (wiring.nodes.get((e.device, e.terminal)) for e in (conductor.a, conductor.b))
        pair = frozenset(bars.get(node, node) for node in nodes if node is not None)
        if len(pair) == 2:
            found.setdefault(pair, []).append(conductor)
    return {
        conductor.name: tuple(group)
        for group in found.values()
        if len(group) > 1 and stage.conductor_role(group[0].name) not in ("", EARTH)
        for conductor in group
    }


def unlike(group: tuple[Conductor, ...]) -> str:
    """Why these may not share a current, in words; "" where they are alike and thick enough."""
    sizes = [conductor.size.mm2 for conductor in group if conductor.size]
    lengths = [conductor.length_m for conductor in group]
    if not all(same_size(sizes[0], size) for size in sizes):
        return "unlike sizes"
    if max(lengths) > min(lengths) * ALIKE:
        return "unlike lengths"
    return "" if min(sizes) * 1.005 >= LEAST else "thinner than 1/0 AWG"


@lru_cache(maxsize=16)
def alike(stage: Stage) -> frozenset[str]:
    """The conductors that may share a current with all that lie in parallel with them."""
    every = {group[0].name: group for group in groups(stage).values()}.values()
    return frozenset(c.name for group in every if not unlike(group) for c in group)


def together(stage: Stage, conductor: Conductor, figure: Figure | Missing) -> Figure | Missing:
    """A figure of one conductor in A, for all that lie in parallel with it where they are alike."""
    if isinstance(figure, Missing) or conductor.name not in alike(stage):
        return figure
    group = groups(stage)[conductor.name]
    value = figure.value * len(group)
    step = f"{len(group)} alike in parallel: {value:.4g} A"
    return replace(figure, value=value, steps=(*figure.steps, step))
