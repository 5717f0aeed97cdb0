"""The few figures of each mode in ``check --format json``: their schema, and some by hand."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any, NoReturn

import jsonschema
import pytest
from ferrule.cli.main import main

ROOT = Path(__file__).parents[1]
SCHEMA = json.loads((ROOT / "cli/findings.schema.json").read_text())
RIGS = [*sorted((ROOT / "tests/rigs").glob("*.rig")), *sorted((ROOT / "examples").glob("*.rig"))]
FAULTS = sorted((ROOT / "tests/faults").glob("*.rig"))[::7]

LAMP = """rig "Hand"
rules iec60364
battery GB 12V 100Ah fault=1.2kA
fuse    F1 10A dc breaks=2kA
lamp    E1 dc 12V 24W
wire W1 2.5mm2 0.1m GB.+ -> F1.1
wire W2 2.5mm2 5m F1.2 -> E1.+
wire W3 2.5mm2 5.1m E1.- -> GB.-
"""


def refuse(word: str) -> NoReturn:
    raise AssertionError(f"{word} is no JSON")


def document(path: Path, capsys: pytest.CaptureFixture[str]) -> Any:
    main(["check", "--format", "json", str(path)])
    return json.loads(capsys.readouterr().out, parse_constant=refuse)


@pytest.mark.parametrize("path", [*RIGS, *FAULTS], ids=lambda path: path.stem)
def test_json_with_figures_follows_the_schema(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said = document(path, capsys)
    jsonschema.validate(said, SCHEMA)
    assert list(said["figures"]) == said["stages"]
    assert all(said["figures"].values()), "a stage has at least one mode"


def test_figures_by_hand(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """10.2 m of 2.5 mm2 at 70 degC (IEC 60228: 7.41 ohm/km x 1.2): 90.70 mohm.  The lamp's 2 A lose
    181.4 mV of 12 V, 1.512 %.  At the lamp, hot: 12 V / (10 + 90.7 mohm) = 119.2 A; at the battery
    1200 A as it states (the cold source's 10 mohm carry no factor in direct current)."""
    path = tmp_path / "hand.rig"
    path.write_text(LAMP)
    found = document(path, capsys)["figures"]["base"]["all"]
    assert found["worst_drop"]["on"] == "E1"
    assert found["worst_drop"]["percent"] == pytest.approx(1.512, rel=2e-3)
    assert found["worst_drop"]["volts"] == pytest.approx(0.1814, rel=2e-3)
    assert found["least_fault"]["at"] == "E1.+"
    assert found["least_fault"]["amps"] == pytest.approx(119.2, rel=2e-3)
    assert found["largest_fault"]["at"] == "GB.+"
    assert found["largest_fault"]["amps"] == pytest.approx(1200, rel=0.03)
    source = found["sources"]["GB"]
    assert source["watts"] == pytest.approx(24 + found["losses_watts"], rel=2e-3)
    assert source["amps"] == pytest.approx(2.0, rel=0.03)


def test_the_same_bytes_under_another_hash_seed() -> None:
    path = ROOT / "tests/faults/p02_thinner_tail.rig"
    command = [sys.executable, "-m", "ferrule.cli.main", "check", "--format", "json", str(path)]
    runs = [
        subprocess.run(command, capture_output=True, env={**os.environ, "PYTHONHASHSEED": seed})
        for seed in ("0", "1", "77")
    ]
    assert runs[0].stdout and len({run.stdout for run in runs}) == 1


def test_text_needs_no_figures(capsys: pytest.CaptureFixture[str]) -> None:
    """The summary is a module that only the JSON of a single run imports."""
    path = str(ROOT / "examples/field_kitchen.rig")
    code = f"import sys; from ferrule.cli.main import main; main(['check', {path!r}]); "
    code += "print('ferrule.checks.figures.summary' in sys.modules)"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert run.stdout.splitlines()[-1] == "False"
