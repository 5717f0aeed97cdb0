"""SVG, PDF and PNG: well formed, complete, readable as text, and the same bytes every time."""

from __future__ import annotations

import base64
import hashlib
import os
import re
import subprocess
import sys
from io import BytesIO
from xml.etree import ElementTree

import pypdf
import pytest
from ferrule.render.canvas import RED, Box, Pen, Sheet
from ferrule.render.frame import Titles, blank, finish
from ferrule.render.metrics import T25, em, font_file, width
from ferrule.render.mpl import png
from ferrule.render.pdf import pdf
from ferrule.render.references import bookmark
from ferrule.render.svg import number, svg
from ferrule.render.symbols import SETS, symbol
from hypothesis import given
from hypothesis import strategies as st

NS = {"s": "http://www.w3.org/2000/svg"}
AWKWARD = 'A & B <c> "d" $5 $6 \\foo 3×10 Ω – −'


def sample(number: int = 1, of: int = 2) -> Sheet:
    sheet = blank("A3", f"Sample {number}", "Single-line diagram")
    with sheet.group("dev-Q1", "device breaker", title="Q1 Lamps & fans, 15 A", href="#row-Q1"):
        sheet.put(symbol("breaker", residual=True), 100, 50)
        sheet.text(105, 55, "Q1", T25, bold=True)
    for index, name in enumerate(sorted(SETS["iec60617"])):
        sheet.put(symbol(name), 40 + 25 * (index % 14), 80 + 25 * (index // 14))
    sheet.text(60, 30, AWKWARD, T25, colour=RED)
    sheet.text(50, 140, "W1  3×10 AWG", T25, rotate=90, anchor="middle")
    sheet.rect(Box(200, 160, 240, 170), Pen(dash="dashed"), "#e8ecf1")
    sheet.number, sheet.of = number, of
    finish(sheet, Titles("Rig", "base", "B", "2026-01-01"))
    return sheet


def parsed(sheet: Sheet) -> ElementTree.Element:
    return ElementTree.fromstring(svg(sheet))


def test_svg_is_in_millimetres() -> None:
    root = parsed(sample())
    assert (root.get("width"), root.get("height")) == ("420mm", "297mm")
    assert root.get("viewBox") == "0 0 420 297"


def test_svg_tells_readers_what_it_is() -> None:
    root = parsed(sample())
    assert root.get("role") == "graphics-document"
    title = root.find("s:title", NS)
    assert title is not None and title.get("id") == root.get("aria-labelledby")
    assert title.text == "Single-line diagram, Sample 1"


def test_svg_groups_carry_id_title_and_target() -> None:
    group = parsed(sample()).find(".//s:a[@href='#row-Q1']/s:g[@id='dev-Q1']", NS)
    assert group is not None
    assert group[0].tag.endswith("title") and group[0].text == "Q1 Lamps & fans, 15 A"
    assert group.get("class") == "device breaker"


def test_svg_ids_are_unique() -> None:
    sheet = sample()
    for _ in range(3):
        with sheet.group("again"):
            pass
    ids = [element.get("id") for element in parsed(sheet).iter() if element.get("id")]
    assert len(ids) == len(set(ids))


def test_svg_text_stays_text_whatever_is_in_it() -> None:
    texts = {element.text: element for element in parsed(sample()).iterfind(".//s:text", NS)}
    assert AWKWARD in texts
    assert float(texts[AWKWARD].get("font-size", "")) == pytest.approx(em(T25), abs=0.001)


@given(st.text(max_size=30))
def test_svg_of_any_text_is_well_formed(text: str) -> None:
    sheet = Sheet(420, 297, title=text)
    with sheet.group(text or "g", title=text):
        sheet.text(10, 10, text)
    parsed(sheet)


def test_svg_brings_the_font_along_with_kerning_off() -> None:
    text = svg(sample())
    fonts = re.findall(r"base64,([A-Za-z0-9+/=]+)\)", text)
    assert [base64.b64decode(font) for font in fonts] == [
        font_file(bold, ".woff").read_bytes() for bold in (False, True)
    ]
    assert "font-kerning:none" in text


def test_svg_numbers_have_at_most_three_decimals() -> None:
    body = svg(sample()).partition("</style>")[2]
    assert not re.search(r"\d\.\d{4}|\de[-+]\d|-0[\"\s]", body)


@given(st.floats(-1e4, 1e4))
def test_number_is_right_to_half_a_thousandth(value: float) -> None:
    assert float(number(value)) == pytest.approx(value, abs=0.00051)


@pytest.fixture(scope="module")
def bound() -> pypdf.PdfReader:
    return pypdf.PdfReader(BytesIO(pdf([sample(1), sample(2)], "Rig – base")))


def test_pdf_pages_are_the_sheets_in_their_size(bound: pypdf.PdfReader) -> None:
    assert len(bound.pages) == 2
    for page in bound.pages:
        size = [float(side) * 25.4 / 72 for side in page.mediabox[2:]]
        assert size == pytest.approx([420, 297], abs=0.1)


def test_pdf_has_a_bookmark_for_each_sheet(bound: pypdf.PdfReader) -> None:
    chapter, marks = bound.outline
    assert chapter.title == sample(1).doc
    assert [mark.title for mark in marks] == [bookmark(sample(1)), bookmark(sample(2))]
    assert [bound.get_destination_page_number(mark) for mark in (chapter, *marks)] == [0, 0, 1]
    assert bound.trailer["/Root"]["/PageMode"] == "/UseOutlines"


def test_pdf_text_can_be_selected(bound: pypdf.PdfReader) -> None:
    text = bound.pages[0].extract_text()
    for words in (AWKWARD, "W1  3×10 AWG", "Single-line diagram", "1/2"):
        assert words.replace(" ", "") in text.replace(" ", "")


def test_pdf_embeds_our_font_as_truetype(bound: pypdf.PdfReader) -> None:
    fonts = [font.get_object() for font in bound.pages[0]["/Resources"]["/Font"].values()]
    names = {str(font["/BaseFont"]).rpartition("+")[2].lstrip("/") for font in fonts}
    assert names == {"FerruleSans-Regular", "FerruleSans-Bold"}
    for font in fonts:
        file = font["/FontDescriptor"].get_object()["/FontFile2"].get_object().get_data()
        assert len(file) < font_file("Bold" in str(font["/BaseFont"]), ".ttf").stat().st_size / 2


def test_pdf_says_no_date(bound: pypdf.PdfReader) -> None:
    assert dict(bound.metadata or {}) == {"/Title": "Rig – base"}


def test_pdf_text_is_as_wide_as_measured(bound: pypdf.PdfReader) -> None:
    """Two texts set end to end start where the first one's width says."""
    sheet = Sheet(420, 297)
    sheet.text(10, 10, "WAVE-To AVATAR", T25)
    sheet.text(10 + width("WAVE-To AVATAR", T25), 10, "X", T25)
    contents = pypdf.PdfReader(BytesIO(pdf([sheet], "t"))).pages[0].get_contents()
    assert contents is not None
    starts = re.findall(rb"1 0 0 1 ([\d.]+) [\d.]+ Tm[^m]*Tj", contents.get_data())
    apart = float(starts[1]) - float(starts[0])  # the page is drawn in mm
    assert apart == pytest.approx(width("WAVE-To AVATAR", T25), abs=0.02)


def test_png_has_the_size_asked_for() -> None:
    data = png(sample(), dpi=50)
    wide, high = int.from_bytes(data[16:20], "big"), int.from_bytes(data[20:24], "big")
    assert (wide, high) == pytest.approx((420 / 25.4 * 50, 297 / 25.4 * 50), abs=1)


DIGEST = """
import hashlib, sys
sys.path.insert(0, sys.argv[1])
from test_render_outputs import *
for data in (svg(sample()).encode(), pdf([sample(1), sample(2)], "t"), png(sample(), 60)):
    print(hashlib.sha256(data).hexdigest())
"""


def test_same_bytes_in_every_process_and_at_every_time() -> None:
    here = os.path.dirname(__file__)
    own = [
        hashlib.sha256(data).hexdigest()
        for data in (svg(sample()).encode(), pdf([sample(1), sample(2)], "t"), png(sample(), 60))
    ]
    for seed, zone, tongue in (("0", "UTC", "C"), ("42", "Asia/Tokyo", "de_DE.UTF-8")):
        env = {**os.environ, "PYTHONHASHSEED": seed, "TZ": zone, "LC_ALL": tongue}
        # Settings of the libraries that are not ours to leave to chance.
        env |= {"SOURCE_DATE_EPOCH": seed, "RL_useA85": "1", "RL_pdfComments": "1"}
        run = [sys.executable, "-c", DIGEST, here]
        out = subprocess.run(run, env=env, capture_output=True, text=True, check=True).stdout
        assert out.split() == own
