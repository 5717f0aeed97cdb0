"""The rule books on a terminal: what each holds, one table of it, and what is from memory."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from typing import Any

from ..trade.sizes import spoken
from .book import Book
from .demands import said
from .table import FROM_MEMORY, PARTLY, STATUSES, Cell, Origin, Table, origin_of

MARK = "*"
NAMED = {"allowances": "length", "values": "figure", "residuals": "residual current"}
"""Blocks of single figures, and what one of them is called."""


def books(every: list[Book]) -> Iterator[str]:
    """One paragraph a book: its title, edition, and how sure we are of its tables."""
    for rules in every:
        data = rules.data
        tables = Counter(table.origin.status for table in data.tables.values())
        figures = Counter(row["status"] for _, _, row in _singles(rules))
        yield f"{rules.name}  {rules.title}"
        yield f"  edition {data.edition}"
        yield f"  {len(data.tables)} tables: {_counted(tables)}"
        yield f"  {sum(figures.values())} single figures: {_counted(figures)}"
        yield ""


def contents(rules: Book) -> Iterator[str]:
    """What a book holds, a line each: key, status, clause, and what it is."""
    data = rules.data
    yield f"{rules.title}. Edition: {data.edition}"
    yield ""
    rows = [(t.key, t.origin.status, t.origin.clause, t.title) for t in data.tables.values()]
    rows.append(
        ("ratings", data.ratings_origin.status, data.ratings_origin.clause, _ratings(rules))
    )
    rows += [(key, o.status, o.clause, o.note) for key, o in data.rules.items()]
    rows += [(key, row["status"], row["clause"], _said(row)) for _, key, row in _singles(rules)]
    yield from _aligned(rows)


def table(rules: Book, key: str) -> Iterator[str]:
    """One table or single figure with its origin; KeyError where the book has none of that key."""
    if key in rules.tables:
        yield from _table(rules.tables[key])
    elif key == "ratings":
        yield f"Standard ratings of overcurrent devices, A: {_ratings(rules)}"
        yield from _origin(rules.data.ratings_origin)
    elif key in rules.data.rules:
        yield from _origin(rules.data.rules[key])
    else:
        what, row = next((w, r) for w, k, r in _singles(rules) if k == key)
        yield f"{key} ({what}): {_said(row)}"
        yield from _origin(origin_of(row))


def keys(rules: Book) -> list[str]:
    """Everything ``table`` knows by key."""
    singles = [key for _, key, _ in _singles(rules)]
    return [*rules.tables, "ratings", *rules.data.rules, *singles]


def from_memory(rules: Book) -> Iterator[str]:
    """Every value of a book that no copy we could read confirms, with its clause."""
    yield f"{rules.title}: from memory, not confirmed in any copy that could be read"
    yield ""
    for printed in rules.tables.values():
        cells = list(_unsure(printed))
        if cells:
            count = sum(1 for row in printed.rows.values() for cell in row if cell != 0)
            unit = "" if printed.unit in ("1", "size") else f", {printed.unit}"
            yield f"table {printed.key} ({printed.origin.clause}){unit}: {len(cells)} of {count}"
            yield from _wrapped(cells)
            yield ""
    for what, key, row in _singles(rules):
        if row["status"] == FROM_MEMORY:
            yield f"{what} {key} ({row['clause']}): {_said(row)}"
    for key, origin in rules.data.rules.items():
        if origin.status == FROM_MEMORY:
            yield f"rule {key} ({origin.clause}): {origin.note or origin.source}"
    if rules.data.ratings_memory:
        listed = ", ".join(f"{rating:g}" for rating in rules.data.ratings_memory)
        yield f"standard ratings ({rules.data.ratings_origin.clause}), A: {listed}"


def unsure_cells(rules: Book) -> dict[str, int]:
    """How many cells of each table are from memory."""
    return {key: len(list(_unsure(printed))) for key, printed in rules.tables.items()}


def _unsure(printed: Table) -> Iterator[str]:
    for row, cells in printed.rows.items():
        for column, cell in zip(printed.columns, cells, strict=True):
            if cell != 0 and printed.status_at(row, column) == FROM_MEMORY:
                under = f" {column}" if len(printed.columns) > 1 else ""
                yield f"{spoken(row)}{under}: {shown(cell)}"


def _wrapped(cells: list[str], width: int = 96) -> Iterator[str]:
    line = "  "
    for cell in cells:
        if len(line) + len(cell) > width:
            yield line.rstrip()
            line = "  "
        line += f"{cell}; "
    yield line.rstrip("; ")


def _singles(rules: Book) -> Iterator[tuple[str, str, Mapping[str, Any]]]:
    data = rules.data
    blocks = (data.allowances, data.values, data.residuals)
    for what, block in zip(NAMED.values(), blocks, strict=True):
        for key, row in block.items():
            yield what, key if what != "residual current" else f"residual-at-{key}", row


def _said(row: Mapping[str, Any]) -> str:
    if "length_m" in row:
        return f"{row['text']}; {'; '.join(row['conditions'])}"
    if "on" in row:
        return f"{1000 * row['value']:g} mA ahead of: {', '.join(row['on'])}"
    words = spoken(str(row["value"])) if row["unit"] == "size" else said(row)
    return f"{words}. {row['note']}" if row.get("note") else words


def _ratings(rules: Book) -> str:
    return " ".join(f"{rating:g}" for rating in rules.standard_ratings)


def _counted(found: Mapping[str, int]) -> str:
    return ", ".join(f"{found[status]} {status}" for status in STATUSES if found.get(status))


def shown(cell: Cell) -> str:
    """A cell as text; "" where the book prints none."""
    return spoken(cell) if isinstance(cell, str) else f"{cell:g}" if cell else ""


def _aligned(rows: list[tuple[str, str, str, str]]) -> Iterator[str]:
    wide = [max(len(row[i]) for row in rows) for i in range(3)]
    for key, status, clause, words in rows:
        yield f"{key:<{wide[0]}}  {status:<{wide[1]}}  {clause:<{wide[2]}}  {words}".rstrip()


def _table(printed: Table) -> Iterator[str]:
    unit = "" if printed.unit in ("1", "size") else f", in {printed.unit}"
    yield f"{printed.title}{unit}"
    shared = [f"{key} {value}" for key, value in printed.fixed.items()]
    if shared:
        yield f"all cells: {', '.join(shared)}"
    yield ""
    head = ["", *(str(column) for column in printed.columns)]
    body = [
        [spoken(row), *(_marked(printed, row, column) for column in printed.columns)]
        for row in printed.rows
    ]
    wide = [max(len(line[i]) for line in [head, *body]) for i in range(len(head))]
    for line in [head, *body]:
        cells = [f"{cell:>{w}}" for cell, w in zip(line[1:], wide[1:], strict=True)]
        yield f"{line[0]:<{wide[0]}}  {'  '.join(cells)}".rstrip()
    yield ""
    if any(MARK in cell for line in body for cell in line):
        yield f"{MARK} from memory"
    yield from _origin(printed.origin)
    for origin in dict.fromkeys(printed.changed.values()):
        yield f"changed by {origin.clause}"


def _marked(printed: Table, row: str, column: Cell) -> str:
    cell = shown(printed.cell(row, column))
    partly = printed.origin.status == PARTLY
    return cell + MARK * bool(partly and cell and printed.status_at(row, column) == FROM_MEMORY)


def _origin(origin: Origin) -> Iterator[str]:
    yield f"{origin.clause}; edition {origin.edition}"
    yield f"{origin.status}: {origin.source}"
    if origin.note:
        yield origin.note
