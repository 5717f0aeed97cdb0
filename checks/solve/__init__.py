"""One electrical solution of a rig in one mode: voltages, currents, drops, fault currents.

    solution(view).amps("C1/1")

Everything is worked out when it is first asked for, and kept.  What is assumed where the text is
silent stands in ``assumed.py``; what a figure needs and the text does not state comes back as
``Missing``, with the name of the device and of the attribute.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ..book import Missing
from ..trace import ModeView

__all__ = ["Drop", "Fault", "Solution", "solution"]

To = Literal["line", "neutral", "earth"]
Case = Literal["max", "min"]


@dataclass(frozen=True, slots=True)
class Drop:
    """A voltage drop in V and in % of ``nominal`` (V), from the terminals of ``source``.

    ``amps``: the load's own current it is worked out for; ``path``: the two terminals of the
    source and the two of the load between which the difference is taken.
    """

    volts: float
    percent: float
    nominal: float
    source: str
    amps: float
    path: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Fault:
    """A prospective fault current, A, at a terminal.

    ``ohms``: of the whole loop, the sources' own impedance with it; ``source_ohms``: that part of
    it.  ``source``: what feeds it, each with how it is taken.  ``path``: the two terminals that
    the fault joins.  ``limited``: self-limiting sources hold it below what the loop would give.
    """

    amps: float
    ohms: complex
    source_ohms: complex
    source: tuple[str, ...]
    path: tuple[str, ...]
    limited: bool = False


class Solution:
    """The electrical solution of one mode.  Names of no device or conductor raise KeyError."""

    def __init__(self, view: ModeView) -> None:
        self.view = view

    def volts(self, device: str, terminal: str) -> complex | None:
        """Voltage, V, against the grounded pole of the source that reaches it; None: dead.

        A phasor (effective value) for AC, real for DC.
        """
        return None

    def between(self, dev_a: str, term_a: str, dev_b: str, term_b: str) -> float | None:
        """Voltage between two terminals, V; None where one is dead or they share no system."""
        return None

    def amps(self, conductor: str) -> float:
        """Current in a conductor, A, steady state; 0 where it carries none.

        All loads that are on at their power; sockets nothing.
        """
        return 0.0

    def pole_amps(self, device: str, terminal: str) -> float:
        """Current through the closed pole or the joint of a device that ends on a terminal, A."""
        return 0.0

    def drop(self, device: str) -> Drop | None:
        """The drop to design for at a load, a converter's input or an outlet, from its source.

        The thing itself at full power, all others on that source together scaled so that the
        source's own rating is not exceeded (by superposition); line and return together.  An
        outlet is judged at its own rating or that of the device ahead, whichever is less.
        None where nothing feeds it or its power is not stated.
        """
        return None

    def inrush_sag(self, device: str) -> Drop | None:
        """The drop while a motor or load starts (``inrush=``), the source's own sag with it.

        None where it states no inrush or nothing feeds it.
        """
        return None

    @property
    def losses(self) -> float:
        """Heat in all conductors, W, steady state."""
        return 0.0

    def source_amps(self, name: str) -> float:
        """What a source delivers, A (of several lines the largest), steady state; 0 if not live."""
        return 0.0

    def source_watts(self, name: str) -> float:
        """What a source delivers, W, steady state; negative for a battery that is charged."""
        return 0.0

    def fault(self, device: str, terminal: str, to: To, case: Case) -> Fault | Missing:
        """The prospective current of a fault from a terminal to another line, neutral or earth.

        ``neutral`` is the negative of a DC system.  ``max``: conductors at 20 degC, full source,
        the book's greatest voltage factor (three lines: all three joined); ``min``: conductors at
        their insulation's temperature and the least factor (``line``: two lines joined).
        ``Missing`` says what is not stated, or why there is no such fault.
        """
        return Missing("not worked out yet")

    def loop(self, device: str, terminal: str, case: Case = "min") -> Fault | Missing:
        """The earth-fault loop at a terminal: ``ohms`` with the supply's part."""
        return self.fault(device, terminal, "earth", case)


def solution(view: ModeView) -> Solution:
    """The solution of a mode; the same object each time."""
    found = view.__dict__.get("_solution")
    if not isinstance(found, Solution):
        found = view.__dict__["_solution"] = Solution(view)
    return found
