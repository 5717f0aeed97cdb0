"""The steady state of a mode: loads at their power, converters coupling one system to the next.

Rounds of one linear solution for each frequency, with the currents that the loads draw at the
voltages of the round before, until no voltage moves by more than ``TOLERANCE`` of the highest.
"""

from __future__ import annotations

from ...dsl.records import record
from ..capacity.converters import efficiency, full_watts
from ..tracing.trace import ModeView, Source
from .assumed import BEYOND, ROUNDS, TOLERANCE, WEAK
from .circuit import Circuit, put
from .sources import Feed
from .takers import Leg, inputs, loads


@record
class Draw:
    """What is taken between two nodes: ``power`` VA at nominal, or what ``converter`` needs."""

    a: int
    b: int
    nominal: float
    power: complex
    resistive: bool
    converter: Source | None


class Part:
    """One circuit in the steady state: voltages by node (the last is GROUND), and what draws."""

    def __init__(self, view: ModeView, circuit: Circuit) -> None:
        self.circuit = circuit
        self.factor = circuit.factor("drop")
        self.own = circuit.injected("drop", scale=False)
        self.volts = [*self.factor.solve(self.own), 0j]
        self.draws: list[Draw] = []
        for taker in loads(view):
            self._add(taker.legs, taker.power, taker.resistive, None)
        for source, legs in inputs(view):
            self._add(legs, 1 + 0j, False, source)
        self.admittance = {f.line: y for f, y in circuit.source_branches("drop")}
        self.delivered = {f.line: _delivered(view, f) for f in circuit.feeds if not f.holds}

    def _add(
        self, legs: tuple[Leg, ...], power: complex, resistive: bool, converter: Source | None
    ) -> None:
        at = self.circuit.index
        for leg in legs:
            if self.circuit.joined(leg.a, leg.b):
                share = power / len(legs)
                draw = Draw(at[leg.a], at[leg.b], abs(leg.volts), share, resistive, converter)
                self.draws.append(draw)

    def solve(self, given: dict[str, float]) -> float:
        """Solve for what is drawn at the last voltages; the largest change, as a share.

        ``given``: what each converter delivers, W.
        """
        total = dict(self.own)
        volts, at = self.volts, self.circuit.index
        for draw in self.draws:
            put(total, draw.b, draw.a, self.drawn_amps(draw, given))
        for feed in self.circuit.feeds:
            if not feed.holds:
                put(total, at[feed.line], at[feed.back], self.delivered[feed.line])
        self.volts = new = [*self.factor.solve(total), 0j]
        moved = max(abs(a - b) for a, b in zip(new, volts, strict=True))
        return moved / (max(abs(v) for v in new) or 1.0)

    def drawn_amps(self, draw: Draw, given: dict[str, float]) -> complex:
        """What is drawn, A, at the last voltages, with what each converter delivers, W."""
        power = draw.power
        if draw.converter is not None:
            power *= max(given[draw.converter.name], 0.0) / efficiency(draw.converter.device)
        return drawn(draw.nominal, power, draw.resistive, self.volts[draw.a] - self.volts[draw.b])

    def feed_volts(self, feed: Feed) -> complex:
        at = self.circuit.index
        return self.volts[at[feed.line]] - self.volts[at[feed.back]]

    def feed_amps(self, feed: Feed) -> complex:
        """What flows out of a line of a source, A."""
        if not feed.holds:
            return complex(self.delivered[feed.line])
        return (feed.volts - self.feed_volts(feed)) * self.admittance[feed.line]

    def winding(self, name: str) -> tuple[complex, complex]:
        """The voltage at a transformer's output, V, and what flows out of its line, A."""
        at = self.volts
        for t, y in self.circuit.transformer_branches():
            if t.source.name == name:
                (a, b), (c, d) = t.inlet, t.outlet
                volts = at[c] - at[d]
                return volts, y * (t.ratio * (at[a] - at[b]) - volts)
        return 0j, 0j


class Steady:
    """The parts of a mode, solved together.

    ``converged`` is False where the loads ask for more than the sources can give.
    """

    def __init__(self, view: ModeView, circuits: list[Circuit]) -> None:
        self.parts = [Part(view, circuit) for circuit in circuits]
        self.converters = [s.name for s in view.live.values() if s.converter]
        self.converged, self.rounds = False, 0
        while not self.converged and self.rounds < ROUNDS and self._within():
            self.rounds += 1
            given = {name: self.given(name).real for name in self.converters}
            moved = max((part.solve(given) for part in self.parts), default=0.0)
            self.converged = moved < TOLERANCE

    def _within(self) -> bool:
        """Whether the voltages are still such as there are: absurd loads drive them up."""
        return all(abs(volts) < BEYOND for part in self.parts for volts in part.volts)

    def given(self, name: str) -> complex:
        """What a source delivers, VA (complex), over all its lines; not of a transformer."""
        return sum(
            (
                part.feed_volts(feed) * part.feed_amps(feed).conjugate()
                for part in self.parts
                for feed in part.circuit.feeds
                if feed.source.name == name
            ),
            0j,
        )


def drawn(nominal: float, power: complex, resistive: bool, volts: complex) -> complex:
    """The current, A, that a power, VA, draws at a voltage, V: constant power, or an impedance."""
    floor = nominal if resistive else WEAK * nominal
    if resistive or abs(volts) < floor:
        return (power / floor**2).conjugate() * volts
    return (power / volts).conjugate()


def _delivered(view: ModeView, feed: Feed) -> float:
    """What a source puts in beside one that holds the voltage, A: no more than it is fed."""
    if not feed.source.converter or not feed.volts:
        return feed.amps
    full = full_watts(view, feed.source) * efficiency(feed.source.device)
    return min(feed.amps, full / abs(feed.volts)) if full else feed.amps
