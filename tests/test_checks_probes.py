"""The probe table against the meter of `trace`, and against rigs joined up from raw statements."""

from __future__ import annotations

from pathlib import Path

import pytest
from ferrule.checks.figures.meter import probe
from ferrule.checks.figures.probes import Reading, probe_rows, trials
from ferrule.checks.tracing.trace import Stage, analyse
from ferrule.dsl.reader import read, read_text
from rawnet import RawNet

ROOT = Path(__file__).parents[1]
EXAMPLES = sorted((ROOT / "examples").glob("*.rig"))


@pytest.fixture(params=EXAMPLES, ids=lambda path: path.stem, scope="module")
def stage(request: pytest.FixtureRequest) -> Stage:
    return analyse(read(request.param).rigs[-1])


def table(stage: Stage) -> dict[tuple[str, str, str], Reading]:
    """By mode, device and terminal."""
    return {
        (view.name, row.device.name, terminal): reading
        for row in probe_rows(stage)
        for view, reading in zip(stage.modes, row.readings, strict=True)
        for terminal in row.terminals
    }


def test_every_terminal_is_in_the_table_once(stage: Stage) -> None:
    every = [(row.device.name, t) for row in probe_rows(stage) for t in row.terminals]
    assert sorted(every) == sorted(
        (device.name, t.name) for device in stage.rig.devices.values() for t in device.terminals
    )


def test_the_same_as_the_meter(stage: Stage) -> None:
    compared = 0
    for (mode, device, terminal), reading in table(stage).items():
        view = next(view for view in stage.modes if view.name == mode)
        found = probe(view, device, terminal)
        volts = {row.against: row.volts for row in found.expected}
        assert reading.role == found.role
        if found.role in ("", "PE"):
            continue
        compared += 1
        assert reading.earth == (
            None if volts["earth"] is None else pytest.approx(volts["earth"], abs=0.06)
        )
        against = "DC negative" if found.role in ("+", "-") else "neutral"
        if against in volts:
            assert reading.neutral == pytest.approx(volts[against], abs=0.06)
        else:
            assert reading.neutral == 0.0, "the neutral itself"
    assert compared > 100


def test_alternating_volts_against_a_trace_from_the_raw_statements(stage: Stage) -> None:
    """What the net of a source's line reaches reads its voltage, its neutral's net reads none."""
    read_as = table(stage)
    for mode in stage.rig.modes.values():
        net = RawNet(stage.rig, mode)
        live = net.live()
        lines = {net.find(line): volts for line, _, volts in live.values()}
        neutrals = {net.find(neutral) for _, neutral, _ in live.values()}
        for device in stage.rig.devices.values():
            for terminal in device.terminals:
                reading = read_as[mode.name, device.name, terminal.name]
                here = net.find(f"{device.name}.{terminal.name}")
                if here in lines:
                    assert reading.neutral == pytest.approx(lines[here], abs=0.06)
                elif here in neutrals:
                    assert reading.neutral == 0.0
                else:
                    assert reading.role in ("", "PE", "+", "-")


SPLIT = """rig "R"
rules nfpa70
supply S "Site" split 240V 60Hz 50A fault=2kA bonded
breaker Q 30A poles=2
heater E 240V 3000W split
cable W1 4x10AWG 2m S.(L1 L2 N PE) -> Q.(1 3) E.(N PE)
wire W2 10AWG 1m Q.2 -> E.L1
wire W3 10AWG 1m Q.4 -> E.L2
mode on { }
mode off { S=off }
"""


def test_split_phase_by_hand() -> None:
    """120 V to neutral and to earth; 240 V between the poles of a breaker that has no neutral."""
    reading = read_text(SPLIT)
    assert not reading.problems, reading.problems
    found = table(analyse(reading.rigs[0]))
    assert found["on", "Q", "1"].volts == (120.0, 120.0, 240.0)
    assert found["on", "E", "L1"].volts == (120.0, 120.0, 120.0)
    assert found["off", "E", "L1"] == Reading("", 0.0, 0.0, 0.0)


def test_what_is_joined_to_earth_nowhere_has_no_volts_to_earth() -> None:
    reading = read_text(
        'rig "R"\nrules iec60364\ngenerator G 230V 50Hz 10A fault=50A floating\n'
        "heater E 230V 500W\ncable W 3x1.5mm2 2m G.(L N PE) -> E.(L N PE)\n"
    )
    found = table(analyse(reading.rigs[0]))
    assert found["all", "E", "L"].volts == (230.0, None, 230.0)
    assert found["all", "E", "PE"].volts == (None, 0.0, None)


def test_bounds_of_a_voltage() -> None:
    """230 V +-10 % (IEC 60038), 120 V +-5 % (ANSI C84.1 range A)."""
    for name, against, low, high in (
        ("field_kitchen", "V-site-X1.L-N", 207, 253),
        ("mobile_clinic", "V-shore-X1.L-N", 114, 126),
    ):
        every = trials(analyse(read(ROOT / f"examples/{name}.rig").rigs[-1]))
        found = {trial.id: trial for trial in every}[against]
        assert (found.low, found.high) == (low, high)


def test_ids_are_unique(stage: Stage) -> None:
    ids = [trial.id for trial in trials(stage)]
    assert len(ids) == len(set(ids))


SUN = """rig "R"
rules iec60364
solar PV 45V 8A 300W
dcdc  U1 12V 20A
battery GB 12V 100Ah fault=2kA
cable W1 2x4mm2 3m PV.(+ -) -> U1.(in+ in-)
cable W2 2x6mm2 1m U1.(out+ out-) -> GB.(+ -)
mode day { PV=on }
mode night { PV=off }
"""


def test_panels_read_what_the_light_makes_of_them() -> None:
    """No least voltage by day: a dark panel reads nothing. By night none is told at all: whoever
    probes with the sun up finds the panel live, whatever the mode is called."""
    reading = read_text(SUN)
    assert not reading.problems, reading.problems
    stage = analyse(reading.rigs[0])
    found = table(stage)
    assert found["day", "U1", "in+"].volts == (45.0, None, 45.0)
    assert found["night", "U1", "in+"].volts == (None, None, None)
    every = {trial.id: trial for trial in trials(stage)}
    by_day = every["V-day-PV.+-N"]
    assert (by_day.low, by_day.high) == (None, 54) and "light" in by_day.basis
    assert not [name for name in every if name.startswith("V-night-PV.+")]
    assert every["V-night-GB.+-N"].low == 10.8  # the battery keeps its bounds
