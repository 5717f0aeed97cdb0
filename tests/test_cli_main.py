"""The command line: exit codes, and refusals in place of tracebacks."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest
from ferrule.checks.registry import rules
from ferrule.cli.main import COMMANDS, main

ROOT = Path(__file__).parents[1]
STARTER = ROOT / "cli/starter.rig"
EXAMPLES = sorted((ROOT / "examples").glob("*.rig"))
FERRULE = [sys.executable, "-m", "ferrule.cli.main"]
# The lamp's feed lifted off its fuse and landed on the battery: nothing protects it.
FAULTY = STARTER.read_text(encoding="utf-8").replace("F1.2 -> E1.+", "GB.+ -> E1.+")
MISTAKEN = STARTER.read_text(encoding="utf-8").replace("battery", "batery")


@pytest.fixture
def rig(tmp_path: Path) -> Path:
    path = tmp_path / "a.rig"
    path.write_text(STARTER.read_text(encoding="utf-8"), encoding="utf-8")
    return path


def run(*argv: object) -> int:
    """The exit code, whether it was returned or raised (as argparse does)."""
    try:
        return main([str(word) for word in argv])
    except SystemExit as stop:
        return stop.code if isinstance(stop.code, int) else 1


def test_the_starter_and_every_example_check_clean(capsys: pytest.CaptureFixture[str]) -> None:
    assert len(EXAMPLES) >= 3
    assert run("check", STARTER, *EXAMPLES) == 0
    assert "error" not in capsys.readouterr().out


def test_an_error_is_exit_code_1_and_stands_on_standard_output(
    rig: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rig.write_text(FAULTY, encoding="utf-8")
    assert run("check", rig) == 1
    said = capsys.readouterr()
    assert f"{rig}:" in said.out and "error P" in said.out
    assert said.err == ""


def test_an_accepted_error_is_exit_code_0(rig: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rig.write_text(FAULTY, encoding="utf-8")
    run("check", rig, "--format", "json")
    for found in json.loads(capsys.readouterr().out)["findings"]:
        line = f'accept {found["rule"]} on {found["on"][0]} because "a test"\n'
        rig.write_text(rig.read_text(encoding="utf-8") + line, encoding="utf-8")
    assert run("check", rig) == 0
    assert "accepted: a test" in capsys.readouterr().out


def test_mistakes_in_the_text_are_exit_code_2_on_standard_error(
    rig: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rig.write_text(MISTAKEN, encoding="utf-8")
    assert run("check", rig) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "battery" in said.err and f"{rig}:3:1" in said.err


def test_the_worst_file_decides(rig: Path, tmp_path: Path) -> None:
    faulty, mistaken = tmp_path / "faulty.rig", tmp_path / "mistaken.rig"
    faulty.write_text(FAULTY, encoding="utf-8")
    mistaken.write_text(MISTAKEN, encoding="utf-8")
    assert [run("check", rig, faulty), run("check", faulty, mistaken, rig)] == [1, 2]


@pytest.mark.parametrize("text", [FAULTY, MISTAKEN], ids=["faulty", "mistaken"])
@pytest.mark.parametrize("count", [1, 2])
def test_json_of_a_run_follows_the_schema(
    text: str, count: int, rig: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rig.write_text(text, encoding="utf-8")
    run("check", "--format", "json", *[rig] * count)
    schema = json.loads((ROOT / "cli/findings.schema.json").read_text(encoding="utf-8"))
    jsonschema.validate(json.loads(capsys.readouterr().out), schema)


def test_sarif_of_a_run_follows_its_published_schema(
    rig: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rig.write_text(FAULTY, encoding="utf-8")
    assert run("check", "--format", "sarif", rig) == 1
    log = json.loads(capsys.readouterr().out)
    schema = ROOT / "tests/data/sarif/sarif-2.1.0-rtm.5.json"
    jsonschema.Draft4Validator(json.loads(schema.read_text(encoding="utf-8"))).validate(log)
    assert log["runs"][0]["results"]


REFUSED = {
    "no command": ([], "COMMAND"),
    "unknown command": (["chek", "{rig}"], "did you mean `check`?"),
    "unknown option": (["check", "--stages", "x", "{rig}"], "--stages"),
    "unknown format": (["check", "--format", "xml", "{rig}"], "xml"),
    "missing file": (["check", "{dir}/b.rig"], "did you mean `a.rig`?"),
    "missing folder": (["check", "{dir}/no/b.rig"], "nor is there a folder"),
    "folder": (["trace", "{dir}", "E1.+"], "is a folder"),
    "empty name": (["check", ""], "empty"),
    "zero byte": (["check", "a\0b.rig"], "zero byte"),
    "stage": (["check", "--stage", "bass", "{rig}"], "did you mean `base`?"),
    "rule": (["explain", "Z99"], "no rule `Z99`"),
    "trace: device": (["trace", "{rig}", "E2.+"], "no device `E2`"),
    "trace: terminal": (["trace", "{rig}", "E1.PE"], "no terminal `PE`"),
    "trace: no dot": (["trace", "{rig}", "E1"], "DEVICE.TERMINAL"),
    "trace: mode": (["trace", "{rig}", "E1.+", "--mode", "al"], "did you mean `all`?"),
    "trace: stage": (["trace", "{rig}", "E1.+", "--stage", "x"], "no stage `x`"),
    "new: there already": (["new", "{rig}"], "is there already"),
    "new: no folder": (["new", "{dir}/no/b.rig"], "No such file"),
    "new: a folder": (["new", "{dir}"], "is there already"),
    "draw: stage": (["draw", "{rig}", "-o", "{dir}/out", "--stage", "x"], "no stage `x`"),
    "draw: only": (["draw", "{rig}", "-o", "{dir}/out", "--only", "chrt"], "chart"),
    "draw: format": (["draw", "{rig}", "-o", "{dir}/out", "--format", "jpg"], "no format `jpg`"),
    "draw: no format": (["draw", "{rig}", "-o", "{dir}/out", "--format", ""], "no format"),
    "draw: paper": (["draw", "{rig}", "-o", "{dir}/out", "--paper", "A9"], "A9"),
    "draw: onto a file": (["draw", "{rig}", "-o", "{rig}"], "is a file"),
    "fmt: missing": (["fmt", "{dir}/no.rig"], "no such file"),
}


@pytest.mark.parametrize(("argv", "words"), REFUSED.values(), ids=REFUSED)
def test_bad_input_is_refused_in_plain_words(
    argv: list[str], words: str, rig: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = {path: path.read_bytes() for path in tmp_path.iterdir()}
    assert run(*(word.format(rig=rig, dir=tmp_path) for word in argv)) == 2
    said = capsys.readouterr()
    assert words in said.err
    assert "Traceback" not in said.err and said.out == ""
    assert {path: path.read_bytes() for path in tmp_path.iterdir()} == before


RUBBISH = {
    "UTF-16": b"\xff\xfer\0i\0g\0",
    "zeros": b"\0\0",
    "nothing": b"",
    "braces": b"}{" * 500,
    "stages": b"stage A {\n" * 9,
}


@pytest.mark.parametrize("data", RUBBISH.values(), ids=RUBBISH)
@pytest.mark.parametrize("command", ["check", "draw", "trace"])
def test_a_text_of_rubbish_is_refused_without_a_traceback(
    command: str, data: bytes, rig: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rig.write_bytes(data)
    rest = {"draw": ["-o", tmp_path / "out"], "trace": ["E1.+"]}.get(command, [])
    assert run(command, rig, *rest) == 2
    said = capsys.readouterr()
    assert str(rig) in said.err and "Traceback" not in said.err
    assert said.out == "" and not (tmp_path / "out").exists()


@pytest.mark.parametrize("data", [RUBBISH["UTF-16"], RUBBISH["braces"]], ids=["UTF-16", "braces"])
def test_fmt_leaves_alone_what_it_cannot_read(data: bytes, rig: Path) -> None:
    rig.write_bytes(data)
    assert run("fmt", rig) == 2
    assert rig.read_bytes() == data


def test_a_file_that_may_not_be_read_is_refused(
    rig: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(os, "access", lambda *_: False)  # root may read any file
    assert run("check", rig) == 2
    assert "may not be read" in capsys.readouterr().err


@pytest.mark.parametrize("command", ["check", "trace", "rules"])
def test_a_reader_that_goes_away_gets_no_traceback(command: str, rig: Path) -> None:
    rest = {"check": [rig], "trace": [rig, "E1.+"], "rules": []}[command]
    argv = [*FERRULE, command, *map(str, rest)]
    with subprocess.Popen(argv, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout and process.stderr
        process.stdout.close()
        said = process.stderr.read().decode()
        assert process.wait() == 2
    assert "went away" in said and "Traceback" not in said


def test_an_interrupt_is_exit_code_2(
    rig: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def interrupted(*_: object) -> None:
        signal.raise_signal(signal.SIGINT)

    monkeypatch.setattr("ferrule.cli.files.read", interrupted)
    assert run("check", rig) == 2
    assert "interrupted" in capsys.readouterr().err


def test_a_defect_of_ours_is_said_to_be_one(
    rig: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("by nought")

    monkeypatch.setattr("ferrule.cli.files.read", broken)
    assert run("check", rig) == 2
    said = capsys.readouterr().err
    assert "a defect of ferrule" in said and "by nought" in said and "Traceback" not in said


def test_a_terminal_without_the_characters_still_gets_the_output(rig: Path) -> None:
    text = rig.read_text(encoding="utf-8").replace("Cabin lamp", "Kajütlampe Ω")
    rig.write_text(text.replace("F1.2 -> E1.+", "GB.+ -> E1.+"), encoding="utf-8")
    ran = subprocess.run(
        [*FERRULE, "check", str(rig)],
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
    )
    assert ran.returncode == 1, ran.stderr


def test_new_writes_the_starter_and_never_over_a_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "mine.rig"
    assert run("new", path) == 0
    assert path.read_bytes() == STARTER.read_bytes()
    assert len(path.read_text(encoding="utf-8").splitlines()) == 10
    path.write_text("mine", encoding="utf-8")
    assert run("new", path) == 2
    assert path.read_text(encoding="utf-8") == "mine"


def test_fmt_lays_out_in_place_and_then_has_nothing_to_do(
    rig: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rig.write_text(rig.read_text(encoding="utf-8").replace("fuse    F1", "fuse F1"))
    rig.chmod(0o640)
    assert run("fmt", "--check", rig) == 1
    assert run("fmt", rig) == 0
    assert rig.read_bytes() == STARTER.read_bytes()
    assert rig.stat().st_mode & 0o777 == 0o640
    assert run("fmt", "--check", rig) == 0


def test_fmt_writes_no_file_where_one_cannot_be_read(rig: Path, tmp_path: Path) -> None:
    rig.write_text(rig.read_text(encoding="utf-8").replace("fuse    F1", "fuse F1"))
    before = rig.read_bytes()
    broken = tmp_path / "broken.rig"
    broken.write_text('rig "no end\n', encoding="utf-8")
    assert run("fmt", rig, broken) == 2
    assert rig.read_bytes() == before


def test_rules_lists_and_explain_explains_every_rule(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("rules") == 0
    listed = capsys.readouterr().out
    for rule in rules():
        assert f"{rule.code} " in listed and rule.name in listed
        assert run("explain", rule.code) == 0
        by_code = capsys.readouterr().out
        assert run("explain", rule.name.upper()) == 0
        assert capsys.readouterr().out == by_code
        assert len(by_code.split()) > 20, f"{rule.code} is not explained"


@pytest.mark.parametrize("command", [*COMMANDS, ""])
def test_help_carries_the_caution(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(*filter(None, [command]), "--help") == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "no proof that the rig was built to it" in said
