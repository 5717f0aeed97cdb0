"""Quantities, conductor sizes and ranges: what the text writes, in base units."""

from __future__ import annotations

import re
from functools import lru_cache

from .model import Quantity, Range, Size
from .problems import near

# unit as written -> (base unit, factor); factors are exact by definition unless noted
UNITS: dict[str, tuple[str, float]] = {
    "A": ("A", 1),
    "mA": ("A", 1e-3),
    "kA": ("A", 1e3),
    "V": ("V", 1),
    "mV": ("V", 1e-3),
    "kV": ("V", 1e3),
    "Hz": ("Hz", 1),
    "W": ("W", 1),
    "kW": ("W", 1e3),
    "VA": ("VA", 1),
    "kVA": ("VA", 1e3),
    "Ah": ("Ah", 1),
    "m": ("m", 1),
    "cm": ("m", 1e-2),
    "mm": ("m", 1e-3),
    "ft": ("m", 0.3048),
    "in": ("m", 0.0254),
    "degC": ("degC", 1),
    "degF": ("degC", 5 / 9),
    "Nm": ("Nm", 1),
    "lbin": ("Nm", 0.1129848290276167),  # pound-force inch, NIST SP 811 appendix B.8
    "lbft": ("Nm", 1.3558179483314004),  # pound-force foot, NIST SP 811 appendix B.8
    "ohm": ("ohm", 1),
    "mohm": ("ohm", 1e-3),
    "kohm": ("ohm", 1e3),
    "s": ("s", 1),
    "ms": ("s", 1e-3),
    "h": ("h", 1),
    "%": ("%", 1),
    "cm3": ("cm3", 1),
    "in3": ("cm3", 16.387064),
}

# Areas in mm2 as printed in NFPA 70, chapter 9, table 8; 24 to 20 AWG by the formula of ASTM B258
# (d = 0.005 in x 92^((36-n)/39)), to three figures.
AWG: dict[str, float] = {
    "24": 0.205,
    "22": 0.326,
    "20": 0.518,
    "18": 0.823,
    "16": 1.31,
    "14": 2.08,
    "12": 3.31,
    "10": 5.261,
    "8": 8.367,
    "6": 13.30,
    "4": 21.15,
    "3": 26.67,
    "2": 33.62,
    "1": 42.41,
    "1/0": 53.49,
    "2/0": 67.43,
    "3/0": 85.01,
    "4/0": 107.2,
}

DIMENSIONS: dict[str, str] = {
    "A": "a current, like 15A or 30mA",
    "V": "a voltage, like 120V",
    "Hz": "a frequency, like 60Hz",
    "W": "a power, like 1800W or 3kW",
    "VA": "an apparent power, like 3kVA",
    "Ah": "a capacity, like 200Ah",
    "m": "a length, like 4.5m, 15ft or 18in",
    "degC": "a temperature, like 40degC or 104degF",
    "Nm": "a torque, like 2.0Nm or 18lbin",
    "ohm": "a resistance, like 20mohm",
    "s": "a time, like 100ms",
    "h": "hours, like 3h",
    "%": "a share, like 3%",
    "cm3": "a volume, like 300cm3 or 18in3",
    "size": "a conductor size, like 2.5mm2 or 14AWG",
    "cores": "cores and their size, like 3x14AWG or 2x2.5mm2",
    "range": "a range of conductor sizes, like 1..16mm2 or 18..6AWG",
    "lengths": "a range of lengths, like 9..17mm",
}

# how people write a unit that the language spells otherwise
SPELLINGS = {
    "°C": "degC", "°F": "degF", "C": "degC", "F": "degF", "Ω": "ohm", "mΩ": "mohm", "kΩ": "kohm",
    "mm²": "mm2", "sqmm": "mm2", "feet": "ft", "foot": "ft", "'": "ft", "inch": "in", "amp": "A",
    "amps": "A", "a": "A", "v": "V", "w": "W", "hz": "Hz", "HZ": "Hz", "awg": "AWG", "ka": "kA",
    "Ma": "mA", "kva": "kVA", "kw": "kW", "KW": "kW", "KVA": "kVA", "ah": "Ah", "AH": "Ah",
    "nm": "Nm", "N.m": "Nm", "sec": "s", "Vac": "V", "Vdc": "V", "VAC": "V", "VDC": "V",
    "in-lb": "lbin", "inlb": "lbin", "lb-in": "lbin", "ft-lb": "lbft",
    "ftlb": "lbft", "lb-ft": "lbft", "hr": "h", "hrs": "h",
}  # fmt: skip

MOST = 1e9
MOST_CORES = 60

_PARTS = re.compile(
    r"(?:(?P<cores>\d{1,6})[xX×](?=\d))?"
    r"(?:(?P<low>\d+(?:\.\d+)?|[1-4]/0)\.\.(?=\d))?"
    r"(?P<number>[-+]?\d+/0|[-+]?\d+(?:\.\d+)?)"
    r"(?P<unit>[^\d.].*)?"
)


class Bad(Exception):
    """A value that cannot be read: what is wrong, what was expected, what to do.

    ``about`` names the attribute that it is about, where it is known apart from the whole.
    """

    def __init__(self, message: str, expected: str = "", hint: str = "", about: str = "") -> None:
        super().__init__(message)
        self.message, self.expected, self.hint = message, expected, hint
        self.about = about


def _area(number: str, unit: str, text: str) -> float:
    """mm2 of a size written ``number`` and ``unit`` (AWG or mm2)."""
    if unit == "mm2":
        return _number(number, text, positive=True)
    if number not in AWG:
        sizes = " ".join(AWG)
        raise Bad(f"{number}AWG is no conductor size", f"one of {sizes} AWG, or a size in mm2")
    return AWG[number]


def _number(number: str, text: str, positive: bool = False) -> float:
    if "/" in number:
        raise Bad(f"cannot read the number {text}", "a number like 12 or 2.5")
    value = float(number)
    if abs(value) > MOST:
        raise Bad(f"{text[:40]} is beyond any rig", f"a number up to {MOST:.0e}")
    if value < 0 or (positive and value == 0):
        raise Bad(f"{text} must be more than zero")
    return value


@lru_cache(maxsize=8192)
def amount(text: str) -> Quantity | Range | tuple[int, Size]:
    """What a word that starts with a digit says.

    A size comes with its number of cores, 0 where none is given (``14AWG``); everything else is
    in the base unit of its dimension.  Raises ``Bad`` where it is none of these.
    """
    found = _PARTS.fullmatch(text)
    if not found:
        raise Bad(
            f"cannot read the quantity {text[:40]}", "a number and its unit, like 15A or 2.5mm2"
        )
    cores, low, number, unit = found["cores"], found["low"], found["number"], found["unit"] or ""
    if unit in ("mm2", "AWG"):
        return _sizes(cores, low, number, unit, text)
    if unit not in UNITS:
        raise _no_unit(number, unit, text)
    if cores or low:
        raise Bad(f"{text} is neither a quantity nor conductors", "a range or cores in mm2 or AWG")
    return _quantity(number, unit, text)


def _sizes(
    cores: str | None, low: str | None, number: str, unit: str, text: str
) -> Range | tuple[int, Size]:
    high = _area(number, unit, text)
    if low:
        least = _area(low, unit, text)
        if least > high or cores:
            raise Bad(f"{text} runs backwards", DIMENSIONS["range"])
        return Range(least, high, "mm2", text)
    count = int(cores or 0)
    if count > MOST_CORES or (cores and not count):
        raise Bad(f"a cable of {count} cores", f"1 to {MOST_CORES} cores")
    return count, Size(high, text.rpartition("x")[2] if cores else text)


def _quantity(number: str, unit: str, text: str) -> Quantity:
    base, factor = UNITS[unit]
    if base == "degC":
        value = float(number) if "/" not in number else 1e99
        value = value if unit == "degC" else (value - 32) * factor
        if not -60 <= value <= 1000:
            raise Bad(f"{text[:40]} is no temperature a rig can have")
    else:
        value = _number(number, text) * factor
    return Quantity(round(value, 10), base, text)


def _no_unit(number: str, unit: str, text: str) -> Bad:
    if not unit:
        return Bad(
            f"{text[:40]} has no unit", "a number and its unit with no space, like 15A or 2.5mm2"
        )
    if unit[0] == "," and unit[1:2].isdigit():
        hint = f"write `{number}.{unit[1:20]}`"
        return Bad(f"a decimal comma in {text[:40]}", "a decimal point", hint)
    known = [*UNITS, "mm2", "AWG"]
    spelled = SPELLINGS.get(unit) or SPELLINGS.get(unit.strip(".")) or near(unit[:20], known)
    hint = f"did you mean `{number}{spelled}`?" if spelled else ""
    return Bad(f"unknown unit {unit[:20]} in {text[:40]}", "one of " + " ".join(known), hint)


def quantity(text: str, dimension: str) -> Quantity:
    """A quantity that must be of one dimension (``A``, ``m`` …); raises ``Bad``."""
    value = amount(text) if text[:1].isdigit() or text[:1] in "+-" else None
    if not isinstance(value, Quantity) or value.unit != dimension:
        raise Bad(
            f"{text[:40]} is not {DIMENSIONS[dimension].split(',')[0]}", DIMENSIONS[dimension]
        )
    return value


def size_range(text: str) -> Range:
    """A range of conductor sizes; one size alone is the range of itself; raises ``Bad``."""
    value = amount(text) if text[:1].isdigit() else None
    if isinstance(value, tuple) and not value[0]:
        return Range(value[1].mm2, value[1].mm2, "mm2", text)
    if not isinstance(value, Range):
        raise Bad(f"{text[:40]} is not a range of conductor sizes", DIMENSIONS["range"])
    return value


def one_size(text: str) -> Size:
    """One conductor size; raises ``Bad``."""
    value = amount(text) if text[:1].isdigit() else None
    if not isinstance(value, tuple) or value[0]:
        raise Bad(f"{text[:40]} is not a conductor size", DIMENSIONS["size"])
    return value[1]


def length_range(text: str) -> Range:
    """A range of lengths in m (``9..17mm``); one length is the range of itself; raises ``Bad``."""
    found = _PARTS.fullmatch(text)
    unit = found["unit"] or "" if found else ""
    if not found or found["cores"] or UNITS.get(unit, ("", 0))[0] != "m":
        raise Bad(f"{text[:40]} is not a range of lengths", DIMENSIONS["lengths"])
    high = _quantity(found["number"], unit, text).value
    low = _quantity(found["low"] or found["number"], unit, text).value
    if low > high:
        raise Bad(f"{text} runs backwards", DIMENSIONS["lengths"])
    return Range(low, high, "m", text)
