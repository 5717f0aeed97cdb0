"""``ferrule capacity``: what it prints, in every format, and what it refuses."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import pytest
from ferrule.cli.main import main
from jsonschema import Draft202012Validator

ROOT = Path(__file__).parents[1]
EXAMPLES = sorted((ROOT / "examples").glob("*.rig"))
STARTER = ROOT / "cli" / "starter.rig"
SCHEMA = json.loads((ROOT / "cli" / "capacity.schema.json").read_text(encoding="utf-8"))

OVEN = """
rig "Waffles"
rules iec60364
supply SUP "Site" 230V 50Hz 16A bonded
bus LB positions=8
bus NB positions=8
wire WL 16mm2 1m SUP.L -> LB.1
wire WN 16mm2 1m SUP.N -> NB.1
"""


def rig(tmp_path: Path, *watts: float) -> str:
    """A rig of some ovens, ``watts`` each, on 16 A at 230 V."""
    text = OVEN
    for k, each in enumerate(watts, 2):
        text += (
            f'heater E{k} "Oven {k}" 230V {each:g}W class2\n'
            f"wire L{k} 4mm2 1m LB.{k} -> E{k}.L\nwire N{k} 4mm2 1m NB.{k} -> E{k}.N\n"
        )
    path = tmp_path / "waffles.rig"
    path.write_text(text, encoding="utf-8")
    return str(path)


def said(capsys: pytest.CaptureFixture[str], *argv: str, code: int = 0) -> str:
    assert main(["capacity", *argv]) == code
    return capsys.readouterr().out


def document(capsys: pytest.CaptureFixture[str], *argv: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(said(capsys, *argv, "--format", "json"))
    return found


@pytest.mark.parametrize("path", [*EXAMPLES, STARTER], ids=lambda path: path.stem)
def test_json_is_what_its_schema_says(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Draft202012Validator.check_schema(SCHEMA)
    Draft202012Validator(SCHEMA).validate(document(capsys, str(path)))


def test_the_schema_does_refuse(capsys: pytest.CaptureFixture[str]) -> None:
    whole = document(capsys, str(STARTER))
    del whole["modes"][0]["limits"][0]["gives"]
    assert not Draft202012Validator(SCHEMA).is_valid(whole)


def test_two_of_three_ovens(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """1000, 1800 and 2400 W on 3680 W: the two greater ones are too much."""
    path = rig(tmp_path, 1000, 1800, 2400)
    out = said(capsys, path)
    assert "E4 Oven 4 and E3 Oven 3: not both." in out
    assert "E4 Oven 4 + E2 Oven 2" in out
    (mode,) = document(capsys, path)["modes"]
    assert mode["limits"][0]["connected"] == pytest.approx(5200 / 230)


def test_three_alike_are_said_by_number(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = said(capsys, rig(tmp_path, 1500, 1500, 1500))
    assert "any 2 of E2, E3, E4" in out
    assert "not all 3, any one less may" in out


def test_one_too_large_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = said(capsys, rig(tmp_path, 4000, 1000))
    assert "E2 Oven 2: not at all, it exceeds a limit alone." in out


def test_everything_together(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "Everything that is connected may run together." in said(
        capsys, rig(tmp_path, 1000, 1000)
    )


@pytest.mark.parametrize("layout", ["text", "markdown"])
@pytest.mark.parametrize("path", [*EXAMPLES, STARTER], ids=lambda path: path.stem)
def test_cautions_and_assumptions_are_on_it(
    path: Path, layout: str, capsys: pytest.CaptureFixture[str]
) -> None:
    out = " ".join(said(capsys, str(path), "--format", layout).split())
    assert "a licensed person decide" in out
    assert "common practice, no published source" in out
    assert "Temperature, age" in out


def test_csv_has_a_unit_in_every_row(capsys: pytest.CaptureFixture[str]) -> None:
    head, *rows = csv.reader(io.StringIO(said(capsys, str(EXAMPLES[0]), "--format", "csv")))
    assert head[-2:] == ["value", "unit"]
    assert len(rows) > 20
    for row in rows:
        assert len(row) == len(head)
        assert float(row[-2]) or row[-2].strip("0.") == ""
        assert row[-1]


def test_a_mode_and_a_stage_alone(capsys: pytest.CaptureFixture[str]) -> None:
    path = str(ROOT / "examples" / "mobile_clinic.rig")
    found = document(capsys, path, "--mode", "away", "--stage", "INVERTER")
    assert (found["stage"], [mode["mode"] for mode in found["modes"]]) == ("INVERTER", ["away"])


@pytest.mark.parametrize("asked", [["--mode", "shor"], ["--stage", "ROED"]])
def test_what_is_not_there_is_refused_with_the_near_miss(
    asked: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["capacity", str(ROOT / "examples" / "mobile_clinic.rig"), *asked]) == 2
    assert "did you mean" in capsys.readouterr().err


def test_a_smaller_supply_by_an_adapter(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """1800 and 1000 W run together on 16 A at 230 V, and not on 10 A (2300 W)."""
    path = rig(tmp_path, 1800, 1000)
    assert "Everything that is connected may run together." in said(capsys, path)
    out = said(capsys, path, "--gives", "SUP=10A")
    assert "SUP at 10A" in out
    assert "E2 Oven 2 and E3 Oven 3: not both." in out
    assert document(capsys, path, "--gives", "SUP=10A")["gives"] == {"SUP": 10.0}


@pytest.mark.parametrize("word", ["SUP", "SUP=", "SUP=10V", "SUB=10A", "=10A", "E2=10A"])
def test_what_gives_nothing_is_refused(
    word: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["capacity", rig(tmp_path, 1000), "--gives", word]) == 2
    assert "ferrule: " in capsys.readouterr().err
