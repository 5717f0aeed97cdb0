"""A project's own book: a TOML file that names a printed book, what it changes there, and why.

It has the printed book's form (see ``book_data``) and may change its figures, not how it is read:
rows of tables, single figures, lengths, ratings, colours.  Every block says ``why``; a figure that
comes from it has the file, the clause it lies over and the reason as its own clause.
"""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Collection, Iterable, Iterator, Mapping
from functools import lru_cache
from typing import Any

from ...dsl.model import Span
from ...dsl.problems import Problem, did_you_mean, listed
from ...dsl.source import UNFIT
from .data import ADDABLE, BOOKS, Data, raw_book
from .shape import MOST_ROWS, expected, kind_of, rank
from .table import HOUSE

MOST_BYTES = 200_000
UNSAVED: dict[str, str] = {}
"""Texts of books, by path, that an editor holds: they go before what is on the disk."""
TOP = ("base", "title", "edition")
SAID = ("why", "edition", "source", "note")
NAMED = ("tables", "values", "allowances", "residuals")
FIGURES: dict[str, tuple[str, ...]] = {
    "tables": ("rows",),
    "values": ("value", "text"),
    "allowances": ("length_m", "text", "ratio", "ends_in_device", "conditions"),
    "residuals": ("value", "rated_up_to", "volts_up_to"),
    "ratings": ("standard", "fuses"),
    "limit": ("round_up_to", "factor"),
    "limit-cord": ("round_up_to", "factor"),
    "use": ("insulation", "terminals"),
    "grouping": ("longer_than_m",),
    "resistance": ("celsius", "coefficient", "constant", "drop_celsius"),
}
"""What may be changed in each block; in ``colours`` it is the roles."""
MODELS: Mapping[str, Any] = {
    "text": "18 in",
    "ratio": 0.1,
    "ends_in_device": True,
    "round_up_to": 800.0,
    "factor": 1.5,
    "fuses": [1.0],
    "standard": [15.0],
    "terminals": [["1AWG", 60.0]],
    "rated_up_to": 50.0,
    "volts_up_to": 150.0,
    "drop_celsius": 75.0,
    "longer_than_m": 0.6,
}
"""What a figure looks like that the printed book may leave out."""


class BookError(ValueError):
    """A book that cannot be used: ``problems`` says why, ``text`` is what was read of it."""

    def __init__(self, problems: Iterable[Problem], text: str = "") -> None:
        self.problems, self.text = tuple(problems), text
        super().__init__("; ".join(problem.message for problem in self.problems))


def laid_over(path: str) -> Data:
    """The printed book with a project's changes over it.  Raises ``BookError``."""
    return _laid_over(path, _read(path))


def _read(path: str) -> str:
    """The file's text; only a plain file of a sensible size is read."""
    if path in UNSAVED:
        return UNSAVED[path]
    try:
        if not os.path.isfile(path):
            raise BookError([Problem(_at(path, 1), f"there is no file {path}")])
        with open(path, "rb") as file:
            raw = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise BookError([Problem(_at(path, 1), f"cannot read {path}: {error.strerror}")]) from None
    if len(raw) > MOST_BYTES:
        message = f"a book of more than {MOST_BYTES // 1000} kB"
        raise BookError([Problem(_at(path, 1), message, "a few changes to a printed book")])
    try:
        return raw.decode().removeprefix("\ufeff").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        where = _at(path, raw.count(b"\n", 0, error.start) + 1)
        raise BookError([Problem(where, "a book that is not UTF-8 text", "UTF-8 text")]) from None


@lru_cache(maxsize=8)
def _laid_over(path: str, text: str) -> Data:
    overlay = _Overlay(path, text)
    raw = overlay.merged()
    if overlay.problems:
        raise BookError(sorted(set(overlay.problems), key=Problem.sort_key), text)
    return Data(raw)


def _at(path: str, line: int, column: int = 1, end: int = 1) -> Span:
    return Span(path, line, column, line, max(end, column))


def _places(text: str) -> dict[tuple[str, str], int]:
    """The line of every block (``("tables.cord", "")``) and of every key within one."""
    found: dict[tuple[str, str], int] = {}
    block = ""
    for number, line in enumerate(text.split("\n"), 1):
        head = re.match(r"\s*\[\s*([^\]]+?)\s*\]", line)
        key = re.match(r'\s*"?([^"=\[\]#]+?)"?\s*=', line)
        if head:
            block = re.sub(r'["\s]', "", head[1])
            found.setdefault((block, ""), number)
        elif key:
            found.setdefault((block, key[1]), number)
    return found


def _strings(value: Any) -> Iterator[str]:
    """Every text within a value, keys too."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict | list):
        for part in [*value, *value.values()] if isinstance(value, dict) else value:
            yield from _strings(part)


class _Overlay:
    """One reading of one file; mistakes are collected in ``problems``."""

    def __init__(self, path: str, text: str) -> None:
        self.path, self.text = path, text
        self.file = os.path.basename(path)
        self.problems: list[Problem] = []
        self.lines = _places(text)

    def merged(self) -> dict[str, Any]:
        """The printed book's table with the changes in it; empty where it names no book."""
        try:
            own = tomllib.loads(self.text)
        except (tomllib.TOMLDecodeError, RecursionError) as error:
            self._no_toml(str(error))
            return {}
        if any(UNFIT.search(text) for text in _strings(own)):
            self._no_toml("it has a control character, or one that turns the order of words round")
            return {}
        base = own.get("base")
        if not isinstance(base, str) or base not in BOOKS:
            message = "it does not say which book it lies over"
            message = f"there is no rule book `{str(base)[:40]}`" if base else message
            hint = did_you_mean(str(base)[:40], BOOKS) if base else ""
            self._problem((), "base", message, 'base = "…", one of: ' + " ".join(BOOKS), hint)
            return {}
        raw = {**raw_book(base), "overlay": self.file}
        for key in ("title", "edition"):
            if key in own and self._fits((), key, own[key], ""):
                raw[key] = f"{own[key]}, over {raw[key]}"
        for name, block in own.items():
            if name not in TOP:
                self._block(raw, name, block)
        return raw

    def _block(self, raw: dict[str, Any], name: str, block: Any) -> None:
        known = [*NAMED, *(word for word in (*FIGURES, "colours") if word in raw)]
        if name not in known:
            message = f"`{name[:40]}` of {raw['name']} cannot be changed"
            self._unknown((), name, message, [*TOP, *dict.fromkeys(known)])
        elif not isinstance(block, dict):
            self._problem((name,), "", f"`{name}` is no block", f"[{name}]")
        elif name not in NAMED:
            raw[name] = self._changed((name,), raw[name], block)
        else:
            raw[name] = dict(raw.get(name, {}))
            for key, part in block.items():
                self._part(raw, name, key, part)

    def _part(self, raw: dict[str, Any], name: str, key: str, part: Any) -> None:
        """``[tables.KEY]``, ``[values.KEY]``…: of the printed book, or one that another has."""
        there = raw[name]
        models = {k: row for book in BOOKS for k, row in raw_book(book).get(name, {}).items()}
        models |= there
        usable = {*there, *(ADDABLE if name == "tables" else models)}
        if key not in usable:
            message = f"{raw['name']} has no {name[:-1]} `{key[:40]}`"
            self._unknown((name, key), "", message, usable)
        elif not isinstance(part, dict):
            self._problem((name, key), "", f"`{name}.{key}` is no block", f"[{name}.{key}]")
        elif name == "tables":
            table = there.get(key) or {**models[key], "rows": {}, "clause": ""}
            there[key] = self._table((name, key), table, models[key], part)
        else:
            base = there.get(key) or {**models[key], "clause": ""}
            there[key] = self._changed((name, key), base, part)

    def _table(
        self,
        where: tuple[str, ...],
        table: Mapping[str, Any],
        model: Mapping[str, Any],
        part: Mapping[str, Any],
    ) -> dict[str, Any]:
        """A table with its changed and added rows; each changed row has its own origin."""
        self._keys(where, part, FIGURES["tables"])
        origin = self._origin(where, part, table["clause"])
        rows = part.get("rows")
        if not isinstance(rows, dict) or not rows or len(rows) > MOST_ROWS:
            self._problem(where, "rows", "no rows to change", 'rows = { "8AWG" = [55] }')
            return dict(table)
        like_row, like = next(iter(model["rows"].items()))
        kind = kind_of(like_row)
        good = {}
        for row, cells in rows.items():
            if row not in model["rows"] and (kind == "name" or kind_of(row) != kind):
                message = f"the table has no row `{row[:40]}`"
                self._unknown((*where, "rows"), row, message, model["rows"])
            elif not isinstance(cells, list) or len(cells) != len(like):
                columns = " ".join(map(str, table["columns"]))
                message = f"row `{row[:40]}` has not one cell for each column"
                self._problem((*where, "rows"), row, message, f"a list of cells for: {columns}")
            elif self._cells((*where, "rows"), row, cells, like):
                good[row] = cells
        every = {**table["rows"], **good}
        if {kind_of(row) for row in every} in ({"size"}, {"number"}):
            every = dict(sorted(every.items(), key=lambda pair: rank(pair[0])))
        return {**table, "rows": every, "changed": dict.fromkeys(good, origin)} | (
            {} if table["clause"] else origin
        )

    def _cells(self, where: tuple[str, ...], row: str, cells: list[Any], like: list[Any]) -> bool:
        for cell, model in zip(cells, like, strict=True):
            words = "" if cell in ("S", "S/2") and isinstance(model, str) else None
            words = expected(cell, model, none=True) if words is None else words
            if words:
                message = f"row `{row}` cannot hold {str(cell)[:40]!r}"
                self._problem(where, row, message, words)
                return False
        return True

    def _changed(
        self, where: tuple[str, ...], base: Mapping[str, Any], part: Mapping[str, Any]
    ) -> dict[str, Any]:
        """A block with its changed figures and their origin."""
        roles = [key for key, value in base.items() if isinstance(value, list)]
        figures = roles if where == ("colours",) else FIGURES[where[0]]
        if self._keys(where, part, figures) and not any(key in part for key in figures):
            self._problem(where, "", "the block changes nothing", "one of: " + listed(figures))
        out = {**base, **self._origin(where, part, base["clause"])}
        for key in figures:
            if key in part and self._fits(where, key, part[key], base.get(key) or MODELS.get(key)):
                new = part[key]
                out[key] = {**base[key], **new} if isinstance(new, dict) else new
        if "text" not in part and "value" in part:
            out.pop("text", None)
        elif "text" not in part and "length_m" in part:
            out["text"] = f"{part['length_m']} m"
        if where == ("ratings",) and out["standard"] != sorted(set(out["standard"])):
            self._problem(where, "standard", "standard ratings that do not rise", "rising numbers")
        return out

    def _origin(self, where: tuple[str, ...], part: Mapping[str, Any], over: str) -> dict[str, str]:
        """Where the figures of a block come from: this file, over a clause, for its reason."""
        why = part.get("why")
        if why is None:
            hint = "whoever comes after cannot judge a change without its reason"
            message = f"[{'.'.join(where)[:80]}] does not say why"
            self._problem(where, "", message, 'why = "…"', hint)
        for key in SAID:
            if key in part:
                self._fits(where, key, part[key], "")
        return {
            "clause": f"{self.file}{f', over {over}' if over else ''}: {why}",
            "edition": str(part.get("edition", "of the project")),
            "source": str(part.get("source", self.file)),
            "status": HOUSE,
            "note": str(part.get("note", "")),
        }

    # -- complaints ----------------------------------------------------------------------------

    def _fits(self, where: tuple[str, ...], key: str, value: Any, model: Any) -> bool:
        words = expected(value, model)
        if words:
            self._problem(where, key, f"`{key}` cannot be {str(value)[:40]!r}", words)
        return not words

    def _keys(
        self, where: tuple[str, ...], part: Mapping[str, Any], figures: Collection[str]
    ) -> bool:
        """Whether a block says only what it may."""
        known = [*figures, *SAID]
        odd = [key for key in part if key not in known]
        for key in odd:
            self._unknown(where, key, f"there is no `{key[:40]}` to change here", known)
        return not odd

    def _unknown(
        self, where: tuple[str, ...], key: str, message: str, known: Iterable[str]
    ) -> None:
        names = sorted(known)
        hint = did_you_mean((key or "".join(where[-1:]))[:40], names)
        self._problem(where, key, message, "one of: " + listed(names, 40), hint)

    def _problem(
        self, where: tuple[str, ...], key: str, message: str, words: str = "", hint: str = ""
    ) -> None:
        self.problems.append(Problem(self._span(where, key), message, words, hint))

    def _span(self, where: tuple[str, ...], key: str) -> Span:
        """The line of a key, or of the block it should stand in; else the first line."""
        block, above = ".".join(where), ".".join(where[:-1])
        own = ".".join((*where, key))
        last = "".join(where[-1:])
        places = [(block, key), (own, ""), (block, ""), (above, last), (above, "")]
        number = next((self.lines[place] for place in places if place in self.lines), 1)
        text = self.text.split("\n")[number - 1]
        return _at(self.path, number, len(text) - len(text.lstrip()) + 1, len(text.rstrip()) + 1)

    def _no_toml(self, words: str) -> None:
        """A text that is no TOML: the parser's own words, without its place in brackets."""
        found = re.search(r"^(.*?)\s*\(at line (\d+), column (\d+)\)$", words, re.DOTALL)
        said, line, column = found.groups() if found else (words, "1", "1")
        if "end of document" in words:
            line = str(self.text.rstrip("\n").count("\n") + 1)
        span = _at(self.path, int(line), int(column), int(column) + 1)
        message = f"cannot read the book: {said[:1].lower()}{said[1:]}"
        self.problems.append(Problem(span, message, "a book in TOML"))
