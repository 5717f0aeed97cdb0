"""Symbols of IEEE 315 (ANSI Y32.2), as used on North American one-line diagrams.

The same sizes and terminals as the IEC set, so that a layout does not depend on the set; drawn from
the standard's descriptions, partly from memory.
"""

from __future__ import annotations

from .symbol_base import Builder, Symbol
from .symbols_common import converters, named
from .symbols_iec import FIXED, HEIGHT, HINGE

RING_Y = 11.8


def breaker(s: Symbol) -> None:
    """An arc that bridges the gap between two contacts."""
    s.line((0, 0), (0, FIXED))
    s.line((0, HINGE), (0, HEIGHT))
    s.arc(-1.4, 7, 3.9, 3.9, -62, 62)
    if s.options.get("residual"):
        _ground_fault(s, (2.5, 7))
    s.ends(HEIGHT)


def _ground_fault(s: Symbol, link: tuple[float, float]) -> None:
    """A current transformer's ring and the ground-fault element that opens the device."""
    s.arc(0, RING_Y, 2.2, 1.0, 0, 360)
    s.line((-2.2, RING_Y), (-4.8, RING_Y), (-4.8, 8.8))
    s.box(-7.4, 5.2, -2.2, 8.8)
    s.letter(-4.8, 7, "GF")
    s.line((-2.2, 7), link, dash="--")


def _blade(s: Symbol) -> None:
    """Two contacts as open circles and a blade hinged at the lower one."""
    s.line((0, 0), (0, FIXED - 1.4))
    s.circle(0, FIXED - 0.7, 0.7)
    s.line((-3.4, FIXED), (-0.35, HINGE + 0.1))
    s.circle(0, HINGE + 0.7, 0.7)
    s.line((0, HINGE + 1.4), (0, HEIGHT))
    s.ends(HEIGHT)


def switch(s: Symbol) -> None:
    _blade(s)


def rcd(s: Symbol) -> None:
    """A switch opened by a ground-fault element."""
    s.line((0, 0), (0, FIXED - 1.4))
    s.circle(0, FIXED - 0.7, 0.7)
    s.line((3.0, FIXED), (0.3, 9.0))
    s.circle(0, 9.6, 0.7)
    s.line((0, 10.3), (0, HEIGHT))
    _ground_fault(s, (1.4, 7))
    s.ends(HEIGHT)


def contactor(s: Symbol) -> None:
    """A normally open contact as two bars, and the coil that closes it."""
    s.line((0, 0), (0, 6))
    s.line((-2.4, 6), (2.4, 6))
    s.line((-2.4, 8), (2.4, 8))
    s.line((0, 8), (0, HEIGHT))
    s.circle(-6.4, 7, 2)
    s.line((-4.4, 7), (-2.2, 7), dash="--")
    s.ends(HEIGHT)


def selector(s: Symbol) -> None:
    """A transfer switch with an off position: three open circles and a blade."""
    for side in (-1, 1):
        s.line((5 * side, 0), (5 * side, 3.6))
        s.circle(5 * side, 4.3, 0.7)
    s.line((0, 4.4), (0, 9.6))
    s.circle(0, HINGE + 0.3, 0.7)
    s.line((0, HINGE + 1), (0, HEIGHT))
    s.arc(0, HINGE + 0.3, 7.5, 7.5, 60, 75)
    s.arc(0, HINGE + 0.3, 7.5, 7.5, 105, 120)
    s.ends(HEIGHT, a=(-5, 0), b=(5, 0), out=(0, HEIGHT))


def fuse(s: Symbol) -> None:
    """An S-shaped element between two terminals."""
    s.line((0, 0), (0, 3))
    s.arc(0, 5, 1.6, 2, -90, 90)
    s.arc(0, 9, 1.6, 2, 90, 270)
    s.line((0, 11), (0, HEIGHT))
    s.ends(HEIGHT)


def inlet(s: Symbol) -> None:
    """Separable connector: two nested chevrons."""
    s.line((0, 0), (0, 5))
    s.line((-2.4, 3), (0, 5.4), (2.4, 3))
    s.line((-2.4, 6), (0, 8.4), (2.4, 6))
    s.line((0, 8.4), (0, 12))
    s.ends(12)


def socket(s: Symbol) -> None:
    """A receptacle: a circle crossed by two parallel lines."""
    s.circle(0, 4.2, 3)
    for x in (-1, 1):
        s.line((x, 0.6), (x, 7.8))
    s.line((0, 0), (0, 1.2))
    s.ends(7.8)


def lamp(s: Symbol) -> None:
    """A circle with rays."""
    s.circle(0, 4.5, 2.6)
    for dx, dy in ((-1, -1), (1, -1), (-1, 1), (1, 1)):
        near, far = 2.6 * 0.7071, 4.2 * 0.7071
        s.line((dx * near, 4.5 + dy * near), (dx * far, 4.5 + dy * far))
    s.line((0, 0), (0, 1.9))
    s.line((-4.2, 4.5), (-2.6, 4.5))
    s.line((2.6, 4.5), (4.2, 4.5))
    s.line((0, 7.1), (0, 8.7))
    s.ends(8.7)


def heater(s: Symbol) -> None:
    """A resistor's zig-zag."""
    steps = [(0.0, 0.0), (0.0, 1.0)]
    steps += [(1.7 if i % 2 else -1.7, 1.6 + 1.2 * i) for i in range(6)]
    s.line(*steps, (0, 8.2), (0, 9.2))
    s.ends(9.2)


def converter(s: Symbol, above: str, below: str) -> None:
    """A box with what goes in over what comes out."""
    s.box(-6, 0, 6, 12)
    s.line((-6, 6), (6, 6))
    s.letter(0, 3, above, 2.5)
    s.letter(0, 9, below, 2.5)
    s.ends(12, left=(-6, 6), right=(6, 6))


def solar(s: Symbol) -> None:
    """A photovoltaic cell in a circle, and the light that falls on it."""
    s.circle(0, 5, 5)
    s.line((0, 0), (0, 4.2))
    s.line((-3, 4.2), (3, 4.2))
    s.line((-1.5, 5.8), (1.5, 5.8))
    s.line((0, 5.8), (0, 10))
    for y in (-1.0, 2.0):
        s.line((-9, y), (-6.4, y + 2))
        s.shape((-6.0, y + 2.3), (-7.3, y + 2.1), (-6.5, y + 1.1), fill="black")
    s.ends(10)


def transformer(s: Symbol) -> None:
    """Two windings of loops that face each other."""
    s.line((0, 0), (0, 2), (-4.5, 2), (-4.5, 5))
    s.line((4.5, 5), (4.5, 2), (0, 2))
    s.line((0, 17), (0, 15), (-4.5, 15), (-4.5, 12))
    s.line((4.5, 12), (4.5, 15), (0, 15))
    for x in (-3, 0, 3):
        s.arc(x, 5, 1.5, 2.2, 180, 360)
        s.arc(x, 12, 1.5, 2.2, 0, 180)
    if s.options.get("screen"):
        s.line((-5, 8.5), (5, 8.5), dash="--")
    s.ends(17)


IEEE: dict[str, Builder] = {
    **named(breaker, rcd, switch, contactor, selector, fuse, inlet, socket, lamp, heater),
    **converters(converter, "AC", "DC"),
    **named(transformer, solar),
}
