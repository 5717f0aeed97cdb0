"""``ferrule rework``: formats, sheets, exit codes; the same lines in all of them."""

from __future__ import annotations

import csv
import io
import json
import re
from collections import Counter
from itertools import pairwise
from pathlib import Path

import jsonschema
import pytest
from ferrule.checks.rework import rework
from ferrule.checks.tracing.trace import analyse
from ferrule.cli.main import main
from ferrule.dsl.reader import read
from ferrule.render.audit import audit, missing_glyphs
from ferrule.render.draw import bound
from ferrule.render.options import options
from ferrule.render.rework_rows import sections
from ferrule.render.schedule_rework import schedule
from ferrule.render.schedule_sheet import sheets

ROOT = Path(__file__).parents[1]
EXAMPLES = [path.relative_to(ROOT) for path in sorted((ROOT / "examples").glob("*.rig"))]
SCHEMA = json.loads((ROOT / "cli/rework.schema.json").read_text("utf-8"))
KITCHEN = str(ROOT / "examples/field_kitchen.rig")
HISTORY = ROOT / "tests/data/history"


@pytest.fixture(autouse=True)
def plain(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    monkeypatch.chdir(ROOT)


def told(capsys: pytest.CaptureFixture[str], *argv: object) -> str:
    assert main(["rework", *map(str, argv)]) == 1
    return capsys.readouterr().out


def test_one_file_is_its_last_stage_from_the_one_before(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert told(capsys, KITCHEN) == told(capsys, KITCHEN, "--stages", "GENSET", "NIGHT")
    assert told(capsys, KITCHEN) != told(capsys, KITCHEN, "--stages", "base", "NIGHT")


def test_exit_codes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    old, new = HISTORY / "05-thirty-amps/library.rig", HISTORY / "06-names/library.rig"
    assert main(["rework", str(old), str(new)]) == 0
    assert "Nothing to do at the bench" in capsys.readouterr().out
    for argv in ([str(old)], [str(old), str(new), str(old)], [KITCHEN, "--stages", "base", "HALL"],
                 [str(tmp_path / "none.rig")], [KITCHEN, "--stages", "a", "b", "c"]):  # fmt: skip
        assert main(["rework", *argv]) == 2
        captured = capsys.readouterr()
        assert not captured.out and captured.err


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_format_tells_every_line(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    old, new = read(ROOT / path).rigs[-2:]
    lines = [line for section in sections(rework(old, new)) for line in section.lines]
    text = told(capsys, path)
    assert text.count("[ ]") == len(lines)
    assert max(map(len, text.splitlines())) <= 100
    words = Counter(text.split())
    assert all(Counter(line.what.split()) <= words for line in lines)
    markdown = told(capsys, path, "--format", "markdown")
    assert len(re.findall(r"^- \[ \] ", markdown, re.M)) == len(lines)
    rows = list(csv.DictReader(io.StringIO(told(capsys, path, "--format", "csv"))))
    assert [(row["do"], row["what"]) for row in rows] == [(ln.do, ln.what) for ln in lines]
    document = json.loads(told(capsys, path, "--format", "json"))
    jsonschema.validate(document, SCHEMA)
    listed = [line for section in document["sections"] for line in section["lines"]]
    assert listed == [line._asdict() for line in lines]
    assert all("licensed person" in form for form in (text, markdown, json.dumps(document)))


@pytest.mark.parametrize("paper", ["", "A4", "A"])
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_sheets_are_clean_and_have_a_box_for_every_line(path: Path, paper: str) -> None:
    for old, new in pairwise(read(ROOT / path).rigs):
        plan = rework(old, new)
        chosen = options(analyse(new).book.name, "", paper)
        for sheet in bound(sheets(schedule(plan), chosen), new):
            assert not audit(sheet)
            assert not missing_glyphs(sheet)
        count = sum(len(section.lines) for section in sections(plan))
        assert sum(len(section.rows) for section in schedule(plan).sections) == count


def test_sheets_go_into_a_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    printed = told(capsys, KITCHEN, "-o", tmp_path / "out").split()
    assert sorted(printed) == sorted(str(path) for path in (tmp_path / "out").iterdir())
    assert {Path(name).suffix for name in printed} == {".svg", ".pdf", ".csv", ".md"}
    first = {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()}
    told(capsys, KITCHEN, "-o", tmp_path / "out")
    assert first == {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()}


def test_labels_are_words_and_nothing_else(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    base = (ROOT / "cli/starter.rig").read_text("utf-8").partition("stage ")[0]
    old, new = tmp_path / "old.rig", tmp_path / "new.rig"
    old.write_text(base, encoding="utf-8")
    new.write_text(f'{base}\nlamp E7 "[x](y) @team <b>" 12V 5W dc\n', encoding="utf-8")
    assert "[x](y) @team <b>" in told(capsys, old, new)
    markdown = told(capsys, old, new, "--format", "markdown")
    assert "E7" in markdown
    for live in ("[x](y)", "@team", "<b>"):
        assert live not in markdown
