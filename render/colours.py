"""The colour a conductor shows on a drawing: the author's, else the rule book's for its role."""

from __future__ import annotations

from ..checks.book import Book, book
from ..checks.colours import CODES, Colour, colour
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
_NAMES = {code: name for name, code in CODES.items()}


def _written(conductor: Conductor) -> str:
    """The colour the author wrote for this conductor: a cable's own core of ``colours=``."""
    value = conductor.attrs.get("colours", "")
    if not isinstance(value, tuple):
        return "" if value == "" else str(value)
    core = max(conductor.core, 1) - 1
    return value[core] if core < len(value) else ""


def ac_aboard(rig: Rig) -> bool:
    """Whether anything in the rig gives alternating current."""
    given = (kinds()[d.kind].variant(d.variant).gives for d in rig.devices.values())
    return any(role[:1] == "L" for states in given for ends in states.values()
               for role in ends.values())


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
    written = _written(conductor)
    if written:
        return colour(_NAMES.get(written.upper(), written))
    rules = _book(rig)
    if conductor.kind == "link" or not role or rules is None:
        return NO_COLOUR
    return rules.colour(role, ac_aboard(rig)) or NO_COLOUR


def swatches(shown: Colour) -> tuple[str, ...]:
    """The drawn colours of a code, ground colour first (GNYE: green, yellow); () where none."""
    codes = [shown.code[i : i + 2] for i in range(0, len(shown.code), 2)]
    return tuple(SWATCHES[code] for code in codes if code in SWATCHES)
