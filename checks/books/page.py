"""The reference page of the rule books, written from their data: ``docs/books.md``.

``python -m ferrule.checks.books.page > docs/books.md`` renews it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from ..trade.colours import code_of
from ..trade.sizes import spoken
from .book import Book, book
from .data import BOOKS, Data
from .listing import shown
from .table import CONFIRMED, PARTLY, Cell, Origin, Table, origin_of

HEAD = """# Rule books

Written from `checks/books/*.toml` by `python -m ferrule.checks.books.page`; do not edit by hand.

These are the figures the checker uses, each with its clause and how sure we are of it:
*confirmed* in a copy that could be read, *partly* (the source says which cells), or *from-memory*.
They are no substitute for the standards; your edition and your local code decide. Copper only.
An empty cell is one the book does not print; in a table that is partly confirmed, \\* marks what is
from memory. `ferrule books` shows the same on the command line,
and `ferrule books --from-memory` everything that could not be confirmed.

## A book of your own

A project may lay its own book over one of these: `rules "house.book"` in the rig, and beside it a
TOML file such as [examples/house.book](../examples/house.book):

```toml
base = "nfpa70"

[values.drop-total]
why = "the instruments we fit restart below 97 % of nominal"
value = 3.0

[tables.grouping]
why = "our ceiling ducts are ventilated: measured, report 12"
rows = { 6 = [0.85] }
```

It may change rows of tables (and add sizes to them), single figures, lengths, ratings, colours, the
usual insulation and what terminals stand; a figure or a drum's factors that only another book has
may be added. It cannot change how a table is read. Every block says `why`, and every figure that
comes from it carries the file, the clause beneath and the reason.
"""

AXES = {"celsius": " degC", "loaded": " loaded", "method": "", "value": ""}
"""What the head of a column says after its value, by what the columns are."""


def page() -> str:
    """The page as Markdown."""
    return "\n".join([HEAD, *(line for name in BOOKS for line in _book(book(name)))])


def _book(rules: Book) -> Iterator[str]:
    data = rules.data
    yield f"## {rules.name}\n"
    yield f"{rules.title}. Edition: {data.edition}.\n"
    yield from _use(rules)
    for table in data.tables.values():
        yield from _table(table)
    yield "### Standard ratings of overcurrent devices, A\n"
    yield f"{', '.join(f'{r:g}' for r in data.ratings)}\n"
    yield _origin(data.ratings_origin)
    yield from _rules(data)
    yield from _residuals(data.residuals)
    yield from _allowances(data.allowances)
    yield from _values(rules)
    yield from _colours(data.colours)


def _use(rules: Book) -> Iterator[str]:
    use = rules.data.use
    yield "### How a conductor is looked up\n"
    yield "| form | insulation unless stated | installation method |"
    yield "|---|---|---|"
    for form, celsius in use.insulation.items():
        yield f"| {form} | {celsius:g} degC | {use.method[form]} |"
    yield ""
    if use.terminals:
        steps = (f"to {spoken(size)} {celsius:g} degC" for size, celsius in use.terminals)
        yield f"Terminals stand: {', '.join(steps)}.\n"
    yield _origin(use.origin)
    yield "### How far a device may exceed the ampacity\n"
    for rule in rules.data.limits.values():
        caps = [f"up to {rule.round_up_to:g} A"] * bool(rule.round_up_to)
        caps += [f"up to {100 * rule.factor:g} % of the ampacity"] * bool(rule.factor)
        how = f"next standard rating, {' and '.join(caps)}" if caps else "at most the ampacity"
        yield f"{', '.join(rule.forms) or 'for comparison only'}: {how}.\n"
        yield _origin(rule.origin)


def _table(table: Table) -> Iterator[str]:
    shared = [f"{key} {value}" for key, value in table.fixed.items()]
    yield f"### {table.title}\n"
    unit = "" if table.unit in ("1", "size") else f"In {table.unit}. "
    lead = unit + (f"All cells: {', '.join(shared)}. " if shared else "")
    yield f"{lead}Key `{table.key}`.\n"
    yield f"| | {' | '.join(f'{c}{AXES[table.axis]}' for c in table.columns)} |"
    yield "|---" * (1 + len(table.columns)) + "|"
    for row in table.rows:
        marked = (_cell(table, row, column) for column in table.columns)
        yield f"| {spoken(row)} | {' | '.join(marked)} |"
    yield ""
    yield _origin(table.origin)


def _cell(table: Table, row: str, column: Cell) -> str:
    cell = shown(table.cell(row, column))
    partly = table.origin.status == PARTLY
    return f"{cell}\\*" if partly and cell and table.status_at(row, column) != CONFIRMED else cell


def _rules(data: Data) -> Iterator[str]:
    yield "### How tables and factors are put together\n"
    yield "| rule | how | clause | status |"
    yield "|---|---|---|---|"
    for key, origin in data.rules.items():
        if key.endswith("-rule"):
            how = origin.note or origin.source
            yield f"| {key.removesuffix('-rule')} | {how} | {origin.clause} | {origin.status} |"
    yield ""


def _residuals(rows: Mapping[str, Mapping[str, Any]]) -> Iterator[str]:
    yield "### Residual current\n"
    yield "| ahead of | in places | at most | note | clause | status |"
    yield "|---|---|---|---|---|---|"
    for row in rows.values():
        on, places = ", ".join(row["on"]), " or ".join(row.get("places", ("any",)))
        cells = (on, places, f"{1000 * row['value']:g} mA", row.get("note", ""))
        yield f"| {' | '.join((*cells, row['clause'], row['status']))} |"
    yield ""


def _allowances(rows: Mapping[str, Mapping[str, Any]]) -> Iterator[str]:
    yield "### Lengths that may run without protection ahead of them\n"
    yield "| situation | length | conditions | clause | status |"
    yield "|---|---|---|---|---|"
    for key, row in rows.items():
        cells = (key, row["text"], "; ".join(row["conditions"]), row["clause"], row["status"])
        yield f"| {' | '.join(cells)} |"
    yield ""


def _values(rules: Book) -> Iterator[str]:
    yield "### Single figures\n"
    yield "| figure | value | note | clause | status |"
    yield "|---|---|---|---|---|"
    for key in rules.data.values:
        found = rules.value(key)
        if found is not None:
            words, *note = found.steps
            yield f"| {key} | {words} | {' '.join(note)} | {found.clause} | {found.status} |"
    yield ""


def _colours(table: Mapping[str, Any]) -> Iterator[str]:
    yield "### Colours, the usual one first\n"
    yield "| role | colours (IEC 60757) |"
    yield "|---|---|"
    for role, names in table.items():
        if isinstance(names, list):
            shown = (f"{name} ({code_of(name)})" for name in names)
            yield f"| {role} | {', '.join(shown)} |"
    yield ""
    yield _origin(origin_of(table))


def _origin(origin: Origin) -> str:
    note = f" {origin.note}" if origin.note else ""
    said = f"{origin.clause}; edition {origin.edition}. Source: {origin.source}."
    return f"*{origin.status}* — {said}{note}\n"


if __name__ == "__main__":
    print(page(), end="")
