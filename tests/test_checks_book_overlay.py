"""A project's own book over a printed one: what it changes, and what it may not."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from ferrule.checks.books.book import Book, Figure, Missing, book, flaws, is_own
from ferrule.checks.books.data import BOOKS
from ferrule.checks.books.overlay import MOST_BYTES, BookError
from ferrule.checks.run import check_rigs
from ferrule.checks.tracing.trace import analyse
from ferrule.cli.main import main
from ferrule.dsl.model import Rig
from ferrule.dsl.reader import read
from hypothesis import given, settings
from hypothesis import strategies as st

ROOT = Path(__file__).parents[1]
HOUSE = ROOT / "examples" / "house.book"
RIG = """rig "Own book"
rules "house.book"
route DUCT "Duct"
battery GB 12V 100Ah
fuse F1 100A dc
fuse F2 100A dc
fuse F3 100A dc
cable C1 2x8AWG 5m F1.1 F1.2 -> F2.1 F2.2 via=DUCT
cable C2 2x8AWG 5m F1.1 F1.2 -> F3.1 F3.2 via=DUCT
cable C3 2x10AWG 5m F1.1 F1.2 -> F3.1 F3.2 cord drum=1
"""


def over(folder: Path, text: str) -> Book:
    """The book that lies over a printed one, from its text."""
    path = folder / "own.book"
    path.write_text(text, encoding="utf-8")
    return book(str(path))


def rig_with(folder: Path, text: str) -> Rig:
    (folder / "house.book").write_text(text, encoding="utf-8")
    (folder / "a.rig").write_text(RIG, encoding="utf-8")
    reading = read(folder / "a.rig")
    assert reading.problems == ()
    return reading.rigs[0]


def problems(folder: Path, text: str) -> list[tuple[int, str, str, str]]:
    """Line, message, what was expected and hint of everything wrong with a book."""
    path = folder / "own.book"
    path.write_text(text, encoding="utf-8")
    found, _ = flaws(str(path))
    assert all(p.span.file == str(path) for p in found)
    return [(p.span.line, p.message, p.expected, p.hint) for p in found]


# -- the example ----------------------------------------------------------------------------------


def test_the_example_reads_and_says_why() -> None:
    rules = book(str(HOUSE))
    assert (rules.name, rules.overlay) == ("nfpa70", "house.book")
    assert rules.title == "Coachbuilders' sheet 4, over NFPA 70, National Electrical Code"
    drop = rules.drop_limit()
    assert drop is not None
    assert (drop.value, drop.status) == (3.0, "house")
    assert drop.clause.startswith("house.book, over NFPA 70 215.2(A)")
    assert "restart below 97 %" in drop.clause
    length = rules.allowance("battery")
    assert length is not None and (length.value, length.steps[0]) == (0.15, "at most 150 mm")
    assert [colour.name for colour in rules.colours("+")] == ["red", "orange"]


def test_everything_else_is_as_printed() -> None:
    rules, printed = book(str(HOUSE)), book("nfpa70")
    assert rules.tables["ampacity"] == printed.tables["ampacity"]
    assert rules.standard_ratings == printed.standard_ratings
    own = {"drop-total"}
    for key in printed.data.values:
        assert (rules.value(key) == printed.value(key)) == (key not in own)
    grouping = rules.tables["grouping"]
    assert [cells[0] for cells in grouping.rows.values()] == [1, 0.85, 0.75, 0.5, 0.45, 0.4, 0.35]
    assert grouping.origin_at("20") == printed.tables["grouping"].origin
    assert grouping.origin_at("9").status == "house"
    assert printed.tables["grouping"].rows["6"] == (0.8,)


def test_a_figure_tells_what_the_own_book_changed(tmp_path: Path) -> None:
    rig = rig_with(tmp_path, HOUSE.read_text(encoding="utf-8"))
    assert is_own(rig.book) and Path(rig.book).name == "house.book"
    stage = analyse(rig)
    found = stage.book.ampacity(rig.conductors["C1/1"], rig)
    assert isinstance(found, Figure)
    # four conductors: 55 A x 0.85 = 46.75 A, under the 50 A of terminals marked for 75 degC
    assert (found.value, found.status) == (46.75, "house")
    assert any("x 0.85 (house.book, over NFPA 70 Table 310.15(C)(1)" in s for s in found.steps)
    assert any("marked for 75 degC" in s and "50 A" in s for s in found.steps)


def test_a_table_that_only_another_book_prints_may_be_added(tmp_path: Path) -> None:
    rig = rig_with(tmp_path, HOUSE.read_text(encoding="utf-8"))
    found = book(rig.book).ampacity(rig.conductors["C3/1"], rig)
    assert isinstance(found, Figure) and found.value == pytest.approx(30 * 0.85)
    assert isinstance(book("nfpa70").ampacity(rig.conductors["C3/1"], rig), Missing)


def test_a_rig_is_checked_by_its_own_book_with_the_printed_book_s_rules(tmp_path: Path) -> None:
    """The clinic, silent under NFPA 70, is as silent under a book that changes nothing in it."""
    text = (ROOT / "examples/mobile_clinic.rig").read_text(encoding="utf-8")
    (tmp_path / "house.book").write_text('base = "nfpa70"\n', encoding="utf-8")
    (tmp_path / "a.rig").write_text(text.replace("rules nfpa70", 'rules "house.book"'))
    reading = read(tmp_path / "a.rig")
    assert reading.problems == ()
    report = check_rigs(reading.rigs)
    assert [f.code for f in report.findings if not f.accepted] == []


def test_no_module_compares_the_rig_s_book_with_a_name() -> None:
    """`Rig.book` may be a path: whoever asks for the printed book asks `Book.name`."""
    for file in [*ROOT.glob("checks/**/*.py"), *ROOT.glob("render/**/*.py")]:
        for line in file.read_text(encoding="utf-8").splitlines():
            if "rig.book" in line:
                assert re.search(r"\b(book|flaws|is_own)\([^()]*rig\.book\)", line), (file, line)


def test_small_changes_of_every_kind(tmp_path: Path) -> None:
    text = """base = "iec60364"
[ratings]
why = "fuses of the yard"
fuses = [1, 3]
[tables.drum]
why = "measured"
rows = { 1 = [0.9], 6 = [0.3] }
[allowances.battery]
why = "our boxes"
length_m = 0.15
[tables.pvc-2.rows]
10mm2 = [40, 40, 50, 48, 60, 55, 66]
"12mm2" = [41, 41, 51, 49, 61, 56, 67]
[tables.pvc-2]
why = "thin-walled cable, maker's sheet"
[residuals.socket]
why = "children aboard"
value = 0.01
"""
    rules = over(tmp_path, text)
    assert {1, 3} <= set(rules.data.fuse_ratings)
    assert rules.tables["drum"].rows["1"] == (0.9,) and rules.tables["drum"].rows["2"] == (0.65,)
    length = rules.allowance("battery")
    assert length is not None and length.steps[0] == "at most 0.15 m"
    sizes = list(rules.tables["pvc-2"].rows)
    assert sizes.index("12mm2") == sizes.index("10mm2") + 1
    assert rules.data.residuals["socket"]["value"] == 0.01


# -- what is wrong with one -----------------------------------------------------------------------

BASE = 'base = "nfpa70"\n'
DROP = BASE + '[values.drop-total]\nwhy="x"\n'
TABLE = BASE + '[tables.ampacity]\nwhy="x"\n'
ROWS = TABLE + "[tables.ampacity.rows]\n"
WRONG = [
    ("", 1, "does not say which book", ""),
    ('base = "nfpa7"\n', 1, "no rule book `nfpa7`", "did you mean `nfpa70`?"),
    ("base = 3\n", 1, "no rule book `3`", ""),
    (BASE + "[tables.ampacty]\n", 2, "no table `ampacty`", "did you mean `ampacity`?"),
    (
        BASE + '[values.drop-totl]\nwhy="x"\n',
        2,
        "no value `drop-totl`",
        "did you mean `drop-total`?",
    ),
    (BASE + "[values.drop-total]\nvalue = 3\n", 2, "does not say why", "whoever comes after"),
    (DROP + "valu = 3\n", 4, "no `valu` to change", "did you mean `value`?"),
    (DROP, 2, "changes nothing", ""),
    (DROP + "value = nan\n", 4, "cannot be 'nan'", ""),
    (DROP + "value = -1\n", 4, "cannot be '-1'", ""),
    (DROP + 'value = "3 %"\n', 4, "cannot be '3 %'", ""),
    (DROP + "value = true\n", 4, "cannot be 'True'", ""),
    (BASE + '[values.size-min]\nwhy="x"\nvalue = "thick"\n', 4, "cannot be 'thick'", ""),
    (TABLE, 2, "no rows to change", ""),
    (ROWS + "8AWG = [1]\n", 5, "not one cell", ""),
    (ROWS + "8AW = [1,2,3]\n", 5, "no row `8AW`", "did you mean `8AWG`?"),
    (ROWS + "8AWG = [1,inf,3]\n", 5, "cannot hold 'inf'", ""),
    (TABLE + 'unit = "kA"\nrows = {}\n', 4, "no `unit` to change", ""),
    (BASE + '[ratings]\nwhy="x"\nstandard = [20, 15]\n', 4, "do not rise", ""),
    (BASE + '[use]\nwhy="x"\ninsulation = { singl = 75 }\n', 4, "cannot be", ""),
    (BASE + '[use]\nwhy="x"\nterminals = [["1AWG"]]\n', 4, "cannot be", ""),
    (BASE + '[colours]\nwhy="x"\nL = [3]\n', 4, "cannot be '[3]'", ""),
    (
        BASE + '[colour]\nwhy="x"\n',
        2,
        "`colour` of nfpa70 cannot be changed",
        "did you mean `colours`?",
    ),
    (BASE + "values = 3\n", 2, "`values` is no block", ""),
    (BASE + "[values\n", 2, "cannot read the book", ""),
    (BASE + "x =\n", 2, "cannot read the book", ""),
    ("a = " + "[" * 5000 + "\n", 1, "cannot read the book", ""),
]


@pytest.mark.parametrize(("text", "line", "message", "hint"), WRONG)
def test_what_is_wrong_is_told_with_its_line(
    text: str, line: int, message: str, hint: str, tmp_path: Path
) -> None:
    found = problems(tmp_path, text)
    assert any(at == line and message in said for at, said, _, _ in found), found
    assert not hint or any(hint in told for *_, told in found), found
    assert all(expected for _, _, expected, _ in found)


@pytest.mark.parametrize(
    ("raw", "message"),
    [
        (b"base = 'nfpa70'\n\xff", "not UTF-8"),
        (b"#" * (MOST_BYTES + 1), "more than 200 kB"),
    ],
)
def test_a_file_that_is_no_book(raw: bytes, message: str, tmp_path: Path) -> None:
    path = tmp_path / "own.book"
    path.write_bytes(raw)
    found, _ = flaws(str(path))
    assert [message in problem.message for problem in found] == [True]
    with pytest.raises(BookError, match=message):
        book(str(path))


@pytest.mark.parametrize("name", ["none.book", "folder.book", "\0.book"])
def test_what_is_no_file_is_said_so(name: str, tmp_path: Path) -> None:
    (tmp_path / "folder.book").mkdir()
    found, _ = flaws(f"{tmp_path}/{name}")
    assert len(found) == 1 and "no file" in found[0].message


def test_every_mistake_is_told_at_once(tmp_path: Path) -> None:
    text = BASE + "[values.drop-total]\nvalue = -1\nx = 2\n[tables.grouping]\nrows = { 6 = [] }\n"
    assert len(problems(tmp_path, text)) == 5


@pytest.mark.parametrize(
    ("rules", "expected", "hint"),
    [
        ('"hause.book"', "a file by a path relative", "did you mean `house.book`?"),
        ('"house.toml"', 'a book of your own, "NAME.book"', ""),
        ('"nfpa70"', 'a book of your own, "NAME.book"', "without quotes"),
        ('""', 'a book of your own, "NAME.book"', ""),
    ],
)
def test_the_reader_tells_a_book_that_is_not_there(
    rules: str, expected: str, hint: str, tmp_path: Path
) -> None:
    (tmp_path / "house.book").write_text(BASE, encoding="utf-8")
    (tmp_path / "a.rig").write_text(RIG.replace('"house.book"', rules), encoding="utf-8")
    (problem,) = read(tmp_path / "a.rig").problems
    assert problem.span.line == 2 and expected in problem.expected and hint in problem.hint


@pytest.mark.parametrize("command", [["check"], ["check", "--format", "json"], ["draw"], ["trace"]])
def test_the_command_line_refuses_a_bad_book(
    command: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 2 and the usual form, whatever was asked for; never a traceback."""
    rig_with(tmp_path, BASE + "[values.drop-totl]\n")
    rig = str(tmp_path / "a.rig")
    tail = {"draw": ["-o", str(tmp_path / "out")], "trace": ["F1.1"]}.get(command[0], [])
    assert main([*command, rig, *tail]) == 2
    printed = capsys.readouterr()
    text = printed.out + printed.err
    assert "did you mean `drop-total`" in text and "Traceback" not in text
    if command == ["check"]:
        assert "house.book:2:1: error: nfpa70 has no value `drop-totl`" in printed.err
        assert "[values.drop-totl]" in printed.err and "^^^" in printed.err


# -- hostile texts --------------------------------------------------------------------------------

LINES = st.sampled_from(
    [
        *(f'base = "{name}"' for name in (*BOOKS, "x")),
        *("[use]", "[limit]", "[ratings]", "[colours]", "[earth]", "[grouping]", "[resistance]"),
        *("[tables.ampacity]", "[tables.ampacity.rows]", "[tables.earth]", "[tables.drum]"),
        *("[tables.ambient.rows]", "[values.size-min]", "[allowances.tap]", "[residuals.inlet]"),
        *(
            'why = "because"',
            "why = 1",
            "value = 3",
            'value = "8AWG"',
            "value = 1e308",
            "rows = {}",
        ),
        *("8AWG = [1, 2, 3]", "40 = [0.9, 0.9, 0.9]", "1e400 = [1]", "-1 = [1]", '"" = [1]'),
        *('rows = { 1 = ["S"] }', "rows = { 1 = [0.9] }", "standard = [1, 2]", "L = ['black']"),
        *("length_m = 1", "ratio = 0.5", "conditions = ['x']", "celsius = 1", "coefficient = 1e9"),
        *("factor = 1e9", "round_up_to = 5", 'terminals = [["8AWG", 60]]', "longer_than_m = 1"),
    ]
)


@settings(max_examples=300, deadline=None)
@given(lines=st.lists(LINES, max_size=14))
def test_any_book_is_refused_or_used(
    lines: list[str], tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Whatever its lines: problems with a place, or a book that answers every question."""
    folder = tmp_path_factory.mktemp("books", numbered=True)
    text = "\n".join(['base = "nfpa70"', *lines]) if len(lines) % 2 else "\n".join(lines)
    path = folder / "own.book"
    path.write_text(text, encoding="utf-8")
    found, _ = flaws(str(path))
    for problem in found:
        assert 1 <= problem.span.line <= max(1, text.count("\n") + 1)
    if found:
        return
    rules = book(str(path))
    rig = rig_with(folder, text)
    for conductor in rig.conductors.values():
        for answer in (
            rules.ampacity(conductor, rig),
            rules.limit(conductor, rig),
            rules.resistance(conductor, rig, 75),
            rules.withstand(conductor, rig),
        ):
            assert isinstance(answer, Figure | Missing)
    assert all(rules.value(key) for key in rules.data.values)


@settings(max_examples=200, deadline=None)
@given(raw=st.binary(max_size=120), head=st.sampled_from([b"", b'base = "nfpa70"\n', b"[values."]))
def test_any_bytes_are_refused_or_used(
    raw: bytes, head: bytes, tmp_path_factory: pytest.TempPathFactory
) -> None:
    path = tmp_path_factory.getbasetemp() / "bytes.book"
    path.write_bytes(head + raw)
    found, _ = flaws(str(path))
    assert found or book(str(path)).name in BOOKS
