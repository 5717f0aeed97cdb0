"""The whole set of sheets of the examples: numbered, framed, explained, in order."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from ferrule.checks.tracing.trace import Stage, analyse
from ferrule.dsl.reader import read
from ferrule.render.audit import audit, missing_glyphs
from ferrule.render.canvas import Open, Sheet, Text
from ferrule.render.draw import DOCUMENTS, LEGEND, draw, stem, tables
from ferrule.render.legend import used
from ferrule.render.svg import svg
from ferrule.render.symbols import NAMES, SETS

ROOT = Path(__file__).parents[1]
EXAMPLES = sorted((ROOT / "examples").glob("*.rig"))
STAGES = [(path.stem, index) for path in EXAMPLES for index in range(len(read(path).rigs))]


@cache
def stage(name: str, index: int = -1) -> Stage:
    return analyse(read(ROOT / "examples" / f"{name}.rig").rigs[index])


@cache
def drawn(name: str, index: int, symbols: str = "") -> tuple[Sheet, ...]:
    return tuple(draw(stage(name, index), symbols=symbols))


def groups(sheet: Sheet, cls: str) -> list[Open]:
    return [i for i in sheet.items if isinstance(i, Open) and i.cls.partition(" ")[0] == cls]


def texts(sheet: Sheet) -> set[str]:
    return {item.text for item in sheet.items if isinstance(item, Text)}


@pytest.mark.parametrize(("name", "index"), STAGES)
def test_nothing_overlaps_on_any_sheet(name: str, index: int) -> None:
    for sheet in drawn(name, index):
        assert [str(fault) for fault in audit(sheet)] == [], f"sheet {sheet.number}"


@pytest.mark.parametrize(("name", "index"), STAGES)
def test_sheets_are_numbered_over_the_whole_set(name: str, index: int) -> None:
    sheets = [sheet for sheet in drawn(name, index) if sheet.framed]
    assert [sheet.number for sheet in sheets] == list(range(1, len(sheets) + 1))
    for sheet in sheets:
        assert f"{sheet.number}/{len(sheets)}" in texts(sheet)


@pytest.mark.parametrize(("name", "index"), STAGES)
def test_labels_come_last_without_a_frame_and_numbered_for_themselves(
    name: str, index: int
) -> None:
    sheets = drawn(name, index)
    bare = [sheet for sheet in sheets if not sheet.framed]
    assert bare and list(sheets[-len(bare) :]) == bare
    assert [(sheet.number, sheet.of) for sheet in bare] == [
        (number, len(bare)) for number in range(1, len(bare) + 1)
    ]
    for sheet in bare:
        assert not groups(sheet, "frame")


@pytest.mark.parametrize("name", [path.stem for path in EXAMPLES])
@pytest.mark.parametrize("symbols", SETS)
def test_the_legend_explains_every_symbol_drawn(name: str, symbols: str) -> None:
    sheets = drawn(name, -1, symbols)
    explained = [
        group.id.removeprefix("legend-") for sheet in sheets for group in groups(sheet, "legend")
    ]
    assert len(explained) == len(set(explained)), "one legend, and each symbol once"
    placed = {mark.name for sheet in sheets for mark in sheet.placed}
    assert placed <= set(explained) <= set(NAMES)
    assert set(used(sheets)) - {"bus"} <= set(explained)


@pytest.mark.parametrize("name", [path.stem for path in EXAMPLES])
def test_a_set_has_one_legend(name: str) -> None:
    with_legend = [sheet for sheet in drawn(name, -1) if groups(sheet, "legend")]
    assert len(with_legend) == 1


def test_only_what_is_asked_for_is_drawn() -> None:
    chosen = stage(EXAMPLES[0].stem)
    every = {sheet.doc for sheet in draw(chosen)}
    some = {sheet.doc for sheet in draw(chosen, only=("chart",))}
    assert some < every and "Wiring chart" in some and len(some) == 1
    assert {sheet.doc for sheet in draw(chosen, only=(LEGEND,))} == {"Legend"}
    with pytest.raises(KeyError, match="plumbing"):
        draw(chosen, only=("plumbing",))


def test_every_document_has_sheets() -> None:
    for name in DOCUMENTS:
        assert draw(stage(EXAMPLES[0].stem), only=(name,))


def test_symbols_and_paper_follow_the_book_unless_told() -> None:
    clinic = stage("mobile_clinic")
    assert draw(clinic, only=("chart",))[0].width == pytest.approx(431.8)
    assert draw(clinic, only=("chart",), paper="A3")[0].width == 420


@pytest.mark.parametrize(("name", "index"), STAGES)
def test_our_font_has_every_character(name: str, index: int) -> None:
    assert [missing_glyphs(sheet) for sheet in drawn(name, index)] == [""] * len(drawn(name, index))


def test_drawing_twice_gives_the_same_bytes() -> None:
    chosen = stage(EXAMPLES[0].stem)
    assert [svg(sheet) for sheet in draw(chosen)] == [svg(sheet) for sheet in draw(chosen)]


def test_file_names_and_tables() -> None:
    clinic = stage("mobile_clinic", 0)
    assert stem(clinic.rig) == "mobile-vaccination-clinic-base"
    texts = tables(clinic)
    assert {end.rpartition(".")[2] for end in texts} == {"csv", "md", "txt", "dot"}
    for make in tables(clinic, only=("chart",)).values():
        for conductor in list(clinic.rig.conductors)[:5]:
            assert conductor in make()
    together = "".join(make() for make in tables(clinic, only=("overview",)).values())
    for conductor in list(clinic.rig.conductors)[:5]:
        assert conductor in together
