"""Writes ``tables/*.py``, the form of ``*.toml`` that Python loads without reading TOML.

Run ``python -m ferrule.checks.books.make`` after a change to a book; until then the change has no
effect, and a test fails.
"""

from __future__ import annotations

import pprint
import tomllib
from pathlib import Path

from .data import BOOKS, table_name

HERE = Path(__file__).parent


def source(book: str) -> Path:
    """The file of a book."""
    return HERE / f"{book}.toml"


def target(book: str) -> Path:
    """The module that holds a book's table."""
    return HERE / "tables" / f"{table_name(book)}.py"


def text(book: str) -> str:
    """The module that a book makes."""
    raw = tomllib.loads(source(book).read_text(encoding="utf-8"))
    table = pprint.pformat(raw, width=99, sort_dicts=False, compact=True)
    return (
        f'"""Made from books/{book}.toml by make.py; change that book, not this table."""\n\n'
        "# fmt: off\n"
        "from typing import Any\n\n"
        f"TABLE: dict[str, Any] = {table}\n"
    )


if __name__ == "__main__":
    for name in BOOKS:
        target(name).write_text(text(name), encoding="utf-8")
