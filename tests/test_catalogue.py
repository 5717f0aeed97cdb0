"""The catalogue of faults: every file has a row, every row a file or a paper; papers are real."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest
from ferrule.checks.commissioning import commissioning
from ferrule.checks.commissioning.data import tables
from ferrule.checks.run import check_rigs
from ferrule.checks.tracing.trace import analyse
from ferrule.dsl.reader import read, read_text

ROOT = Path(__file__).parent.parent
sys.path.insert(0, str(ROOT / "docs"))

from catalogue import BOOKS, FAULTS, files, page, sections  # noqa: E402

ROWS = {row[0]: row for section in sections() for row in section["rows"]}
# Papers that are no line of the commissioning sheet.
OTHER = {
    *("the reader refuses the text", "twice: the reader refuses the text"),
    *("a terminal: the reader refuses the text", "`ferrule enter`: due again"),
    *("`status=` is drawn apart", "termination sheet", "panel sheet", "label sheets"),
}


def test_the_page_is_current() -> None:
    assert (ROOT / "docs" / "catalogue.md").read_text(encoding="utf-8") == page(), (
        "python docs/catalogue.py > docs/catalogue.md"
    )


def test_every_fault_file_has_its_rows() -> None:
    without = [file.name for file in files() if not file.rows or not set(file.rows) <= ROWS.keys()]
    assert without == [], "say `# catalogue: A-01` in its head, a row of docs/catalogue.toml"


def test_every_row_has_a_fault_file_or_a_paper() -> None:
    told = {row for file in files() for row in file.rows}
    assert [name for name, row in ROWS.items() if name not in told and len(row) < 3] == []


def test_the_catalogue_is_large_enough() -> None:
    """At least 110 faults that the text shows, in both currents and under all three books."""
    told = [file for file in files() if file.rows]
    assert len({row for file in told for row in file.rows}) >= 110
    for book in BOOKS:
        for current in ("AC", "DC"):
            both = [f for f in told if f.book == book and current in f.currents]
            assert len(both) >= 15, (book, current)


def test_papers_are_lines_of_the_commissioning_sheet() -> None:
    """Each paper named is a line that some example's sheet has, or one of the other papers."""
    lines = {f"SEE-{row['key']}" for row in tables()["inspection"]}
    for path in sorted((ROOT / "examples").glob("*.rig")) + sorted((ROOT / "tests/rigs").glob("*")):
        for rig in read(path).rigs[-1:]:
            lines |= {trial.id for step in commissioning(analyse(rig)) for trial in step.trials}
    for name, row in ROWS.items():
        for paper in re.split(r"[;,] ", row[2]) if len(row) > 2 else ():
            line = re.match(r"[A-Z]+-[a-z-]*", paper)
            if line is None:
                assert paper in OTHER, (name, paper)
            elif line[0].endswith("-"):
                assert any(known.startswith(line[0]) for known in lines), (name, paper)
            else:
                assert line[0] in lines, (name, paper)


def test_inspection_names_rows_of_the_catalogue() -> None:
    """What the sheet asks to look at says which row it is for."""
    named = {fault for row in tables()["inspection"] for fault in row["fault"]}
    listed = {f for f in named if re.fullmatch(r"[A-K]\d\d", f)}
    assert {f"{f[0]}-{f[1:]}" for f in listed} <= ROWS.keys()


# Rules of how things are joined, marked and housed: no book's figures decide them.  Three do: one
# is for craft alone, in two a conductor too thin under another book is told in its place.
OF_ONE_BOOK = ("b20_negatives_exchanged", "b24_shore_earth_carried_aboard", "d06_same_pair_twice")
SAME_IN_EVERY_BOOK = sorted(p for p in FAULTS.glob("[bdhst]*.rig") if p.stem not in OF_ONE_BOOK)


@pytest.mark.parametrize("path", SAME_IN_EVERY_BOOK, ids=lambda path: path.stem)
def test_a_fault_of_wiring_is_told_under_every_book(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    wanted = re.findall(r"^# expect: ([A-Z]\d\d) on (\S+)", text, re.MULTILINE)
    for book in BOOKS:
        reading = read_text(re.sub(r"^rules \S+", f"rules {book}", text, flags=re.MULTILINE))
        found = check_rigs(reading.rigs).findings
        told = {(f.rule, part) for f in found for n in f.on for part in (n, n.split("/")[0])}
        assert set(wanted) - told <= {w for w in wanted if w[0][0] in "PV"}, book
