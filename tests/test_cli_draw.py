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


def test_labels_are_laid_out_for_the_stock_asked_for(tmp_path: Path) -> None:
    out = tmp_path / "sheets"
    asked = ["--only", "markers,labels", "--format", "svg", "--labels", "25x10,38x21"]
    assert main(["draw", str(STARTER), "-o", str(out), *asked]) == 0
    told = [(out / name).read_text("utf-8").partition("</title>")[0] for name in sorted(names(out))]
    assert [name.rpartition("-labels-")[2] for name in sorted(names(out))] == [
        "01-conductor-markers.svg", "02-device-labels.svg"
    ]  # fmt: skip
    assert "labels of 25x10 mm" in told[0] and "labels of 38x21 mm" in told[1]


def test_an_unknown_stock_of_labels_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["draw", str(STARTER), "-o", str(tmp_path / "out"), "--labels", "38x22"]) == 2
    told = capsys.readouterr()
    assert told.out == "" and "38x22" in told.err and "38x21" in told.err
    assert not (tmp_path / "out").exists()


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


# -- whether drawings are current --------------------------------------------------------------

QUICK = ["--format", "svg,csv", "--only", "chart"]


@pytest.fixture
def sheets(tmp_path: Path) -> Path:
    out = tmp_path / "sheets"
    assert main(["draw", str(STARTER), "-o", str(out), *QUICK]) == 0
    return out


def current(out: Path) -> int:
    return main(["draw", str(STARTER), "-o", str(out), *QUICK, "--check"])


def test_current_drawings_are_nothing_to_tell(
    sheets: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    capsys.readouterr()
    assert current(sheets) == 0
    assert capsys.readouterr().out == ""


def test_what_is_not_current_is_named_and_left_alone(
    sheets: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    chart, sheet = sheets / "starter-base-chart.csv", sheets / "starter-base-01-wiring-chart.svg"
    stale, other = sheets / "starter-base-09-wiring-chart.svg", sheets / "notes.svg"
    chart.write_text("edited by hand\n", encoding="utf-8")
    sheet.rename(stale)
    other.write_text("<svg/>", encoding="utf-8")
    before = {path: path.read_bytes() for path in sheets.iterdir()}
    capsys.readouterr()
    assert current(sheets) == 1
    told = capsys.readouterr().out.splitlines()
    assert told == [f"{sheet}: missing", f"{stale}: stale", f"{chart}: changed"]
    assert {path: path.read_bytes() for path in sheets.iterdir()} == before
    assert main(["draw", str(STARTER), "-o", str(sheets), *QUICK]) == 0
    assert current(sheets) == 0 and names(sheets) == {chart.name, sheet.name, other.name}


def test_drawings_that_were_never_made_are_missing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert current(tmp_path / "none") == 1
    assert capsys.readouterr().out.count(": missing\n") == 2
    assert not (tmp_path / "none").exists()


@pytest.fixture
def fleet(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "home"))
    text = STARTER.read_text(encoding="utf-8")
    for name in ("vans/a.rig", "vans/b.rig", "boats/a.rig"):
        (tmp_path / "rigs" / name).parent.mkdir(parents=True, exist_ok=True)
        label = name.replace("/", " ")
        (tmp_path / "rigs" / name).write_text(text.replace('"Starter"', f'"{label}"'), "utf-8")
    return tmp_path / "rigs"


def files_below(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_each_rig_of_a_folder_is_drawn_as_if_alone(
    fleet: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["draw", "rigs", "-o", "out", *QUICK]) == 0
    told = capsys.readouterr()
    assert told.out.splitlines() == [f"out/{n}: 2 files" for n in ("boats/a", "vans/a", "vans/b")]
    for name in ("vans/a", "vans/b", "boats/a"):
        assert main(["draw", f"rigs/{name}.rig", "-o", f"alone/{name}", *QUICK]) == 0
    assert files_below(tmp_path / "out") == files_below(tmp_path / "alone")


def test_only_drawings_that_are_not_current_are_made_again(
    fleet: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    argv = ["draw", "rigs", "-o", "out", *QUICK]
    main(argv)
    whole = files_below(tmp_path / "out")
    capsys.readouterr()
    assert main(argv) == 0
    assert capsys.readouterr() == ("", "ferrule: 0 of 3 rigs looked at, 3 as before\n")
    next((tmp_path / "out/vans/b").glob("*.svg")).write_text("<svg/>", encoding="utf-8")
    assert main([*argv, "--check"]) == 1
    assert capsys.readouterr().out.endswith("wiring-chart.svg: changed\n")
    assert main(argv) == 0
    assert capsys.readouterr().out == "out/vans/b: 2 files\n"
    assert files_below(tmp_path / "out") == whole
    assert main([*argv, "--check", "--no-cache"]) == 0


def test_sheets_of_a_rig_that_has_gone_or_is_renamed_are_stale(
    fleet: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    argv = ["draw", "rigs", "-o", "out", *QUICK]
    main(argv)
    (fleet / "vans/b.rig").unlink()
    renamed = (fleet / "vans/a.rig").read_text(encoding="utf-8").replace("vans a", "Van one")
    (fleet / "vans/a.rig").write_text(renamed, encoding="utf-8")
    main(argv)
    capsys.readouterr()
    assert main([*argv, "--check"]) == 1
    assert capsys.readouterr().out.splitlines() == [
        "out/vans/a/vans-a-rig-base-01-wiring-chart.svg: stale",
        "out/vans/b/vans-b-rig-base-01-wiring-chart.svg: stale",
    ]


def test_shards_draw_the_whole_byte_for_byte(fleet: Path, tmp_path: Path) -> None:
    argv = ["draw", "rigs", *QUICK, "--no-cache"]
    assert main([*argv, "-o", "whole"]) == 0
    for share in ("1/2", "2/2"):
        assert main([*argv, "-o", "shared", "--shard", share]) == 0
        assert main([*argv, "-o", "shared", "--shard", share, "--check"]) == 0
    assert files_below(tmp_path / "shared") == files_below(tmp_path / "whole")


def test_a_rig_that_cannot_be_read_keeps_no_other_from_its_drawings(
    fleet: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = STARTER.read_text(encoding="utf-8").replace("battery", "batery")
    (fleet / "vans/a.rig").write_text(text, encoding="utf-8")
    assert main(["draw", "rigs", "-o", "out", *QUICK]) == 2
    told = capsys.readouterr()
    assert told.out.splitlines() == ["out/boats/a: 2 files", "out/vans/b: 2 files"]
    assert "did you mean `battery`" in told.err


def test_two_rigs_never_share_a_folder(fleet: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["draw", "rigs/vans", "rigs/boats", "-o", "out", *QUICK]) == 2
    assert "would both be drawn in out/a" in capsys.readouterr().err
    assert main(["draw", "rigs/vans", "rigs/boats"]) == 2
    assert "name a folder with -o" in capsys.readouterr().err


def test_a_rig_that_fails_its_check_is_warned_of_every_time(
    fleet: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = STARTER.read_text(encoding="utf-8").replace("F1.2 -> E1.+", "GB.+ -> E1.+")
    (fleet / "vans/a.rig").write_text(text, encoding="utf-8")
    for _ in range(2):
        assert main(["draw", "rigs", "-o", "out", *QUICK]) == 0
        assert "rigs/vans/a.rig, stage base, does not pass" in capsys.readouterr().err
