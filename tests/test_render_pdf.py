"""The PDF: fonts against fontTools, operators against the display list."""

from __future__ import annotations

import re
import subprocess
import sys
from io import BytesIO
from pathlib import Path

import pypdf
import pytest
from ferrule.render.canvas import Box, Sheet
from ferrule.render.marks import Pen
from ferrule.render.metrics import CAP_EM, T25, em, font_file, width
from ferrule.render.pdf import pdf
from ferrule.render.pdf_canvas import font
from fontTools.ttLib import TTFont  # type: ignore[import-untyped]
from hypothesis import given, settings
from hypothesis import strategies as st

ROOT = Path(__file__).parents[1]
LETTER = re.compile(r"<(\w\w)> <(\w{4})>")


def page(sheet: Sheet) -> pypdf.PageObject:
    return pypdf.PdfReader(BytesIO(pdf([sheet], "t"))).pages[0]


def stream(sheet: Sheet) -> str:
    return page(sheet).get_contents().get_data().decode("ascii")  # type: ignore[union-attr]


@pytest.mark.parametrize("bold", [False, True])
def test_widths_are_those_of_the_font(bold: bool) -> None:
    words = "WAVE-To 230 V Ω – ×"
    sheet = Sheet(420, 297)
    sheet.text(10, 10, words, T25, bold=bold)
    (face,) = page(sheet)["/Resources"]["/Font"].values()
    assert str(face["/BaseFont"]).endswith(font(bold))
    own = TTFont(font_file(bold, ".ttf"))
    assert own["name"].getDebugName(6) == font(bold)
    names, widths = own.getBestCmap(), face["/Widths"]
    for code, char in letters(face).items():
        if char in words:
            expected = own["hmtx"][names[ord(char)]][0] * 1000 / own["head"].unitsPerEm
            assert float(widths[code]) == pytest.approx(expected, abs=0.001)
    assert set(letters(face).values()) >= set(words)


def letters(face: pypdf.generic.DictionaryObject) -> dict[int, str]:
    """Which character each code of a font is, as its file says for whoever selects text."""
    table = face["/ToUnicode"].get_object().get_data().decode("ascii")  # type: ignore[attr-defined]
    return {int(code, 16): chr(int(char, 16)) for code, char in LETTER.findall(table)}


def test_a_line_by_hand() -> None:
    """In mm from the page's lower left corner, on a page whose unit is a point."""
    sheet = Sheet(254, 254)
    sheet.line([(25.4, 25.4), (50.8, 25.4)], Pen(0.5, "#ff0000", "dashed", "butt"))
    text = stream(sheet)
    (_, whole), (x, y) = re.findall(r"([\d.]+) 0 0 ([\d.]+) 0 0 cm", text)
    assert float(whole) == 1
    assert float(x) == float(y) == pytest.approx(72 / 25.4)
    assert "25.4 228.6 m 50.8 228.6 l" in text
    assert "1 0 0 RG .5 w 0 J 0 j [6 1.5] 0 d" in " ".join(text.split())


def painted(sheet: Sheet) -> list[str]:
    """The operators that paint a path, in their order."""
    return [word for word in stream(sheet).split() if word in ("S", "f", "B", "f*", "B*")]


def test_a_filled_box_is_closed_and_painted() -> None:
    sheet = Sheet(100, 100)
    sheet.poly([(0, 0), (10, 0), (10, 10)], None, "#000000")
    assert painted(sheet) == ["f"]
    assert "l h" in stream(sheet)


def test_lines_alike_are_one_path_and_filled_shapes_cover_each_other() -> None:
    lines, boxes = Sheet(100, 100), Sheet(100, 100)
    for at in (10, 20, 30):
        lines.line([(at, 0), (at, 50)])
        boxes.rect(Box(at, at, at + 15, at + 15), Pen(), "#ffffff")
    assert painted(lines) == ["S"]
    assert painted(boxes) == ["B", "B", "B"]


def test_a_circle_stays_on_its_radius() -> None:
    """Cubic curves in four quarters: their ends lie on the circle, half way within 0.03 %."""
    sheet = Sheet(100, 100)
    sheet.circle(50, 40, 20)
    curves = re.findall(r"((?:-?[\d.]+ ){6})c\b", stream(sheet))
    assert len(curves) == 4
    start = (70.0, 60.0)
    for curve in curves:
        x1, y1, x2, y2, x, y = map(float, curve.split())
        half = ((start[0] + 3 * x1 + 3 * x2 + x) / 8, (start[1] + 3 * y1 + 3 * y2 + y) / 8)
        for px, py in ((x, y), half):
            assert ((px - 50) ** 2 + (py - 60) ** 2) ** 0.5 == pytest.approx(20, rel=0.0003)
        start = (x, y)
    assert start == pytest.approx((70, 60))


def test_an_arc_turns_counter_clockwise() -> None:
    """A quarter from the right to the top."""
    sheet = Sheet(100, 100)
    sheet.arc(50, 40, 20, 10, 0, 90)
    assert "70 60 m" in stream(sheet)
    assert " 50 70 c" in stream(sheet)


def test_a_text_that_reads_from_below() -> None:
    sheet = Sheet(100, 100)
    sheet.text(10, 60, "AB", T25, rotate=90, anchor="middle")
    text = stream(sheet)
    turned = re.search(r"0 1 -1 0 ([\d.]+) ([\d.]+) Tm", text)
    assert turned
    half = width("AB", T25) / 2
    assert float(turned[1]) == pytest.approx(10, abs=0.001)
    assert float(turned[2]) == pytest.approx(40 - half, abs=0.001)
    size = re.search(r"([\d.]+) Tf", text)
    assert size and float(size[1]) == pytest.approx(T25 / CAP_EM, abs=0.001)
    assert em(T25) == pytest.approx(T25 / CAP_EM)


@settings(max_examples=40, deadline=None)
@given(st.text(max_size=30), st.text(max_size=30))
def test_any_label_and_any_title_make_a_sound_file(label: str, title: str) -> None:
    """Controls, parentheses, letters of any script: nothing in a label is PDF."""
    sheet = Sheet(100, 100, title=label, doc="D", number=1, of=1)
    sheet.text(10, 10, label, T25)
    reader = pypdf.PdfReader(BytesIO(pdf([sheet], title, {"Author": label})), strict=True)
    assert len(reader.pages) == 1
    assert reader.page_labels == ["1"]
    assert "" not in (reader.metadata or {}).values()


def test_half_a_character_is_no_reason_to_fail() -> None:
    sheet = Sheet(100, 100, title="a\ud800", doc="D\udfff", number=1, of=1)
    sheet.text(10, 10, "\ud800", T25)
    reader = pypdf.PdfReader(BytesIO(pdf([sheet], "t\ud800")), strict=True)
    assert (reader.metadata or {})["/Title"] == "t?"


@pytest.mark.parametrize(
    ("formats", "without"),
    [("svg", {"reportlab", "matplotlib", "numpy"}), ("svg,pdf", {"matplotlib", "numpy"})],
)
def test_a_format_imports_only_its_own_library(
    tmp_path: Path, formats: str, without: set[str]
) -> None:
    """matplotlib takes half a second to import; only PNG is made with it."""
    starter = str(ROOT / "cli/starter.rig")
    argv = ["draw", starter, "-o", str(tmp_path), "--format", formats]
    code = (
        "import sys\nfrom ferrule.cli.main import main\n"
        f"code = main({argv!r})\n"
        f"seen = {without!r} & set(sys.modules)\n"
        "sys.exit(f'imported: {seen}' if seen else code)\n"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert ran.returncode == 0, ran.stderr
