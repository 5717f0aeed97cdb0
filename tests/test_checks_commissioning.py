"""The commissioning sheet's figures: by hand, cell by cell, and against rigs joined up anew."""

from __future__ import annotations

import math
import re
import tomllib
from itertools import pairwise
from pathlib import Path

import pytest
from ferrule.checks.commissioning import Trial, commissioning, digest
from ferrule.checks.commissioning import data as figures
from ferrule.checks.commissioning.trial import tidy
from ferrule.checks.tracing.trace import Stage, analyse
from ferrule.dsl.reader import read, read_text
from rawnet import RawNet

ROOT = Path(__file__).parents[1]
EXAMPLES = sorted((ROOT / "examples").glob("*.rig"))
KITCHEN = ROOT / "examples/field_kitchen.rig"
CLINIC = ROOT / "examples/mobile_clinic.rig"


def stage_of(text: str, book: str = "iec60364") -> Stage:
    reading = read_text(f'rig "R"\nrules {book}\n{text}')
    assert not reading.problems, reading.problems
    return analyse(reading.rigs[-1])


def trials(stage: Stage) -> dict[str, Trial]:
    every = [trial for step in commissioning(stage) for trial in step.trials]
    found = {trial.id: trial for trial in every}
    assert len(found) == len(every), "two tests of one name"
    return found


@pytest.fixture(scope="module")
def kitchen() -> dict[str, Trial]:
    return trials(analyse(read(KITCHEN).rigs[-1]))


# IEC 60228 (ed. 3) Table 3, class 2, and Table 4, class 5, plain copper, ohm/km at 20 degC.
CLASS_2 = {1.5: 12.1, 2.5: 7.41, 4: 4.61, 6: 3.08, 10: 1.83, 16: 1.15}
CLASS_5 = {1.5: 13.3, 4: 4.95, 6: 3.30}


@pytest.mark.parametrize(
    ("name", "way"),
    [
        ("E1", [(CLASS_2, 2.5, 4.5)]),  # C1
        ("X2", [(CLASS_2, 2.5, 3.5), (CLASS_2, 2.5, 1.6)]),  # C4 C5
        ("E6", [(CLASS_2, 6, 0.9), (CLASS_2, 1.5, 3.8), (CLASS_2, 1.5, 3.0)]),  # W49 C8 C9
        ("CH", [(CLASS_2, 10, 1.5)]),  # W27
        ("XS", [(CLASS_2, 10, 2.2)]),  # W2
        ("W1/3", [(CLASS_5, 6, 25)]),  # a cord by itself
        ("C15/3", [(CLASS_5, 1.5, 1.5)]),
        ("B1", [(CLASS_2, 16, 1.5)]),  # the bond
    ],
)
def test_expected_earth_by_length_and_iec_60228(
    kitchen: dict[str, Trial], name: str, way: list[tuple[dict[float, float], float, float]]
) -> None:
    expected = sum(table[size] * metres / 1000 for table, size, metres in way)
    assert kitchen[f"PE-{name}"].expected == pytest.approx(expected, rel=1e-6)


def test_expected_earth_by_nfpa_70_chapter_9_table_8() -> None:
    """12 AWG stranded 1.98 ohm/kft at 75 degC; R2 = R1 (1 + 0.00323 (20 - 75)), note 2."""
    found = trials(analyse(read(CLINIC).rigs[-1]))
    cold = 1.98 / 304.8 * (1 + 0.00323 * (20 - 75))
    assert found["PE-M1"].expected == pytest.approx(5.5 * cold, rel=0.002)  # C1, 3x12AWG 5.5m


PARALLEL = """
supply G "Site" 230V 50Hz 16A fault=1kA bonded
breaker Q 16A poles=2 curve=C breaks=6kA
bus EB 50A positions=6
socket X1 16A holds=2
socket X2 16A holds=2
cable W1 3x2.5mm2 2m G.(L N PE) -> Q.(1 3) EB.1
cable C1 3x2.5mm2 8m Q.(2 4) EB.2 -> X1.(L N PE)
cable C2 3x2.5mm2 4m X1.(L N PE) -> X2.(L N PE)
wire  W2 2.5mm2 12m EB.3 -> X2.PE
"""


def test_ways_side_by_side_are_reckoned_together() -> None:
    """A ring of 8, 4 and 12 m: at 8 m, 8 in parallel with 16; at 12 m, 12 with 12."""
    found = trials(stage_of(PARALLEL))
    per_m = CLASS_2[2.5] / 1000
    assert found["PE-X1"].expected == pytest.approx(per_m * 8 * 16 / 24, rel=1e-6)
    assert found["PE-X2"].expected == pytest.approx(per_m * 12 * 12 / 24, rel=1e-6)


def test_an_earth_kept_apart_must_read_open() -> None:
    """The launch's shore earth ends at its inlet and the transformer: no joint to the hull."""
    found = trials(analyse(read(ROOT / "examples/survey_launch.rig").rigs[-1]))
    shore = found.get("PE-XS")
    assert shore is None or shore.expected == math.inf
    assert found["DEAD-dockside-PED"].where == "XS.N to XS.PE"


# IEC 60364-6:2016 Table 6.1: nominal volts of the circuit, test volts DC, least MOhm.
TABLE_6_1 = [(12, 250, 0.5), (50, 250, 0.5), (50.1, 500, 1.0), (230, 500, 1.0), (500, 500, 1.0),
             (501, 1000, 1.0), (1000, 1000, 1.0)]  # fmt: skip


@pytest.mark.parametrize(("volts", "test", "least"), TABLE_6_1)
def test_insulation_table(volts: float, test: float, least: float) -> None:
    assert figures.insulation(volts) == (test, least)


def test_no_insulation_test_beyond_the_table() -> None:
    with pytest.raises(KeyError):
        figures.insulation(1001)


def test_insulation_of_mains_and_of_extra_low_voltage(kitchen: dict[str, Trial]) -> None:
    assert kitchen["IR-Q5"].low == 1.0 and kitchen["IR-Q5"].task.startswith("500 V DC")
    assert kitchen["IR-QD1"].low == 0.5 and kitchen["IR-QD1"].task.startswith("250 V DC")
    assert "E3, E4" in kitchen["IR-Q9"].task, "electronics are taken out first"
    assert kitchen["IR-apart"].low == 1.0, "mains to extra-low: the higher of the two"


VAN = """
supply G "Site" 230V 50Hz 16A fault=1kA bonded
inlet XS 16A
rcd F0 25A 30mA poles=1N breaks=10kA
breaker Q1 6A poles=2 breaks=6kA
charger U1 "Charger" 10A 12V input=230V
battery GB 12V 100Ah fault=1kA
fuse F1 15A class=ATO dc breaks=2kA
fuse F2 5A class=ATO dc breaks=2kA
lamp E1 12V 10W dc
bus P 50A positions=4
bus M 50A positions=4
earth CH positions=2
cable W1 3x2.5mm2 5m G.(L N PE) -> XS.(L N PE) cord
cable W2 3x2.5mm2 1m XS.(L N PE) -> F0.(1 N1) CH.1
wire W3 2.5mm2 0.2m F0.2 -> Q1.1
wire W4 2.5mm2 0.2m F0.N2 -> Q1.3
cable W5 2x1.5mm2 1m Q1.(2 4) -> U1.(L N)
wire D1 4mm2 1m U1.+ -> F1.2
wire D2 4mm2 0.1m F1.1 -> P.1
wire D3 4mm2 1m U1.- -> M.1
wire D4 4mm2 0.1m GB.+ -> P.2
wire D5 4mm2 0.1m GB.- -> M.2
wire D6 1.5mm2 0.1m P.3 -> F2.1
wire D7 1.5mm2 1m F2.2 -> E1.+
wire D8 1.5mm2 1m E1.- -> M.3
bond B1 4mm2 0.5m M.4 -> CH.2
"""


def test_a_device_of_its_own_makes_no_converter_dead() -> None:
    """The charger puts out what the mains put in, with its fuse to the battery open."""
    van = trials(stage_of(VAN))
    assert "all dead with F2 open" in van["POL-F2"].task
    assert "with F1 open dead, but for what U1 may still feed" in van["POL-F1"].task


def test_what_a_test_voltage_harms_on_extra_low_voltage_is_taken_out() -> None:
    assert "out or joined: E1" in trials(stage_of(VAN))["IR-F2"].task


def test_the_weakest_breaking_device_is_looked_for_behind_a_residual_one() -> None:
    """IEC 61008-1: a residual-current device breaks no short circuit; its breaker of 6 kA must."""
    assert trials(stage_of(VAN))["PFC-XS"].high == 6000.0


RESIDUAL = """
supply G "Site" 230V 50Hz 32A fault=1kA bonded
bus EB 50A positions=6
{device}
socket X 16A
cable W1 3x6mm2 2m G.(L N PE) -> F.(1 N1) EB.1
cable W2 3x2.5mm2 3m F.(2 N2) EB.2 -> X.(L N PE)
"""


@pytest.mark.parametrize(
    ("device", "book", "expected"),
    [
        # IEC 61008-1, IEC 61009-1: general 300 and 40 ms; type S 130 to 500 and 50 to 150 ms.
        ("rcd F 40A 30mA type=AC", "iec60364", {"1x": (None, 300), "5x": (None, 40)}),
        ("rcd F 40A 100mA type=A delayed", "iec60364", {"1x": (130, 500), "5x": (50, 150)}),
        # ABYC E-11 11.11.1: 30 mA, 100 ms.
        ("breaker F 30A poles=1N gfci=30mA", "abyc-e11", {"1x": (None, 100), "5x": (None, 100)}),
        # UL 943 (from memory): (20 / 5)^1.43 s at 5 mA.
        ("breaker F 20A poles=1N gfci=5mA", "nfpa70", {"1x": (None, 1000 * (20 / 5) ** 1.43)}),
    ],
)
def test_times_of_residual_current_devices(
    device: str, book: str, expected: dict[str, tuple[float | None, float]]
) -> None:
    found = trials(stage_of(RESIDUAL.format(device=device), book))
    for multiple, (low, high) in expected.items():
        trial = found[f"RCD-F-{multiple}"]
        assert trial.low == low
        assert trial.high == pytest.approx(high, rel=0.005)


@pytest.mark.parametrize(
    ("type", "waves"),
    [("AC", set()), ("A", {"pulsating"}), ("F", {"pulsating"}), ("B", {"pulsating", "smooth"})],
)
def test_waves_a_type_must_see(type: str, waves: set[str]) -> None:
    found = trials(stage_of(RESIDUAL.format(device=f"rcd F 40A 30mA type={type}")))
    seen = {key.removeprefix("RCD-F-") for key in found if key.startswith("RCD-F-")}
    assert seen & {"pulsating", "smooth"} == waves
    if "pulsating" in waves:
        assert found["RCD-F-pulsating"].task.startswith("42 mA"), "1.4 x 30 mA"


def test_a_residual_device_is_timed_from_every_source(kitchen: dict[str, Trial]) -> None:
    assert {"RCD-F1-1x-SITE", "RCD-F1-1x-GEN", "RCD-F3-1x"} <= kitchen.keys()


def test_loop_against_the_band_and_what_is_measured_cold(kitchen: dict[str, Trial]) -> None:
    """B16 opens in 0.4 s at 5 x 16 A: 0.95 x 230 / 80 = 2.73 ohm (BS 7671 Table 41.3), x 0.8."""
    assert kitchen["ZS-Q5"].high == pytest.approx(math.floor(273.125 * 0.8) / 100)
    assert "B45" in figures.tables()["limits"]["measured-cold"]["source"]


def test_the_08_is_only_where_it_is_cited() -> None:
    found = trials(analyse(read(CLINIC).rigs[-1]))
    loops = [trial for key, trial in found.items() if key.startswith("ZS-")]
    assert loops and not any("x 0.8," in trial.basis for trial in loops)


def test_an_inverter_holds_its_current_so_a_residual_device_must_open(
    kitchen: dict[str, Trial],
) -> None:
    assert "F3" in kitchen["ZS-Q17"].task and kitchen["ZS-Q17"].high == 1666  # 50 V / 30 mA


STAGES = [
    pytest.param(rig, id=f"{path.stem}-{rig.stage}") for path in EXAMPLES for rig in read(path).rigs
]


@pytest.mark.parametrize("rig", STAGES)
def test_bonds_by_mode_against_a_count_from_the_raw_statements(rig) -> None:  # type: ignore[no-untyped-def]
    """For every mode and every live system of alternating current: joined, or told to be open."""
    found = trials(analyse(rig))
    counted = 0
    for mode in rig.modes.values():
        net = RawNet(rig, mode)
        for name, (_, neutral, _) in net.live().items():
            counted += 1
            joints = net.joints(neutral)
            key = f"{mode.name}-{name}"
            assert (f"NE-{key}" in found) is bool(joints)
            assert (f"OPEN-{key}" in found) is not joints
            for owner in joints:
                assert owner in found[f"NE-{key}"].task
    assert counted or not any(device.kind == "supply" for device in rig.devices.values())


FLOATING = """
supply S "Site" 230V 50Hz 16A fault=1kA bonded
generator G "Portable" 230V 50Hz 16A fault=100A floating
selector QC 16A poles=2
bus EB 50A positions=6
heater E 230V 1000W
cable W1 3x2.5mm2 2m S.(L N PE) -> QC.(a-L a-N) EB.1
cable W2 3x2.5mm2 2m G.(L N PE) -> QC.(b-L b-N) EB.2
cable W3 3x2.5mm2 2m QC.(out-L out-N) EB.3 -> E.(L N PE)
mode site { S=on G=off QC=a }
mode gen { S=off G=on QC=b }
"""


def test_a_floating_system_is_to_be_found_open() -> None:
    found = trials(stage_of(FLOATING))
    assert found["NE-site-S"].high == 3.0
    assert found["OPEN-gen-G"].expected == math.inf
    assert "LE-gen-G" not in found, "line to earth is not defined there"


def test_the_order_is_the_books() -> None:
    for path in EXAMPLES:
        stage = analyse(read(path).rigs[-1])
        order = figures.tables()["order"][stage.book.name]
        keys = [step.key for step in commissioning(stage)]
        assert keys == [key for key in order if key in keys]
        assert keys.index("inspection") < keys.index("earth") < keys.index("polarity")
        assert keys.index("insulation") < keys.index("bonds"), "dead before live"


def test_every_fault_that_only_a_look_can_find_has_its_line() -> None:
    """The ten of the list of faults that no text can show, and the washer under the lug."""
    only = {"loose screw", "damaged insulation", "wrong conductor pulled", "crimp quality",
            "missing grommet", "water ingress", "earth clamp on paint"}  # fmt: skip
    told = {f.removeprefix("x ") for row in figures.tables()["inspection"] for f in row["fault"]}
    assert only <= told
    assert "102 steel washer" in told
    # Three are tests of their own: device swapped, the site's polarity, the real trip time.
    found = trials(analyse(read(KITCHEN).rigs[-1]))
    assert {"FIT-Q1", "POL-SITE", "RCD-F1-1x-SITE"} <= found.keys()


def test_figures_say_where_they_come_from() -> None:
    with open(figures.FILE, "rb") as file:
        raw = tomllib.load(file)
    books = {"iec60364", "nfpa70", "abyc-e11"}
    statuses = {"confirmed", "partly", "from-memory", "assumed"}
    assert set(raw["order"]) == {*books, "source"}
    for key, step in raw["steps"].items():
        assert set(step["clause"]) == books and step["status"] in statuses, key
    for key, row in raw["limits"].items():
        assert row["clause"] and row["status"] in statuses and row["unit"], key
        assumed = "common practice, no published source" in row["clause"]
        assert assumed is (row["status"] == "assumed"), key
    assert [a < b for (a, *_), (b, *_) in pairwise(raw["insulation"]["rows"])] == [True, True]


def test_bounds_are_rounded_to_the_safe_side() -> None:
    low = tidy(Trial("T", "", "", "", "", "V", None, 113.2, 125.9))
    assert (low.low, low.high) == (114, 125)
    exact = tidy(Trial("T", "", "", "", "", "A", 112.5, 112.5, 112.5))
    assert exact.high == 112.5


def changed(old: str, new: str) -> set[str]:
    """The tests due again after one change to the kitchen's text; any spaces stand for one."""
    text = KITCHEN.read_text(encoding="utf-8")
    other, count = re.subn(old.replace(" ", " +"), new, text)
    assert count == 1
    stages = [read_text(each).rigs[-1] for each in (text, other)]
    before, after = (
        {t.id: digest(t, rig) for step in commissioning(analyse(rig)) for t in step.trials}
        for rig in stages
    )
    return {key for key in before if before[key] != after.get(key)}


def test_a_longer_cable_makes_its_own_circuit_due_again_and_no_other() -> None:
    due = changed("cable C5 3x2.5mm2 1.6m", "cable C5 3x2.5mm2 2.6m")
    assert {"PE-X2", "IR-Q5", "POL-Q5", "ZS-Q5"} <= due
    assert not due & {"PE-X1", "IR-Q6", "POL-Q6", "ZS-Q6", "FIT-Q5", "PE-E6"}
    assert "NE-site-SITE" in due, "it carries the neutral of that system"
    assert "NE-night-U1" not in due, "and not of this one"


def test_a_label_makes_nothing_due_again() -> None:
    assert changed('lamp E5 "Cooking light"', 'lamp   E5 "Light over the griddle"') == set()


def test_another_device_fitted_is_due_again() -> None:
    due = changed('breaker Q2 "Water boiler" b16', 'breaker Q2 "Water boiler" c16')
    assert {"FIT-Q2", "ZS-Q2", "IR-Q2", "POL-Q2"} <= due
    assert not due & {"FIT-Q1", "ZS-Q1", "PE-E1"}


THREE = """
supply G "Site" three 400V 50Hz 32A fault=3kA bonded
breaker Q 32A poles=3 curve=C breaks=6kA
bus EB 63A positions=6
motor M three 400V 4000W
cable W1 5x6mm2 5m G.(L1 L2 L3 N PE) -> Q.(1 3 5) NB.1 EB.1
cable W2 4x4mm2 5m Q.(2 4 6) EB.2 -> M.(L1 L2 L3 PE)
bus NB 63A positions=6
"""


def test_three_lines_have_a_sequence_and_single_ones_have_none(kitchen: dict[str, Trial]) -> None:
    assert any(key.startswith("SEQ-") for key in trials(stage_of(THREE)))
    assert not any(key.startswith("SEQ-") for key in kitchen)


def test_pins_of_an_inlet_that_is_not_plugged_in_are_dead(kitchen: dict[str, Trial]) -> None:
    pins = {key for key in kitchen if key.startswith("PINS-")}
    assert pins == {"PINS-site-XG", "PINS-gen-XS", "PINS-night-XS", "PINS-night-XG"}
    assert all(kitchen[key].expected == 0.0 and kitchen[key].unit == "V" for key in pins)


def test_a_changeover_is_told_what_each_position_feeds(kitchen: dict[str, Trial]) -> None:
    assert "a: SITE; b: GEN" in kitchen["SWAP-QC"].task


def test_drop_and_its_limit_by_the_book(kitchen: dict[str, Trial]) -> None:
    """E1 on the site's supply: 5 % of 230 V (IEC 60364-5-52 Annex G, other than lighting)."""
    assert kitchen["DROP-E1"].high == 11.5


BATTERY = """battery GB "Battery" 12V 100Ah fault=2kA
charger U1 "Charger" 12V 20A
supply SITE "Site" 230V 50Hz 16A fault=1kA bonded
breaker QM "Main" 16A poles=2 curve=C breaks=6kA standard=IEC60898
fuse F1 "Main fuse" 40A class=SF30 breaks=4kA dc
bus PB "Plus" 100A positions=4
bus NB "Minus" 100A positions=4
load M1 "Pump" 12V 60W dc
cable W1 3x2.5mm2 5m SITE.(L N PE) -> QM.(1 3) U1.PE
cable W2 2x2.5mm2 1m QM.(2 4) -> U1.(L N)
wire D1 10mm2 0.2m GB.+ -> F1.1
wire D2 10mm2 0.5m F1.2 -> PB.1
wire D3 6mm2 0.5m U1.+ -> PB.2
wire D4 6mm2 0.5m U1.- -> NB.1
wire D5 2.5mm2 4m PB.3 -> M1.+
wire D6 2.5mm2 4m M1.- -> NB.2
wire D7 10mm2 0.5m NB.3 -> GB.-
"""


def test_a_drop_from_a_battery_is_read_with_nothing_charging() -> None:
    """The charger feeds the pump too: the drop from the battery is asked where it is off."""
    modes = "mode site { SITE=on }\nmode away { SITE=off }\n"
    assert trials(stage_of(BATTERY + modes))["DROP-M1"].mode == "away"
    only = trials(stage_of(BATTERY + "mode site { SITE=on }\n"))["DROP-M1"]
    assert only.mode == "site" and "U1 switched off" in only.task
