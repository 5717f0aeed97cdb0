"""Quantities as a drawing writes them (ISO 80000-1: a space between number and unit)."""

from __future__ import annotations

UNITS = {"mm2": "mm²", "degC": "°C", "mohm": "mΩ", "ohm": "Ω", "Nm": "N·m"}
POLES = {"1N": "1P+N", "3N": "3P+N"}


def spaced(value: object) -> str:
    """A quantity with a space before its unit.

    >>> spaced("15A"), spaced("25mohm"), spaced("C")
    ('15 A', '25 mΩ', 'C')
    """
    text = str(value)
    cut = next((i for i, char in enumerate(text) if char.isalpha() or char in "%°Ω"), len(text))
    unit = UNITS.get(text[cut:], text[cut:])
    return f"{text[:cut]} {unit}" if cut and unit else text


def spaced_size(size: str) -> str:
    """A conductor's size likewise.

    >>> spaced_size("14AWG"), spaced_size("2/0AWG"), spaced_size("2.5mm2")
    ('14 AWG', '2/0 AWG', '2.5 mm²')
    """
    return size.replace("AWG", " AWG").replace("kcmil", " kcmil").replace("mm2", " mm²")


def poles_text(poles: str) -> str:
    """Poles as the trade writes them.

    >>> poles_text("2"), poles_text("1N")
    ('2P', '1P+N')
    """
    return POLES.get(poles, f"{poles}P")
