"""A file of readings: CSV as ``ferrule draw`` wrote it, or as a spreadsheet saved it again.

Commas, semicolons or tabs between the cells; columns in any order, found by their headings; a
byte-order mark, quotes and blank lines do no harm.  Nothing in it is ever worked out.
"""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Sequence

from ..checks.commissioning.entered import Written
from . import files
from .errors import Unusable

MOST = 20_000_000
"""Bytes of the largest file taken."""
DELIMITERS = ",;\t"
WANTED = ("test", "reading")
MADE = "take the commissioning.csv or probes.csv that `ferrule draw` wrote, its readings filled in"


def rows(name: str) -> list[Written]:
    """The rows that name a test.  Raises ``Unusable`` where the file is none of readings."""
    if os.path.getsize(files.usable(name)) > MOST:
        raise Unusable(f"{name}: larger than {MOST // 1_000_000} MB", MADE)
    text = files.text(name).removeprefix("\ufeff")
    first = text.lstrip("\r\n").partition("\n")[0]
    delimiter = max(DELIMITERS, key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        heads = next((row for row in reader if any(row)), [])
        places = _places(name, heads)
        found = [(reader.line_num, [_cell(cells, place) for place in places]) for cells in reader]
    except csv.Error as error:
        raise Unusable(f"{name}: line {reader.line_num}: {error}", MADE) from None
    return [Written(line, test.lstrip("'"), *rest) for line, (test, *rest) in found if test]


def _places(name: str, heads: Sequence[str]) -> list[int]:
    """Where the columns stand, by their headings; -1 for one that is not there."""
    named = [cell.strip().lower() for cell in heads]
    for word in WANTED:
        if word not in named:
            raise Unusable(f"{name}: has no column `{word}`", MADE)
    return [named.index(word) if word in named else -1 for word in (*WANTED, "digest")]


def _cell(cells: Sequence[str], place: int) -> str:
    return cells[place].strip() if 0 <= place < len(cells) else ""
