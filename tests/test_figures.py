"""``ferrule figures``: the tables are the solution's and the books', and derivations add up."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path

import pytest
from ferrule.checks.books.book import Figure
from ferrule.checks.figures.derivation import amount, derivation, told
from ferrule.checks.figures.rows import conductor_rows, load_rows, terminal_rows
from ferrule.checks.solve import Fault, solution
from ferrule.checks.tracing.trace import Stage, analyse
from ferrule.cli.main import main
from ferrule.dsl.reader import read

EXAMPLES = Path(__file__).parent.parent / "examples"
NAMES = ("mobile_clinic", "field_kitchen", "survey_launch")


def last(name: str) -> Stage:
    return analyse(read(EXAMPLES / f"{name}.rig").rigs[-1])


def table(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(["figures", *words]) == 0
    return capsys.readouterr().out


@pytest.mark.parametrize("name", NAMES)
def test_every_sized_conductor_has_a_row_in_every_mode(name: str) -> None:
    stage = last(name)
    sized = {c.name for c in stage.rig.conductors.values() if c.size and c.status == "installed"}
    for view in stage.modes:
        assert {row.conductor.name for row in conductor_rows(stage, view)} == sized


@pytest.mark.parametrize("name", NAMES)
def test_rows_say_what_book_and_solution_say(name: str) -> None:
    stage = last(name)
    for view in stage.modes:
        solved = solution(view)
        for row in conductor_rows(stage, view):
            assert row.ampacity == stage.ampacity(row.conductor)
            assert row.amps == pytest.approx(solved.amps(row.conductor.name), abs=2e-6)
        for load in load_rows(stage, view):
            assert load.drop == solved.drop(load.device.name)


@pytest.mark.parametrize("name", NAMES)
def test_heat_in_the_table_is_the_solutions_losses(name: str) -> None:
    # Conservation of energy: the rows' I2R sum to the losses of the whole network.
    stage = last(name)
    for view in stage.modes:
        heat = sum(row.amps * row.drop_volts for row in conductor_rows(stage, view)
                   if row.drop_volts is not None)  # fmt: skip
        assert heat == pytest.approx(solution(view).losses, rel=1e-6, abs=1e-6)


@pytest.mark.parametrize("name", NAMES)
def test_faults_fall_from_source_to_load(name: str) -> None:
    # A passive network: the greatest fault at a conductor's supply end is the larger one.
    stage = last(name)
    for view in stage.modes:
        for row in conductor_rows(stage, view):
            if isinstance(row.greatest, Fault) and isinstance(row.least, Fault):
                assert row.greatest.amps >= row.least.amps * (1 - 1e-9)


def test_every_live_terminal_has_a_row() -> None:
    stage = last("field_kitchen")
    for view in stage.modes:
        rows = {(r.device.name, r.terminal) for r in terminal_rows(view)}
        live = {
            (d.name, t.name)
            for d in stage.rig.devices.values()
            for t in d.terminals
            if view.role(d.name, t.name) not in ("", "PE")
        }
        assert rows == live


def test_json_csv_and_text_hold_the_same_figures(capsys: pytest.CaptureFixture[str]) -> None:
    file = str(EXAMPLES / "mobile_clinic.rig")
    whole = json.loads(table(capsys, file, "--mode", "shore", "--format", "json"))
    conductors = next(t for t in whole["tables"] if t["table"] == "conductors")
    row = next(r for r in conductors["rows"] if r["conductor"] == "C1/1")
    long = list(csv.reader(io.StringIO(table(capsys, file, "--mode", "shore", "--format", "csv"))))
    cell = next(r for r in long if r[2:5] == ["conductors", "C1/1", "load A"])
    assert float(cell[5]) == pytest.approx(row["load A"], rel=1e-3)
    text = table(capsys, file, "--mode", "shore")
    line = next(li for li in text.splitlines() if li.startswith("C1/1 "))
    assert f"{row['load A']:.4g}" in line.split()
    assert "no proof that the rig was built to it" in text and "caution" in whole


def test_derivation_multiplies_out() -> None:
    # 12 AWG, 90 degC, six current-carrying: 30 A x 0.80 = 24 A, capped at the 60 degC terminals:
    # 20 A (NFPA 70 Tables 310.16, 310.15(C)(1), 110.14(C)(1)).
    stage = last("mobile_clinic")
    lines = list(told(derivation(stage, stage.modes[:1], "C3/1")))
    assert any("30 A x 1.00 x 0.80 = 24 A" in line for line in lines)
    assert any("60 degC: 20 A; so 20 A" in line for line in lines)
    figure = stage.ampacity(stage.rig.conductors["C3/1"])
    assert isinstance(figure, Figure) and figure.value == 20


def test_derived_fault_is_drive_over_loop() -> None:
    stage = last("field_kitchen")
    view = stage.modes[0]
    fault = solution(view).fault("E1", "L", "earth", "min")
    assert isinstance(fault, Fault)
    lines = [li for li in told(derivation(stage, [view], "E1")) if "line to earth, least" in li]
    amps, drive, loop = re.findall(r": ([\d.]+ k?A) = ([\d.]+ V) / ([\d.]+ m?ohm)", lines[0])[0]
    # 230 V x c min 0.95 of IEC 60909-0.
    assert drive == "218 V" or drive == "219 V"
    assert amps == amount(fault.amps, "A") and loop == amount(abs(fault.ohms), "ohm")


def test_derived_times_are_those_of_the_band_and_what_the_book_asks() -> None:
    # Band B of 10 A opens within 0.1 s from 5 In (IEC 60898-1 Table 7); 230 V: 0.4 s (41.1).
    stage = last("field_kitchen")
    gen = [view for view in stage.modes if view.name == "gen"]
    fault = solution(gen[0]).fault("M1", "L", "neutral", "min")
    assert isinstance(fault, Fault) and fault.amps > 5 * 10
    opens = f"{amount(fault.amps, 'A')}: Q3 opens within 0.1 s"
    for name in ("M1", "Q3", "C3/1"):
        assert any(opens in line for line in told(derivation(stage, gen, name))), name
    lines = list(told(derivation(stage, gen, "M1")))
    assert any("within 0.4 s" in line and "Table 41.1" in line for line in lines)


def test_no_current_is_no_current() -> None:
    """What the rounding of the solution leaves is not told as a current."""
    stage = last("field_kitchen")
    assert not any("e-0" in line for line in told(derivation(stage, stage.modes, "GEN")))


@pytest.mark.parametrize("name", ["C1", "QM", "E1", "SHORE"])
def test_a_derivation_of_anything(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    text = table(capsys, str(EXAMPLES / "mobile_clinic.rig"), "--on", name)
    assert name in text and "no proof" in text
    sections = json.loads(
        table(capsys, str(EXAMPLES / "mobile_clinic.rig"), "--on", name, "--format", "json")
    )
    assert sections["derivation"] and all(s["lines"] for s in sections["derivation"])


def test_an_unknown_name_is_refused_with_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["figures", str(EXAMPLES / "mobile_clinic.rig"), "--on", "NBR"]) == 2
    assert "NBAR" in capsys.readouterr().err


def test_what_passes_a_device_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    """Kirchhoff at a breaker: as much goes through its pole as through the wire behind it."""
    whole = json.loads(table(capsys, str(EXAMPLES / "field_kitchen.rig"), "--format", "json"))
    for mode in {t["mode"] for t in whole["tables"]}:
        rows = {t["table"]: t["rows"] for t in whole["tables"] if t["mode"] == mode}
        through = {r["terminal"]: r["through A"] for r in rows["terminals"]}
        load = {r["conductor"]: r["load A"] for r in rows["conductors"]}
        for terminal, conductor in (("Q3.2", "C3/1"), ("Q3.4", "C3/2"), ("QM.2", "W3")):
            if terminal in through:
                assert through[terminal] == pytest.approx(load[conductor], abs=1e-6), mode
        assert through.get("LM.1") is None, "a bar is no contact"


def test_what_has_no_figure_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Neither a load without power nor a fuse without a class passes in silence."""
    rig = tmp_path / "silent.rig"
    rig.write_text(
        "rules abyc-e11\nbattery GB 12V 100Ah\nfuse F1 10A dc breaks=2kA\nlamp E1 12V dc\n"
        "wire W1 14AWG 0.1m GB.+ -> F1.1\nwire W2 14AWG 2m F1.2 -> E1.+\n"
        "wire W3 14AWG 2m E1.- -> GB.-\n",
        encoding="utf-8",
    )
    text = table(capsys, str(rig))
    assert "no W, VA nor A is stated: E1" in text
    assert "opening times: F1" in text and "GB states no fault=" in text
