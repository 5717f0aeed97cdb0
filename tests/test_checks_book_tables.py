"""The books as Python tables: made from the books as they stand, and never needed to be right."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from ferrule.checks.books import make as make_books
from ferrule.checks.books import tables as book_tables
from ferrule.checks.books.data import BOOKS, load, raw_book, table_name


@pytest.fixture(autouse=True)
def _read_anew() -> Iterator[None]:
    raw_book.cache_clear()
    yield
    raw_book.cache_clear()


every_book = pytest.mark.parametrize("book", BOOKS)


@every_book
def test_the_table_is_current(book: str) -> None:
    """Run `python -m ferrule.checks.books.make` where this fails."""
    assert make_books.target(book).read_text(encoding="utf-8") == make_books.text(book)


@every_book
def test_a_changed_book_is_read_from_its_file(book: str, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = load(book)
    made = getattr(book_tables, table_name(book))
    monkeypatch.setattr(made, "CRC", made.CRC + 1)
    monkeypatch.setattr(made, "TABLE", {})
    raw_book.cache_clear()
    again = load(book)
    assert raw_book(book) is not made.TABLE
    assert vars(again) == {**vars(whole), "tables": again.tables}
    assert again.tables == whole.tables
