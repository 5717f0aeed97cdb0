"""What the solution takes where the text states nothing, each with where it comes from.

The efficiency of converters stands in ``draws.py``; a transformer's losses are left out.

Whatever the text states goes before these; ``told.py`` says which of them a mode's figures use.
"""

from __future__ import annotations

import cmath
import math

LINK_OHM = 1e-6
"""Closed poles, links, plugs and a source that holds its voltage: as good as nothing, so that the
current in each is known.  A real contact has more; leaving it out makes the greatest fault current
greater (common practice, no published source)."""

START_PF = 0.35
"""Power factor of a motor as it starts (Electrical Installation Guide, chapter G, example 1: cos
phi 0.35 at start; from memory)."""

GENERATOR_R_TO_X = 0.15
"""R/X of a generator below 1 kV (IEC 60909-0: R_Gf = 0.15 X''d; from memory)."""

SUPPLY_PF = (
    (1500.0, 0.95),
    (3000.0, 0.90),
    (4500.0, 0.80),
    (6000.0, 0.70),
    (10000.0, 0.50),
    (20000.0, 0.30),
    (50000.0, 0.25),
    (math.inf, 0.20),
)
"""Power factor of a supply's short circuit up to a prospective current, A: the one that
circuit-breakers are tested at (IEC 60947-2 Table 11; from memory)."""

WEAK = 0.7
"""Below this share of its nominal voltage a load of constant power is taken as the impedance it
has there, as power-flow programs do (common practice, no published source)."""

TOLERANCE = 1e-10
"""Largest change of a voltage, as a share of nominal, between the last two rounds of the steady
state; rounds that do not come to that within ``ROUNDS`` have no solution."""
ROUNDS = 60
BEYOND = 1e12
"""A voltage, V, that rounds only come to on their way beyond all numbers."""


def supply_pf(amps: float) -> float:
    """Power factor of the short circuit of a supply of that prospective current, A."""
    return next(pf for upto, pf in SUPPLY_PF if amps <= upto)


def supply_ohms(volts: float, amps: float) -> complex:
    """Impedance of a line of a supply, ohm, from c x V to neutral and its fault current, A."""
    return cmath.rect(volts / amps, math.acos(supply_pf(amps)))


def generator_ohms(volts: float, amps: float) -> complex:
    """Impedance of a line of a generator, ohm, from c x V to neutral and its fault current, A."""
    return cmath.rect(volts / amps, math.atan2(1.0, GENERATOR_R_TO_X))
