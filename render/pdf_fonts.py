"""The bundled fonts as a PDF carries them: embedded TrueType, selectable, not kerned.

What is needed of a font file is read here: which glyph a character is, and its overall measures.
"""

from __future__ import annotations

import struct
from functools import cache, cached_property

from .metrics import CAP_EM, FAMILY, font_file, width
from .pdf_file import Objects

EM = 1000
"""Units of a PDF's glyph space in an em."""


class Face:
    """One face of the font, and the glyphs of it that a document has used."""

    def __init__(self, bold: bool) -> None:
        self.bold = bold
        self.name = f"{FAMILY.replace(' ', '')}-{'Bold' if bold else 'Regular'}"
        self.used: dict[int, str] = {0: ""}

    @cached_property
    def _data(self) -> bytes:
        return _file(self.bold)

    def shown(self, words: str) -> bytes:
        """A text as the numbers of its glyphs, in hexadecimal; 0 for a character it lacks."""
        glyphs = _glyphs(self.bold)
        codes = []
        for char in words:
            code = glyphs.get(ord(char), 0)
            self.used.setdefault(code, char)
            codes.append(f"{code:04X}")
        return "".join(codes).encode()

    def written(self, objects: Objects) -> int:
        """The font's objects; returns the number of the first."""
        file = objects.stream(self._data, b" /Length1 %d" % len(self._data))
        name = self.name.encode()
        left, bottom, right, top, rise, fall = _measures(self.bold)
        about = objects.add(
            b"<< /Type /FontDescriptor /FontName /%b /Flags 32 /FontBBox [%d %d %d %d] "
            b"/ItalicAngle 0 /Ascent %d /Descent %d /CapHeight 729 /StemV %d /FontFile2 %d 0 R >>"
            % (name, left, bottom, right, top, rise, fall, 140 if self.bold else 80, file)
        )
        glyphs = objects.add(
            b"<< /Type /Font /Subtype /CIDFontType2 /BaseFont /%b /CIDToGIDMap /Identity "
            b"/CIDSystemInfo << /Registry (Adobe) /Ordering (Identity) /Supplement 0 >> "
            b"/FontDescriptor %d 0 R /DW 600 /W [%b] >>" % (name, about, self._widths())
        )
        letters = objects.stream(self._letters())
        return objects.add(
            b"<< /Type /Font /Subtype /Type0 /BaseFont /%b /Encoding /Identity-H "
            b"/DescendantFonts [%d 0 R] /ToUnicode %d 0 R >>" % (name, glyphs, letters)
        )

    def _widths(self) -> bytes:
        found = (
            f"{code} [{EM * width(char, CAP_EM, self.bold):.4g}]"
            for code, char in sorted(self.used.items())
            if code
        )
        return " ".join(found).encode()

    def _letters(self) -> bytes:
        """Which characters the glyphs are, for whoever selects or searches (9.10.3)."""
        rows = [
            f"<{code:04X}> <{char.encode('utf-16-be').hex().upper()}>"
            for code, char in sorted(self.used.items())
            if code
        ]
        blocks = [rows[i : i + 100] for i in range(0, len(rows), 100)]
        body = "".join(
            f"{len(block)} beginbfchar\n{chr(10).join(block)}\nendbfchar\n" for block in blocks
        )
        return (
            "/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n"
            "/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def\n"
            "/CMapName /Adobe-Identity-UCS def\n/CMapType 2 def\n"
            f"1 begincodespacerange\n<0000> <FFFF>\nendcodespacerange\n{body}"
            "endcmap\nCMapName currentdict /CMap defineresource pop\nend\nend\n"
        ).encode()


@cache
def _file(bold: bool) -> bytes:
    return font_file(bold, ".ttf").read_bytes()


@cache
def _tables(bold: bool) -> dict[bytes, int]:
    """Where each table of the file begins (OpenType, table directory)."""
    data = _file(bold)
    (count,) = struct.unpack_from(">H", data, 4)
    rows = (struct.unpack_from(">4s4xL", data, 12 + 16 * index) for index in range(count))
    return {bytes(tag): place for tag, place in rows}


@cache
def _glyphs(bold: bool) -> dict[int, int]:
    """The glyph of each character, from the table of format 12 (OpenType, cmap)."""
    data, start = _file(bold), _tables(bold)[b"cmap"]
    (count,) = struct.unpack_from(">H", data, start + 2)
    places = (struct.unpack_from(">4xL", data, start + 4 + 8 * i)[0] for i in range(count))
    place = next(start + p for p in places if struct.unpack_from(">H", data, start + p) == (12,))
    (groups,) = struct.unpack_from(">L", data, place + 12)
    found: dict[int, int] = {}
    for index in range(groups):
        first, last, glyph = struct.unpack_from(">3L", data, place + 16 + 12 * index)
        found |= {code: glyph + code - first for code in range(first, last + 1)}
    return found


@cache
def _measures(bold: bool) -> tuple[int, ...]:
    """Left, bottom, right and top of all glyphs, ascent and descent (OpenType, head and hhea)."""
    data, at = _file(bold), _tables(bold)
    (em,) = struct.unpack_from(">H", data, at[b"head"] + 18)
    box = struct.unpack_from(">4h", data, at[b"head"] + 36)
    line = struct.unpack_from(">2h", data, at[b"hhea"] + 4)
    return tuple(round(value * EM / em) for value in (*box, *line))
