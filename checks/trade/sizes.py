"""Conductor sizes of the trade as areas in mm2, as the reader of the language takes them."""

from __future__ import annotations

from functools import cache
from math import pi

from ...dsl.units import AWG

NEAR = 1.005
"""Two areas within half a per cent are the same size; neighbours differ by 3.8 % and more."""


@cache
def area_mm2(text: str) -> float:
    """The area in mm2 of a size as written: ``14AWG``, ``2/0AWG``, ``2.5mm2``.

    AWG areas are those the language reads (NFPA 70 Chapter 9 Table 8); sizes it does not know are
    0.127 mm x 92^((36 - n) / 39) in diameter, n the gauge (ASTM B258).  Raises ValueError for
    anything else.
    """
    if text.endswith("mm2"):
        return float(text.removesuffix("mm2"))
    if not text.endswith("AWG"):
        raise ValueError(f"not a conductor size: {text!r}")
    gauge = text.removesuffix("AWG")
    return AWG[gauge] if gauge in AWG else pi / 4 * (0.127 * 92 ** ((36 - int(gauge)) / 39)) ** 2


def spoken(size: str) -> str:
    """A size as people write it in a sentence: ``14 AWG``, ``2.5 mm2``."""
    for unit in ("AWG", "mm2"):
        if size.endswith(unit):
            return f"{size.removesuffix(unit)} {unit}"
    return size


def at_least(mm2: float, like: str) -> str:
    """An area as the size to ask for, in the units of another: the next AWG, or mm2.

    >>> at_least(5.261, "14AWG"), at_least(2.5, "1.5mm2")
    ('10 AWG (5.26 mm2)', '2.5 mm2')
    """
    fitting = [name for name, area in AWG.items() if area * NEAR >= mm2]
    if not like.endswith("AWG") or not fitting:
        return f"{mm2:.4g} mm2"
    return f"{min(fitting, key=AWG.__getitem__)} AWG ({mm2:.3g} mm2)"


def plain(value: float) -> str:
    """A number as people write it, to three figures: ``26.5``, ``1517``.

    >>> plain(26.53), plain(1517.2), plain(0.0421)
    ('26.5', '1517', '0.0421')
    """
    return f"{value:.0f}" if abs(value) >= 999.5 else f"{value:.3g}"


def same_size(a: float, b: float) -> bool:
    """Whether two areas (mm2) are one trade size, however they were rounded."""
    return 1 / NEAR < a / b < NEAR
