"""Chains of devices worth a sheet: from a source to one final circuit, with all figures to plot.

One for each source: the chain with most trip bands known and least to spare; then others by what
they feed, until there are enough.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import inf

from ...dsl.records import record
from ..bands import Band
from ..books.book import Missing
from ..solve import solution
from ..tracing.network import POLE, WIRE
from ..tracing.trace import ModeView, Stage
from .chains import Ways, bands, faults, line_nodes, ways, worst_fault

MOST = 6


@record
class Link:
    """One device of a chain.

    ``most``: the prospective current where it stands, A; ``least``: that at the end of what it
    protects (the next device, or the load); None where it cannot be worked out.
    """

    device: str
    band: Band | Missing
    most: float | None
    least: float | None


@record
class Chain:
    """The devices from a source to a load in one mode, the source's side first.

    ``conductor``: the thinnest behind the last device, which stands ``withstand`` (A2s; None: not
    known); ``load``: what the user draws, A (of an outlet its rating; None: not stated);
    ``residual``: the residual-current devices on the way.
    """

    mode: str
    source: str
    user: str
    links: tuple[Link, ...]
    conductor: str
    withstand: float | None
    load: float | None
    residual: tuple[str, ...] = ()

    @property
    def known(self) -> int:
        """How many of its devices have a published band."""
        return sum(isinstance(link.band, Band) for link in self.links)

    @property
    def alike(self) -> tuple[object, ...]:
        """What two chains share whose curves are the same: the source, the bands, their ratings."""
        return self.source, *(
            (band.title, band.rating) if isinstance(band := link.band, Band) else link.device
            for link in self.links
        )

    @property
    def spare(self) -> float:
        """The least fault current as a share of what its last device surely opens at in 0.1 s."""
        last = self.links[-1]
        if not isinstance(last.band, Band) or last.least is None:
            return inf
        return last.least / last.band.opens_within(0.1)


def chains(stage: Stage, most: int = MOST) -> list[Chain]:
    """The chains worth looking at, at most so many, in the order of the text's sources."""
    found = [chain for view in stage.modes for chain in _all(stage, view) if chain.known]
    found.sort(key=lambda chain: (-chain.known, chain.spare, chain.user))
    kept: dict[tuple[str, ...], Chain] = {}
    told: set[tuple[object, ...]] = set()
    for key in (_by_source, _by_kind):
        for chain in found:
            name = key(stage, chain)
            if name not in kept and chain.alike not in told and len(told) < most:
                kept[name] = chain
                told.add(chain.alike)
    order = list(stage.rig.devices)
    return sorted(kept.values(), key=lambda c: (order.index(c.source), -c.known, c.user))


def _by_source(stage: Stage, chain: Chain) -> tuple[str, ...]:
    return (chain.source,)


def _by_kind(stage: Stage, chain: Chain) -> tuple[str, ...]:
    return chain.source, stage.rig.devices[chain.user].kind


def _all(stage: Stage, view: ModeView) -> Iterator[Chain]:
    """The chain to every load and outlet of a mode."""
    for way in ways(view):
        for device in stage.rig.devices.values():
            acts = stage.wiring.kinds[device.name].acts
            if acts not in ("load", "outlet") or device.kind == "inlet":
                continue
            node = next((n for n in line_nodes(view, device.name) if way.protective(n)), None)
            if node is not None:
                yield _chain(stage, view, way, device.name, node)


def _chain(stage: Stage, view: ModeView, way: Ways, user: str, node: int) -> Chain:
    poles, thinnest = _back(stage, way, node)
    table = bands(stage)
    links = []
    for index, (device, near) in enumerate(poles):
        after = poles[index + 1][1] if index + 1 < len(poles) else node
        worst = worst_fault(view, near)
        least = min((fault.amps for _, fault in faults(view, after, "min")), default=None)
        links.append(Link(device, table[device], worst[1].amps if worst else None, least))
    return Chain(
        view.name,
        way.source.name,
        user,
        tuple(links),
        thinnest,
        _withstand(stage, thinnest),
        _load(stage, view, user),
        way.residual(node),
    )


def _back(stage: Stage, way: Ways, node: int) -> tuple[list[tuple[str, int]], str]:
    """The overcurrent devices on the way with the node ahead of each, and the thinnest conductor
    behind the last one."""
    poles: list[tuple[str, int]] = []
    thinnest: tuple[float, str] = (inf, "")
    kinds = stage.wiring.kinds
    while (edge := way.came.get(node)) is not None:
        node = edge.other(node)
        if edge.kind == POLE and kinds[edge.owner].acts == "protective":
            poles.insert(0, (edge.owner, node))
        elif edge.kind == WIRE and not poles:
            size = stage.rig.conductors[edge.owner].size
            if size is not None and size.mm2 < thinnest[0]:
                thinnest = size.mm2, edge.owner
    return poles, thinnest[1]


def _withstand(stage: Stage, name: str) -> float | None:
    conductor = stage.rig.conductors.get(name)
    if conductor is None or conductor.size is None:
        return None
    k = stage.book.withstand(conductor, stage.rig)
    return None if isinstance(k, Missing) else (k.value * conductor.size.mm2) ** 2


def _load(stage: Stage, view: ModeView, user: str) -> float | None:
    device = stage.rig.devices[user]
    if stage.wiring.kinds[user].acts == "outlet":
        return device.number("rating")
    leads = [c for c in stage.rig.conductors.values() if user in (c.a.device, c.b.device)]
    amps = max((solution(view).amps(c.name) for c in leads), default=0.0)
    return amps or None
