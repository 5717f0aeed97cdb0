"""``ferrule books``: what the books hold, as a person asks for it."""

from __future__ import annotations

from pathlib import Path

import pytest
from ferrule.checks.books.book import book
from ferrule.checks.books.data import BOOKS
from ferrule.checks.books.listing import unsure_cells
from ferrule.checks.books.table import FROM_MEMORY
from ferrule.cli.main import main

HOUSE = Path(__file__).parents[1] / "examples" / "house.book"


def said(capsys: pytest.CaptureFixture[str], *argv: str) -> str:
    assert main(["books", *argv]) == 0
    return capsys.readouterr().out


def refused(capsys: pytest.CaptureFixture[str], *argv: str) -> str:
    assert main(["books", *argv]) == 2
    printed = capsys.readouterr()
    assert not printed.out
    return printed.err


def test_every_book_is_listed(capsys: pytest.CaptureFixture[str]) -> None:
    text = said(capsys)
    for name in BOOKS:
        assert f"{name}  {book(name).title}" in text
        assert f"  edition {book(name).data.edition}" in text
        assert f"  {len(book(name).tables)} tables:" in text


@pytest.mark.parametrize("name", BOOKS)
def test_a_book_lists_everything_it_holds(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    lines = said(capsys, name).splitlines()
    data = book(name).data
    for key, table in data.tables.items():
        (line,) = [row for row in lines if row.split(" ")[0] == key]
        assert table.origin.status in line and table.origin.clause in line and table.title in line
    listed = {line.split(" ")[0] for line in lines[2:]}
    assert listed >= {*data.values, *data.allowances, *data.rules, "ratings"}


@pytest.mark.parametrize("name", BOOKS)
def test_every_key_that_is_listed_prints(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    for line in said(capsys, name).splitlines()[2:]:
        assert len(said(capsys, name, line.split(" ")[0]).splitlines()) >= 2


def test_a_table_is_printed_with_its_origin(capsys: pytest.CaptureFixture[str]) -> None:
    lines = said(capsys, "nfpa70", "ampacity").splitlines()
    assert lines[0].endswith("30 degC, in A")
    assert lines[2].split() == ["60", "75", "90"]
    assert ["8", "AWG", "40", "50", "55"] in [line.split() for line in lines]
    assert lines[-2].startswith("NFPA 70 Table 310.16; edition 2020, 2023")
    assert lines[-1].startswith("confirmed: ")


def test_cells_from_memory_are_marked(capsys: pytest.CaptureFixture[str]) -> None:
    """Table 400.5(A)(1): column B of 18 to 12 AWG is quoted by a product standard."""
    text = said(capsys, "nfpa70", "cord")
    assert "12 AWG  20*   25\n" in text and "10 AWG  25*  30*\n" in text
    assert "* from memory" in text
    assert "*" not in said(capsys, "nfpa70", "earth")


@pytest.mark.parametrize("name", BOOKS)
def test_what_is_from_memory_is_all_told(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    text = said(capsys, name, "--from-memory")
    data = book(name).data
    for key, row in {**data.values, **data.allowances}.items():
        assert (f" {key} (" in text) == (row["status"] == FROM_MEMORY), key
    for key, count in unsure_cells(book(name)).items():
        assert (f"table {key} (" in text) == bool(count), key
        assert not count or f": {count} of " in text
    assert text.count("confirmed") == 1  # the heading; no confirmed figure among them


def test_from_memory_of_all_books(capsys: pytest.CaptureFixture[str]) -> None:
    text = said(capsys, "--from-memory")
    assert all(book(name).title in text for name in BOOKS)


def test_a_project_s_own_book(capsys: pytest.CaptureFixture[str]) -> None:
    text = said(capsys, str(HOUSE), "grouping")
    assert (
        "6       0.85" in text and "changed by house.book, over NFPA 70 Table 310.15(C)(1)" in text
    )
    assert "house" in said(capsys, str(HOUSE), "drop-total")


@pytest.mark.parametrize(
    ("argv", "words"),
    [
        (("nfpa7",), "did you mean `nfpa70`?"),
        (("zzz",), "rule books: nfpa70 abyc-e11 iec60364"),
        (("nfpa70", "ampacty"), "did you mean `ampacity`?"),
        (("none.book",), "there is no such file"),
        (("nfpa70", "ampacity", "more"), "unrecognized"),
    ],
)
def test_refusals(argv: tuple[str, ...], words: str, capsys: pytest.CaptureFixture[str]) -> None:
    if "more" in argv:
        with pytest.raises(SystemExit, match="2"):
            main(["books", *argv])
        assert words in capsys.readouterr().err
    else:
        assert words in refused(capsys, *argv)


def test_a_bad_book_of_one_s_own_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "own.book"
    path.write_text('base = "nfpa70"\n[values.drop-totl]\n', encoding="utf-8")
    assert "own.book:2:1: error: nfpa70 has no value `drop-totl`" in refused(capsys, str(path))
