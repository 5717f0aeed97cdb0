"""What the solution answers, on rigs small enough to reckon by hand."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from ferrule.checks.books.book import Missing
from ferrule.checks.solve import Fault, Solution, solution
from ferrule.checks.tracing.trace import analyse
from ferrule.dsl.reader import read, read_text


def solved(text: str, mode: int = 0) -> Solution:
    reading = read_text(text)
    assert not reading.problems, [problem.message for problem in reading.problems]
    return solution(analyse(reading.rigs[-1]).modes[mode])


def fault(found: Solution, end: str, to: str, case: str = "max") -> Fault:
    result = found.fault(*end.split("."), to, case)  # type: ignore[arg-type, call-arg]
    assert not isinstance(result, Missing), result
    return result


def reason(found: Solution, end: str, to: str) -> str:
    result = found.fault(*end.split("."), to, "max")  # type: ignore[arg-type, call-arg]
    assert isinstance(result, Missing), result
    return result.reason


SPLIT = """
rig "Split"
rules nfpa70
supply S 240V 60Hz 30A split fault=5kA bonded
block B positions=4 holds=4
cable W 4x6AWG 10m S.(L1 L2 N PE) -> B.(1 2 3 4)
heater E1 120V 1200W
heater E2 120V 600W
cable C1 3x12AWG 1m B.(1 3 4) -> E1.(L N PE)
cable C2 3x12AWG 1m B.(2 3 4) -> E2.(L N PE)
"""


def test_the_neutral_of_a_split_supply_carries_the_difference() -> None:
    found = solved(SPLIT)
    one, two, neutral = (found.amps(f"W/{core}") for core in (1, 2, 3))
    assert one == pytest.approx(10, rel=0.02) and two == pytest.approx(5, rel=0.02)
    assert neutral == pytest.approx(one - two, rel=1e-3)
    assert found.amps("W/4") == pytest.approx(0, abs=1e-6)
    assert found.between("B", "1", "B", "2") == pytest.approx(240, rel=0.01)


def test_three_like_loads_leave_the_neutral_without_current() -> None:
    loads = "".join(
        f"heater E{i} 230V 1000W\ncable C{i} 3x2.5mm2 5m B.({i} 4 5) -> E{i}.(L N PE)\n"
        for i in (1, 2, 3)
    )
    found = solved(
        'rig "Three"\nrules iec60364\nsupply S 400V 50Hz 16A three fault=4kA bonded\n'
        "block B positions=5 holds=4\n"
        "cable W 5x2.5mm2 10m S.(L1 L2 L3 N PE) -> B.(1 2 3 4 5)\n" + loads
    )
    assert found.amps("W/1") == pytest.approx(1000 / 231, rel=0.02)
    assert found.amps("W/4") == pytest.approx(0, abs=1e-6)
    three, two = fault(found, "B.1", "line"), fault(found, "B.1", "line", "min")
    assert abs(three.ohms) < abs(two.ohms)
    # Three lines joined: U0 / Z of one line; two: U / 2 Z.
    assert three.amps == pytest.approx(1.1 * 400 / math.sqrt(3) / (abs(three.ohms) / 2), rel=1e-3)
    assert two.amps == pytest.approx(0.95 * 400 / abs(two.ohms), rel=1e-3)


NIGHT = """
rig "Night"
rules iec60364
battery GB 12.8V 100Ah fault=2kA
inverter U1 230V 50Hz 1000W limit=9A input=12.8V bonds holds=2 {items}
earth CH positions=1
heater E1 230V 460W
wire D1 35mm2 1m GB.+ -> U1.+
wire D2 35mm2 1m GB.- -> U1.-
cable C1 3x1.5mm2 2m U1.(out-L out-N PE) -> E1.(L N PE)
wire W 4mm2 1m U1.PE -> CH.1
"""


@pytest.mark.parametrize(("items", "share"), [("", 0.90), ("efficiency=80%", 0.80)])
def test_an_inverter_draws_what_it_gives_and_its_losses(items: str, share: float) -> None:
    found = solved(NIGHT.format(items=items))
    given = found.source_watts("U1")
    assert given == pytest.approx(460, rel=2e-3)
    taken = found.amps("D1") * (found.between("U1", "+", "U1", "-") or 0.0)
    assert taken == pytest.approx(given / share, rel=1e-6)
    assert found.source_watts("GB") == pytest.approx(
        taken + found.amps("D1") ** 2 * 2 * DC, rel=1e-4
    )
    assert found.losses > 0


DC = 0.524e-3 * (1 + 0.00393 * 50)  # 35 mm2 at 70 degC, ohm/m (IEC 60228)


def test_an_inverter_gives_no_more_than_its_limit_into_a_fault() -> None:
    found = solved(NIGHT.format(items=""))
    for to in ("neutral", "earth"):
        result = fault(found, "E1.L", to)
        assert result.limited and result.amps == 9
    assert (
        reason(
            solved(NIGHT.format(items="").replace(" limit=9A", "").replace(" 1000W", "")),
            "E1.L",
            "neutral",
        )
        == "U1 states no limit of its current"
    )


def test_a_charger_adds_its_rating_to_the_battery_and_draws_from_the_mains() -> None:
    text = """
rig "Charge"
rules iec60364
supply S 230V 50Hz 16A fault=2kA bonded
charger U 30A 12.8V input=230V
battery GB 12.8V 100Ah fault=2kA holds=2
load E1 dc 12.8V 128W
bus P 100A positions=4
bus N 100A positions=4
cable C 3x2.5mm2 5m S.(L N PE) -> U.(L N PE)
wire A 16mm2 1m GB.+ -> P.1
wire B 16mm2 1m GB.- -> N.1
wire D 10mm2 1m U.+ -> P.2
wire E 10mm2 1m U.- -> N.2
wire F 10mm2 1m P.3 -> E1.+
wire G 10mm2 1m N.3 -> E1.-
"""
    found = solved(text)
    assert found.source_amps("U") == pytest.approx(30)
    assert found.amps("A") == pytest.approx(20, rel=0.01)  # 30 A less the load's 10 A
    assert found.source_watts("GB") < 0
    assert found.source_watts("S") == pytest.approx(found.source_watts("U") / 0.85, rel=0.01)
    with_it = fault(found, "P.3", "neutral").amps
    without = fault(
        solved(text.replace("30A 12.8V input", "status=removed 30A 12.8V input")), "P.3", "neutral"
    ).amps
    assert with_it - without == pytest.approx(30, rel=1e-3)


def test_a_transformer_changes_voltage_and_current_by_its_ratio() -> None:
    found = solved("""
rig "Ratio"
rules nfpa70
supply S 240V 60Hz 20A fault=5kA bonded
transformer T 2400VA 120V input=240V fault=400A bonded
heater E1 120V 1200W
cable A 3x12AWG 3m S.(L N PE) -> T.(in-L in-N PE)
cable B 2x12AWG 3m T.(out-L out-N) -> E1.(L N)
""")
    assert found.amps("B/1") == pytest.approx(2 * found.amps("A/1"), rel=1e-6)
    assert found.between("T", "out-L", "T", "out-N") == pytest.approx(120, rel=0.05)
    assert found.source_watts("T") == pytest.approx(1200, rel=0.06)
    assert fault(found, "E1.L", "neutral").amps < 400


def test_batteries_in_series_add_up() -> None:
    found = solved("""
rig "Series"
rules abyc-e11
battery G1 12V 100Ah fault=2kA
battery G2 12V 100Ah fault=2kA
load E1 dc 24V 240W
wire A 2AWG 0.3m G1.+ -> G2.-
wire B 2AWG 1m G2.+ -> E1.+
wire C 2AWG 1m G1.- -> E1.-
""")
    assert found.between("E1", "+", "E1", "-") == pytest.approx(24, rel=0.02)
    assert found.amps("A") == pytest.approx(10, rel=0.02)
    # 24 V over twice 6 mohm and 2.3 m of leads: below one battery's own 2 kA.
    assert 1000 < fault(found, "E1.+", "neutral").amps < 2000


SHARED = """
rig "Shared"
rules nfpa70
supply S 120V 60Hz 20A fault=5kA bonded
block B positions=3 holds=9
load E1 120V 60Hz 8A
load E2 120V 60Hz 12A
load E3 120V 60Hz 18A
cable W 3x10AWG 20m S.(L N PE) -> B.(1 2 3)
cable C1 3x14AWG 10m B.(1 2 3) -> E1.(L N PE)
cable C2 3x14AWG 10m B.(1 2 3) -> E2.(L N PE)
cable C3 3x14AWG 10m B.(1 2 3) -> E3.(L N PE)
"""


def test_the_drop_to_design_for() -> None:
    """E1 at 8 A, the others (30 A) scaled to the 12 A that the supply's 20 A leave them."""
    drop = solved(SHARED).drop("E1")
    assert drop is not None
    assert drop.others == pytest.approx(12 / 30)
    # Table 8 at 75 degC: 1.24 ohm/kft of 10 AWG, 3.14 of 14 AWG; Table 9's reactance counts little.
    feeder, branch = 2 * 20 * 1.24 / 304.8, 2 * 10 * 3.14 / 304.8
    assert drop.volts == pytest.approx(20 * feeder + 8 * branch, rel=2e-3)
    assert drop.percent == pytest.approx(100 * drop.volts / 120)


def test_a_source_that_states_no_fault_current_is_named() -> None:
    found = solved(SHARED.replace(" fault=5kA", ""))
    assert reason(found, "E1.L", "neutral") == "S states no fault="
    assert found.drop("E1") is not None  # which needs none


def test_a_floating_system_has_no_fault_to_earth() -> None:
    found = solved(SHARED.replace(" bonded", " floating"))
    assert reason(found, "E1.L", "earth")
    assert fault(found, "E1.L", "neutral").amps > 0


def test_a_dead_terminal_and_a_neutral_have_none() -> None:
    found = solved(SHARED + "mode off { S=off }\n")
    assert "dead" in reason(found, "E1.L", "earth")
    assert found.amps("W/1") == 0 and found.drop("E1") is None and found.volts("E1", "L") is None
    assert "no ungrounded" in reason(solved(SHARED), "E1.N", "earth")


def test_loads_that_ask_for_more_than_there_is_have_no_solution() -> None:
    found = solved(SHARED.replace("load E1 120V 60Hz 8A", "load E1 120V 60Hz 200kW"))
    assert not found.converged
    assert math.isfinite(found.amps("W/1"))


@pytest.mark.parametrize(("source", "least", "most"), [("supply", 2, 4), ("generator", 14, 40)])
def test_a_start_pulls_a_generator_down_further(source: str, least: float, most: float) -> None:
    """30 A at the start, behind 300 A of prospective current or 5 kA: the generator's regulator
    holds its voltage while things run, and is too slow for a start."""
    stiff = "5kA" if source == "supply" else "150A"
    found = solved(f"""
rig "Start"
rules iec60364
{source} S 230V 50Hz 16A fault={stiff} bonded
motor M1 230V 50Hz 1200W inrush=30A
cable C 3x2.5mm2 30m S.(L N PE) -> M1.(L N PE)
""")
    running, start = found.drop("M1"), found.inrush_sag("M1")
    assert running is not None and start is not None
    assert running.percent < 2
    assert start.amps == pytest.approx(30)
    assert least < start.percent < most


def test_a_heater_made_for_another_voltage() -> None:
    """Its power is that at its own voltage: 100 W at 12 V are 113.8 W at 12.8 V."""
    found = solved("""
rig "Heat"
rules abyc-e11
battery GB 12.8V 100Ah fault=9kA
heater E1 dc 12V 100W
wire A 2/0AWG 0.1m GB.+ -> E1.+
wire B 2/0AWG 0.1m GB.- -> E1.-
""")
    assert found.source_watts("GB") == pytest.approx(100 * (12.8 / 12) ** 2, rel=3e-3)


def test_what_is_assumed_is_told() -> None:
    told = "\n".join(solved(NIGHT.format(items="")).assumed)
    assert "U1: efficiency 90%" in told and "U1: gives at most 9 A" in told
    assert "efficiency" not in "\n".join(solved(NIGHT.format(items="efficiency=92%")).assumed)
    told = "\n".join(solved(SHARED).assumed)
    assert "S: power factor 0.7 of its short circuit" in told  # 5 kA: IEC 60947-2 Table 11
    assert "S states no fault=" in "\n".join(solved(SHARED.replace(" fault=5kA", "")).assumed)
    assert "want of a power: E1" in "\n".join(solved(SHARED.replace("Hz 8A", "Hz")).assumed)


BROKEN = sorted((Path(__file__).parent / "faults").glob("*.rig"))


@pytest.mark.parametrize("family", sorted({path.name[0] for path in BROKEN}))
def test_no_broken_rig_breaks_it(family: str) -> None:
    """Shorts, loops, floating parts, poles reversed, sources in parallel: figures stay finite."""
    for path in BROKEN:
        if path.name[0] != family:
            continue
        rig = read(path).rigs[-1]
        for view in analyse(rig).modes:
            found = solution(view)
            figures = [found.losses, *(found.amps(name) for name in rig.conductors)]
            figures += [found.source_watts(name) for name in view.live]
            for device in rig.devices.values():
                drop = found.drop(device.name)
                figures += [] if drop is None else [drop.volts, drop.amps]
                for terminal in device.terminals[:2]:
                    result = found.fault(device.name, terminal.name, "neutral", "max")
                    figures += [] if isinstance(result, Missing) else [result.amps]
            assert all(map(math.isfinite, figures)), (path.name, view.name)
