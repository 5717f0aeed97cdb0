"""The terminal that a fault joins to: the nearest neutral, other line, or earth.

On the device itself (or the case of its panel), else at the end of another core of a cable that
lands there, else at the place nearest along the conductors where one of these is so.  The greatest
current may flow to something else that stands beside it (``around``).
"""

from __future__ import annotations

from functools import lru_cache
from heapq import heappop, heappush

from ..tracing.network import WIRE, Edge, Wiring
from ..tracing.trace import EARTH, GROUNDED, UNGROUNDED, ModeView
from .around import nearest_to_source, spots
from .circuit import Circuit


class Neighbours:
    """What stands beside what, by node: the device's other terminals, the cable's other cores."""

    def __init__(self, wiring: Wiring) -> None:
        self.terminals: dict[str, list[int]] = {}
        for node, (device, _) in enumerate(wiring.names):
            self.terminals.setdefault(device, []).append(node)
        self.cores: dict[str, list[Edge]] = {}
        conductors = wiring.rig.conductors
        for edge in wiring.edges:
            if edge.kind == WIRE and (cable := conductors[edge.owner].cable):
                self.cores.setdefault(cable, []).append(edge)
        self.wiring = wiring

    def beside(self, node: int) -> list[int]:
        """The other terminals of its device, and of the case of the panel it stands in."""
        name = self.wiring.names[node][0]
        panel = self.wiring.rig.devices[name].panel
        return [*self.terminals[name], *(self.terminals.get(panel, ()) if panel else ())]

    def along(self, node: int, edges: list[Edge]) -> list[int]:
        """The ends of other cores of the cables that land there."""
        found = []
        for edge in edges:
            cable = self.wiring.rig.conductors[edge.owner].cable if edge.kind == WIRE else None
            for core in self.cores.get(cable, ()) if cable else ():
                if core is not edge:
                    found.append(core.a if edge.a == node else core.b)
        return found


@lru_cache(maxsize=16)
def _neighbours(wiring: Wiring) -> Neighbours:
    return Neighbours(wiring)


class Partners:
    """The nearest partner of a terminal in a mode."""

    def __init__(self, view: ModeView) -> None:
        self.view = view
        self.neighbours = _neighbours(view.wiring)
        self._found: dict[tuple[int, str], int | None] = {}
        self._nearest: dict[tuple[int, str], int | None] = {}
        self._around: dict[tuple[object, ...], list[int]] = {}

    def around(self, circuit: Circuit, node: int, to: str) -> list[int]:
        """What else a fault from a terminal may join in its place: bars, posts, chassis studs."""
        view = self.view
        name = view.wiring.names[node][0]
        where = spots(view.wiring)
        own = view.wiring.kinds[name].acts
        key = (circuit.hz, view.net[node], to, where.spot[name], own)
        if key not in self._around:
            found = [n for n in where.beside(node) if self._may_join(circuit, node, n, to)]
            self._around[key] = nearest_to_source(circuit, found, "max")
        return self._around[key]

    def _may_join(self, circuit: Circuit, node: int, other: int, to: str) -> bool:
        """As ``_is``; of direct current the earth that its negative is bonded to as well."""
        if not circuit.joined(node, other):
            return False
        earth = circuit.hz == 0 and to == "neutral" and self.view.node_role(other) == EARTH
        return earth or self._is(circuit, node, other, to)

    def of(self, circuit: Circuit, node: int, to: str) -> int | None:
        """The terminal nearest to this one that a fault ``to`` line, neutral or earth joins."""
        key = (node, to)
        if key not in self._nearest:
            there = self._there(circuit, to)
            self._nearest[key] = self._search(circuit, node, to) if there else None
        return self._nearest[key]

    def _there(self, circuit: Circuit, to: str) -> bool:
        """Whether this circuit has any such terminal: a search for none goes everywhere."""
        if to == "line":
            return any(len(source.lines) > 1 for source in circuit.sources.values())
        return to == "neutral" or not self.view.earth_nets.isdisjoint(circuit.nets)

    def _search(self, circuit: Circuit, node: int, to: str) -> int | None:
        reached = {node: 0.0}
        heap = [(0.0, node)]
        conductors = self.view.wiring.rig.conductors
        while heap:
            metres, here = heappop(heap)
            if metres > reached[here]:
                continue
            partner = self._direct(circuit, here, to)
            if partner is not None:
                return partner
            for edge in self.view.network.neighbours[here]:
                far = edge.other(here)
                there = metres + (conductors[edge.owner].length_m if edge.kind == WIRE else 0.0)
                if there < reached.get(far, float("inf")):
                    reached[far] = there
                    heappush(heap, (there, far))
        return None

    def _direct(self, circuit: Circuit, node: int, to: str) -> int | None:
        """A partner on the device itself, or at the end of another core beside it."""
        key = (node, to)
        if key not in self._found:
            beside = self.neighbours.beside(node)
            found = self._first(circuit, node, beside, to)
            if found is None:
                along = self.neighbours.along(node, self.view.network.neighbours[node])
                found = self._first(circuit, node, along, to)
            self._found[key] = found
        return self._found[key]

    def _first(self, circuit: Circuit, node: int, others: list[int], to: str) -> int | None:
        return next((n for n in others if self._is(circuit, node, n, to)), None)

    def _is(self, circuit: Circuit, node: int, other: int, to: str) -> bool:
        """Whether ``other`` is what a fault from ``node`` ``to`` something joins."""
        view = self.view
        if other not in circuit.index or view.net[other] == view.net[node]:
            return False
        role = view.node_role(other)
        if to == "earth":
            return role == EARTH
        if circuit.hz == 0:
            return to == "neutral" and role == "-"
        if role not in (GROUNDED if to == "neutral" else UNGROUNDED):
            return False
        mine = {name for name, _ in view.roles.get(view.net[node], ())}
        return any(name in mine for name, _ in view.roles.get(view.net[other], ()))
