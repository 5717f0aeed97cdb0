"""Text measured by the bundled font: widths, wrapping, extents.  All lengths are millimetres.

A text's *size* is the height of its capitals (ISO 3098), not its em: ``em(1.8)`` is the font size
to ask a viewer for.  Kerning is off everywhere, so a width is the sum of the advances in
``fonts/metrics.json`` (made from the font by ``make_fonts.py``) and holds in every output.

    width("Q1  15 A", 1.8)            -> width in mm
    wrap("Desk socket, front", 1.8, 20) -> ["Desk socket,", "front"]
    fit("A very long label", 1.8, 15) -> "A very lo…"
    extent("Qy", 1.8)                 -> (above, below) the baseline, in mm, of the ink
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path

FONTS = Path(__file__).parent / "fonts"
FAMILY = "Ferrule Sans"
CAP_EM = 1493 / 2048  # height of a capital, from the font's own outline of "H"
ABSENT = (1229, 0, 1493)  # a character the font lacks: 0.6 em wide, as tall as a capital
UNITS = frozenset(
    ("A", "kA", "mA", "V", "kV", "W", "kW", "VA", "kVA", "Hz", "Ah", "m", "mm", "mm²", "AWG", "Ω")
)
ELLIPSIS = "…"

# Lettering heights of ISO 3098 that we use.
T18, T25, T35, T50 = 1.8, 2.5, 3.5, 5.0
PITCH = 1.5  # line pitch in lettering heights (ISO 3098 type B without accents)

Glyph = tuple[int, int, int]


@cache
def _table() -> tuple[float, Mapping[bool, Mapping[str, Glyph]]]:
    raw = json.loads((FONTS / "metrics.json").read_text(encoding="utf-8"))
    faces = {False: raw["regular"], True: raw["bold"]}
    return raw["units_per_em"], {
        bold: {char: (row[0], row[1], row[2]) for char, row in face.items()}
        for bold, face in faces.items()
    }


def em(size: float) -> float:
    """The font size in mm whose capitals are ``size`` mm high."""
    return size / CAP_EM


def font_file(bold: bool, suffix: str) -> Path:
    """The bundled font as ``.ttf`` or ``.woff``."""
    return FONTS / f"ferrule-sans-{'bold' if bold else 'regular'}{suffix}"


class _Advances(dict[str, int]):
    """By character how far it takes the line, in units of the font."""

    def __missing__(self, char: str) -> int:
        return ABSENT[0]


@cache
def _advances(bold: bool) -> tuple[_Advances, float]:
    """The advances of a face, and how many units an em has."""
    units, faces = _table()
    return _Advances({char: glyph[0] for char, glyph in faces[bold].items()}), units


@cache
def width(text: str, size: float, bold: bool = False) -> float:
    """Width of one line in mm; a missing glyph counts 0.6 em."""
    advances, units = _advances(bold)
    return sum(map(advances.__getitem__, text)) * em(size) / units


@cache
def extent(text: str, size: float, bold: bool = False) -> tuple[float, float]:
    """How far the ink reaches above and below the baseline, in mm (both positive)."""
    units, faces = _table()
    rows = [faces[bold].get(char, ABSENT) for char in text if not char.isspace()]
    scale = em(size) / units
    above = max((row[2] for row in rows), default=0)
    below = -min((row[1] for row in rows), default=0)
    return above * scale, max(below, 0) * scale


def missing(text: str) -> str:
    """The characters of a text that the bundled font lacks, each once."""
    _, faces = _table()
    return "".join(dict.fromkeys(char for char in text if char not in faces[False]))


def pitch(size: float) -> float:
    """Distance of baselines in mm of lines of one text."""
    return PITCH * size


def wrap(text: str, size: float, most: float, bold: bool = False) -> list[str]:
    """Lines of at most ``most`` mm, broken at spaces, and inside a word only if it must be.

    A number and its unit stay together where a line has room for both.
    """
    return list(_wrapped(text, size, most, bold))


@cache
def _wrapped(text: str, size: float, most: float, bold: bool) -> tuple[str, ...]:
    """The same sentences stand on every sheet: worked out once."""
    lines: list[str] = []
    line = ""
    for word in _words(text, size, most, bold):
        candidate = f"{line} {word}" if line else word
        if width(candidate, size, bold) <= most:
            line = candidate
            continue
        if line:
            lines.append(line)
        *whole, line = _pieces(word, size, most, bold)
        lines += whole
    return (*lines, line) if line else tuple(lines)


def _words(text: str, size: float, most: float, bold: bool) -> list[str]:
    words: list[str] = []
    for word in text.split():
        if word.rstrip(",") in UNITS and words and words[-1][-1].isdigit():
            both = f"{words[-1]} {word}"
            if width(both, size, bold) <= most:
                words[-1] = both
                continue
        words.append(word)
    return words


def _pieces(word: str, size: float, most: float, bold: bool) -> list[str]:
    """A word cut so that each piece fits; at least one character a piece."""
    pieces, piece = [], ""
    for char in word:
        if piece and width(piece + char, size, bold) > most:
            pieces.append(piece)
            piece = ""
        piece += char
    return [*pieces, piece]


def fit(text: str, size: float, most: float, bold: bool = False) -> str:
    """The text, or as much of its beginning as fits ``most`` mm with an ellipsis."""
    if width(text, size, bold) <= most:
        return text
    for end in range(len(text) - 1, 0, -1):
        short = text[:end].rstrip() + ELLIPSIS
        if width(short, size, bold) <= most:
            return short
    return ELLIPSIS
