"""Figures worked out by hand, five a book and more: each with its arithmetic and its clause.

The tables' cells are written out here as they are printed; nothing is read from the checker's own.
"""

from __future__ import annotations

import math

import pytest
from ferrule.checks.books.book import Book, Figure, book
from ferrule.checks.solve import Drop, Fault, solution
from ferrule.checks.tracing.trace import Stage, analyse
from ferrule.dsl.model import Size
from ferrule.dsl.reader import read_text

NFPA = """rig "Hand"
rules nfpa70
ambient 30degC
route DUCT "Duct" ambient=50degC
supply  SHORE 120V 60Hz 30A fault=5kA bonded
inlet   XS 30A
breaker QM 30A poles=1 breaks=10kA standard=UL489
bus     LB 100A positions=6
bus     NB 100A positions=6
bus     EB 100A positions=6
earth   CH positions=1
breaker Q1 20A poles=1N gfci=5mA breaks=10kA standard=UL489
breaker Q2 20A poles=1N gfci=5mA breaks=10kA standard=UL489
breaker Q3 20A poles=1N gfci=5mA breaks=10kA standard=UL489
heater  E1 120V 1200W
heater  E2 120V 600W
heater  E3 120V 600W
cable W1 3x10AWG 50ft SHORE.(L N PE) -> XS.(L N PE) cord
cable W2 3x10AWG 1ft XS.(L N PE) -> QM.1 NB.1 EB.1
wire W3 10AWG 1ft QM.2 -> LB.1
wire W4 10AWG 1ft LB.2 -> Q1.1
wire W5 10AWG 1ft LB.3 -> Q2.1
wire W6 10AWG 1ft LB.4 -> Q3.1
wire W7 10AWG 1ft NB.2 -> Q1.N1
wire W8 10AWG 1ft NB.3 -> Q2.N1
wire W9 10AWG 1ft NB.4 -> Q3.N1
wire W10 8AWG 3ft EB.6 -> CH.1
cable C1 3x12AWG 60ft Q1.(2 N2) EB.2 -> E1.(L N PE) via=DUCT
cable C2 3x12AWG 10ft Q2.(2 N2) EB.3 -> E2.(L N PE) via=DUCT
cable C3 3x12AWG 10ft Q3.(2 N2) EB.4 -> E3.(L N PE) via=DUCT
mode one "One heater" { E2=off E3=off }
"""

IEC = """rig "Hand"
rules iec60364
ambient 30degC
route DUCT "Duct" ambient=40degC
supply  SITE 230V 50Hz 16A fault=1.5kA bonded
inlet   XS 16A
breaker QM 16A poles=2 curve=C rcd=30mA type=A breaks=6kA standard=IEC61009
bus     LB 63A positions=4
bus     NB 63A positions=4
bus     EB 63A positions=6
earth   CH positions=1
breaker Q1 13A poles=2 curve=C breaks=6kA standard=IEC60898
breaker Q2 13A poles=2 curve=B breaks=6kA standard=IEC60898
breaker Q3 13A poles=2 curve=B breaks=6kA standard=IEC60898
heater  E1 230V 2300W
heater  E2 230V 1000W
heater  E3 230V 1000W
cable W1 3x2.5mm2 25m SITE.(L N PE) -> XS.(L N PE) cord plug
cable W2 3x2.5mm2 1m XS.(L N PE) -> QM.(1 3) EB.1
link  W3 QM.2 -> LB.1
link  W4 QM.4 -> NB.1
link  W5 LB.2 -> Q1.1
link  W6 NB.2 -> Q1.3
link  W7 LB.3 -> Q2.1
link  W8 NB.3 -> Q2.3
link  W9 LB.4 -> Q3.1
link  W10 NB.4 -> Q3.3
wire  W11 6mm2 1m EB.6 -> CH.1
cable C1 3x2.5mm2 12m Q1.(2 4) EB.2 -> E1.(L N PE) via=DUCT
cable C2 3x2.5mm2 5m Q2.(2 4) EB.3 -> E2.(L N PE) via=DUCT
cable C3 3x2.5mm2 5m Q3.(2 4) EB.4 -> E3.(L N PE) via=DUCT
mode one "One heater" { E2=off E3=off }
"""

E11 = """rig "Hand"
rules abyc-e11
ambient 30degC
place ENG "Engine space" engine ambient=50degC
battery GB 24V 200Ah fault=3kA holds=2
fuse    F1 40A 125V dc class=T breaks=20kA
bus     PB 100A positions=4
bus     NB 100A positions=4
breaker Q1 10A 32V poles=1 dc breaks=5kA
breaker Q2 10A 32V poles=1 dc breaks=5kA
lamp    E1 dc 24V 240W at=ENG
lamp    E2 dc 24V 24W at=ENG
route   SOLE "Conduit"
wire  D1 6AWG 0.15m GB.+ -> F1.1
wire  D2 6AWG 1m F1.2 -> PB.1
wire  D3 6AWG 1m GB.- -> NB.1
link  D4 PB.2 -> Q1.1
link  D5 PB.3 -> Q2.1
cable D6 2x10AWG 6m Q1.2 NB.2 -> E1.(+ -) via=SOLE
cable D7 2x10AWG 6m Q2.2 NB.3 -> E2.(+ -) via=SOLE
mode one "One lamp" { E2=off }
"""


def stage(text: str) -> Stage:
    reading = read_text(text)
    assert not reading.problems, [problem.message for problem in reading.problems]
    return analyse(reading.rigs[0])


def value(found: object) -> float:
    assert isinstance(found, Figure), found
    return found.value


def ampacity(text: str, conductor: str) -> float:
    rig = stage(text)
    return value(rig.ampacity(rig.rig.conductors[conductor]))


def drop(text: str, load: str) -> Drop:
    found = solution(stage(text).modes[0]).drop(load)
    assert found is not None
    return found


def fault(text: str, end: str, to: str, case: str) -> Fault:
    found = solution(stage(text).modes[0]).fault(*end.split("."), to, case)  # type: ignore[arg-type]
    assert isinstance(found, Fault), found
    return found


def earth(name: str, rating_a: float, size: str, mm2: float, dc: bool = False) -> float:
    asked: Book = book(name)
    return value(asked.earth_min(rating_a, Size(mm2, size), dc=dc))


# ---- NFPA 70 -----------------------------------------------------------------------------------


def test_nfpa_ampacity_hot_and_bundled() -> None:
    """310.16: 12 AWG, 90 degC, 30 A.  310.15(B)(1)(1): 46-50 degC, 0.82.  310.15(C)(1): six
    current-carrying conductors (three cables of two), 80 %.  30 x 0.82 x 0.80 = 19.68 A; the
    terminals' column (60 degC, 20 A) is above that."""
    assert ampacity(NFPA, "C1/1") == pytest.approx(19.68)


def test_nfpa_next_standard_rating() -> None:
    """240.4(B): 19.68 A is no standard rating; the next of 240.6(A) is 20 A."""
    rig = stage(NFPA)
    assert value(rig.limit(rig.rig.conductors["C1/1"])) == 20.0


def test_nfpa_drop_from_table_8() -> None:
    """Chapter 9 Table 8, stranded, uncoated: 10 AWG 1.24, 12 AWG 1.98 ohm/kft at 75 degC.
    10 AWG: W1, W2 and 2 ft on the line, 1 ft on the neutral: 53 + 52 ft, 0.1302 ohm.
    12 AWG: 2 x 60 ft, 0.2376 ohm.  10 A x 0.3678 ohm = 3.678 V; 3.065 %."""
    # The duct is as hot as 50 degC; the book's 75 degC stands for the conductor all the same.
    found = drop(NFPA, "E1")
    assert found.amps == pytest.approx(10.0)
    assert found.volts == pytest.approx(3.678, rel=2e-3)


def test_nfpa_greatest_fault_at_the_inlet() -> None:
    """Source 120 V / 5 kA = 24 mohm at the power factor of 0.7 that devices are tested at up to
    6 kA (IEC 60947-2 Table 11): 16.8 + j 17.14 mohm.  2 x 50 ft of 10 AWG cold, at 20 degC:
    0.124 (1 + 0.00323 (20 - 75)) = 0.10197 ohm (Table 8 note 2); Table 9, PVC: 0.050 ohm/kft, j 5
    mohm.  |0.11877 + j 0.02214| = 0.12082 ohm; 120 / 0.12082 = 993 A."""
    assert fault(NFPA, "XS.L", "neutral", "max").amps == pytest.approx(993.2, rel=1e-3)


def test_nfpa_least_fault_at_the_inlet() -> None:
    """The same loop as hot as the insulation of a cord allows, 60 degC (Table 400.5(A)(1)):
    0.124 (1 + 0.00323 (60 - 75)) = 0.11799 ohm.  |0.13479 + j 0.02214| = 0.1366 ohm;
    120 / 0.1366 = 878.5 A."""
    assert fault(NFPA, "XS.L", "neutral", "min").amps == pytest.approx(878.5, rel=1e-3)


@pytest.mark.parametrize(
    ("rating", "mm2"),
    [(15, 2.08), (20, 3.31), (30, 5.26), (60, 5.26), (100, 8.37), (200, 13.3)],
)
def test_nfpa_equipment_grounding(rating: float, mm2: float) -> None:
    """250.122, copper: 15 A 14, 20 A 12, 30 and 60 A 10, 100 A 8, 200 A 6 AWG (ASTM B258 areas)."""
    assert earth("nfpa70", rating, "2AWG", 33.6) == pytest.approx(mm2, rel=2e-3)


# ---- IEC 60364 ---------------------------------------------------------------------------------


def test_iec_ampacity_hot_and_bundled() -> None:
    """B.52.2, method B2, 2.5 mm2, PVC, two loaded: 23 A.  B.52.14, 40 degC: 0.87.  B.52.17, three
    circuits in a bunch: 0.70.  23 x 0.87 x 0.70 = 14.007 A."""
    assert ampacity(IEC, "C1/1") == pytest.approx(14.007, abs=0.005)


def test_iec_drop() -> None:
    """IEC 60228 at 20 degC: class 5 7.98, class 2 7.41 ohm/km.  The cord (rubber, 60 degC)
    2 x 25 m x 7.98 x 1.16 = 0.46284 ohm; W2 and C1 (PVC, 70 degC) 2 x 13 m x 7.41 x 1.20 =
    0.23119 ohm.  10 A x 0.69403 ohm = 6.94 V; 3.02 %."""
    found = drop(IEC, "E1")
    assert found.amps == pytest.approx(10.0)
    assert found.volts == pytest.approx(6.940, rel=2e-3)


def test_iec_least_fault_to_earth() -> None:
    """IEC 60909-0, c = 0.95: 218.5 V.  Source: 1.10 x 230 / 1500 = 0.16867 ohm at power factor
    0.95: 0.16023 + j 0.05267.  The loop of the test above, line and protective conductor alike:
    0.16023 + 0.69403 = 0.85426 ohm; reactance 2 x 38 m x 0.08 mohm/m = 6.1 mohm (0.08 mohm/m:
    IEC 60364-5-52 Annex G).  |0.85426 + j 0.0588| = 0.8563; 218.5 / 0.8563 = 255.2 A."""
    assert fault(IEC, "E1.L", "earth", "min").amps == pytest.approx(255.2, rel=2e-3)


def test_iec_disconnection() -> None:
    """IEC 60364-4-41 Table 41.1, TN: 230 V 0.4 s, 400 V 0.2 s.  A C 13 opens at once from 10 x 13 =
    130 A (IEC 60898-1): Zs is at most 0.95 x 230 / 130 = 1.681 ohm."""
    rules = book("iec60364")
    times = [rules.disconnect_time(volts, rated_a=16.0) for volts in (230.0, 400.0)]
    assert [time.value for time in times if time] == [0.4, 0.2]
    assert rules.loop_max(230.0, 130.0).value == pytest.approx(1.6808, rel=1e-3)


@pytest.mark.parametrize(("line", "mm2"), [(2.5, 2.5), (16.0, 16.0), (25.0, 16.0), (50.0, 25.0)])
def test_iec_protective_conductor(line: float, mm2: float) -> None:
    """IEC 60364-5-54 Table 54.2: as the line up to 16, 16 up to 35, half the line above."""
    assert earth("iec60364", 16.0, f"{line:g}mm2", line) == pytest.approx(mm2)


def test_iec_adiabatic() -> None:
    """IEC 60364-5-54 A.54.4: k = 226 sqrt(ln((234.5 + 160) / (234.5 + 70))) = 115.0 for PVC;
    2.5 mm2 stands (115.0 x 2.5)2 = 82.7 kA2s."""
    rig = stage(IEC)
    k = value(rig.book.withstand(rig.rig.conductors["C1/1"], rig.rig))
    assert k == pytest.approx(226 * math.sqrt(math.log(394.5 / 304.5)), rel=1e-3)
    assert (k * 2.5) ** 2 == pytest.approx(82.66e3, rel=1e-3)


# ---- ABYC E-11 ---------------------------------------------------------------------------------


def test_e11_ampacity_in_the_engine_space() -> None:
    """Table VI-A: 10 AWG, 105 degC, 60 A outside engine spaces; inside x 0.85 = 51 A; four to six
    conductors in a bundle x 0.60 (VI-B): 60 x 0.85 x 0.60 = 30.6 A."""
    assert ampacity(E11, "D6/1") == pytest.approx(30.6)


def test_e11_ampacity_outside() -> None:
    """Table VI-A: 6 AWG, 105 degC, 120 A outside engine spaces, alone."""
    assert ampacity(E11, "D2") == pytest.approx(120.0)


def test_e11_drop() -> None:
    """11.14.2: E = K I L / CM with K = 10.75, L both ways in feet.  10 A through 2 x 6 m of 10 AWG
    (9343 CM of SAE J1127): 10.75 x 10 x 39.37 / 9343 = 0.4530 V; 2.15 m of 6 AWG (25910 CM):
    10.75 x 10 x 7.054 / 25910 = 0.0293 V.  0.4823 V; 2.01 %."""
    found = drop(E11, "E1")
    assert found.amps == pytest.approx(10.0)
    assert found.volts == pytest.approx(0.4823, rel=1e-3)


def test_e11_battery_fault() -> None:
    """24 V / 3 kA = 8 mohm.  6 AWG, 13.3 mm2 of copper at 20 degC, 17.241 mohm mm2/m: 2.15 m are
    2.79 mohm; 10 AWG, 5.26 mm2: 12 m are 39.3 mohm.  24 / 50.1 mohm = 479 A (SAE areas are a tenth
    smaller, so up to a tenth less)."""
    found = fault(E11, "E1.+", "neutral", "max").amps
    assert 0.88 * 479 < found < 1.03 * 479


@pytest.mark.parametrize(
    ("size", "mm2", "earth_mm2"), [("2/0AWG", 67.4, 53.5), ("4AWG", 21.2, 13.3)]
)
def test_e11_case_of_a_dc_device(size: str, mm2: float, earth_mm2: float) -> None:
    """E-11, DC grounding: not more than one size under the positive conductor: 2/0 - 1/0 AWG, 4 - 6
    AWG (there is no 5 AWG in the trade)."""
    assert earth("abyc-e11", 100.0, size, mm2, dc=True) == pytest.approx(earth_mm2, rel=2e-3)


def test_branch_drop_by_hand() -> None:
    # NFPA 70 Chapter 9 Table 8, 12 AWG stranded: 1.98 ohm/kft at 75 degC; E1 on C1, 60 ft, there
    # and back at 10 A: 10 A x 120 ft x 1.98 mohm/ft = 2.376 V of 120 V.  The cord and the feeder
    # ahead of Q1 are not in it; in the whole drop they are.
    (view, *_) = analyse(read_text(NFPA).rigs[0]).modes
    part, whole = solution(view).branch_drop("E1"), solution(view).drop("E1")
    assert isinstance(part, Drop) and isinstance(whole, Drop)
    assert part.volts == pytest.approx(2.376, rel=2e-3)
    assert part.percent == pytest.approx(1.98, rel=2e-3) and whole.volts > part.volts + 1
