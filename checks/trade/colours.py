"""Colours of conductors: the trade's names and the letter codes of IEC 60757:2021."""

from __future__ import annotations

from ...dsl.model import Conductor
from ...dsl.records import record

CODES = {
    "black": "BK",
    "brown": "BN",
    "red": "RD",
    "orange": "OG",
    "yellow": "YE",
    "green": "GN",
    "blue": "BU",
    "violet": "VT",
    "grey": "GY",
    "white": "WH",
    "pink": "PK",
    "gold": "GD",
    "turquoise": "TQ",
    "silver": "SR",
    "green-yellow": "GNYE",
}
"""Colour name to code, in the table's order, which is also the order codes are joined in."""

OTHER_NAMES = {
    "gray": "grey",
    "purple": "violet",
    "light blue": "blue",
    "dark blue": "blue",
    "dark grey": "grey",
    "tan": "brown",
    "bare": "bare",
    "green/yellow": "green-yellow",
    "yellow-green": "green-yellow",
}
"""Names the standard has no code for, and the colour whose code they share."""


NAMES = {code: name for name, code in CODES.items()}


@record
class Colour:
    """A conductor's colour: its name, and its IEC 60757 code ("" where it has none)."""

    name: str
    code: str


def code_of(name: str) -> str:
    """The IEC 60757 code of a colour or of two joined by a hyphen; "" where there is none.

    Several colours on one conductor are joined in the table's order: red and blue are RDBU.
    """
    plain = OTHER_NAMES.get(name, name)
    if plain in CODES:
        return CODES[plain]
    parts = [OTHER_NAMES.get(part, part) for part in plain.split("-")]
    if not all(part in CODES for part in parts):
        return ""
    return "".join(CODES[part] for part in CODES if part in parts)


def colour(name: str) -> Colour:
    """The colour of that name."""
    return Colour(name, code_of(name))


def named(word: str) -> str:
    """The name of a colour as written: a letter code of IEC 60757 is put into words."""
    return NAMES.get(word.upper(), word)


def known(word: str) -> bool:
    """Whether a written colour is one: a name, a letter code, or colours joined by a hyphen."""
    name = named(word)
    return name == "bare" or bool(code_of(name))


def written(conductor: Conductor) -> str:
    """The colour the author wrote for a conductor, by name: a cable's own core of ``colours=``."""
    value = conductor.attrs.get("colours", "")
    if not isinstance(value, tuple):
        return "" if value == "" else named(str(value))
    core = max(conductor.core, 1) - 1
    return named(value[core]) if core < len(value) else ""
