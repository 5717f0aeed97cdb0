"""One mode's network of one frequency as a circuit: nodes, branches, sources behind impedances.

Positions of a bar are one node.  Conductors have the book's resistance at the temperature of the
case and its reactance; earth conductors and bonds are branches like all others, so that a fault to
earth finds its way back.  Galvanically separate parts are each pinned to 0 V at the grounded pole
of their first source: nothing can flow between them, and nothing is singular.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterable, Iterator, Sequence
from functools import cached_property, lru_cache

from ...dsl.records import record
from ..books.book import Missing, book
from ..tracing.network import BAR, WIRE, Edge, Groups, Wiring
from ..tracing.trace import ModeView, Source
from .assumed import LINK_OHM
from .nodal import GROUND, Branch, Factor
from .sources import Feed, feeds_of, needs_fault, own_ohms

CASES = ("drop", "max", "min")


@record
class Element:
    """A branch: two nodes of the circuit, the edge of the network it is, its conductor's line."""

    a: int
    b: int
    edge: Edge
    statement: str


@record
class Transformer:
    """An ideal transformer: its nodes, and its output voltage as a share of its input's."""

    source: Source
    inlet: tuple[int, int]
    outlet: tuple[int, int]
    ratio: float

    @property
    def turns(self) -> tuple[tuple[int, float], ...]:
        (a, b), (c, d) = self.inlet, self.outlet
        return (a, self.ratio), (b, -self.ratio), (c, -1.0), (d, 1.0)


class Circuit:
    """The network of one frequency in one mode; ``hz`` 0 is direct current."""

    def __init__(self, view: ModeView, sources: Iterable[Source], hz: float) -> None:
        self.view = view
        self.hz = hz
        self.sources = {source.name: source for source in sources}
        self.nets = _nets(view, self.sources)
        self.feeds = feeds_of(view, self.sources.values())
        self._number()
        self.elements = [*self._elements(), *self._bonds()]
        self.transformers = list(self._transformers())
        self._factor: dict[str, Factor] = {}

    def _number(self) -> None:
        """Give every terminal in it the number of its node, ``GROUND`` where it is pinned."""
        view, bar = self.view, _bars(self.view.wiring)
        numbers: dict[int, int] = dict.fromkeys((bar[node] for node in self._pins()), GROUND)
        pinned = len(numbers)
        nets, net = self.nets, view.net
        self.index = {
            node: numbers.setdefault(top, len(numbers) - pinned)
            for node, top in enumerate(bar)
            if net[node] in nets
        }
        self.size = len(numbers) - pinned

    def _pins(self) -> list[int]:
        """The grounded pole of the first source of each part that is joined to no other."""
        view = self.view
        self.parts = parts = Groups(view.network.count)
        net = view.net
        for feed in self.feeds:
            parts.join(net[feed.line], net[feed.back])
        for source in self.sources.values():
            if source.device.kind == "transformer":
                parts.join(*(net[node] for node in source.nodes.values()))
        for bond in view.network.bonds:
            if net[bond.neutral] in self.nets and net[bond.earth] in self.nets:
                parts.join(net[bond.neutral], net[bond.earth])
        pins: dict[int, int] = {}
        for source in self.sources.values():
            back = source.nodes.get(source.grounded)
            if back is not None:
                pins.setdefault(parts.find(net[back]), back)
        return list(pins.values())

    def joined(self, a: int, b: int) -> bool:
        """Whether current that leaves by one terminal can come back by the other."""
        net, parts = self.view.net, self.parts
        return a in self.index and b in self.index and parts.find(net[a]) == parts.find(net[b])

    def _elements(self) -> Iterator[Element]:
        conductors = self.view.wiring.rig.conductors
        index = self.index
        for edge in self.view.network.edges:
            a = index.get(edge.a)
            if a is None or edge.kind == BAR:
                continue
            wire = conductors[edge.owner] if edge.kind == WIRE else None
            statement = wire.statement if wire and wire.size else ""
            yield Element(a, index[edge.b], edge, statement)

    def _bonds(self) -> Iterator[Element]:
        index = self.index
        for bond in self.view.network.bonds:
            if bond.neutral in index and bond.earth in index:
                edge = Edge(bond.neutral, bond.earth, "bond", bond.owner)
                statement = "" if bond.inside else bond.owner
                yield Element(index[bond.neutral], index[bond.earth], edge, statement)

    def _transformers(self) -> Iterator[Transformer]:
        view, index = self.view, self.index
        for source in self.sources.values():
            if source.device.kind != "transformer":
                continue
            ends = [view.wiring.node(source.name, t) for t in ("in-L", "in-N", "out-L", "out-N")]
            feeder = view.live[view.feeders(source.name)[0]]
            volts_in = source.device.number("input") or view.to_neutral(feeder)
            ratio = source.volts / volts_in if source.volts and volts_in else 1.0
            if all(end in index for end in ends):
                a, b, c, d = (index[end] for end in ends)
                yield Transformer(source, (a, b), (c, d), ratio)

    def branches(self, case: str) -> list[Branch]:
        """The conductors and joints with their admittances, S."""
        table = admittances(self.view.wiring, self.hz)[case]
        return [(e.a, e.b, table[e.statement]) for e in self.elements if e.a != e.b]

    def flows(
        self, case: str, volts: Sequence[complex]
    ) -> Iterator[tuple[Element, complex, float]]:
        """Every conductor and joint with its current, A, from a to b, and its heat, W."""
        table = admittances(self.view.wiring, self.hz)[case]
        for element in self.elements:
            y = table[element.statement]
            amps = (volts[element.a] - volts[element.b]) * y
            yield element, amps, (1 / y).real * abs(amps) ** 2

    def source_branches(self, case: str) -> Iterator[tuple[Feed, complex]]:
        """The sources that hold a voltage, with the admittance, S, they stand behind."""
        for feed in self.feeds:
            if feed.holds:
                yield feed, 1 / own_ohms(feed, case)

    def transformer_branches(self) -> Iterator[tuple[Transformer, complex]]:
        """The transformers, with the admittance, S, in series with their output."""
        for transformer in self.transformers:
            yield transformer, 1 / _series(transformer.source)

    def factor(self, case: str) -> Factor:
        """The factor of this network in a case: ``drop``, ``max`` or ``min``.

        Modes of one stage that make the same network share it.
        """
        if case not in self._factor:
            shared = _factors(self.view.wiring)
            key = (case, self._key)
            if key not in shared:
                shared[key] = self._work_out(case)
            self._factor[case] = shared[key]
        return self._factor[case]

    def _work_out(self, case: str) -> Factor:
        index = self.index
        own = [(index[f.line], index[f.back], y) for f, y in self.source_branches(case)]
        windings = [(t.turns, y) for t, y in self.transformer_branches()]
        return Factor(self.size, [*self.branches(case), *own], windings)

    @cached_property
    def _key(self) -> tuple[object, ...]:
        held = tuple((f.line, f.back) for f in self.feeds if f.holds)
        edges = tuple(part for e in self.elements for part in (e.a, e.b, e.edge.owner))
        return self.hz, self.size, edges, held, tuple(t.source.name for t in self.transformers)

    def injected(self, case: str, scale: bool) -> dict[int, complex]:
        """The currents, A, that the sources behind their impedances put into their nodes.

        ``scale``: with the voltage factor of the case on supplies and generators.
        """
        total: dict[int, complex] = {}
        c = book(self.view.wiring.rig.book).voltage_factor(case).value if scale else 1.0
        for feed, y in self.source_branches(case):
            amps = feed.volts * y * (c if needs_fault(feed.source) and self.hz else 1.0)
            put(total, self.index[feed.line], self.index[feed.back], amps)
        return total


def put(total: dict[int, complex], into: int, out_of: int, amps: complex) -> None:
    """Add a current that enters at one node and leaves at another."""
    total[into] = total.get(into, 0j) + amps
    total[out_of] = total.get(out_of, 0j) - amps


def _series(source: Source) -> complex:
    """A transformer's series impedance at its output, ohm: taken as reactance."""
    amps, volts = source.device.number("fault"), source.volts
    return cmath.rect(volts / amps, math.pi / 2) if amps and volts else complex(LINK_OHM)


def _nets(view: ModeView, sources: dict[str, Source]) -> set[int]:
    """The nets that these sources reach, and the earth they are bonded to."""
    nets = {net for net, roles in view.roles.items() if any(name in sources for name, _ in roles)}
    grown = True
    while grown:
        grown = False
        for bond in view.network.bonds:
            ends = (view.net[bond.neutral], view.net[bond.earth])
            for near, far in (ends, ends[::-1]):
                if near in nets and far not in nets and far in view.earth_nets:
                    nets.add(far)
                    grown = True
    return nets


@lru_cache(maxsize=16)
def _bars(wiring: Wiring) -> list[int]:
    """The node that stands for each terminal when positions of a bar are one."""
    groups = Groups(len(wiring.names))
    for edge in wiring.edges:
        if edge.kind == BAR:
            groups.join(edge.a, edge.b)
    return groups.flat()


@lru_cache(maxsize=16)
def _factors(wiring: Wiring) -> dict[tuple[object, ...], Factor]:
    """The factors of a stage's networks by case and network."""
    return {}


class _Admittances(dict[str, complex]):
    """Admittance, S, by the line of text a conductor belongs to; worked out when asked for."""

    def __init__(self, wiring: Wiring, hz: float, case: str) -> None:
        super().__init__({"": 1 / complex(LINK_OHM)})
        self.rig, self.hz, self.case = wiring.rig, hz, case
        self.book = book(wiring.rig.book)

    def __missing__(self, statement: str) -> complex:
        self[statement] = y = 1 / self._ohms(statement)
        return y

    def _ohms(self, statement: str) -> complex:
        rig = self.rig
        cable = rig.cables.get(statement)
        conductor = rig.conductors[cable.cores[0] if cable else statement]
        celsius = self.book.celsius(conductor, rig, self.case)
        r = self.book.resistance(conductor, rig, celsius)
        x = self.book.reactance(conductor, rig, self.hz)
        ohms = 0.0 if isinstance(r, Missing) else r.value
        return complex(max(ohms, LINK_OHM), 0.0 if isinstance(x, Missing) else x.value)


@lru_cache(maxsize=16)
def admittances(wiring: Wiring, hz: float) -> dict[str, _Admittances]:
    """By case: the admittance, S, of a conductor by its line of text; "" is a joint's."""
    return {case: _Admittances(wiring, hz, case) for case in CASES}


def circuits(view: ModeView) -> list[Circuit]:
    """The circuits of a mode: direct current, and one for each frequency."""
    by_hz: dict[float, list[Source]] = {}
    for source in view.live.values():
        by_hz.setdefault(0.0 if source.dc else source.hz or 50.0, []).append(source)
    return [Circuit(view, sources, hz) for hz, sources in by_hz.items()]
