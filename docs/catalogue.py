"""The page of the catalogue of faults, out of ``catalogue.toml`` and the heads of the fault files.

``python docs/catalogue.py > docs/catalogue.md``; a test holds the page to what this prints.
"""

from __future__ import annotations

import re
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

HERE = Path(__file__).parent
FAULTS = HERE.parent / "tests" / "faults"
BOOKS = ("nfpa70", "abyc-e11", "iec60364")
HEAD = """\
<!-- Made by `python docs/catalogue.py`; change catalogue.toml or the heads of tests/faults. -->

# The catalogue of faults

What builders of vans, trailers, stands and small craft do wrong, and what ferrule makes of it.
*Rules* tell the fault: `ferrule explain B02` says why it matters. *Files* are rigs with that one
fault in [tests/faults](../tests/faults), by rule book, each with a correct twin in
[tests/clean](../tests/clean). *AC* and *DC* say where the files have it. A fault that no text shows
has the paper that covers it instead: a line of the [commissioning sheet](commissioning.md), by what
its name begins with, or another sheet. Where there are both, the text shows the one part and the
paper the rest. A drawing is no proof that the rig was built to it.

"""
MAINS = re.compile(r"\b\d+Hz\b")
DIRECT = re.compile(r"\bdc\b|^(battery|solar|alternator|dcdc) ", re.MULTILINE)


class File(NamedTuple):
    """A fault file: its rows of the catalogue, the rules it must raise, its book, its currents."""

    name: str
    rows: tuple[str, ...]
    rules: tuple[str, ...]
    book: str
    currents: frozenset[str]


def files() -> Iterator[File]:
    """The fault files by name."""
    for path in sorted(FAULTS.glob("*.rig")):
        text = path.read_text(encoding="utf-8")
        head = re.search(r"^# catalogue: (.+)$", text, re.MULTILINE)
        book = re.search(r"^rules (\S+)$", text, re.MULTILINE)
        found = {"AC"} if MAINS.search(text) else set()
        yield File(
            path.stem,
            tuple(head[1].split()) if head else (),
            tuple(re.findall(r"^# expect: ([A-Z]\d\d) ", text, re.MULTILINE)),
            book[1] if book else "",
            frozenset(found | ({"DC"} if DIRECT.search(text) else set())),
        )


def sections() -> list[dict[str, object]]:
    """The sections of the catalogue, with their rows."""
    with open(HERE / "catalogue.toml", "rb") as file:
        return list(tomllib.load(file)["section"])


def page() -> str:
    """The whole page."""
    by_row: dict[str, list[File]] = {}
    for file in files():
        for row in file.rows:
            by_row.setdefault(row, []).append(file)
    told = sum(len(rows) for rows in (section["rows"] for section in sections()))  # type: ignore[misc]
    text = sum(1 for s in sections() for row in s["rows"] if row[0] in by_row)  # type: ignore[attr-defined]
    lines = [f"{told} rows: {text} that the text shows, in {len(list(files()))} files.\n"]
    for section in sections():
        lines.append(f"## {section['letter']} {section['title']}\n")
        lines.append("| row | fault | rules | files: NA · craft · IEC | AC/DC | paper |")
        lines.append("|---|---|---|---|---|---|")
        lines += [_row(row, by_row.get(row[0], [])) for row in section["rows"]]  # type: ignore[attr-defined]
        lines.append("")
    return HEAD + "\n".join(lines)


def _row(row: list[str], found: list[File]) -> str:
    rules = sorted({rule for file in found for rule in file.rules})
    count = " · ".join(str(sum(file.book == book for file in found)) for book in BOOKS)
    currents = [c for c in ("AC", "DC") if any(c in file.currents for file in found)]
    paper = row[2] if len(row) > 2 else ""
    cells = (row[0], row[1], " ".join(rules), count if found else "not in the text")
    return f"| {' | '.join((*cells, ' '.join(currents), paper))} |"


if __name__ == "__main__":
    sys.stdout.write(page())
