"""The voltage along a way: by hand on small rigs, and in step with the drop on all others."""

from __future__ import annotations

from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest
from ferrule.checks.figures.profile import MOST, Point, profile, worst
from ferrule.checks.figures.rows import load_rows
from ferrule.checks.solve import solution
from ferrule.checks.tracing.trace import Stage, analyse
from ferrule.dsl.reader import read, read_text

ROOT = Path(__file__).parents[1]
RIGS = [
    *sorted((ROOT / "examples").glob("*.rig")),
    *sorted((ROOT / "tests" / "rigs").glob("*.rig")),
]


@cache
def stage(path: Path) -> Stage:
    return analyse(read(path).rigs[-1])


def points(text: str, device: str) -> list[Point]:
    reading = read_text(text)
    assert not reading.problems, [problem.message for problem in reading.problems]
    return list(profile(analyse(reading.rigs[-1]).modes[0], device))


LADDER = """
rig "Ladder"
rules iec60364
battery GB 12V 100Ah fault=1.2kA holds=2
fuse F1 20A dc class=ATO breaks=2kA
bus P 40A positions=3
bus N 40A positions=3
lamp E1 12V 60W dc
motor M1 12V 36W dc inrush=12A
wire W1 6mm2 2m solid GB.+ -> F1.1
link K1 F1.2 -> P.1
wire W2 6mm2 3m solid N.1 -> GB.-
cable C1 2x2.5mm2 4m solid P.2 N.2 -> E1.(+ -)
cable C2 2x2.5mm2 10m solid P.3 N.3 -> M1.(+ -)
"""
# Ohm at 70 degC, which PVC carries: IEC 60228:2004 Table 1 (20 degC: 3.08 ohm/km for 6 mm2, 7.41
# for 2.5 mm2) and Annex B (0.4 % more for each K).
HOT = 1 + 0.004 * 50
SIX, TWO_AND_A_HALF = 3.08e-3 * HOT, 7.41e-3 * HOT
LAMP, MOTOR = 60 / 12, 36 / 12


def test_a_ladder_by_hand() -> None:
    """From rung to rung, with the currents at nominal voltage; contacts and links take 1 uohm."""
    found = {point.device: point for point in points(LADDER, "M1")}
    fuse = 12 - (LAMP + MOTOR) * 2 * SIX  # the return beside it is still the battery's terminal
    bar = 12 - (LAMP + MOTOR) * 5 * SIX
    motor = bar - MOTOR * 2 * 10 * TWO_AND_A_HALF
    by_hand = {"GB": 12.0, "F1": fuse, "P": bar, "M1": motor}
    assert list(found) == list(by_hand)
    for name, volts in by_hand.items():
        assert found[name].volts == pytest.approx(volts, abs=1e-4), name
    assert [point.metres for point in found.values()] == pytest.approx([0, 2, 2, 12])
    assert [point.by for point in found.values()] == ["", "W1", "K1", "C2"]


def test_its_start_by_hand() -> None:
    """12 V / 1.2 kA inside the battery; the starting current in place of the motor's own."""
    own, amps = 12 / 1200, LAMP + 12.0
    volts = {point.device: point.starting for point in points(LADDER, "M1")}
    bar = 12 - amps * (own + 5 * SIX)
    assert volts["GB"] == pytest.approx(12 - amps * own, abs=1e-4)
    assert volts["P"] == pytest.approx(bar, abs=1e-4)
    assert volts["M1"] == pytest.approx(bar - 12.0 * 20 * TWO_AND_A_HALF, abs=1e-4)
    assert all(point.starting is None for point in points(LADDER, "E1"))


def test_the_return_is_measured_beside_the_line() -> None:
    """In a cable both cores have come the same way, past the pole of a breaker in a panel too."""
    text = """
rig "Beside"
rules iec60364
supply S 230V 50Hz 16A fault=3kA bonded
panel AP ways=4
breaker Q1 16A curve=B breaks=6kA at=AP.1
bus N 40A positions=2 at=AP
bus E 40A positions=2
heater E1 230V 2300W
cable W1 3x2.5mm2 10m solid S.(L N PE) -> Q1.1 N.1 E.1
cable C1 3x2.5mm2 20m solid Q1.2 N.2 E.2 -> E1.(L N PE)
"""
    volts = [point.volts for point in points(text, "E1")]
    each = 10.0 * 2 * TWO_AND_A_HALF  # V for each metre; its reactance takes next to nothing
    assert volts == pytest.approx([230, 230 - 10 * each, 230 - 30 * each], abs=2e-3)


def test_nothing_on_the_way_to_what_is_not_fed() -> None:
    assert points(LADDER.replace("link K1 F1.2 -> P.1\n", ""), "M1") == []


@pytest.mark.parametrize("path", RIGS, ids=lambda path: path.stem)
def test_it_ends_with_the_drop(path: Path) -> None:
    """From nominal down to what rules V01 and V02 find at the load, for every load and mode."""
    whole, seen = stage(path), 0
    for view in whole.modes:
        for row in load_rows(whole, view):
            way = profile(view, row.device.name)
            if not way:
                continue
            seen += 1
            drop, sag = row.drop, solution(view).inrush_sag(row.device.name)
            assert way[0].volts == pytest.approx(drop.nominal, rel=1e-9)
            assert way[-1].volts == pytest.approx(drop.nominal - drop.volts, rel=1e-9)
            assert way[0].device == drop.source and way[-1].device == row.device.name
            assert all(a.metres <= b.metres for a, b in pairwise(way))
            if sag is not None:
                assert way[-1].starting == pytest.approx(sag.nominal - sag.volts, rel=1e-9)
    assert seen


@pytest.mark.parametrize("path", sorted((ROOT / "examples").glob("*.rig")), ids=lambda p: p.stem)
def test_voltage_falls_along_a_tree(path: Path) -> None:
    whole = stage(path)
    for view in whole.modes:
        for row in load_rows(whole, view):
            way = profile(view, row.device.name)
            assert all(a.volts >= b.volts - 1e-6 for a, b in pairwise(way)), row.device.name


@pytest.mark.parametrize("path", RIGS, ids=lambda path: path.stem)
def test_the_worst_of_every_source_and_mode_is_told(path: Path) -> None:
    whole = stage(path)
    found = worst(whole, most=1000)
    for view in whole.modes:
        largest: dict[str, float] = {}
        for row in load_rows(whole, view):
            if len(profile(view, row.device.name)) > 1:
                name = row.drop.source
                largest[name] = max(largest.get(name, 0.0), row.drop.percent)
        for source, percent in largest.items():
            told = [
                w.drop.percent for w in found if w.drop.source == source and view.name in w.modes
            ]
            assert max(told) == pytest.approx(percent, rel=2e-3), (source, view.name)
    assert len(worst(whole)) == min(len(found), MOST)
