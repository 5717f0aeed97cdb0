"""``ferrule draw``: what is written, and that it is whole."""

from __future__ import annotations

import csv
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from ferrule.cli.commands import draw as command
from ferrule.cli.main import main

ROOT = Path(__file__).parents[1]
STARTER = ROOT / "cli/starter.rig"


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_every_sheet_and_the_bound_pdf_are_written_and_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "sheets"
    assert main(["draw", str(STARTER), "-o", str(out)]) == 0
    told = capsys.readouterr()
    assert told.err == ""
    assert {Path(line).name for line in told.out.splitlines()} == names(out)
    assert (out / "starter-base.pdf").read_bytes().startswith(b"%PDF-")
    drawings = sorted(out.glob("*.svg"))
    assert len(drawings) >= 3
    for path in drawings:
        assert ET.parse(path).getroot().tag.endswith("svg")
    with (out / "starter-base-chart.csv").open(encoding="utf-8") as file:
        assert {"W1", "W2", "W3", "W4"} <= {cell for row in csv.reader(file) for cell in row}


def test_only_some_sheets_in_one_format(tmp_path: Path) -> None:
    out = tmp_path / "sheets"
    assert main(["draw", str(STARTER), "-o", str(out), "--only", "chart", "--format", "svg"]) == 0
    assert names(out) == {"starter-base-01-wiring-chart.svg"}


@pytest.mark.parametrize("set_", ["iec", "ieee"])
def test_both_symbol_sets_can_be_asked_for(set_: str, tmp_path: Path) -> None:
    argv = ["draw", str(STARTER), "-o", str(tmp_path), "--format", "svg", "--symbols", set_]
    assert main(argv) == 0


def test_the_same_text_gives_the_same_bytes(tmp_path: Path) -> None:
    for name in ("one", "two"):
        assert main(["draw", str(STARTER), "-o", str(tmp_path / name)]) == 0
    assert names(tmp_path / "one") == names(tmp_path / "two")
    for path in (tmp_path / "one").iterdir():
        assert path.read_bytes() == (tmp_path / "two" / path.name).read_bytes()


def test_an_interrupted_run_leaves_the_earlier_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "sheets"
    main(["draw", str(STARTER), "-o", str(out)])
    before = {path.name: path.read_bytes() for path in out.iterdir()}

    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(command, "pack", interrupted)
    assert main(["draw", str(STARTER), "-o", str(out)]) == 2
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before
    assert names(tmp_path) == {"sheets"}


def test_a_drawing_of_a_rig_that_fails_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rig = tmp_path / "a.rig"
    text = STARTER.read_text(encoding="utf-8")
    rig.write_text(text.replace("F1.2 -> E1.+", "GB.+ -> E1.+"), encoding="utf-8")
    assert main(["draw", str(rig), "-o", str(tmp_path / "out"), "--format", "svg"]) == 0
    assert "do not wire from these sheets" in capsys.readouterr().err
