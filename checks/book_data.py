"""A rule book as data: what stands in ``books/*.toml``, and how it is read.

A book is one file.  Its blocks:

``use``         how the look-ups read the ampacity tables: usual insulation (degC) and installation
                method by form (single, multi, cord); the temperature terminals allow up to a size
``limit...``    how an overcurrent device may exceed the ampacity, by form
``ratings``     standard ratings of overcurrent devices, A
``tables.KEY``  a printed table: rows of cells under ``columns``; 0 where the book prints none
``earth``       how the least protective conductor is found
``ambient``     where the factors for hot places stand, and the temperature they start from, degC
``grouping``    where the factors for what runs together stand, and what the book counts
``resistance``  where a conductor's resistance stands, at what temperature (degC), and the
                coefficient (1/K at that temperature) that takes it to another
``reactance``   where its reactance stands, and for what frequency (Hz)
``withstand``   the constants of its short-circuit heating
``residuals``   where a residual-current device is asked for, and what it trips at, A
``allowances``  lengths of conductor, m, that may run unprotected, with their conditions
``values.KEY``  a single figure
``colours``     colours by role, the usual one first

Every block carries clause, edition, source and a status: ``confirmed`` in a copy that could be
read, ``partly`` (the source says which cells), or ``from-memory``; ``house`` is a project's own.

A table that is ``partly`` confirmed names the cells that are (``confirmed``), or those that are not
(``memory``): a row, ``*:COLUMN`` or ``ROW:COLUMN``.

An ampacity table says for which ``forms`` it is printed.  Its cells belong to an insulation
temperature (``celsius``), a number of ``loaded`` conductors and an installation ``method``: each is
given for the whole table, or by its columns (then it is the ``axis``), or does not matter.
"""

from __future__ import annotations

import os
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from typing import Any, TypeAlias

from .sizes import NEAR, area_mm2

BOOKS = ("nfpa70", "abyc-e11", "iec60364")
CONFIRMED, PARTLY, FROM_MEMORY, HOUSE = "confirmed", "partly", "from-memory", "house"
STATUSES = (CONFIRMED, PARTLY, FROM_MEMORY, HOUSE)
ADDABLE = ("drum",)
"""Tables that the look-ups use wherever a book has them, if only a project's own."""
FOLDER = os.path.join(os.path.dirname(__file__), "books")

Cell: TypeAlias = float | str


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a figure comes from, and how sure we are of it."""

    clause: str
    edition: str
    source: str
    status: str
    note: str = ""


@dataclass(frozen=True, slots=True)
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


@dataclass(frozen=True, slots=True)
class Use:
    """How the look-ups read the ampacity tables (see the head of this module)."""

    origin: Origin
    insulation: Mapping[str, float]
    method: Mapping[str, str]
    terminals: tuple[tuple[str, float], ...]
    terminal_tables: tuple[str, ...]
    small: str

    def terminal_celsius(self, area: float) -> float | None:
        """What the terminals of a conductor of that area stand, degC; None: no limit."""
        if not self.terminals:
            return None
        fits = (c for size, c in self.terminals if area <= area_mm2(size) * NEAR)
        return next(fits, self.terminals[-1][1])


@dataclass(frozen=True, slots=True)
class LimitRule:
    """How far a device's rating may stand above the ampacity.

    The next standard rating may be taken up to ``round_up_to`` (A) and to ``factor`` times the
    ampacity; where both are 0, the ampacity itself is the limit.  ``small`` names a table of
    sizes with a limit of their own.
    """

    origin: Origin
    forms: tuple[str, ...]
    round_up_to: float
    factor: float
    small: str

    def cap(self, ampacity: float) -> float:
        """The highest rating, A, that rounding up may reach for this ampacity."""
        caps = filter(None, (self.round_up_to, self.factor * ampacity))
        return min(caps, default=ampacity)

    @property
    def rounds_up(self) -> bool:
        return bool(self.round_up_to or self.factor)


@dataclass(frozen=True, slots=True)
class EarthRule:
    """How the least protective conductor is found: ``by`` the device's rating or the line's size.

    Above ``smaller_above`` (A; one figure for AC, one for DC) the second column of the table may
    be taken.  A protective conductor outside the cable is at least ``separate_min``.
    """

    by: str
    table: str
    smaller_above: tuple[float, float]
    separate_min: str
    separate_clause: str
    enlarged_clause: str


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


def _use(row: Mapping[str, Any]) -> Use:
    terminals = tuple((size, float(celsius)) for size, celsius in row.get("terminals", ()))
    tables = tuple(row.get("terminal_tables", ()))
    use = (row["insulation"], row["method"], terminals, tables, row.get("small", ""))
    return Use(origin_of(row), *use)


def _limit(row: Mapping[str, Any]) -> LimitRule:
    return LimitRule(
        origin=origin_of(row),
        forms=tuple(row["forms"]),
        round_up_to=row.get("round_up_to", 0.0),
        factor=row.get("factor", 0.0),
        small=row.get("small", ""),
    )


def _earth(row: Mapping[str, Any]) -> EarthRule:
    never = float("inf")
    above = (row.get("smaller_above_a", never), row.get("smaller_above_a_dc", never))
    words = ("separate_min", "separate_clause", "enlarged_clause")
    least = (row.get(word, "") for word in words)
    return EarthRule(row["by"], row["table"], above, *least)


@dataclass(frozen=True, slots=True, eq=False)
class Data:
    """One book's file, typed; ``allowances``, ``values`` and ``colours`` stay as written.

    ``name`` is the printed book's, ``overlay`` the file of a project's changes to it ("": none).
    There is one of each, so two are equal only if they are the same object.
    """

    name: str
    overlay: str
    title: str
    edition: str
    symbols: str
    units: str
    use: Use
    limits: Mapping[str, LimitRule]
    ratings: tuple[float, ...]
    fuse_ratings: tuple[float, ...]
    ratings_origin: Origin
    ratings_memory: tuple[float, ...]
    tables: Tables
    earth: EarthRule
    ambient: Mapping[str, Any]
    grouping: Mapping[str, Any]
    resistance: Mapping[str, Any]
    reactance: Mapping[str, Any]
    withstand: Mapping[str, Any]
    residuals: Mapping[str, Mapping[str, Any]]
    allowances: Mapping[str, Mapping[str, Any]]
    values: Mapping[str, Mapping[str, Any]]
    colours: Mapping[str, Any]

    @property
    def rules(self) -> dict[str, Origin]:
        """How the book is used, where that is not a table: blocks by name with their origin."""
        blocks = {
            "grouping": self.grouping,
            "resistance": self.resistance,
            "reactance": self.reactance,
            "withstand": self.withstand,
        }
        found = {"use": self.use.origin}
        found |= {key: rule.origin for key, rule in self.limits.items()}
        return found | {f"{key}-rule": origin_of(block) for key, block in blocks.items()}


def source(name: str) -> str:
    """The path of a book's file."""
    return os.path.join(FOLDER, f"{name}.toml")


def table_name(name: str) -> str:
    """The module of ``book_tables`` made from a book."""
    return name.replace("-", "_")


@cache
def raw_book(name: str) -> dict[str, Any]:
    """A book's table: as made from its file, or from the file where that has changed since."""
    with open(source(name), "rb") as file:
        raw = file.read()
    made = import_module(f".book_tables.{table_name(name)}", __package__)
    if zlib.crc32(raw) == made.CRC:
        table: dict[str, Any] = made.TABLE
        return table
    import tomllib  # only where the book has changed since its table was made

    return tomllib.loads(raw.decode())


def load(name: str) -> Data:
    """The book of that name (one of BOOKS).  Raises FileNotFoundError for any other."""
    return typed(raw_book(name))


def typed(raw: Mapping[str, Any]) -> Data:
    """A book's table as typed records."""
    ratings = raw["ratings"]
    return Data(
        name=raw["name"],
        overlay=raw.get("overlay", ""),
        title=raw["title"],
        edition=raw["edition"],
        symbols=raw["symbols"],
        units=raw["units"],
        use=_use(raw["use"]),
        limits={key: _limit(row) for key, row in raw.items() if key.startswith("limit")},
        ratings=tuple(map(float, ratings["standard"])),
        fuse_ratings=tuple(sorted(map(float, ratings["standard"] + ratings["fuses"]))),
        ratings_origin=origin_of(ratings),
        ratings_memory=tuple(map(float, ratings.get("memory", ()))),
        tables=Tables(raw["tables"]),
        earth=_earth(raw["earth"]),
        ambient=raw["ambient"],
        grouping=raw["grouping"],
        resistance=raw["resistance"],
        reactance=raw["reactance"],
        withstand=raw["withstand"],
        residuals=raw.get("residuals", {}),
        allowances=raw["allowances"],
        values=raw["values"],
        colours=raw["colours"],
    )
