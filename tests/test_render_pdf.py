"""The PDF writer: fonts against fontTools, operators against the display list."""

from __future__ import annotations

import re
import subprocess
import sys
from io import BytesIO
from pathlib import Path

import pypdf
import pytest
from ferrule.render.canvas import Sheet
from ferrule.render.marks import Pen
from ferrule.render.metrics import CAP_EM, T25, em, font_file, width
from ferrule.render.pdf import pdf
from ferrule.render.pdf_fonts import Face
from fontTools.ttLib import TTFont  # type: ignore[import-untyped]
from hypothesis import given, settings
from hypothesis import strategies as st

POINTS = 72 / 25.4
ROOT = Path(__file__).parents[1]


@pytest.mark.parametrize("bold", [False, True])
def test_glyphs_are_those_fonttools_finds(bold: bool) -> None:
    font = TTFont(font_file(bold, ".ttf"))
    order, table = font.getReverseGlyphMap(), font.getBestCmap()
    face = Face(bold)
    for code, name in table.items():
        assert face.shown(chr(code)) == f"{order[name]:04X}".encode()
    assert face.shown("\u4e00") == b"0000", "a character it lacks"
    assert face.name == font["name"].getDebugName(6)


@pytest.mark.parametrize("bold", [False, True])
def test_widths_are_those_of_the_font(bold: bool) -> None:
    sheet = Sheet(420, 297)
    sheet.text(10, 10, "WAVE-To 230 V Ω", T25, bold=bold)
    page = pypdf.PdfReader(BytesIO(pdf([sheet], "t"))).pages[0]
    font = page["/Resources"]["/Font"]["/F2" if bold else "/F1"]
    row = font["/DescendantFonts"][0].get_object()["/W"]
    own = TTFont(font_file(bold, ".ttf"))
    names = own.getGlyphOrder()
    for code, (advance,) in zip(row[::2], row[1::2], strict=True):
        expected = own["hmtx"][names[code]][0] * 1000 / own["head"].unitsPerEm
        assert float(advance) == pytest.approx(expected, abs=0.5)


def stream(sheet: Sheet) -> str:
    page = pypdf.PdfReader(BytesIO(pdf([sheet], "t"))).pages[0]
    return page.get_contents().get_data().decode("ascii")  # type: ignore[union-attr]


def test_a_line_by_hand() -> None:
    """From the page's lower left corner, in points: 1 in right and 1 in below the top edge."""
    sheet = Sheet(254, 254)
    sheet.line([(25.4, 25.4), (50.8, 25.4)], Pen(0.5, "#ff0000", "dashed", "butt"))
    text = stream(sheet)
    assert "72 648 m 144 648 l" in text
    assert "1 0 0 RG 1.417 w 0 J 0 j" in text
    dashes = re.search(r"\[([\d. ]+)\] 0 d", text)
    assert dashes and [float(d) for d in dashes[1].split()] == pytest.approx(
        [6 * POINTS, 1.5 * POINTS], abs=0.001
    )
    assert text.split()[-1] == "S"


def test_a_filled_box_is_closed_and_painted() -> None:
    sheet = Sheet(100, 100)
    sheet.poly([(0, 0), (10, 0), (10, 10)], None, "#000000")
    assert stream(sheet).split()[-2:] == ["h", "f"]


def test_a_circle_stays_on_its_radius() -> None:
    """Cubic curves in four quarters: their ends lie on the circle, half way within 0.03 %."""
    sheet = Sheet(100, 100)
    sheet.circle(50, 50, 20)
    numbers = [float(n) for n in re.findall(r"-?[\d.]+(?= |$)", stream(sheet).split("m", 1)[1])]
    assert stream(sheet).count(" c") == 4
    for start in range(0, 24, 6):
        x, y = numbers[start + 4], numbers[start + 5]
        assert ((x / POINTS - 50) ** 2 + (y / POINTS - 50) ** 2) ** 0.5 == pytest.approx(
            20, abs=0.01
        )


def test_a_text_that_reads_from_below() -> None:
    sheet = Sheet(100, 100)
    sheet.text(10, 60, "AB", T25, rotate=90, anchor="middle")
    turned = re.search(r"0 1 -1 0 ([\d.]+) ([\d.]+) Tm", stream(sheet))
    assert turned
    half = width("AB", T25) / 2
    assert float(turned[1]) == pytest.approx(10 * POINTS, abs=0.01)
    assert float(turned[2]) == pytest.approx((40 - half) * POINTS, abs=0.01)
    assert em(T25) == pytest.approx(T25 / CAP_EM)


@settings(max_examples=40, deadline=None)
@given(st.text(max_size=30), st.text(max_size=30))
def test_any_label_and_any_title_make_a_sound_file(label: str, title: str) -> None:
    """Controls, surrogates, parentheses: nothing in a label is PDF."""
    sheet = Sheet(100, 100, title=label, doc="D", number=1, of=1)
    sheet.text(10, 10, label, T25)
    reader = pypdf.PdfReader(BytesIO(pdf([sheet], title, {"Author": label})), strict=True)
    assert len(reader.pages) == 1
    assert reader.page_labels == ["1"]


def test_svg_and_pdf_need_no_matplotlib(tmp_path: Path) -> None:
    """It takes half a second to import; only PNG is made with it."""
    starter = str(ROOT / "cli/starter.rig")
    code = (
        "import sys\nfrom ferrule.cli.main import main\n"
        f"code = main(['draw', {starter!r}, '-o', {str(tmp_path)!r}])\n"
        "seen = {'matplotlib', 'numpy'} & set(sys.modules)\n"
        "sys.exit(f'imported: {seen}' if seen else code)\n"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert ran.returncode == 0, ran.stderr
