"""reportlab's canvas as ferrule uses it: millimetres, the bundled fonts, no date, one set of bytes.

The only place that imports reportlab, and only when called.  reportlab has no types: what comes
from here is ``Any``.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from io import BytesIO
from typing import Any

from .metrics import FAMILY, font_file

POINTS = 72 / 25.4
"""PDF points in a millimetre."""
SETTINGS = {"invariant": 1, "useA85": 0, "pdfMultiLine": 0}
"""No comments and no text armour, whatever the machine's own settings are."""


def font(bold: bool) -> str:
    """The name of a face of the bundled font."""
    return f"{FAMILY.replace(' ', '')}-{'Bold' if bold else 'Regular'}"


def opened(out: BytesIO, facts: Mapping[str, str]) -> Any:
    """A canvas that writes to ``out``; ``facts`` are its document information, nothing else is."""
    from reportlab import rl_config  # type: ignore[import-untyped]
    from reportlab.pdfgen.canvas import Canvas  # type: ignore[import-untyped]

    for name, value in SETTINGS.items():
        setattr(rl_config, name, value)
    _register()
    canvas = Canvas(
        out, pageCompression=1, invariant=1, pdfVersion=(1, 4), initialFontName=font(False),
        lang="en",
    )  # fmt: skip
    _inform(canvas, {key: sound(words) for key, words in facts.items() if words})
    canvas.showOutline()
    canvas.setViewerPreference("DisplayDocTitle", "true")
    return canvas


def begin(canvas: Any, width: float, height: float) -> None:
    """A page of a size in mm; from here on the canvas counts in mm, from the lower left corner."""
    canvas.setPageSize((width * POINTS, height * POINTS))
    canvas.scale(POINTS, POINTS)


@cache
def _register() -> None:
    from reportlab.pdfbase.pdfmetrics import registerFont  # type: ignore[import-untyped]
    from reportlab.pdfbase.ttfonts import TTFont  # type: ignore[import-untyped]

    for bold in (False, True):
        registerFont(TTFont(font(bold), str(font_file(bold, ".ttf")), asciiReadable=True))


def _inform(canvas: Any, facts: Mapping[str, str]) -> None:
    """Its own information always has two dates, and so does the file's identifier."""
    from hashlib import md5

    from reportlab.pdfbase.pdfdoc import (  # type: ignore[import-untyped]
        PDFDictionary,
        PDFString,
    )

    entries = {key: PDFString(words) for key, words in facts.items()}
    document = canvas._doc
    document.info.format = PDFDictionary(entries).format
    document.signature = md5("\n".join(facts.values()).encode(), usedforsecurity=False)


def sound(words: str) -> str:
    """Words without half a character, which no file can hold."""
    return words.encode("utf-8", "replace").decode("utf-8")
