"""Printed tables, each copied apart from the books into data/books/*.csv."""

from __future__ import annotations

import csv
from pathlib import Path

DATA = Path(__file__).parent / "data" / "books"


def printed(name: str) -> tuple[list[str], list[list[str]]]:
    """Header and rows of a copied table; its first line says where it is from."""
    with (DATA / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        assert len(next(file)) > 20, "no source"
        header, *rows = csv.reader(file)
    assert rows and all(len(row) == len(header) for row in rows)
    return header, rows


def number_or_size(cell: str) -> str | float:
    """A printed cell: a number, a conductor size as written, or "" where nothing is printed."""
    return cell if not cell or cell.endswith(("AWG", "mm2")) else float(cell)
