"""The voltage drop to design for, at a load, a converter's input or an outlet.

The thing itself at full power; all others on its source together, scaled so that the source's own
rating is not exceeded.  Currents are those at nominal voltage, as books reckon a drop, so that one
solution with everything on and one impedance for each thing give every case by superposition.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from functools import cached_property

from ...dsl.model import Device
from ...dsl.records import record
from ..capacity.converters import limit_of
from ..tracing.cut import protection
from ..tracing.trace import ModeView, Source
from .circuit import Circuit
from .figures import Drop
from .sources import needs_fault, own_ohms
from .takers import Leg, full_input, inputs, legs_of, loads, outlet_amps, starting


@record
class Fed:
    """Something fed: its legs, what it draws (VA at nominal), the ends it is judged between."""

    device: Device
    legs: tuple[Leg, ...]
    power: complex
    circuit: Circuit
    source: Source
    ends: tuple[int, int]

    @property
    def amps(self) -> float:
        """The current in one of its lines, A."""
        lines = math.sqrt(3) if len(self.legs) == 3 else 1.0
        return abs(self.power) / abs(self.legs[0].volts) / lines


class Drops:
    """The drops of one mode."""

    def __init__(self, view: ModeView, circuits: list[Circuit]) -> None:
        self.view = view
        self.circuits = circuits
        taking = [(t.device, t.legs, t.power) for t in loads(view)]
        taking += [(s.device, legs, full_input(view, s, legs)) for s, legs in inputs(view)]
        self.fed: dict[str, Fed] = {}
        for device, legs, power in taking:
            if power and (fed := self._fed(device, legs, power)):
                self.fed[device.name] = fed
        self.total: dict[str, float] = {}
        for fed in self.fed.values():
            for name in self._chain(fed.source):
                self.total[name] = self.total.get(name, 0.0) + abs(fed.power)

    def _chain(self, source: Source) -> Iterator[str]:
        """A source, and what feeds it where it is a transformer: its loads are theirs too."""
        yield source.name
        if source.device.kind == "transformer":
            for name in self.view.feeders(source.name):
                yield from self._chain(self.view.live[name])

    def _fed(self, device: Device, legs: tuple[Leg, ...], power: complex) -> Fed | None:
        leg = legs[0]
        circuit = next((c for c in self.circuits if c.joined(leg.a, leg.b)), None)
        ends = self._source_ends(leg, circuit) if circuit else None
        if circuit is None or ends is None:
            return None
        return Fed(device, legs, power, circuit, ends[0], ends[1])

    def _source_ends(self, leg: Leg, circuit: Circuit) -> tuple[Source, tuple[int, int]] | None:
        """The source a leg is fed from, what is stiff first, and its terminals it hangs on."""
        here = self._reaching(leg.a, circuit) or self._reaching(leg.b, circuit)
        if not here:
            return None
        source = here[0][0]
        ends = []
        for node in (leg.a, leg.b):
            reaching = self._reaching(node, circuit)
            if not reaching:
                return None
            own = [end for s, end in reaching if s is source]
            ends.append((own or [reaching[0][1]])[0])
        return source, (ends[0], ends[1])

    def _reaching(self, node: int, circuit: Circuit) -> list[tuple[Source, int]]:
        """The sources of a node in this circuit, each with its terminal; what is stiff first."""
        roles = self.view.roles.get(self.view.net[node], ())
        found = [
            (circuit.sources[name], circuit.sources[name].nodes[role])
            for name, role in roles
            if name in circuit.sources
        ]
        return sorted(found, key=lambda pair: not needs_fault(pair[0]))

    @cached_property
    def _together(self) -> dict[int, list[complex]]:
        """By circuit: the change of every voltage with everything at full power."""
        found = {}
        for circuit in self.circuits:
            drawn = [
                pair
                for fed in self.fed.values()
                if fed.circuit is circuit
                for pair in _drawn(circuit, fed.legs, fed.power).items()
            ]
            found[id(circuit)] = [*circuit.factor("drop").solve(_weights(*drawn)), 0j]
        return found

    def others(self, fed: Fed, power: complex) -> float:
        """The share of full power that all others on its source are taken at."""
        own = self.fed.get(fed.device.name)
        rest = self.total.get(fed.source.name, 0.0) - (abs(own.power) if own else 0.0)
        left = ceiling(self.view, fed.source) - abs(power)
        return 1.0 if left >= rest or rest <= 0 else max(0.0, left / rest)

    def drop(self, device: str) -> Drop | None:
        """See ``Solution.drop``."""
        fed = self.of(device)
        return None if fed is None else self._at(fed, fed, fed.power, fed.ends)

    def of(self, device: str) -> Fed | None:
        """How a load, a converter's input or an outlet is fed; None where it is not."""
        return self.fed.get(device) or self._outlet(device)

    def _outlet(self, name: str) -> Fed | None:
        view = self.view
        if view.wiring.kinds[name].acts != "outlet":
            return None
        device = view.wiring.rig.devices[name]
        legs = legs_of(view, name, tuple(view.wiring.variants[name].terminals))
        amps = outlet_amps(view, device, legs[0].a) if legs else None
        if not amps:
            return None
        power = amps * abs(legs[0].volts) * (math.sqrt(3) if len(legs) == 3 else 1.0)
        return self._fed(device, legs, complex(power))

    def feeder(self, line: int, back: int) -> Drop | None:
        """The drop at a pair of nodes with everything on their source on, up to its rating."""
        circuit = next((c for c in self.circuits if c.joined(line, back)), None)
        here, there = self.view.line_phasor(line), self.view.line_phasor(back)
        if circuit is None or here is None or there is None or here == there:
            return None
        leg = Leg(line, back, here - there)
        found = self._source_ends(leg, circuit)
        total = self.total.get(found[0].name, 0.0) if found else 0.0
        if found is None or not total:
            return None
        source, ends = found
        share = min(1.0, ceiling(self.view, source) / total)
        at, together = circuit.index, self._together[id(circuit)]
        change = [together[at[node]] for node in (*ends, line, back)]
        volts = _lost(leg.volts, share * (change[0] - change[1] - change[2] + change[3]))
        nominal, amps = abs(leg.volts), share * total / abs(leg.volts)
        path = tuple(self.view.wiring.say(node) for node in (*ends, line, back))
        return Drop(volts, 100 * volts / nominal, nominal, source.name, amps, path, share)

    def along(
        self, device: str, pairs: Iterable[tuple[int, int]], starting: bool = False
    ) -> list[float]:
        """The voltages, V, between pairs of nodes in the case of ``drop``, or of ``sag`` at itself.

        Empty where that case has no answer.
        """
        fed = self.of(device)
        if fed is None:
            return []
        power = _start(fed) if starting else fed.power
        if power is None:
            return []
        at, change = fed.circuit.index, self._changes(fed, power)
        here, back = fed.ends
        before = self._own_sag(fed, power) if starting else change[at[here]] - change[at[back]]
        source = fed.legs[0].volts - before
        return [abs(source + change[at[a]] - change[at[b]]) for a, b in pairs]

    def _changes(self, drawing: Fed, power: complex) -> list[complex]:
        """The change of every voltage while ``drawing`` takes ``power``, all others their share."""
        share = self.others(drawing, power)
        own = self.fed.get(drawing.device.name)
        alone = power - share * own.power if own else power
        circuit = drawing.circuit
        solved = circuit.factor("drop").solve(_drawn(circuit, drawing.legs, alone))
        together = self._together[id(circuit)]
        return [a + share * b for a, b in zip([*solved, 0j], together, strict=True)]

    def sag(self, device: str, at: str) -> Drop | None:
        """The drop at ``at`` below nominal, sources and all, while ``device`` starts."""
        starter, fed = self.fed.get(device), self.fed.get(at)
        if starter is None or fed is None or starter.circuit is not fed.circuit:
            return None
        power = _start(starter)
        return None if power is None else self._at(fed, starter, power, None)

    def _at(self, fed: Fed, drawing: Fed, power: complex, ends: tuple[int, int] | None) -> Drop:
        """The drop at ``fed`` while ``drawing`` takes ``power``; from ``ends``, or from nominal."""
        circuit, leg = fed.circuit, fed.legs[0]
        factor, index = circuit.factor("drop"), circuit.index
        observed = _weights((index[leg.b], 1), (index[leg.a], -1))
        if ends is not None:
            observed = _weights((index[ends[0]], 1), (index[ends[1]], -1), *observed.items())
        share = self.others(drawing, power)
        own = self.fed.get(drawing.device.name)
        together = self._together[id(circuit)]
        change = share * sum((w * together[node] for node, w in observed.items()), 0j)
        alone = power - share * own.power if own else power
        if alone:  # else it is all there in what everything together does
            drawn = _drawn(circuit, drawing.legs, alone)
            change += factor.between(factor.forward(observed), factor.forward(drawn))
        if ends is None:
            change += self._own_sag(drawing, power)
        nominal = abs(leg.volts)
        volts = _lost(leg.volts, change)
        amps = abs(power) / abs(drawing.legs[0].volts) / _lines(drawing.legs)
        path = tuple(self.view.wiring.say(node) for node in (*fed.ends, leg.a, leg.b))
        return Drop(volts, 100 * volts / nominal, nominal, fed.source.name, amps, path, share)

    def _own_sag(self, drawing: Fed, power: complex) -> complex:
        """What a generator's own impedance takes as something starts: its regulator is too slow."""
        if drawing.source.device.kind != "generator":
            return 0j
        feed = next(f for f in drawing.circuit.feeds if f.source is drawing.source)
        leg = drawing.legs[0]
        ways = 2.0 if len(drawing.legs) == 1 and len(drawing.source.lines) > 1 else 1.0
        amps = (power / _lines(drawing.legs) / abs(leg.volts)).conjugate()
        return own_ohms(feed, "min") * amps * ways * leg.volts / abs(leg.volts)


def _start(fed: Fed) -> complex | None:
    """What it draws as it starts, VA at nominal; None: no ``inrush=``."""
    return starting(fed.device, abs(fed.legs[0].volts), len(fed.legs), fed.circuit.hz == 0)


def _lines(legs: tuple[Leg, ...]) -> float:
    return math.sqrt(3) if len(legs) == 3 else 1.0


def ceiling(view: ModeView, source: Source) -> float:
    """What a source's own rating lets it deliver, VA; for a battery, what the devices on it do."""
    device, volts = source.device, source.volts or 0.0
    lines = math.sqrt(3) if len(source.lines) == 3 else 1.0
    power = device.number("apparent") or device.number("power")
    if device.kind == "battery":
        held = protection(view)
        poles = held.poles.get(held.cell[source.nodes["+"]], ())
        return volts * sum(held.ratings[edge.owner] for edge in poles) or math.inf
    if power and not source.dc:
        return power
    amps = device.number("rating") if needs_fault(source) else limit_of(source)
    return volts * amps * lines if amps else math.inf


def _drawn(circuit: Circuit, legs: tuple[Leg, ...], power: complex) -> dict[int, complex]:
    """The currents, A, that a power at nominal voltage puts into the nodes of a circuit."""
    pairs = []
    for leg in legs:
        amps = (power / len(legs) / leg.volts).conjugate()
        pairs += [(circuit.index[leg.a], -amps), (circuit.index[leg.b], amps)]
    return _weights(*pairs)


def _weights(*pairs: tuple[int, complex]) -> dict[int, complex]:
    """By node, what several pairs give it together."""
    total: dict[int, complex] = {}
    for node, value in pairs:
        total[node] = total.get(node, 0j) + value
    return total


def _lost(whole: complex, change: complex) -> float:
    """What a voltage loses by a change, V; all of it where nothing is left.

    A load's current is taken at nominal voltage: over a very long lead the linear solution goes
    past nothing and comes out on the other side.
    """
    left = whole - change
    if (left * whole.conjugate()).real <= 0:
        return abs(whole)
    return abs(whole) - abs(left)
