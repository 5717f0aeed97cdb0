"""Protection is a cut: the worst current in a conductor, and the devices that hold it.

Cells are what is joined without passing an overcurrent device.  With every device at its rating
and every self-limiting source at its limit, the worst current in a conductor is the larger of
the maximum flows that can arrive at its two ends without passing through it (a fault anywhere in
it, or beyond it, draws no more).  Most cells are leaves of a tree and need no search: their
current is the least rating on the one way to them.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from functools import cached_property, lru_cache
from math import inf

from .flow import Cut, Link, max_flow
from .halves import Half, Walk
from .network import PLUG, POLE, Edge, grouped
from .trace import UNGROUNDED, ModeView, Source

GROUND = "ground"
NOTHING = Cut(0.0, ())


class Protection:
    """The cells of one mode, the protective poles between them, and the sources in them.

    To try a mending: ``without`` an edge, or with one ``fused``, as if a device of that many A
    stood where it begins.
    """

    def __init__(
        self,
        view: ModeView,
        without: Edge | None = None,
        fused: tuple[Edge, float] | None = None,
    ) -> None:
        self.view = view
        self.without = without
        self.fused = fused[0] if fused else None
        kinds, devices = view.wiring.kinds, view.wiring.rig.devices
        self.ratings = {
            name: devices[name].number("rating") or inf
            for name, kind in kinds.items()
            if kind.acts == "protective"
        }
        if fused:
            self.ratings[fused[0].owner] = fused[1]
        network = view.network
        joining = (e for e in network.device_edges if self._joins(e))
        self.cell = (
            grouped(network.count, joining, view.wiring.joined)
            if without is None and fused is None
            else network.groups(e for e in network.edges if self._joins(e))
        )
        self.poles: dict[int, list[Edge]] = {}
        self.bridged: dict[int, list[Edge]] = {}
        added = (self.fused,) if self.fused else ()
        for edge in filter(self._protects, (*network.device_edges, *added)):
            if self.cell[edge.a] == self.cell[edge.b]:
                # Shorted by its own cell: it matters only when that cell is taken apart.
                self.bridged.setdefault(self.cell[edge.a], []).append(edge)
            else:
                self.poles.setdefault(self.cell[edge.a], []).append(edge)
                self.poles.setdefault(self.cell[edge.b], []).append(edge)
        self.sources: dict[int, list[tuple[Source, int]]] = {}
        for source in view.live.values():
            for role in source.lines:
                node = source.nodes[role]
                self.sources.setdefault(self.cell[node], []).append((source, node))
        self._memo: dict[int, Cut] = {}
        self._together: dict[tuple[int, ...], Cut] = {}
        self._walks: dict[int, Walk] = {}
        self._sided: dict[int, tuple[Cut, Cut] | None] = {}
        self._prune()
        self.limits: dict[str, Cut] = {}
        for source in view.live.values():  # a converter comes after what feeds it
            self.limits[source.name] = self.limit_of(source)
            self._memo.clear()

    def _protects(self, edge: Edge) -> bool:
        return (edge.kind == POLE and edge.owner in self.ratings) or edge is self.fused

    def _joins(self, edge: Edge) -> bool:
        return edge is not self.without and not self._protects(edge)

    def _prune(self) -> None:
        """Cells that only pass current on lead nowhere to a source: each has one way in."""
        self.way_in: dict[int, Edge] = {}
        left = {cell: {id(edge): edge for edge in edges} for cell, edges in self.poles.items()}
        leaves = [c for c, edges in left.items() if len(edges) == 1 and c not in self.sources]
        while leaves:
            cell = leaves.pop()
            if cell in self.way_in or len(left[cell]) != 1:
                continue
            (edge,) = left[cell].values()
            left[cell] = {}
            far = self._across(edge, cell)
            self.way_in[cell] = edge
            del left[far][id(edge)]
            if len(left[far]) == 1 and far not in self.sources:
                leaves.append(far)
        self.core = {cell: list(edges.values()) for cell, edges in left.items() if edges}

    def _across(self, edge: Edge, cell: int) -> int:
        a, b = self.cell[edge.a], self.cell[edge.b]
        return b if a == cell else a

    def limit_of(self, source: Source) -> Cut:
        """What a source can deliver into a fault, and what limits it (infinite: nothing does)."""
        device = source.device
        if device.kind == "transformer":
            return self._through_transformer(source)
        key = {"inverter": "charge" if source.dc else "limit", "battery": ""}.get(
            device.kind, "rating"
        )
        return Cut(device.number(key) or inf, (device.name,))

    def _through_transformer(self, source: Source) -> Cut:
        ahead = self.arriving(self.view.wiring.node(source.name, "in-L"))
        feeder = self.view.live[self.view.feeders(source.name)[0]]
        volts_in, volts_out = self.view.to_neutral(feeder), self.view.to_neutral(source)
        ratio = volts_in / volts_out if volts_in and volts_out else 1.0
        return Cut(ahead.amps * ratio, ahead.names)

    def arriving(self, node: int) -> Cut:
        """The most that can arrive at a node's cell, and what holds it."""
        return self.into(self.cell[node])

    def nearest(self, node: int) -> str:
        """The device on the one way into a node's cell; "" where there are several, or none."""
        edge = self.way_in.get(self.cell[node])
        return edge.owner if edge else ""

    def circuit(self, node: int) -> str:
        """A name for a node's cell: the terminal that stands for it."""
        return self.view.wiring.say(self.cell[node])

    def into(self, cell: int) -> Cut:
        """The most that can arrive in a cell from all sources, and what holds it."""
        chain: list[tuple[int, Edge]] = []
        top = cell
        while top in self.way_in and top not in self._memo:
            chain.append((top, self.way_in[top]))
            top = self._across(self.way_in[top], top)
        if top not in self._memo:
            self._memo[top] = max_flow([*self._links(), Link(top, "sink", inf, "")], GROUND, "sink")
        best = self._memo[top]
        for inner, edge in reversed(chain):
            rating = self.ratings[edge.owner]
            if rating <= best.amps and best.amps > 0 and rating < inf:
                best = Cut(rating, (edge.owner,))
            self._memo[inner] = best
        return best

    def into_all(self, cells: Iterable[int]) -> Cut:
        """The most that can arrive in several cells together."""
        asked = tuple(dict.fromkeys(cells))
        if len(asked) == 1:
            return self.into(*asked)
        if asked not in self._together:
            self._together[asked] = self._into_all(asked)
        return self._together[asked]

    def _into_all(self, cells: tuple[int, ...]) -> Cut:
        links = self._links()
        seen: set[int] = set()
        for cell in cells:
            links.append(Link(cell, "sink", inf, ""))
            while cell in self.way_in and cell not in seen:
                seen.add(cell)
                edge = self.way_in[cell]
                links.append(self._link(edge))
                cell = self._across(edge, cell)
        return max_flow(links, GROUND, "sink")

    def _link(self, edge: Edge) -> Link:
        return Link(self.cell[edge.a], self.cell[edge.b], self.ratings[edge.owner], edge.owner)

    def _links(self) -> list[Link]:
        edges = dict.fromkeys(edge for edges in self.core.values() for edge in edges)
        links = [self._link(edge) for edge in edges]
        for cell, sources in self.sources.items():
            for source, _ in sources:
                if source.name in self.limits:
                    limit = self.limits[source.name]
                    links.append(Link(GROUND, cell, limit.amps, ", ".join(limit.names)))
        return links

    def through(self, edge: Edge) -> Cut:
        """The worst current in a conductor or a closed device, from either side."""
        whole = self.arriving(edge.a)
        if self.cell[edge.a] in self.way_in or whole.amps == 0:
            return whole
        cuts = self._into_sides(edge)
        return max(cuts, key=lambda cut: cut.amps) if cuts else whole

    def sides(self, edge: Edge) -> tuple[Half, Half] | None:
        """The two parts of a cell when one of its edges is taken out; None where it is a loop."""
        if self._joins(edge):
            return self._walk(edge.a).halves(edge)
        if self.cell[edge.a] == self.cell[edge.b]:
            return None
        return self._walk(edge.a).whole, self._walk(edge.b).whole

    def _walk(self, node: int) -> Walk:
        cell = self.cell[node]
        if cell not in self._walks:
            self._walks[cell] = Walk(self.view.network.neighbours, node, self._joins)
        return self._walks[cell]

    def from_side(self, edge: Edge, end: int) -> Cut:
        """The most that can arrive at one end of an edge without passing through it."""
        cuts = self._into_sides(edge)
        return cuts[end != edge.a] if cuts else self.arriving(end)

    def _into_sides(self, edge: Edge) -> tuple[Cut, Cut] | None:
        """The most that can arrive at its a and at its b when an edge is taken out of its cell."""
        if id(edge) not in self._sided:
            sides = self.sides(edge)
            cell = self.cell[edge.a]
            self._sided[id(edge)] = sides and (
                self._into_side(cell, sides[0]),
                self._into_side(cell, sides[1]),
            )
        return self._sided[id(edge)]

    def poles_on(self, nodes: Iterable[int]) -> list[tuple[int, Edge]]:
        """The protective poles that lead away from some nodes of a cell, each with its node."""
        found = [(*pole, node) for node in nodes for pole in self._poles_at.get(node, ())]
        return [(node, edge) for _, edge, node in sorted(found, key=lambda row: row[0])]

    @cached_property
    def _poles_at(self) -> dict[int, list[tuple[int, Edge]]]:
        """The poles between cells by the node they stand on, numbered as the network has them."""
        table: dict[int, list[tuple[int, Edge]]] = {}
        for number, edge in enumerate(self.view.network.edges):
            if self._protects(edge) and self.cell[edge.a] != self.cell[edge.b]:
                table.setdefault(edge.a, []).append((number, edge))
                table.setdefault(edge.b, []).append((number, edge))
        return table

    def _into_side(self, cell: int, side: Half) -> Cut:
        """As ``into``, for one part of a cell that has been taken apart."""
        here, rest = ("side", cell), ("rest", cell)

        def place(node: int) -> Hashable:
            if self.cell[node] != cell:
                return self.cell[node]
            return here if node in side else rest

        edges = dict.fromkeys(e for edges in self.core.values() for e in edges)
        edges.update(dict.fromkeys(self.bridged.get(cell, ())))
        top = cell
        while (way := self.way_in.get(top)) is not None and way not in edges:
            edges[way] = None
            top = self._across(way, top)
        links = [Link(place(e.a), place(e.b), self.ratings[e.owner], e.owner) for e in edges]
        for sources in self.sources.values():
            for source, node in sources:
                limit = self.limits[source.name]
                links.append(Link(GROUND, place(node), limit.amps, ", ".join(limit.names)))
        return max_flow([*links, Link(here, "sink", inf, "")], GROUND, "sink")

    def flows(self, edge: Edge) -> tuple[bool, bool]:
        """Whether current can be driven through a protective pole from its a, and from its b."""
        for node, other in ((edge.a, 0), (edge.b, 1)):
            if self.way_in.get(self.cell[node]) is edge:
                fed = self.arriving(node).amps > 0
                return (fed, False) if other else (False, fed)
        if edge not in self.core.get(self.cell[edge.a], ()):
            return False, False
        return self._source_at(edge, edge.a), self._source_at(edge, edge.b)

    def _source_at(self, edge: Edge, node: int) -> bool:
        reached = {self.cell[node]}
        queue = [self.cell[node]]
        for cell in queue:
            if cell in self.sources:
                return True
            for step in self.core.get(cell, ()):
                far = self._across(step, cell)
                if step is not edge and far not in reached:
                    reached.add(far)
                    queue.append(far)
        return False

    @cached_property
    def live_edges(self) -> tuple[Edge, ...]:
        """The edges inside cells that are ungrounded and that a source can feed."""
        view, net = self.view, self.view.net
        live = {
            at for at, roles in view.roles.items() if any(role in UNGROUNDED for _, role in roles)
        }
        return tuple(
            edge
            for edge in view.network.edges
            if net[edge.a] in live and edge.kind != PLUG and self._joins(edge)
        )


@lru_cache(maxsize=64)
def protection(view: ModeView) -> Protection:
    """The protection of a mode, worked out once for all rules."""
    return Protection(view)
