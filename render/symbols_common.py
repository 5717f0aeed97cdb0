"""Symbols that IEC 60617 and IEEE 315 draw alike."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from .marks import BUS, HEAVY
from .metrics import T25
from .symbol_base import Builder, Symbol

STROKE_PITCH, SIGN_PITCH = 1.7, 2.2  # of conductor strokes along the line; of those with signs, mm


def machine(s: Symbol, letter: str, top: float = 0.0) -> None:
    """A circle of 8 mm with a letter and the sign of its current below it."""
    s.circle(0, top + 4, 4)
    s.letter(0, top + 2.9, letter, T25)
    (s.direct if s.options.get("dc") else s.sine)(0, top + 6)


def motor(s: Symbol) -> None:
    machine(s, "M")
    s.ends(8)


def generator(s: Symbol) -> None:
    machine(s, "G")
    s.ends(8)


def supply(s: Symbol) -> None:
    """A supply from outside: a source of voltage, its current in the circle."""
    s.circle(0, 4, 4)
    if s.options.get("dc"):
        s.direct(0, 4, 2)
    else:
        s.sine(0, 4, 1.3)
    s.ends(8)


def diode(s: Symbol, top: float) -> None:
    """A rectifier's triangle and bar, conducting downwards, 3.2 mm high."""
    s.shape((-1.6, top), (1.6, top), (0, top + 3.2), fill="white")
    s.line((-1.6, top + 3.2), (1.6, top + 3.2))


def alternator(s: Symbol) -> None:
    """An alternating-current generator with its rectifier."""
    s.circle(0, 4, 4)
    s.letter(0, 2.9, "G", T25)
    s.sine(0, 6)
    s.line((0, 8), (0, 10))
    s.box(-3.2, 10, 3.2, 17)
    s.line((0, 10), (0, 17))
    diode(s, 11.9)
    s.ends(17)


def battery(s: Symbol) -> None:
    """Two cells with the line between them broken: a battery; the long line is positive."""
    s.line((0, 0), (0, 4))
    for top in (4, 9):
        s.line((-4, top), (4, top))
        s.line((-1.9, top + 1.6), (1.9, top + 1.6))
    s.line((0, 5.6), (0, 9), dash="--")
    s.line((0, 10.6), (0, 15))
    s.line((-3, 1.8), (-1.6, 1.8))
    s.line((-2.3, 1.1), (-2.3, 2.5))
    s.ends(15, plus=(0, 0), minus=(0, 15))


def load(s: Symbol) -> None:
    s.box(-3.5, 0, 3.5, 7)
    s.ends(7)


def joint(s: Symbol) -> None:
    s.circle(0, 0, 0.8, fill="black")
    s.ends(0)


def block(s: Symbol) -> None:
    """A terminal: a small circle in the line."""
    s.line((0, 0), (0, 3))
    s.circle(0, 4, 1)
    s.line((0, 5), (0, 8))
    s.ends(8)


def bus(s: Symbol) -> None:
    """A bar ``length`` mm long, from its left end at the origin."""
    length = float(s.options.get("length", 30))
    s.line((0, 0), (length, 0), pen=BUS)
    s.ends(0, left=(0, 0), right=(length, 0))


def earth(s: Symbol) -> None:
    s.line((0, 0), (0, 4))
    for index, half in enumerate((3.2, 2.0, 0.8)):
        s.line((-half, 4 + 1.2 * index), (half, 4 + 1.2 * index))
    s.ends(6.4)


def protective(s: Symbol) -> None:
    """The earth's sign in a circle."""
    s.line((0, 0), (0, 4.2))
    s.circle(0, 4, 3.2)
    for index, half in enumerate((1.9, 1.2, 0.5)):
        s.line((-half, 4.2 + 0.9 * index), (half, 4.2 + 0.9 * index))
    s.ends(7.2)


def chassis(s: Symbol) -> None:
    """Frame or chassis: a line with three strokes below it."""
    s.line((0, 0), (0, 4))
    s.line((-3, 4), (3, 4))
    for x in (-3, 0, 3):
        s.line((x, 4), (x - 1.8, 6.8))
    s.ends(6.8)


def bond(s: Symbol) -> None:
    """A link between neutral and earth; ``switched``: a contact in it, as a relay's."""
    s.line((0, 0), (0, 3))
    s.circle(0, 3.8, 0.8)
    if s.options.get("switched"):
        s.line((-2.6, 5.2), (0, 9.4))
    else:
        s.line((0, 4.6), (0, 9.4), pen=HEAVY)
    s.circle(0, 10.2, 0.8)
    s.line((0, 11), (0, 14))
    s.ends(14)


class Named(Protocol):
    """A builder that is a function, so that it has a name."""

    __name__: str

    def __call__(self, s: Symbol, /) -> None: ...


def named(*builders: Named) -> dict[str, Builder]:
    """Builders by the kind of device that they are called after."""
    return {builder.__name__: builder for builder in builders}


def converters(
    converter: Callable[[Symbol, str, str], None], alternating: str, direct: str
) -> dict[str, Builder]:
    """The converters of a set: its box with the signs of what goes in above and out below."""
    return {
        "inverter": lambda s: converter(s, direct, alternating),
        "charger": lambda s: converter(s, alternating, direct),
        "dcdc": lambda s: converter(s, direct, direct),
    }


def strokes(s: Symbol) -> None:
    """A stroke for each conductor of a line; ``roles`` are their roles in order.

    Plain: a line conductor.  With a dot: neutral.  With a bar: protective earth.  With a sign: a
    pole of a direct current.  The origin is the middle of the run.
    """
    roles = s.options.get("roles", ("L", "N", "PE"))
    pitch = SIGN_PITCH if {"+", "-"} & set(roles) else STROKE_PITCH
    top = -pitch * (len(roles) - 1) / 2
    for index, role in enumerate(roles):
        _stroke(s, top + pitch * index, role)
    s.points["top"] = (0, top - 1.6)
    s.ends(top + pitch * (len(roles) - 1) + 1.6)


def _stroke(s: Symbol, y: float, role: str) -> None:
    s.line((-1.6, y + 1.0), (1.6, y - 1.0))
    if role == "N":
        s.circle(1.9, y - 1.2, 0.5, fill="black")
    elif role == "PE":
        s.line((1.25, y - 1.65), (2.05, y - 0.4))
    elif role in ("+", "-"):
        s.line((2.3, y - 1.2), (3.5, y - 1.2))
        if role == "+":
            s.line((2.9, y - 1.8), (2.9, y - 0.6))


def residual(s: Symbol, bottom: float, link: tuple[float, float]) -> None:
    """The summation transformer's ring round the conductors, linked to what it opens."""
    y = bottom - 2.6
    s.arc(0, y, 2.4, 1.1, 0, 360)
    left = link[0] - 2.6
    s.line((-2.4, y), (left, y), (left, link[1]), link, dash="--")


def panel(s: Symbol) -> None:
    """An enclosure's boundary."""
    s.line((-5, 0), (5, 0), (5, 8), (-5, 8), (-5, 0), dash="-.")
    s.ends(8)


COMMON: dict[str, Builder] = {
    "motor": motor,
    "generator": generator,
    "supply": supply,
    "alternator": alternator,
    "battery": battery,
    "load": load,
    "joint": joint,
    "block": block,
    "bus": bus,
    "earth": earth,
    "protective-earth": protective,
    "chassis": chassis,
    "bond": bond,
    "strokes": strokes,
    "panel": panel,
}
