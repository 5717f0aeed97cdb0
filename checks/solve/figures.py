"""The records the solution answers with."""

from __future__ import annotations

from ...dsl.records import record


@record
class Drop:
    """A voltage drop in V and in % of ``nominal`` (V), from the terminals of ``source``.

    ``amps``: the load's own current it is worked out for; ``path``: the two terminals of the
    source and the two of the load between which the difference is taken; ``others``: the share of
    their full power that all others on the source were taken at.
    """

    volts: float
    percent: float
    nominal: float
    source: str
    amps: float
    path: tuple[str, ...]
    others: float = 1.0


@record
class Fault:
    """A prospective fault current, A, at a terminal.

    ``ohms``: of the whole loop, the sources' own impedance with it; ``source_ohms``: that part of
    it.  ``source``: the names of what feeds it.  ``path``: the two terminals that the fault joins.
    ``limited``: self-limiting sources hold it below what the loop would give.  ``volts``: what
    drives it, between those terminals before the fault, the voltage factor with it.
    """

    amps: float
    ohms: complex
    source_ohms: complex
    source: tuple[str, ...]
    path: tuple[str, ...]
    limited: bool = False
    volts: float = 0.0
