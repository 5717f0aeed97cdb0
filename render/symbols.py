"""Symbols as stencils, in the set of IEC 60617 or of IEEE 315.

    symbol("breaker", "iec60617")                      a circuit-breaker
    symbol("breaker", "ieee315", residual=True)        one that also opens on residual current
    symbol("switch", "iec60617", isolates=True)        a switch-disconnector
    symbol("strokes", roles=("L", "N", "PE"))          the conductors of a line
    symbol("bus", length=120.0)  symbol("bond", switched=True)  symbol("transformer", screen=True)
    symbol("motor", dc=True)     also generator, supply; symbol("socket", dc=True)

Every ``Kind.symbol`` of the kinds table is a name here; further: strokes, bond, chassis,
protective-earth.  1 unit is 1 mm, power flows down, the origin is the terminal ``top`` and
``bottom`` lies below it on the axis; a selector has ``a``, ``b`` and ``out``, a bus ``left`` and
``right``, a converter ``left`` and ``right`` besides, a battery ``plus`` and ``minus``.  Switching
and protective devices are 14 mm high in both sets.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from .marks import Stencil
from .symbol_base import Builder, stencil
from .symbols_common import COMMON
from .symbols_iec import IEC
from .symbols_ieee import IEEE

SETS: Mapping[str, Mapping[str, Builder]] = {
    "iec60617": {**COMMON, **IEC},
    "ieee315": {**COMMON, **IEEE},
}

# What the legend calls each symbol; names with an option are name+option.
NAMES = {
    "supply": "Supply from outside",
    "generator": "Generator",
    "alternator": "Alternator with rectifier",
    "battery": "Battery, long line positive",
    "solar": "Solar generator",
    "inverter": "Inverter",
    "charger": "Charger, rectifier",
    "dcdc": "DC converter",
    "transformer": "Transformer, separate windings",
    "transformer+screen": "Transformer with earthed screen",
    "breaker": "Circuit-breaker",
    "breaker+residual": "Circuit-breaker, opens on residual current too",
    "fuse": "Fuse",
    "rcd": "Residual-current device",
    "switch": "Switch",
    "switch+isolates": "Switch-disconnector",
    "contactor": "Contactor, relay contact",
    "selector": "Change-over with off position",
    "inlet": "Inlet with its connector",
    "socket": "Socket-outlet",
    "load": "Load",
    "lamp": "Lamp",
    "motor": "Motor",
    "heater": "Heater",
    "bus": "Bar",
    "block": "Terminal",
    "joint": "Joint",
    "earth": "Earth",
    "protective-earth": "Protective earth",
    "chassis": "Chassis or hull",
    "bond": "Neutral–earth bond, link",
    "bond+switched": "Neutral–earth bond, relay",
    "strokes": "Conductors of a run: plain stroke line, with a dot neutral, with a bar protective "
    "earth",
    "strokes+direct": "Conductors of direct current: with + positive, with − negative",
    "panel": "Enclosure",
}
NAMED_OPTIONS = ("residual", "isolates", "screen", "switched")


@cache
def symbol(name: str, standard: str = "iec60617", **options: Any) -> Stencil:
    """A symbol of one set; KeyError if the set has none of that name."""
    marked = [key for key in NAMED_OPTIONS if options.get(key)]
    if name == "strokes" and {"+", "-"} & set(options.get("roles", ())):
        marked.append("direct")
    full = "+".join([name, *marked])
    return stencil(full if full in NAMES else name, SETS[standard][name], options)
