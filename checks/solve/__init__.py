"""One electrical solution of a rig in one mode: voltages, currents, drops, fault currents.

    solution(view).amps("C1/1")

Everything is worked out when it is first asked for, and kept.  What is assumed where the text is
silent stands in ``assumed.py``, and ``Solution.assumed`` tells which of it a mode's figures use;
what a figure needs and the text does not state comes back as ``Missing``, with its name.
"""

from __future__ import annotations

from functools import cached_property
from typing import Literal

from ...dsl.records import replace
from ..books.book import Missing
from ..tracing.cut import protection
from ..tracing.trace import UNGROUNDED, ModeView
from .circuit import Circuit, circuits
from .drops import Drops
from .faults import Faults
from .figures import Drop, Fault
from .steady import Steady
from .told import assumptions

__all__ = ["Drop", "Fault", "Solution", "solution"]

To = Literal["line", "neutral", "earth"]
Case = Literal["max", "min"]


class Solution:
    """The electrical solution of one mode.  Names of no device or conductor raise KeyError."""

    def __init__(self, view: ModeView) -> None:
        self.view = view

    @cached_property
    def circuits(self) -> list[Circuit]:
        """The circuits, one for direct current and one for each frequency."""
        return circuits(self.view)

    @cached_property
    def steady(self) -> Steady:
        return Steady(self.view, self.circuits)

    @cached_property
    def drops(self) -> Drops:
        return Drops(self.view, self.circuits)

    @cached_property
    def faults(self) -> Faults:
        return Faults(self.view, self.circuits)

    @property
    def assumed(self) -> tuple[str, ...]:
        """What these figures assume where the text is silent, and what they leave out, in words."""
        return tuple(assumptions(self.view))

    @property
    def converged(self) -> bool:
        """Whether the steady state has a solution: the loads ask for no more than is there."""
        return self.steady.converged

    def volts(self, device: str, terminal: str) -> complex | None:
        """Voltage, V, against the grounded pole of the source that reaches it; None: dead.

        A phasor (effective value) for AC, real for DC.  Earth is told against the first source
        that it is bonded to.
        """
        node = self.view.wiring.node(device, terminal)
        for part in self.steady.parts:
            at = part.circuit.index
            if node not in at:
                continue
            names = [name for name, _ in self.view.roles.get(self.view.net[node], ())]
            reached = [part.circuit.sources[n] for n in names if n in part.circuit.sources]
            back = reached[0].nodes.get(reached[0].grounded) if reached else None
            return part.volts[at[node]] - (0j if back is None else part.volts[at[back]])
        return None

    def between(self, dev_a: str, term_a: str, dev_b: str, term_b: str) -> float | None:
        """Voltage between two terminals, V; None where one is dead or they share no system."""
        wiring = self.view.wiring
        a, b = wiring.node(dev_a, term_a), wiring.node(dev_b, term_b)
        for part in self.steady.parts:
            if part.circuit.joined(a, b):
                at = part.circuit.index
                return abs(part.volts[at[a]] - part.volts[at[b]])
        return None

    @cached_property
    def _flows(self) -> dict[tuple[str, int], float]:
        """Current, A, in every edge, by its owner and the node of each of its ends.

        Direct and alternating current in one conductor add as effective values do.
        """
        found: dict[tuple[str, int], float] = {}
        for part in self.steady.parts:
            for element, amps, _ in part.circuit.flows("drop", part.volts):
                for node in (element.edge.a, element.edge.b):
                    key = (element.edge.owner, node)
                    found[key] = abs(complex(found.get(key, 0.0), abs(amps)))
        return found

    def amps(self, conductor: str) -> float:
        """Current in a conductor, A, steady state; 0 where it carries none.

        All loads that are on at their power; sockets nothing.
        """
        wiring = self.view.wiring
        end = wiring.rig.conductors[conductor].a
        key = (end.device, end.terminal)
        nodes = (wiring.nodes.get(key, -1), wiring.outer.get(key, -1))
        return max(self._flows.get((conductor, node), 0.0) for node in nodes)

    def pole_amps(self, device: str, terminal: str) -> float:
        """Current through the closed pole or the joint of a device that ends on a terminal, A."""
        return self._flows.get((device, self.view.wiring.node(device, terminal)), 0.0)

    def drop(self, device: str) -> Drop | None:
        """The drop to design for at a load, a converter's input or an outlet, from its source.

        The thing itself at full power, all others on that source together scaled so that the
        source's own rating is not exceeded (by superposition); line and return together, at the
        book's conductor temperature, for the currents at nominal voltage.  An outlet is judged at
        its own rating or that of the device ahead, whichever is less.  A source's own impedance
        counts before its terminals, not in the drop.
        None where nothing feeds it or its power is not stated.
        """
        return self.drops.drop(device)

    def feeder_drop(self, bar: str) -> Drop | None:
        """The drop at a bar, from its source, with everything on that source at full power.

        Scaled so that the source's own rating is not exceeded; between the bar and the nearest
        neutral or negative.  ``amps`` are what the source then gives.
        None for a bar that is no line, or that nothing feeds.
        """
        view, terminal = self.view, self.view.wiring.rig.devices[bar].terminals[0].name
        line = view.wiring.node(bar, terminal)
        if view.node_role(line) not in UNGROUNDED:
            return None
        circuit = next((c for c in self.circuits if line in c.index), None)
        back = self.faults.partners.of(circuit, line, "neutral") if circuit else None
        return None if back is None else self.drops.feeder(line, back)

    def branch_drop(self, device: str) -> Drop | None:
        """The part of ``drop`` behind the last overcurrent device ahead: of the branch circuit.

        From that device's load side and the neutral (or negative, or other line) nearest to it.
        None where nothing feeds it, or no one device stands ahead.
        """
        fed, drop = self.drops.of(device), self.drop(device)
        line = self._behind_device(fed.legs[0].a) if fed else None
        if fed is None or drop is None or line is None:
            return None
        leg = fed.legs[0]
        other = self.view.node_role(leg.b) in UNGROUNDED
        back = (
            self._behind_device(leg.b)
            if other
            else self.faults.partners.of(fed.circuit, line, "neutral")
        )
        if back is None:
            return None
        start, end = self.drops.along(device, [(line, back), (leg.a, leg.b)])
        path = (*(self.view.wiring.say(node) for node in (line, back)), *drop.path[2:])
        lost = start - end
        return replace(drop, volts=lost, percent=100 * lost / drop.nominal, path=path)

    def _behind_device(self, node: int) -> int | None:
        """The load side of the one overcurrent device ahead of a node."""
        held = protection(self.view)
        edge = held.way_in.get(held.cell[node])
        if edge is None:
            return None
        return edge.a if held.cell[edge.a] == held.cell[node] else edge.b

    def inrush_sag(self, device: str, at: str = "") -> Drop | None:
        """How far the voltage at ``at`` (itself where not said) sinks while a device starts.

        Below nominal, for its ``inrush=``, with the source's own impedance (a generator's too:
        its regulator is too slow for a start).
        None where it states no inrush, nothing feeds it, or the two share no system.
        """
        return self.drops.sag(device, at or device)

    @property
    def losses(self) -> float:
        """Heat in all conductors, W, steady state."""
        return sum(
            heat
            for part in self.steady.parts
            for element, _, heat in part.circuit.flows("drop", part.volts)
            if element.statement
        )

    def source_amps(self, name: str) -> float:
        """What a source delivers, A (of several lines the largest), steady state; 0 if not live."""
        flows = [
            abs(part.feed_amps(feed))
            for part in self.steady.parts
            for feed in part.circuit.feeds
            if feed.source.name == name
        ]
        flows += [abs(part.winding(name)[1]) for part in self.steady.parts]
        return max(flows, default=0.0)

    def source_watts(self, name: str) -> float:
        """What a source delivers, W, steady state; negative for a battery that is charged."""
        total = self.steady.given(name)
        for part in self.steady.parts:
            volts, amps = part.winding(name)
            total += volts * amps.conjugate()
        return total.real

    def fault(self, device: str, terminal: str, to: To, case: Case) -> Fault | Missing:
        """The prospective current of a fault from a terminal to another line, neutral or earth.

        ``neutral`` is the negative of a DC system.  ``max``: conductors at 20 degC, full source,
        the book's greatest voltage factor (three lines: all three joined); ``min``: conductors at
        their insulation's temperature and the least factor (``line``: two lines joined).
        ``Missing`` says what is not stated, or why there is no such fault.
        """
        return self.faults.fault(self.view.wiring.node(device, terminal), to, case)

    def loop(self, device: str, terminal: str, case: Case = "min") -> Fault | Missing:
        """The earth-fault loop at a terminal: ``ohms`` whole, ``source_ohms`` the supply's part.

        By its own protective conductor, in both cases.
        """
        return self.faults.own(self.view.wiring.node(device, terminal), "earth", case)


def solution(view: ModeView) -> Solution:
    """The solution of a mode; the same object each time."""
    found = view.__dict__.get("_solution")
    if not isinstance(found, Solution):
        found = view.__dict__["_solution"] = Solution(view)
    return found
