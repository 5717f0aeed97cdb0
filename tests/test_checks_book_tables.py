"""The books as Python tables: made from the books as they stand."""

from __future__ import annotations

import pytest
from ferrule.checks.books import make as make_books
from ferrule.checks.books.data import BOOKS

every_book = pytest.mark.parametrize("book", BOOKS)


@every_book
def test_the_table_is_current(book: str) -> None:
    """Run `python -m ferrule.checks.books.make` where this fails."""
    assert make_books.target(book).read_text(encoding="utf-8") == make_books.text(book)
