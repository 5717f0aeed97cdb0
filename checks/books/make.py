"""Writes ``tables/*.py``, the form of ``*.toml`` that Python loads without reading TOML.

Run ``python -m ferrule.checks.books.make`` after a change to a book.  Until it is run the book is
read from the TOML itself: right, only some milliseconds later.
"""

from __future__ import annotations

import pprint
import tomllib
import zlib
from pathlib import Path

from .data import BOOKS, source, table_name

FOLDER = Path(__file__).parent / "tables"


def target(book: str) -> Path:
    """The module that holds a book's table."""
    return FOLDER / f"{table_name(book)}.py"


def text(book: str) -> str:
    """The module that a book makes."""
    with open(source(book), "rb") as file:
        raw = file.read()
    table = pprint.pformat(tomllib.loads(raw.decode()), width=99, sort_dicts=False, compact=True)
    return (
        f'"""Made from books/{book}.toml by make.py; change that book, not this table."""\n\n'
        "# fmt: off\n"
        "from typing import Any\n\n"
        f"CRC = {zlib.crc32(raw)}\n"
        f"TABLE: dict[str, Any] = {table}\n"
    )


if __name__ == "__main__":
    for name in BOOKS:
        target(name).write_text(text(name), encoding="utf-8")
