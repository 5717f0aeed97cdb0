"""The books' reference page is what their data says today."""

from __future__ import annotations

from pathlib import Path

from ferrule.checks.books.book import book
from ferrule.checks.books.data import BOOKS
from ferrule.checks.books.page import page

PAGE = Path(__file__).parents[1] / "docs" / "books.md"


def test_the_page_is_current() -> None:
    """Renew it with ``python -m ferrule.checks.books.page > docs/books.md``."""
    assert PAGE.read_text(encoding="utf-8") == page()


def test_the_page_shows_every_table_with_its_clause() -> None:
    text = page()
    for name in BOOKS:
        for table in book(name).tables.values():
            assert f"### {table.title}\n" in text
            assert f"*{table.origin.status}* — {table.origin.clause};" in text
