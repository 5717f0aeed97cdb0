"""Writes ``docs/bands.md``: every trip band with its points, its clause and how sure it is.

Run ``python -m ferrule.checks.bands.page > docs/bands.md`` after a change to the bands.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from typing import Any

from .table import TABLE

HEAD = """<!-- Made by `python -m ferrule.checks.bands.page`; change checks/bands/bands.toml. -->

# Trip bands

When an overcurrent device opens, at the soonest and at the latest, as the rules on disconnection,
short-circuit heat and order of opening take it, and as the time-current curves show it. The points
are the standards' gates; between two of them the edges are straight on logarithmic scales, past the
last one I²t stays as it is there. A maker's curve lies inside its band and is narrower. Where no
standard fixes a time, nothing is assumed: the device is not checked, and the figures say so.

`ferrule draw FILE --only curves` draws the bands of the chains worth looking at, from a source to a
final circuit, with the fault currents at every device and what the conductor stands.
"""


def page() -> str:
    """The page as Markdown."""
    return "\n".join([HEAD, *_breakers(), *_fuses(), *_unknown(), *_residual()])


def _origin(table: Mapping[str, Any]) -> Iterator[str]:
    yield f"### {table['title']}"
    yield ""
    yield f"*{table['status']}* — {table['clause']}; edition {table['edition']}. " + (
        f"Source: {table['source']}. {table.get('note', '')}".strip()
    )
    yield ""


def _breakers() -> Iterator[str]:
    yield "## Circuit-breakers\n"
    for table in TABLE["breakers"].values():
        yield from _origin(table)
        yield f"`standard=`: {', '.join(table['standards'])}.\n"
        yield "| at | opens |"
        yield "|---|---|"
        hours = ", ".join(f"{s / 3600:g} h to {a:g} A" for a, s in table["conventional"])
        yield f"| {table['holds']:g} times its rating | not within {hours} |"
        yield f"| {table['trips']:g} times | within {hours} |"
        for multiple, most, soon, late in table["gates"]:
            yield f"| {multiple:g} times, to {most:g} A | after {soon:g} s, within {late:g} s |"
        for curve, (low, high) in table["instantaneous"].items():
            what = f"band {curve}" if curve else "no letter"
            surely = f"surely within {table['at_once']:g} s from {high:g} times"
            yield f"| {what} | perhaps at once from {low:g}, {surely} |"
        yield ""
        yield from (f"{table[key]}.\n" for key in ("gates_note", "energy_source") if key in table)


def _fuses() -> Iterator[str]:
    yield "## Fuses\n"
    for table in TABLE["fuses"].values():
        yield from _origin(table)
        yield f"`class=`: {', '.join(table['classes'])}.\n"
        if "rows" in table:
            yield "| A | 10 s, soonest | 5 s, latest | 0.1 s, soonest | 0.1 s, latest | I²t, A²s |"
            yield "|---|---|---|---|---|---|"
            for rating, row in table["rows"].items():
                first = " | ".join(f"{value:g}" for value in row[:4])
                yield f"| {rating} | {first} | {row[4]:g} to {row[5]:g} |"
        else:
            yield "| at | opens |"
            yield "|---|---|"
            for multiple, most, soon, late in table["gates"]:
                parts = [f"after {soon:g} s"] * bool(soon) + [f"within {late:g} s"] * bool(late)
                yield f"| {multiple:g} times its rating, to {most:g} A | {', '.join(parts)} |"
        for most, i2t in table.get("energy", ()):
            yield f"| to {most:g} A | lets at most {i2t:g} A²s through |"
        yield ""


def _unknown() -> Iterator[str]:
    yield "## Not known\n"
    for name, why in TABLE["unknown"].items():
        yield f"- `{name}`: {why}."
    yield ""


def _residual() -> Iterator[str]:
    yield "## Residual current\n"
    for table in TABLE["residual"].values():
        yield from _origin(table)
        yield "| times its rated residual current | opens |"
        yield "|---|---|"
        for times, soon, late in table["times"]:
            after = f"after {soon:g} s, " if soon else ""
            yield f"| {times:g} | {after}within {late:g} s |"
        yield ""


if __name__ == "__main__":
    sys.stdout.write(page())
