"""The audit finds each breach that is seeded, and nothing on a sheet that is in order."""

from __future__ import annotations

import time
from collections.abc import Callable

import pytest
from ferrule.render.audit import CELL, CLEAR, audit, missing_glyphs
from ferrule.render.canvas import BLACK, MEDIUM, PALE, Box, Pen, Sheet
from ferrule.render.frame import Titles, blank, finish
from ferrule.render.metrics import T18, T25, width
from ferrule.render.symbols import symbol

Seed = Callable[[Sheet], object]
HALF = MEDIUM / 2


def kinds(seed: Seed) -> list[str]:
    sheet = blank("A3", "Test", "Test")
    seed(sheet)
    sheet.number = sheet.of = 1
    finish(sheet, Titles("Rig", "base"))
    return [fault.kind for fault in audit(sheet)]


def two_texts(gap: float, **how: object) -> Seed:
    """Two texts beside each other, ``gap`` mm apart."""

    def seed(sheet: Sheet) -> None:
        sheet.text(100, 100, "HH", T25, **how)  # type: ignore[arg-type]
        sheet.text(100 + width("HH", T25) + gap, 100, "HH", T25, **how)  # type: ignore[arg-type]

    return seed


def line_below(gap: float, **how: object) -> Seed:
    """A text over a horizontal line, its capitals ``gap`` mm from the line's edge."""

    def seed(sheet: Sheet) -> None:
        sheet.text(100, 100, "HH", T25, **how)  # type: ignore[arg-type]
        sheet.line([(80, 100 + gap + HALF), (140, 100 + gap + HALF)], Pen(MEDIUM))

    return seed


def block(gap: float) -> Seed:
    def seed(sheet: Sheet) -> None:
        number = sheet.block()
        two_texts(gap, block=number)(sheet)

    return seed


def beside_symbol(gap: float) -> Seed:
    def seed(sheet: Sheet) -> None:
        placed = sheet.put(symbol("load"), 100, 100)
        sheet.text(placed.box.right + gap, 104, "M1", T25)

    return seed


def fill(colour: str) -> Seed:
    def seed(sheet: Sheet) -> None:
        sheet.rect(Box(90, 90, 150, 120), None, colour)
        sheet.text(100, 100, "HH", T25)

    return seed


@pytest.mark.parametrize(
    ("seed", "found"),
    [
        (two_texts(CLEAR + 0.1), []),
        (two_texts(CLEAR - 0.1), ["text/text"]),
        (two_texts(-1.0), ["text/text"]),
        (two_texts(CELL + 0.1, cell=True), []),
        (two_texts(CELL - 0.1, cell=True), ["text/text"]),
        (block(0.1), []),
        (block(-0.2), ["text/text"]),
        (line_below(CLEAR + 0.1), []),
        (line_below(CLEAR - 0.1), ["text/stroke"]),
        (line_below(-1.2), ["text/stroke"]),
        (line_below(CELL + 0.1, cell=True), []),
        (line_below(CELL - 0.1, cell=True), ["text/stroke"]),
        (beside_symbol(CLEAR + 0.1), []),
        (beside_symbol(CLEAR - 0.2), ["text/stroke"]),
        (fill(PALE), []),
        (fill(BLACK), ["text/fill"]),
    ],
)
def test_clearance(seed: Seed, found: list[str]) -> None:
    assert kinds(seed) == found


def test_a_rotated_text_is_measured_as_it_stands() -> None:
    def seed(sheet: Sheet, y: float) -> None:
        sheet.text(100, 100, "HHHHHH", T25, rotate=90)
        sheet.text(90, y, "HHHHHHHHHH", T25)

    assert kinds(lambda sheet: seed(sheet, 95)) == ["text/text"]
    assert kinds(lambda sheet: seed(sheet, 104)) == []


def test_an_oblique_line_is_no_fault_where_only_its_box_meets_the_text() -> None:
    def seed(sheet: Sheet, shift: float) -> None:
        sheet.text(100, 100, "H", T25)
        sheet.line([(90 + shift, 110), (120 + shift, 80)])

    assert kinds(lambda sheet: seed(sheet, 0)) == ["text/stroke"]
    assert kinds(lambda sheet: seed(sheet, 12)) == []


def test_text_in_the_empty_inside_of_a_symbol() -> None:
    def seed(sheet: Sheet) -> None:
        sheet.put(symbol("panel"), 100, 100)
        sheet.text(100, 104.5, "i", T18)

    assert kinds(seed) == ["text/symbol"]


@pytest.mark.parametrize("name", ["motor", "inverter", "rcd"])
@pytest.mark.parametrize("standard", ["iec60617", "ieee315"])
def test_a_symbols_own_letters_are_in_order(name: str, standard: str) -> None:
    assert kinds(lambda sheet: sheet.put(symbol(name, standard), 100, 100)) == []


def test_a_foreign_text_is_not_excused_by_a_symbols_letters() -> None:
    def seed(sheet: Sheet) -> None:
        sheet.put(symbol("motor"), 100, 100)
        sheet.put(symbol("motor"), 103, 100)

    assert "text/text" in kinds(seed)


def test_a_line_through_a_symbol_and_one_to_its_terminals() -> None:
    def through(sheet: Sheet) -> None:
        placed = sheet.put(symbol("load"), 100, 100)
        sheet.line([(90, placed.box.centre[1]), (120, placed.box.centre[1])])

    def joined(sheet: Sheet) -> None:
        placed = sheet.put(symbol("fuse"), 100, 100)
        sheet.line([(100, 80), placed["top"]])
        sheet.line([placed["bottom"], (100, 140)])

    assert kinds(through) == ["line/symbol"]
    assert kinds(joined) == []


@pytest.mark.parametrize(
    ("x", "y", "other"), [(410, 100, "frame"), (5, 100, "frame"), (300, 270, "title block")]
)
def test_bounds(x: float, y: float, other: str) -> None:
    sheet = blank("A3", "Test", "Test")
    sheet.line([(x - 4, y), (x + 4, y)])
    assert [(f.kind, f.other) for f in audit(sheet)] == [("outside", other)]


def test_a_text_reaching_over_the_frame_by_its_width_alone() -> None:
    sheet = blank("A3", "Test", "Test")
    sheet.text(400, 100, "HHHHHHHHHH", T25)
    assert [f.kind for f in audit(sheet)] == ["outside"]


def test_small_lettering() -> None:
    """ISO 3098: 1.8 mm is the least height."""
    assert kinds(lambda sheet: sheet.text(100, 100, "HH", 1.5)) == ["small"]


def test_missing_glyphs() -> None:
    sheet = Sheet(420, 297)
    sheet.text(100, 100, "Lamp 灯", T18)
    assert missing_glyphs(sheet) == "灯"


def test_a_full_sheet_is_audited_fast() -> None:
    """About 20 ms for 300 texts and 1800 strokes; the bar leaves a slow machine room."""
    sheet = blank("A3", "Test", "Test")
    for row in range(20):
        for column in range(15):
            x, y = 30 + column * 24, 20 + row * 11.4
            sheet.text(x, y, "W12 2.5", T18)
            sheet.line([(x - 2, y + k + 1.5) for k in (0, 1, 2, 3, 4, 5, 6)])
    sheet.number = sheet.of = 1
    finish(sheet, Titles("Rig", "base"))
    start = time.perf_counter()
    found = audit(sheet)
    assert time.perf_counter() - start < 0.5
    assert found == []
