"""A printed table of a rule book, and where its figures come from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, TypeAlias

from ...dsl.records import record
from ..trade.sizes import NEAR, area_mm2

CONFIRMED, PARTLY, FROM_MEMORY, HOUSE = "confirmed", "partly", "from-memory", "house"
STATUSES = (CONFIRMED, PARTLY, FROM_MEMORY, HOUSE)

Cell: TypeAlias = float | str


@record
class Origin:
    """Where a figure comes from, and how sure we are of it."""

    clause: str
    edition: str
    source: str
    status: str
    note: str = ""


@record
class Table:
    """A printed table.  ``fixed`` holds what all its cells share (celsius, loaded, method)."""

    key: str
    title: str
    unit: str
    origin: Origin
    axis: str
    columns: tuple[Cell, ...]
    rows: Mapping[str, tuple[Cell, ...]]
    forms: tuple[str, ...]
    fixed: Mapping[str, Cell]
    changed: Mapping[str, Origin]
    marks: tuple[bool, frozenset[str]]

    def status_at(self, row: str, column: Cell) -> str:
        """How sure we are of a cell: in a table partly confirmed, whether it is one of those."""
        status = self.origin_at(row).status
        if status != PARTLY:
            return status
        known, marked = self.marks
        named = bool(marked & {row, f"*:{column}", f"{row}:{column}"})
        return CONFIRMED if named == known else FROM_MEMORY

    def origin_at(self, row: str) -> Origin:
        """Where a row's figures come from: the table's origin, or that of the change over it."""
        return self.changed.get(row, self.origin)

    def cell(self, row: str, column: Cell) -> Cell:
        """The cell of a row under a column.  Raises KeyError or ValueError where there is none."""
        return self.rows[row][self.columns.index(column)]

    def floor(self, area: float) -> str | None:
        """The row of the largest size not above ``area`` (mm2)."""
        below = [row for row in self.rows if area_mm2(row) <= area * NEAR]
        return max(below, key=area_mm2, default=None)

    def ceiling(self, value: float) -> str | None:
        """The first row whose number, the upper end of its band, is not below ``value``."""
        above = [row for row in self.rows if float(row) >= value]
        return min(above, key=float, default=None)

    @property
    def largest(self) -> float:
        """The area in mm2 of the largest size it has a row for."""
        return max(area_mm2(row) for row in self.rows)


def origin_of(row: Mapping[str, Any]) -> Origin:
    """The origin that a block of a book states."""
    return Origin(row["clause"], row["edition"], row["source"], row["status"], row.get("note", ""))


def _table(key: str, row: Mapping[str, Any]) -> Table:
    return Table(
        key=key,
        title=row["title"],
        unit=row["unit"],
        origin=origin_of(row),
        axis=row["axis"],
        columns=tuple(row["columns"]),
        rows={name: tuple(cells) for name, cells in row["rows"].items()},
        forms=tuple(row.get("forms", ())),
        fixed={k: row[k] for k in ("celsius", "loaded", "method") if k in row},
        changed={name: origin_of(own) for name, own in row.get("changed", {}).items()},
        marks=("confirmed" in row, frozenset(row.get("confirmed", row.get("memory", ())))),
    )


class Tables(Mapping[str, Table]):
    """The tables of a book by key, each made when it is first asked for."""

    def __init__(self, raw: Mapping[str, Any]) -> None:
        self._raw = raw
        self._made: dict[str, Table] = {}

    def __getitem__(self, key: str) -> Table:
        if key not in self._made:
            self._made[key] = _table(key, self._raw[key])
        return self._made[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._raw)

    def __len__(self) -> int:
        return len(self._raw)

    def printed_for(self, form: str) -> list[Table]:
        """The ampacity tables for a form of conductor: single, multi or cord."""
        return [self[key] for key, row in self._raw.items() if form in row.get("forms", ())]
