"""A rule book as data: what stands in ``*.toml``, and how it is read.

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

from collections.abc import Mapping
from functools import cache
from importlib import import_module
from typing import Any, TypeAlias

from ...dsl.records import record
from ..trade.sizes import NEAR, area_mm2
from .table import Origin, Tables, origin_of

Block: TypeAlias = Mapping[str, Any]

BOOKS = ("nfpa70", "abyc-e11", "iec60364")
ADDABLE = ("drum",)
"""Tables that the look-ups use wherever a book has them, if only a project's own."""


@record
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


@record
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


@record
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


class Data:
    """One book's file, typed; ``residuals`` to ``colours`` stay as written.

    ``name`` is the printed book's, ``overlay`` the file of a project's changes to it ("": none).
    There is one of each, so two are equal only if they are the same object.
    """

    def __init__(self, raw: Mapping[str, Any]) -> None:
        self.name: str = raw["name"]
        self.overlay: str = raw.get("overlay", "")
        self.title: str = raw["title"]
        self.edition: str = raw["edition"]
        self.symbols: str = raw["symbols"]
        self.units: str = raw["units"]
        self.use = _use(raw["use"])
        self.limits = {key: _limit(row) for key, row in raw.items() if key.startswith("limit")}
        ratings = raw["ratings"]
        self.ratings = tuple(map(float, ratings["standard"]))
        self.fuse_ratings = tuple(sorted(map(float, ratings["standard"] + ratings["fuses"])))
        self.ratings_origin = origin_of(ratings)
        self.ratings_memory = tuple(map(float, ratings.get("memory", ())))
        self.tables = Tables(raw["tables"])
        self.earth = _earth(raw["earth"])
        self.ambient: Block = raw["ambient"]
        self.grouping: Block = raw["grouping"]
        self.resistance: Block = raw["resistance"]
        self.reactance: Block = raw["reactance"]
        self.withstand: Block = raw["withstand"]
        self.residuals: Mapping[str, Block] = raw.get("residuals", {})
        self.allowances: Mapping[str, Block] = raw["allowances"]
        self.values: Mapping[str, Block] = raw["values"]
        self.colours: Block = raw["colours"]

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


def table_name(name: str) -> str:
    """The module of ``tables`` made from a book."""
    return name.replace("-", "_")


@cache
def raw_book(name: str) -> dict[str, Any]:
    """A book as made from its file.  Raises FileNotFoundError where there is no such book."""
    if name not in BOOKS:
        raise FileNotFoundError(f"no book {name}")
    table: dict[str, Any] = import_module(f".tables.{table_name(name)}", __package__).TABLE
    return table


def load(name: str) -> Data:
    """The book of that name (one of BOOKS).  Raises FileNotFoundError for any other."""
    return Data(raw_book(name))
