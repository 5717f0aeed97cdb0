"""Labels that mean something to whatever shows them: they come out as words, in every output."""

from __future__ import annotations

import csv
import io
import json
import os
import re
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree

import html5lib
import pypdf
import pytest
from ferrule.cli.editor.desk import Desk
from ferrule.cli.editor.hover import Traced, hover
from ferrule.cli.main import main

# Each in the tongue of a reader that would act on it.
LABELS = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "</title></svg><svg onload=alert(1)>",
    "]]><!--<style>*{display:none}</style>",
    "$\\input{/etc/passwd}$ \\write18{x}",
    "=cmd|'/c calc'!A1",
    "+1+1",
    "-1+1",
    "@SUM(A1)",
    "＝1+1",
    "::error file=x::boo %0A::set-env name=A::b",
    "](javascript:alert(1)) ![x](http://evil.invalid/a.png) **b** `c` ~~d~~",
    "&lt;b&gt; &#106; {{7*7}} ${7*7} %s %n",
    "\u200fx\u200e\u00add\ufe0f",
    "(Tj) /Names [(x)] << /JS (app.alert) >>",
]
FORMULA = re.compile(r"[=+@\t\r＝＋－＠-]")
NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]+)?)?")
ACTIVE = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")


def quoted(label: str) -> str:
    return '"' + label.replace("\\", "\\\\").replace('"', '\\"') + '"'


def text(first: int = 0) -> str:
    """A rig whose every label is one of them, turn and turn about."""
    turn = (quoted(LABELS[n % len(LABELS)]) for n in range(first, 1000))
    rows = [f"rig {next(turn)} revision={next(turn)}", "rules abyc-e11"]
    rows += [f"place P {next(turn)}", f"route R {next(turn)}", f"panel AP {next(turn)} ways=4"]
    rows += [f"battery GB {next(turn)} 12V 100Ah fault=2kA holds=3 at=P"]
    rows += [
        f"fuse F1 {next(turn)} 10A class=ATO dc breaks=2kA",
        f"lamp E1 {next(turn)} 12V 24W dc",
    ]
    rows += [f"earth CH {next(turn)} positions=2"]
    rows += [f"bus B{n} {quoted(label)} 100A positions=2" for n, label in enumerate(LABELS)]
    rows += [f"lamp L{n} {quoted(label)} 12V 5W dc" for n, label in enumerate(LABELS)]
    rows += ["wire W1 14AWG 0.10m GB.+ -> F1.1", "wire W2 14AWG 2.5m F1.2 -> E1.+ via=R"]
    rows += ["wire W3 14AWG 2.5m E1.- -> GB.-", "bond W4 8AWG 0.5m GB.- -> CH.1"]
    rows += [f"mode m{n} {quoted(label)} {{ GB=on }}" for n, label in enumerate(LABELS)]
    rows += [f"accept D11 on B0 because {next(turn)}", f"stage T {next(turn)} {{", "}"]
    return "\n".join(rows) + "\n"


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The rig, its drawings in every format and its report."""
    folder = tmp_path_factory.mktemp("inert")
    rig = folder / "van.rig"
    rig.write_text(text(), encoding="utf-8")
    assert main(["draw", str(rig), "-o", str(folder / "sheets"), "--format", "svg,pdf,csv,md"]) == 0
    assert main(["report", str(rig), "-o", str(folder / "page")]) == 0
    return folder


def local(tag: object) -> str:
    return str(tag).rpartition("}")[2]


def test_svg_holds_shapes_and_words_only(room: Path) -> None:
    known = {"svg", "title", "style", "rect", "g", "a", "path", "circle", "ellipse", "text", "desc"}
    for path in (room / "sheets").glob("*.svg"):
        tree = ElementTree.fromstring(path.read_text(encoding="utf-8"))
        for element in tree.iter():
            assert local(element.tag) in known, path
            for key, value in element.attrib.items():
                assert not local(key).startswith("on"), (path, key)
                assert local(key) != "href" or re.fullmatch(r"[\w.#-]+", value), value
            if local(element.tag) == "style":
                assert "display" not in (element.text or "")


def test_the_words_themselves_are_shown(room: Path) -> None:
    shown = "".join(p.read_text(encoding="utf-8") for p in (room / "sheets").glob("*.svg"))
    words = "\n".join(ElementTree.fromstring(f"<a>{t}</a>").text or "" for t in
                      re.findall(r"<text[^>]*>([^<]*)</text>", shown))  # fmt: skip
    assert "<script>alert(1)</script>" in words and "=cmd|'/c calc'!A1" in words


def test_the_page_has_no_script_element_or_handler_of_a_label(room: Path) -> None:
    (page,) = (room / "page").glob("*.html")
    tree = html5lib.parse(page.read_text(encoding="utf-8"), namespaceHTMLElements=False)
    for element in tree.iter():
        if not isinstance(element.tag, str):
            continue  # a comment
        assert not any(local(key).startswith("on") for key in element.attrib), element.attrib
        for key in ("href", "src", "action"):
            value = element.attrib.get(key, "#")
            assert value.startswith(("#", "data:")), value
        if local(element.tag) == "script":
            assert (
                "alert(1)" not in (element.text or "").replace("\\u003c", "<").split("<script")[0]
            )
            assert "</script" not in (element.text or "").lower()
        assert local(element.tag) not in {"iframe", "object", "embed", "img"}


def test_pdf_has_words_and_no_action(room: Path) -> None:
    for path in (room / "sheets").glob("*.pdf"):
        book = pypdf.PdfReader(path)
        root = book.trailer["/Root"]
        assert not {"/OpenAction", "/AA", "/AcroForm"} & set(root)
        assert "/JavaScript" not in root.get("/Names", {})
        for page in book.pages:
            for note in page.get("/Annots", []):
                action = note.get_object().get("/A", {})
                assert action.get("/S", "/GoTo") == "/GoTo"
        assert b"/JavaScript" not in path.read_bytes()


def test_no_cell_is_worked_out_by_a_spreadsheet(room: Path) -> None:
    cells = [
        cell
        for path in (room / "sheets").glob("*.csv")
        for row in csv.reader(io.StringIO(path.read_text(encoding="utf-8"), newline=""))
        for cell in row
    ]
    assert any(cell.startswith("'=cmd") for cell in cells)
    assert [c for c in cells if FORMULA.match(c) and not NUMBER.fullmatch(c)] == []


def unescaped(text: str) -> Iterator[str]:
    """The signs of Markdown that stand without a backslash before them."""
    yield from (found[0] for found in re.finditer(r"(?<!\\)(?:\\\\)*[`*<>\[\]~]", text))


def test_markdown_shows_what_was_written(room: Path) -> None:
    for path in (room / "sheets").glob("*.md"):
        rows = path.read_text(encoding="utf-8").split("\n")
        told = [row for row in rows if any(word in row for word in ("alert", "evil", "calc"))]
        assert [sign for row in told if row.startswith("|") for sign in unescaped(row)] == []
        assert not any("http://" in row for row in told)


@pytest.mark.parametrize("form", ["text", "json", "sarif", "github"])
def test_findings_hold_nothing_that_a_terminal_or_a_build_acts_on(
    form: str, room: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["check", str(room / "van.rig"), "--format", form]) in (0, 1)
    out = capsys.readouterr().out
    assert not ACTIVE.search(out)
    if form in ("json", "sarif"):
        json.loads(out)
        assert out.isascii() or form == "json"
    if form == "github":
        lines = out.splitlines()
        assert lines and all(re.match(r"::(error|warning|notice) file=", line) for line in lines)
        assert not any(line.startswith("::error file=x") for line in lines)


@pytest.mark.parametrize(
    "sign", ["\x1b[2J", "\x9b31m", "\x07", "\u202e", "\u2066", "\u2028", "\x85"]
)
def test_what_moves_a_cursor_or_turns_words_is_refused_and_not_repeated(
    sign: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rig = tmp_path / "van.rig"
    rig.write_text(f'rig "x"\nrules nfpa70\nplace A "a{sign}b"\n{sign}\n', encoding="utf-8")
    assert main(["check", str(rig)]) == 2
    said = capsys.readouterr().err
    assert f"U+{ord(sign[0]):04X}" in said and not ACTIVE.search(said)


def test_a_book_and_a_file_name_move_no_cursor_either(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "a.book").write_text('base = "x\\u001b[2J"\n', encoding="utf-8")
    rig = tmp_path / "a\x1b[2J.rig"
    rig.write_text('rig "x"\nrules "a.book"\n', encoding="utf-8")
    for words in (
        [str(rig)],
        [str(tmp_path / "none\x1b[2J.rig")],
        ["--stage", "\x1b[2J", str(rig)],
    ):
        assert main(["check", *words]) == 2
        assert not ACTIVE.search(capsys.readouterr().err)


def test_findings_from_elsewhere_show_no_other_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is gathered names files; a line is shown of rigs and books, and of plain files only."""
    (tmp_path / "van.rig").write_text('rig "x"\nrules nfpa70\nlamp E1 "l" 12V 5W dc\n', "utf-8")
    (tmp_path / "secret").write_text("the word\n" * 3, encoding="utf-8")
    os.mkfifo(tmp_path / "pipe.rig")
    assert main(["check", str(tmp_path / "van.rig"), "--format", "json"]) in (0, 1)
    said = capsys.readouterr().out
    for name, shown in (("van.rig", True), ("secret", False), ("pipe.rig", False)):
        file = tmp_path / "found.json"
        file.write_text(said.replace("van.rig", name), encoding="utf-8")
        assert main(["gather", str(file)]) in (0, 1)
        told = capsys.readouterr().out
        assert "the word" not in told and ('lamp E1 "l"' in told) is shown


@pytest.fixture(scope="module")
def pair(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    """The rig, and a version in which every label is another and some things come and go."""
    folder = tmp_path_factory.mktemp("pair")
    old, new = text(), text(1).replace("lamp L3 ", "lamp N3 ").replace("10A class", "15A class")
    for name, words in (("old.rig", old), ("new.rig", new)):
        (folder / name).write_text(words, encoding="utf-8")
    return str(folder / "old.rig"), str(folder / "new.rig")


def said(capsys: pytest.CaptureFixture[str], *argv: str) -> str:
    """What a command prints; nothing in it moves a cursor or turns words round."""
    capsys.readouterr()
    assert main(list(argv)) in (0, 1), capsys.readouterr().err
    out = capsys.readouterr()
    assert not ACTIVE.search(out.out) and not ACTIVE.search(out.err), argv
    return out.out


OF_TWO = ["diff", "rework"]


@pytest.mark.parametrize("command", OF_TWO)
def test_a_change_is_told_in_words(
    command: str, pair: tuple[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert "alert(1)" in said(capsys, command, *pair)
    json.loads(said(capsys, command, *pair, "--format", "json"))
    rows = said(capsys, command, *pair, "--format", "markdown").split("\n")
    told = [row for row in rows if any(word in row for word in ("alert", "evil", "calc", "Names"))]
    assert told and [sign for row in told for sign in acting(row)] == []


# Markup that is ferrule's own, in a comment or a work order.
OWN = re.compile(
    r"\*\*.*?(?<!\\)\*\*|</?(?:details|summary|br|sub)>|- \[ \] |`ferrule [a-z]+`|\u2060"
)


def acting(row: str) -> Iterator[str]:
    """The signs of Markdown in a row that stand for themselves nowhere and are not ferrule's."""
    return unescaped(OWN.sub("", row))


def test_a_change_in_a_table_is_not_worked_out(
    pair: tuple[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    for argv in (["rework", *pair], ["figures", pair[0]], ["capacity", pair[0]]):
        table = csv.reader(io.StringIO(said(capsys, *argv, "--format", "csv"), newline=""))
        cells = [cell for row in table for cell in row]
        assert [c for c in cells if FORMULA.match(c) and not NUMBER.fullmatch(c)] == []


def test_a_change_drawn_holds_shapes_and_words(pair: tuple[str, str], tmp_path: Path) -> None:
    for form in ("svg", "html"):
        assert main(["diff", *pair, "--format", form, "-o", str(tmp_path)]) == 1
    assert main(["rework", *pair, "-o", str(tmp_path)]) == 1
    for path in tmp_path.glob("*.svg"):
        for element in ElementTree.fromstring(path.read_text(encoding="utf-8")).iter():
            assert not any(local(key).startswith("on") for key in element.attrib), path
            assert local(element.tag) not in {"script", "foreignObject", "image", "use"}
    (page,) = tmp_path.glob("*.html")
    for element in html5lib.parse(page.read_text("utf-8"), namespaceHTMLElements=False).iter():
        if isinstance(element.tag, str):
            assert not any(local(key).startswith("on") for key in element.attrib)
            assert element.tag not in {"script", "iframe", "object", "embed", "form", "base"}
            source = element.attrib.get("src", element.attrib.get("href", "data:"))
            assert source.startswith(("data:", "#"))


def test_figures_and_capacity_are_told_in_words(
    pair: tuple[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    for form in ("text", "json"):
        for command in ("figures", "capacity"):
            said(capsys, command, pair[0], "--format", form)
    assert [s for row in said(capsys, "capacity", pair[0], "--format", "markdown").split("\n")
            if "alert" in row or "evil" in row for s in acting(row)] == []  # fmt: skip
    said(capsys, "trace", pair[0], "GB.+")
    said(capsys, "diff", "--listing", pair[0])


def test_readings_are_told_in_words(
    room: Path, pair: tuple[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    """A cell of a sheet that was filled in by somebody else."""
    sheet = room / "readings.csv"
    (made,) = (room / "sheets").glob("*-commissioning.csv")
    tests = [row["test"] for row in csv.DictReader(io.StringIO(made.read_text("utf-8")))]
    cells = [*LABELS, "a\x1b[2Jb", "\u202e1 ohm", "\x9b31m"]
    assert len(tests) > len(cells)
    rows = "".join(
        f'{test},"{cell.replace(chr(34), chr(34) * 2)}"\n'
        for test, cell in zip(tests, cells, strict=False)
    )
    sheet.write_text(f"test,reading\n{rows}", encoding="utf-8")
    for form in ("text", "json"):
        assert "alert(1)" in said(capsys, "enter", str(room / "van.rig"), str(sheet),
                                  "--format", form)  # fmt: skip


def test_an_editor_shows_words(tmp_path: Path) -> None:
    """Hover is Markdown: labels in it make no link, picture, heading or markup."""
    rig = tmp_path / "van.rig"
    rig.write_text(text(), encoding="utf-8")
    desk = Desk()
    desk.put(str(rig), text())
    shown = []
    for n, label in enumerate(LABELS):
        at = text().index(f"lamp L{n} ") + len("lamp ")
        found = hover(desk, str(rig), at, Traced())
        assert found is not None
        assert not ACTIVE.search(found.markdown), label
        shown.append(found.markdown)
    assert "alert" in "".join(shown)
    for block in shown:
        # What stands between fences or in a code span is shown as it is.
        rest = re.sub(r"(?ms)^(`{3,})[^\n]*\n.*?^\1`*$|(?<!`)(`+)(?!`).*?(?<!`)\2(?!`)", "", block)
        assert [s for row in rest.split("\n") for s in acting(row)] == [], block


EVIL = "a\x1b[2Jb\u202e\n::error::x\x9b"
# What a file of findings from elsewhere may hold, in place of what ferrule writes.
STRANGE: list[dict[str, object]] = [
    dict.fromkeys(("message", "fix", "clause", "name", "rule", "unit", "stage"), EVIL),
    {"on": [EVIL], "modes": [EVIL], "why": [EVIL]},
    {"file": EVIL},
    {"line": 10**300, "column": -5, "end_line": 0, "end_column": 10**300},
]
REFUSED: list[dict[str, object]] = [
    {"value": float("nan")},
    {"limit": float("inf")},
    {"message": "\ud800"},
    {"severity": "grave"},
    {"on": "E1"},
    {"line": 1.5},
]


@pytest.mark.parametrize("form", ["text", "json", "sarif", "github"])
@pytest.mark.parametrize("strange", [*STRANGE, *REFUSED], ids=lambda strange: next(iter(strange)))
def test_findings_from_elsewhere_act_on_nothing(
    strange: dict[str, object], form: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rig = tmp_path / "van.rig"
    rig.write_text('rig "x"\nrules nfpa70\nlamp E1 "l" 12V 5W dc\n', encoding="utf-8")
    document = json.loads(said(capsys, "check", str(rig), "--format", "json"))
    document["findings"][0] |= strange
    file = tmp_path / "found.json"
    file.write_text(json.dumps(document), encoding="utf-8")
    code = main(["gather", str(file), "--format", form])
    told = capsys.readouterr()
    assert not ACTIVE.search(told.out) and not ACTIVE.search(told.err)
    assert (code == 2) is (strange in REFUSED) and "defect" not in told.err
    if form == "github":
        start = re.compile(r"::(error|warning|notice) file=")
        assert all(map(start.match, told.out.splitlines()))
    if form in ("json", "sarif") and code != 2:
        json.loads(told.out, parse_constant=pytest.fail)


@pytest.mark.parametrize("raw", ["[" * 100_000, '{"file": ' + "9" * 6000 + "}", "", "{}", "[[]]"])
def test_files_that_are_none_of_findings_are_refused(
    raw: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "found.json"
    file.write_text(raw, encoding="utf-8")
    assert main(["gather", str(file)]) == 2
    assert "no findings in JSON" in capsys.readouterr().err
