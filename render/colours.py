"""The colour a conductor shows on a drawing: the author's, else the rule book's for its role."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache, lru_cache

from ..checks.books.book import Book, book
from ..checks.tracing.trace import Stage
from ..checks.trade.colours import Colour, colour, written
from ..dsl.kinds import kinds
from ..dsl.model import Conductor, Rig

SWATCHES = {
    "BK": "#111111",
    "BN": "#8b4a1f",
    "RD": "#d3202a",
    "OG": "#f07d16",
    "YE": "#f2c511",
    "GN": "#1f9a43",
    "BU": "#2462b8",
    "VT": "#7d3c98",
    "GY": "#8c8f94",
    "WH": "#ffffff",
    "PK": "#f29bb7",
    "GD": "#b8912b",
    "TQ": "#27a9a1",
    "SR": "#b9bdc2",
}
"""Screen and print colour of each letter code; our own choice, no standard's."""

NO_COLOUR = Colour("", "")


def ac_aboard(rig: Rig) -> bool:
    """Whether anything in the rig gives alternating current."""
    return any(_gives_ac(device.kind, device.variant) for device in rig.devices.values())


@cache
def _gives_ac(kind: str, variant: str) -> bool:
    states = kinds()[kind].variant(variant).gives
    return any(role[:1] == "L" for ends in states.values() for role in ends.values())


def _book(rig: Rig) -> Book | None:
    try:
        return book(rig.book)
    except FileNotFoundError:
        return None


def colour_of(conductor: Conductor, rig: Rig, role: str) -> Colour:
    """Name and IEC 60757 code of a conductor's colour.

    What ``colours=`` says; else the colour the rig's book gives the conductor's traced role
    first.  No colour for a link, for a role the book fixes nothing for, and where there is none.
    """
    said = written(conductor)
    if said:
        return colour(said)
    rules = _book(rig)
    if conductor.kind == "link" or not role or rules is None:
        return NO_COLOUR
    return rules.colour(role, ac_aboard(rig)) or NO_COLOUR


@lru_cache(maxsize=8)
def colours_of(stage: Stage) -> Mapping[str, Colour]:
    """The colour of every conductor of a stage by its traced role, worked out once."""
    rig = stage.rig
    return {
        name: colour_of(conductor, rig, stage.conductor_role(name))
        for name, conductor in rig.conductors.items()
    }


def swatches(shown: Colour) -> tuple[str, ...]:
    """The drawn colours of a code, ground colour first (GNYE: green, yellow); () where none."""
    codes = [shown.code[i : i + 2] for i in range(0, len(shown.code), 2)]
    return tuple(SWATCHES[code] for code in codes if code in SWATCHES)
