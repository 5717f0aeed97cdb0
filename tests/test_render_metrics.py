"""Text measuring, against the font's own tables as fontTools reads them (OpenType hmtx, glyf)."""

from __future__ import annotations

from pathlib import Path

import pytest
from ferrule.render import make_fonts, metrics
from ferrule.render.metrics import T18, T25, em, extent, fit, font_file, missing, width, wrap
from fontTools.ttLib import TTFont
from hypothesis import given
from hypothesis import strategies as st

TEXTS = ["Q1", "WAVE-To AVATAR", "3×10 AWG  7.5 m", "Ω µ ° Δ φ – − → ≥ ½", "Łódź, Größe, Ñandú"]


FACES = [(bold, suffix) for bold in (False, True) for suffix in (".ttf", ".woff")]


def hmtx_width(font: TTFont, text: str, size: float) -> float:
    """Advances summed from the font file itself."""
    names = font.getBestCmap()
    units = sum(font["hmtx"][names[ord(char)]][0] for char in text)
    return float(units / font["head"].unitsPerEm * em(size))


@pytest.mark.parametrize(("bold", "suffix"), FACES)
@pytest.mark.parametrize("text", TEXTS)
def test_width_is_the_sum_of_the_fonts_advances(bold: bool, suffix: str, text: str) -> None:
    font = TTFont(font_file(bold, suffix))
    assert width(text, T25, bold) == pytest.approx(hmtx_width(font, text, T25), rel=1e-3)


@pytest.mark.parametrize(("bold", "suffix"), FACES)
def test_no_table_of_the_font_moves_glyphs(bold: bool, suffix: str) -> None:
    """Kerning and ligatures would make a viewer's text narrower than ours."""
    assert not {"kern", "GPOS", "GSUB"} & set(TTFont(font_file(bold, suffix)).keys())


@pytest.mark.parametrize("file", make_fonts.FACES.values())
def test_advances_are_those_of_the_font_it_was_cut_from(file: str) -> None:
    source = TTFont(make_fonts.source_folder() / file)
    for text in TEXTS:
        own = width(text, T18, "Bold" in file)
        assert own == pytest.approx(hmtx_width(source, text, T18), rel=1e-3)


@pytest.mark.parametrize("bold", [False, True])
def test_size_is_the_height_of_capitals(bold: bool) -> None:
    """ISO 3098: the nominal size of lettering is the height of its capitals."""
    font = TTFont(font_file(bold, ".ttf"))
    capital = font["glyf"][font.getBestCmap()[ord("H")]]
    assert capital.yMax / font["head"].unitsPerEm * em(2.5) == pytest.approx(2.5, abs=0.005)
    assert extent("H", 2.5, bold) == pytest.approx((2.5, 0), abs=0.005)


def test_ink_reaches_below_the_baseline_only_where_a_letter_does() -> None:
    assert extent("Qy", T18)[1] > extent("QE", T18)[1]
    assert extent("xx", T18)[0] < extent("Hx", T18)[0]


@pytest.mark.parametrize("bold", [False, True])
def test_the_font_has_its_own_name_and_keeps_the_notices(bold: bool) -> None:
    """The licence: a modified font may contain neither "Bitstream" nor "Vera" in its name."""
    font = TTFont(font_file(bold, ".ttf"))
    family = font["name"].getDebugName(1)
    for forbidden in ("Bitstream", "Vera", "Tavmjong Bah", "Arev"):
        assert forbidden not in family
        assert forbidden not in font["name"].getDebugName(4)
    assert "Bitstream" in font["name"].getDebugName(0)
    assert "Permission is hereby granted" in (metrics.FONTS / "LICENSE").read_text()


def test_the_table_has_every_character_of_the_font() -> None:
    for bold in (False, True):
        names = TTFont(font_file(bold, ".ttf")).getBestCmap()
        assert not missing("".join(map(chr, names)))


def test_a_missing_glyph_counts_and_is_named() -> None:
    assert missing("A漢B漢") == "漢"
    assert width("漢", T18) == pytest.approx(0.6 * em(T18), rel=1e-3)


def test_make_fonts_reproduces_the_table(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The measures; the bytes of a font file depend on the fontTools and zlib that packed it."""
    monkeypatch.setattr(make_fonts, "FOLDER", tmp_path)
    make_fonts.main()
    for name in ("metrics.json", "LICENSE"):
        assert (tmp_path / name).read_bytes() == (metrics.FONTS / name).read_bytes()


WORDS = st.lists(st.text("abcWM. -", min_size=1, max_size=12), max_size=8).map(" ".join)


@given(WORDS, st.floats(4, 60))
def test_wrapped_lines_fit_and_lose_nothing(text: str, most: float) -> None:
    lines = wrap(text, T18, most)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert all(width(line, T18) <= most or len(line) == 1 for line in lines)


@given(WORDS, st.floats(4, 60))
def test_fitted_text_fits_and_begins_as_the_text_does(text: str, most: float) -> None:
    short = fit(text, T18, most)
    assert width(short, T18) <= most
    assert short == text or text.startswith(short.removesuffix("…"))


def test_wrap_keeps_a_number_and_its_unit_together() -> None:
    room = width("class ATO breaks 2", T18) + 0.1
    assert wrap("class ATO breaks 2 kA", T18, room) == ["class ATO breaks", "2 kA"]
    assert wrap("20 kA", T18, width("20 k", T18)) == ["20", "kA"]


def test_wrap_breaks_at_spaces() -> None:
    assert wrap("Desk socket, front", T18, 18) == ["Desk socket,", "front"]
