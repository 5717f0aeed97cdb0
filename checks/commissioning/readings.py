"""Readings as people write them, and whether they are within a test's bounds.

    judge(trial, understood("0,12 ohm", trial.unit))

A decimal comma, a unit of another size, ``OL`` for over range, ``>999`` for more than the
instrument shows, a minus sign of any kind are all understood; what may mean two things is not.
"""

from __future__ import annotations

import re
from math import inf, isfinite

from .trial import YES, Trial

Value = float | bool
LONGEST = 40
"""No reading is longer; what is, was not meant as one."""

# How a unit may be spelled: its dimension and its size.
UNITS = {
    "V": ("V", 1.0), "mV": ("V", 1e-3), "kV": ("V", 1e3),
    "A": ("A", 1.0), "mA": ("A", 1e-3), "kA": ("A", 1e3),
    "ohm": ("ohm", 1.0), "mohm": ("ohm", 1e-3), "kohm": ("ohm", 1e3), "Mohm": ("ohm", 1e6),
    "Gohm": ("ohm", 1e9), "s": ("s", 1.0), "ms": ("s", 1e-3),
}  # fmt: skip
OHMS = ("Ω", "Ω", "Ohm", "OHM", "ohms", "Ohms")
KIND = re.compile(r"\s*\(?(AC|DC|ac|dc|RMS|rms)\)?$")
OVER = re.compile(r"(O\.?L\.?|o\.?l\.?|OR|∞|inf)(\s*[A-Za-zΩΩ]+)?")
DIGITS = r"([0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)"
NUMBER = re.compile(rf"([<>]?)\s*([-+]?){DIGITS}([eE][-+]?[0-9]{{1,2}})?(.*)")
GROUPS = re.compile(r"(?<=[0-9])[ '’](?=[0-9]{3}(?![0-9]))")
YES_WORDS = ("yes", "y", "ok", "okay", "pass", "passed", "done", "good", "✓", "✔")
NO_WORDS = ("no", "n", "not ok", "nok", "fail", "failed", "bad", "✗", "✘")
WORDS = {**dict.fromkeys(YES_WORDS, True), **dict.fromkeys(NO_WORDS, False)}
"""Answers; an ``x`` is none of them: to one person it is a tick, to another the opposite."""
NEAR, BEYOND = 1e-9, 1e-6
"""Shares: two figures this near are the same; what is above a figure is this far above it."""


class NotUnderstood(ValueError):
    """A text that is no reading of its test; the message says what would be."""


def understood(text: str, unit: str) -> Value:
    """A reading in a test's unit; infinite for ``OL``, a truth for yes and no.

    Raises NotUnderstood.

    >>> understood("0,35 ohm", "ohm"), understood("350 mΩ", "ohm"), understood("OL", "Mohm")
    (0.35, 0.35, inf)
    >>> understood("ok", "")
    True
    """
    plain = re.sub(r"[\s\u00a0\u202f]+", " ", text).strip().lstrip("'")
    if len(plain) > LONGEST:
        raise NotUnderstood("too long for a reading")
    if unit == YES:
        return _answer(plain)
    if OVER.fullmatch(plain):
        return inf
    if plain.lower() in WORDS:
        raise NotUnderstood(f"a figure in {unit} is wanted")
    return _number(plain.replace("−", "-").replace("–", "-"), unit)


def _answer(plain: str) -> bool:
    try:
        return WORDS[plain.lower().rstrip(".")]
    except KeyError:
        raise NotUnderstood("yes or no is wanted") from None


def _number(plain: str, unit: str) -> float:
    found = NUMBER.fullmatch(GROUPS.sub("", plain))
    if found is None:
        raise NotUnderstood(f"a figure in {unit} is wanted")
    beyond, sign, digits, power, rest = found.groups()
    if rest[:1] in ("", ".", ",") and rest:
        raise NotUnderstood("write it with one decimal sign and no thousands sign")
    value = float(sign + digits.replace(",", ".") + (power or "")) * _size(rest, unit)
    if not isfinite(value):
        raise NotUnderstood("beyond every instrument")
    return value * {"<": 1 - BEYOND, ">": 1 + BEYOND}.get(beyond, 1.0)


def _size(rest: str, unit: str) -> float:
    """What a figure with a unit behind it is to be multiplied by to be in the test's unit."""
    word = KIND.sub("", rest.strip())
    for spelling in OHMS:
        word = word.replace(spelling, "ohm")
    if not word:
        return 1.0
    wanted, size = UNITS[unit]
    given, factor = UNITS.get(word, ("", 1.0))
    if given != wanted:
        raise NotUnderstood(f"a figure in {unit} is wanted, not in `{word}`")
    return factor / size


def judge(trial: Trial, value: Value) -> str:
    """What is wrong with a reading; "" where it is within bounds."""
    if isinstance(value, bool):
        return "" if value else "answered no"
    if trial.low is not None and trial.low == trial.high:
        return "" if abs(value - trial.low) <= NEAR * abs(trial.low) else f"not {trial.low:g}"
    if trial.low is not None and value < trial.low * (1 - NEAR if trial.low > 0 else 1 + NEAR):
        return f"below {trial.low:g} {trial.unit}"
    if trial.high is not None and value > trial.high * (1 + NEAR if trial.high > 0 else 1 - NEAR):
        return f"above {trial.high:g} {trial.unit}"
    return ""
