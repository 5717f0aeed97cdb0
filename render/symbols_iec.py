"""Symbols of IEC 60617.  All contacts are drawn open, as without power.

The standard's drawings are behind a fee; these follow its descriptions (make contact with an
oblique blade hinged at one terminal; a cross, a bar, a circle or a half circle at the fixed contact
for the function), partly from memory.
"""

from __future__ import annotations

from .symbol_base import Builder, Symbol
from .symbols_common import converters, named, residual

FIXED, HINGE, HEIGHT = 4.0, 10.0, 14.0
TIP = (-3.0, 4.6)


def contact(s: Symbol) -> None:
    """A make contact: fixed contact above, blade hinged below."""
    s.line((0, 0), (0, FIXED))
    s.line(TIP, (0, HINGE))
    s.line((0, HINGE), (0, HEIGHT))
    s.ends(HEIGHT)


def cross(s: Symbol) -> None:
    s.line((-1, FIXED - 1), (1, FIXED + 1))
    s.line((-1, FIXED + 1), (1, FIXED - 1))


def bar(s: Symbol) -> None:
    s.line((-1.3, FIXED), (1.3, FIXED))


def breaker(s: Symbol) -> None:
    contact(s)
    cross(s)
    if s.options.get("residual"):
        residual(s, HEIGHT, (-1.5, 7.3))


def rcd(s: Symbol) -> None:
    """A residual-current device without overcurrent protection: it switches loads and isolates."""
    contact(s)
    bar(s)
    s.circle(0, FIXED + 0.7, 0.7, fill="white")
    residual(s, HEIGHT, (-1.5, 7.3))


def switch(s: Symbol) -> None:
    """A make contact; with ``isolates`` a switch-disconnector: a bar and a circle."""
    contact(s)
    if s.options.get("isolates"):
        bar(s)
        s.circle(0, FIXED + 0.7, 0.7, fill="white")


def contactor(s: Symbol) -> None:
    contact(s)
    s.arc(0, FIXED - 0.9, 0.9, 0.9, 270, 90)


def selector(s: Symbol) -> None:
    """A change-over with an off position: the blade rests between its two contacts."""
    for side in (-1, 1):
        s.line((5 * side, 0), (5 * side, 5), (1.8 * side, 5))
        s.circle(1.3 * side, 5, 0.5, fill="white")
    s.line((0, 4.6), (0, HEIGHT))
    s.circle(0, HINGE, 0.5, fill="black")
    s.ends(HEIGHT, a=(-5, 0), b=(5, 0), out=(0, HEIGHT))


def fuse(s: Symbol) -> None:
    s.box(-1.5, 3, 1.5, 11)
    s.line((0, 0), (0, HEIGHT))
    s.ends(HEIGHT)


def inlet(s: Symbol) -> None:
    """Plug and socket, the male part (filled) on the rig's side."""
    s.line((0, 0), (0, 3))
    s.arc(0, 5.4, 2.4, 2.4, 0, 180)
    s.box(-0.7, 4, 0.7, 9, fill="black")
    s.line((0, 9), (0, 12))
    s.ends(12)


def socket(s: Symbol) -> None:
    """A socket-outlet; the bar across is its protective contact."""
    s.line((0, 0), (0, 3))
    s.arc(0, 6.2, 3.2, 3.2, 0, 180)
    if not s.options.get("dc"):
        s.line((-3.2, 3), (3.2, 3))
    s.ends(6.2)


def lamp(s: Symbol) -> None:
    s.circle(0, 3.5, 3.5)
    reach = 3.5 * 0.7071
    s.line((-reach, 3.5 - reach), (reach, 3.5 + reach))
    s.line((-reach, 3.5 + reach), (reach, 3.5 - reach))
    s.ends(7)


def heater(s: Symbol) -> None:
    """A heating element: a rectangle divided into four."""
    s.box(-1.6, 0, 1.6, 9)
    for part in (1, 2, 3):
        s.line((-1.6, 9 * part / 4), (1.6, 9 * part / 4))
    s.ends(9)


def converter(s: Symbol, above: str, below: str) -> None:
    """A square with a diagonal: what goes in above, what comes out below."""
    s.box(-6, 0, 6, 12)
    s.line((-6, 12), (6, 0))
    for sign, x, y in ((above, -2.9, 3.1), (below, 2.9, 8.9)):
        (s.sine if sign == "~" else s.direct)(x, y)
    s.ends(12, left=(-6, 6), right=(6, 6))


def solar(s: Symbol) -> None:
    """A photovoltaic generator: G, a cell, and the light that falls on it."""
    s.box(-5, 0, 5, 10)
    s.letter(0, 2.9, "G", 2.5)
    s.line((0, 4.8), (0, 6.2))
    s.line((-2.4, 6.2), (2.4, 6.2))
    s.line((-1.2, 7.6), (1.2, 7.6))
    s.line((0, 7.6), (0, 9))
    _light(s, -8.6, 1.2)
    _light(s, -8.6, 4.0)
    s.ends(10)


def _light(s: Symbol, x: float, y: float) -> None:
    s.line((x, y), (x + 2.6, y + 2.0))
    s.shape((x + 3.0, y + 2.3), (x + 1.7, y + 2.1), (x + 2.5, y + 1.1), fill="black")


def transformer(s: Symbol) -> None:
    """Two windings as two circles; ``screen``: an earthed screen between them."""
    s.line((0, 0), (0, 2))
    s.circle(0, 6, 4)
    s.circle(0, 11, 4)
    s.line((0, 15), (0, 17))
    if s.options.get("screen"):
        s.line((-5, 8.5), (5, 8.5), dash="--")
    s.ends(17)


IEC: dict[str, Builder] = {
    **named(breaker, rcd, switch, contactor, selector, fuse, inlet, socket, lamp, heater),
    **converters(converter, "~", "="),
    **named(transformer, solar),
}
