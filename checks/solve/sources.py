"""Sources as the solution takes them: a voltage behind an impedance, or a current that limits.

Supplies, generators and batteries are voltages behind the impedance of their stated ``fault=``
(see ``assumed``).  Inverters, chargers, converters, alternators and solar generators regulate:
alone on their system they hold its voltage up to their limit; beside something that holds it
already they put in the most they can give.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterable, Iterator

from ...dsl.records import record
from ..books.book import book
from ..capacity.converters import limit_of
from ..tracing.network import Groups
from ..tracing.trace import ModeView, Source
from .assumed import LINK_OHM, generator_ohms, supply_ohms

STIFF = ("battery", "supply", "generator")
ANGLE = {"L3": 2 * math.pi / 3}


@record
class Feed:
    """One line of a source: its terminals (nodes of the network), its voltage (V, phasor).

    ``holds``: it holds the voltage; otherwise it puts ``amps`` in.  ``limit``: the most it can
    deliver, A (infinite for what stands behind an impedance).  ``c``: the voltage factor its
    ``fault=`` was taken with.
    """

    source: Source
    line: int
    back: int
    volts: complex
    holds: bool
    amps: float
    limit: float
    c: float


def needs_fault(source: Source) -> bool:
    """Whether its ``fault=`` says how stiff it is."""
    return source.device.kind in STIFF


def feeds_of(view: ModeView, sources: Iterable[Source]) -> list[Feed]:
    """The lines of these sources; what is stiff holds, then what can give most."""
    c = book(view.wiring.rig.book).voltage_factor("max").value
    held = Groups(view.network.count)
    found: list[Feed] = []
    for source in sorted(sources, key=_order):
        if source.device.kind == "transformer" or source.grounded not in source.nodes:
            continue
        back = source.nodes[source.grounded]
        stiff = needs_fault(source)
        limit = limit_of(source)
        for role in source.lines:
            line = source.nodes[role]
            a, b = view.net[line], view.net[back]
            free = held.find(a) != held.find(b)
            held.join(a, b)
            holds = stiff or free
            given = 0.0 if holds or not source.dc else limit or 0.0
            most = math.inf if stiff else 0.0 if limit is None else limit
            volts = _phasor(view, source, role)
            factor = c if stiff and not source.dc else 1.0
            found.append(Feed(source, line, back, volts, holds, given, most, factor))
    return found


def _order(source: Source) -> tuple[bool, float]:
    return not needs_fault(source), -(limit_of(source) or 0.0)


def _phasor(view: ModeView, source: Source, role: str) -> complex:
    """The voltage of a line against its grounded pole, V; 0 where none is stated."""
    if source.dc:
        table = view.potential
        plus, minus = view.net[source.nodes["+"]], view.net[source.nodes["-"]]
        return complex(table.get(plus, 0.0) - table.get(minus, 0.0))
    volts = view.to_neutral(source) or 0.0
    opposite = math.pi if len(source.lines) == 2 else -2 * math.pi / 3
    return cmath.rect(volts, {**ANGLE, "L2": opposite}.get(role, 0.0))


def own_ohms(feed: Feed, case: str) -> complex:
    """What a source that holds its voltage stands behind, ohm.

    In the steady state (``drop``) a generator's regulator holds its terminals; in a fault it
    cannot.  A missing ``fault=`` counts as nothing here, and is told with the figures it decides.
    """
    amps = feed.source.device.number("fault")
    kind = feed.source.device.kind
    volts = abs(feed.volts) * feed.c
    if not needs_fault(feed.source) or not amps or not volts:
        return complex(LINK_OHM)
    if feed.source.dc:
        return complex(max(volts / amps, LINK_OHM))
    if kind == "generator":
        return complex(LINK_OHM) if case == "drop" else generator_ohms(volts, amps)
    return supply_ohms(volts, amps)


def unstated(sources: Iterable[Source]) -> Iterator[str]:
    """The names of sources and transformers among these whose ``fault=`` is wanted and missing."""
    for source in sources:
        wants = needs_fault(source) or source.device.kind == "transformer"
        if wants and not source.device.number("fault"):
            yield source.name
