"""Prospective fault currents, and the impedance of the loop they flow round.

I = U / Z with U the voltage between the two terminals before the fault (no load) and Z what they
see with all sources at rest (IEC 60909-0; motors and loads are left out).  Supplies and generators
carry the book's voltage factor.  Where only self-limiting sources feed the fault, the loop is the
wiring alone and their limits hold the current.  Beside a battery they add what they can give to
the greatest current and nothing to the least.  Currents are told to nine figures: what the order
of the text does to the rest of them is nobody's concern.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from ..books.book import Missing
from ..capacity.converters import limit_of
from ..tracing.trace import EARTH, UNGROUNDED, ModeView, Source
from .circuit import Circuit, put
from .figures import Fault
from .nodal import Weights
from .partners import Partners
from .sources import needs_fault, own_ohms, unstated

THREE_LINES = 2 / math.sqrt(3)
"""The fault of three lines against that of two, in a symmetrical network (IEC 60909-0)."""


Feeding = tuple[Circuit, list[Source], list[Source]]
"""A circuit, the sources of it that reach a net, and these with those behind transformers."""


class Faults:
    """The faults of one mode."""

    def __init__(self, view: ModeView, circuits: list[Circuit]) -> None:
        self.view = view
        self.circuits = circuits
        self.partners = Partners(view)
        self._open: dict[tuple[int, str], list[complex]] = {}
        self._feeds: dict[tuple[int, str], list[tuple[Weights, complex, complex]]] = {}
        self._fed: dict[int, Feeding | Missing] = {}
        self._found: dict[tuple[int, str, str], Fault | Missing] = {}

    def fault(self, node: int, to: str, case: str) -> Fault | Missing:
        """See ``Solution.fault``: to its own partner, or the greatest to what stands beside it."""
        first = self.own(node, to, case)
        if case != "max" or isinstance(first, Missing):
            return first
        key = (node, to, "")
        if key not in self._found:
            self._found[key] = self._greatest(node, to, first)
        return self._found[key]

    def own(self, node: int, to: str, case: str) -> Fault | Missing:
        """The fault to the partner nearest along the conductors: by its circuit's own way back."""
        key = (node, to, case)
        if key not in self._found:
            self._found[key] = self._work_out(node, to, case)
        return self._found[key]

    def _greatest(self, node: int, to: str, first: Fault) -> Fault:
        found = self._feeding(self.view.net[node])
        assert not isinstance(found, Missing)
        circuit, sources, chain = found
        others = (
            self._current(circuit, sources, chain, (node, end), (to, "max"))
            for end in self.partners.around(circuit, node, to)
        )
        known = [first, *(fault for fault in others if isinstance(fault, Fault))]
        return max(known, key=lambda fault: fault.amps)

    def _work_out(self, node: int, to: str, case: str) -> Fault | Missing:
        view = self.view
        if not view.roles.get(view.net[node]):
            return Missing(f"{view.wiring.say(node)} is dead in mode {view.name}")
        if view.node_role(node) not in UNGROUNDED:
            return Missing(f"{view.wiring.say(node)} is no ungrounded conductor")
        found = self._feeding(view.net[node])
        if isinstance(found, Missing):
            return found
        circuit, sources, chain = found
        partner = self.partners.of(circuit, node, to)
        if partner is None:
            return Missing(f"no {to} to join at {view.wiring.say(node)}")
        if not circuit.joined(node, partner):
            where = view.wiring.say(node)
            return Missing(f"no way back for a fault from {where} to {to}: the system floats")
        return self._current(circuit, sources, chain, (node, partner), (to, case))

    def _feeding(self, net: int) -> Feeding | Missing:
        """What drives a fault in a net, the same at all its nodes; or what is not stated of it."""
        if net not in self._fed:
            self._fed[net] = self._look_up(net)
        return self._fed[net]

    def _look_up(self, net: int) -> Feeding | Missing:
        names = tuple(dict.fromkeys(name for name, _ in self.view.roles[net]))
        circuit = next(c for c in self.circuits if names[0] in c.sources)
        sources = [circuit.sources[name] for name in names if name in circuit.sources]
        chain = list(self._chain(sources))
        silent = [s.name for s in chain if s.volts is None and not s.dc] + list(unstated(chain))
        if silent:
            lacks = "voltage" if silent[0] not in unstated(chain) else "fault="
            return Missing(f"{silent[0]} states no {lacks}")
        return circuit, sources, chain

    def _chain(self, sources: list[Source]) -> Iterator[Source]:
        """The sources, and behind each transformer those that feed it."""
        for source in sources:
            yield source
            if source.device.kind == "transformer":
                feeders = self.view.feeders(source.name)
                yield from self._chain([self.view.live[name] for name in feeders])

    def _current(
        self,
        circuit: Circuit,
        sources: list[Source],
        chain: list[Source],
        ends: tuple[int, int],
        what: tuple[str, str],
    ) -> Fault | Missing:
        to, case = what
        a, b = (circuit.index[end] for end in ends)
        factor = circuit.factor(case)
        y = factor.forward({a: 1 + 0j, b: -1 + 0j})
        ohms = factor.between(y, y)
        before = self._before(circuit, case)
        volts = abs(before[a] - before[b])
        amps = volts / abs(ohms) if ohms else math.inf
        if to == "line" and case == "max" and any(len(s.lines) == 3 for s in chain):
            amps *= THREE_LINES
        limited = False
        if not any(needs_fault(source) for source in chain):
            most = self._limits(sources, chain)
            if isinstance(most, Missing):
                return most
            limited, amps = most < amps, min(most, amps)
        own = sum((z * (g * factor.between(w, y)) ** 2 for w, g, z in self._own(circuit, case)), 0j)
        names = tuple(dict.fromkeys(source.name for source in chain))
        path = tuple(self.view.wiring.say(end) for end in ends)
        return Fault(float(f"{amps:.9g}"), ohms, own, names, path, limited, volts)

    def _limits(self, sources: list[Source], chain: list[Source]) -> float | Missing:
        """What self-limiting sources give together at most, A, at the voltage of the fault."""
        here = self.view.to_neutral(sources[0]) or 1.0
        total = 0.0
        for source in chain:
            if source.device.kind == "transformer":
                continue
            limit = limit_of(source)
            if limit is None:
                return Missing(f"{source.name} states no limit of its current")
            ratio = (self.view.to_neutral(source) or here) / here if source not in sources else 1.0
            total += limit * ratio
        return total

    def _before(self, circuit: Circuit, case: str) -> list[complex]:
        """The voltage of every node before the fault, V, without load."""
        key = (id(circuit), case)
        if key not in self._open:
            total = circuit.injected(case, scale=True)
            for feed in circuit.feeds:
                if case == "max" and not feed.holds:
                    put(total, circuit.index[feed.line], circuit.index[feed.back], feed.amps)
            self._open[key] = [*circuit.factor(case).solve(total), 0j]
        return self._open[key]

    def _own(self, circuit: Circuit, case: str) -> list[tuple[Weights, complex, complex]]:
        """Of each source behind an impedance: what sees it, its admittance, its impedance.

        Whatever flows in it for 1 A round the loop, z i^2 is its part of the loop's impedance
        (Tellegen's theorem, without conjugates: the network is reciprocal).
        """
        key = (id(circuit), case)
        if key not in self._feeds:
            factor = circuit.factor(case)
            self._feeds[key] = found = []
            for feed, y in circuit.source_branches(case):
                if needs_fault(feed.source):
                    ends = (circuit.index[feed.line], circuit.index[feed.back])
                    seen = factor.forward({ends[0]: 1 + 0j, ends[1]: -1 + 0j})
                    found.append((seen, y, own_ohms(feed, case)))
            for transformer, y in circuit.transformer_branches():
                turns = {node: complex(turn) for node, turn in transformer.turns}
                found.append((factor.forward(turns), y, 1 / y))
        return self._feeds[key]


def is_earth(view: ModeView, node: int) -> bool:
    """Whether a terminal is protective earth in this mode."""
    return view.node_role(node) == EARTH
