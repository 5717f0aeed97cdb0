"""Ferrules, lugs, threads, diameters and fill against what is printed of them."""

from __future__ import annotations

import math

import pytest
from ferrule.checks.trade.fittings import (
    FERRULES,
    LUGS,
    MODULE_MM,
    PACKING,
    THREAD_NEAR,
    WIRE_MM,
    box_cm3,
    cable_mm,
    ferrule_mm2,
    fill_limit,
    lug_studs,
    printed,
    shortest_sleeve_mm,
    thread_mm,
    usual_torque,
    wire_mm,
)
from ferrule.dsl.units import one_size

# DIN 46228-4, the colours of three makers' charts side by side; 35 and 50 mm2 from memory.
COLOURS = {
    0.5: "WH", 0.75: "GY", 1.0: "RD", 1.5: "BK", 2.5: "BU", 4: "GY", 6: "YE", 10: "RD", 16: "BU",
    25: "YE", 35: "RD", 50: "BU",
}  # fmt: skip
# The gauge printed beside each section in the same charts.
GAUGES = {"20AWG": 0.5, "18AWG": 0.75, "16AWG": 1.5, "14AWG": 2.5, "12AWG": 4, "10AWG": 6,
          "8AWG": 10, "6AWG": 16, "4AWG": 25, "2AWG": 35}  # fmt: skip
# DIN 46234, section against smallest and largest stud (from memory).
STUDS = {0.75: (2, 8), 1.5: (3, 12), 2.5: (3, 12), 4: (4, 12), 6: (4, 12), 10: (5, 12),
         16: (5, 12), 25: (5, 16), 35: (6, 16), 50: (6, 16), 70: (8, 16), 95: (8, 20)}  # fmt: skip
# NFPA 70 annex C: THHN in trade size 1/2 EMT (from memory); table 4: inside 0.622 in.
IN_HALF_INCH_EMT = {"14AWG": 12, "12AWG": 9, "10AWG": 5, "8AWG": 3}
# NFPA 70 chapter 9 table 5, approximate diameter of THHN in inches (from memory).
THHN_INCHES = {"14AWG": 0.111, "12AWG": 0.130, "10AWG": 0.164, "8AWG": 0.216, "4AWG": 0.324}
# H05VV-F, smallest and largest mean diameter in mm, EN 50525-2-11 (from memory).
H05VV_F = {(2, "0.75mm2"): (5.7, 7.2), (3, "1mm2"): (6.3, 8.0), (3, "1.5mm2"): (7.4, 9.4),
           (3, "2.5mm2"): (9.2, 11.4), (5, "2.5mm2"): (11.2, 13.9)}  # fmt: skip


def area_in2(gauge: str) -> float:
    return float(printed("nfpa70", "conductor-area").rows[gauge][0])


def test_ferrule_colours_are_those_of_din_46228_4() -> None:
    assert {row[0]: row[2] for row in FERRULES} == COLOURS


@pytest.mark.parametrize("gauge", GAUGES)
def test_the_ferrule_of_a_gauge(gauge: str) -> None:
    assert ferrule_mm2(one_size(gauge)) == GAUGES[gauge]


def test_ferrules_rise_and_sleeves_with_them() -> None:
    sections = [row[0] for row in FERRULES]
    sleeves = [row[3][0] for row in FERRULES]
    assert sections == sorted(set(sections)) and sleeves == sorted(sleeves)
    assert shortest_sleeve_mm(6.0) == 12 and shortest_sleeve_mm(5.26) is None


def test_no_ferrule_beyond_the_table() -> None:
    """The standard goes from 0.5 to 50 mm2."""
    assert ferrule_mm2(one_size("0.25mm2")) is None
    assert ferrule_mm2(one_size("70mm2")) is None


@pytest.mark.parametrize("mm2", STUDS)
def test_studs_of_ring_lugs(mm2: float) -> None:
    assert lug_studs(mm2) == STUDS[mm2]


def test_lug_table_rises() -> None:
    for column in range(3):
        values = [row[column] for row in LUGS]
        assert values == sorted(values)


@pytest.mark.parametrize(
    ("thread", "mm"),
    [("M6", 6.0), ("M2.5", 2.5), ("3/8in", 9.525), ("5/16", 7.9375), ("No10", 4.826)],
)
def test_threads(thread: str, mm: float) -> None:
    """ISO 261; ASME B1.1: 3/8 in is 9.525 mm, number 10 is 0.190 in."""
    assert thread_mm(thread) == pytest.approx(mm)


@pytest.mark.parametrize("text", ["", "M", "bolt", "1/0in"])
def test_what_is_no_thread(text: str) -> None:
    assert thread_mm(text) is None


@pytest.mark.parametrize(("inch", "metric"), [("1/4in", "M6"), ("5/16in", "M8"), ("3/8in", "M10"),
                                              ("1/2in", "M12"), ("No10", "M5")])  # fmt: skip
def test_inch_and_metric_lugs_of_like_size_are_one(inch: str, metric: str) -> None:
    """Lugs are sold for both of a pair; common practice, no published source."""
    a, b = thread_mm(inch), thread_mm(metric)
    assert a and b and 1 / THREAD_NEAR <= a / b <= THREAD_NEAR


def test_neighbouring_metric_studs_are_two() -> None:
    assert all(b / a > THREAD_NEAR for a, b in ((5, 6), (6, 8), (8, 10), (10, 12)))


@pytest.mark.parametrize("gauge", IN_HALF_INCH_EMT)
def test_how_many_wires_go_into_a_conduit(gauge: str) -> None:
    """Table 1 (40 %) and table 5 give annex C: the printed counts of THHN in 1/2 in EMT."""
    inside = math.pi / 4 * 0.622**2
    assert int(fill_limit(3) * inside / area_in2(gauge)) == IN_HALF_INCH_EMT[gauge]


@pytest.mark.parametrize(
    ("count", "length_m", "share"),
    [(1, None, 0.53), (2, None, 0.31), (3, None, 0.4), (9, None, 0.4), (9, 0.6, 0.6),
     (2, 0.62, 0.31)],
)  # fmt: skip
def test_fill(count: int, length_m: float | None, share: float) -> None:
    """NFPA 70 chapter 9 table 1; a nipple of 24 in or less 60 %."""
    assert fill_limit(count, length_m) == share


@pytest.mark.parametrize("gauge", THHN_INCHES)
def test_diameter_of_a_wire(gauge: str) -> None:
    assert wire_mm(one_size(gauge)) == pytest.approx(25.4 * THHN_INCHES[gauge], rel=0.01)


def test_wires_get_thicker() -> None:
    assert [mm for _, mm in WIRE_MM] == sorted(mm for _, mm in WIRE_MM)


def test_packing_is_geometry() -> None:
    """n equal circles around a centre touch each other and the ring: 1 + 1 / sin(pi / n)."""
    for count in (2, 3, 4, 5, 6):
        assert PACKING[count] == pytest.approx(1 + 1 / math.sin(math.pi / count), abs=1e-3)


@pytest.mark.parametrize(("cores", "size"), H05VV_F)
def test_usual_cables_lie_in_their_standards_range(cores: int, size: str) -> None:
    low, high = H05VV_F[cores, size]
    assert low <= cable_mm(one_size(size), cores) <= high


def test_a_module_on_the_rail() -> None:
    """DIN 43880: 17.5 mm (+0.5); n modules ask for n x 18 mm."""
    assert MODULE_MM == 18


# NFPA 70 informative annex I, table I.1, slot up to 1.2 x 6.4 mm, Nm (a reprint's "B" columns).
ANNEX_I = {"14AWG": 2.3, "10AWG": 2.3, "8AWG": 2.8, "6AWG": 4.0, "4AWG": 4.0, "3AWG": 4.0}
# A maker's table of brass bolts that carry current, Nm.
BOLTS = {"M4": 1.2, "M5": 2.0, "M6": 3.0, "M8": 6.0, "M10": 10.0, "M12": 15.5}


@pytest.mark.parametrize("gauge", ANNEX_I)
def test_torque_of_a_screw(gauge: str) -> None:
    found = usual_torque(one_size(gauge), None)
    assert found and found[0] == ANNEX_I[gauge]


@pytest.mark.parametrize("thread", BOLTS)
def test_torque_of_a_stud(thread: str) -> None:
    found = usual_torque(None, thread)
    assert found and found[0] == BOLTS[thread]


def test_no_torque_beyond_the_table() -> None:
    assert usual_torque(one_size("2/0AWG"), None) is None
    assert usual_torque(one_size("2/0AWG"), "M20") is None


def test_box_fill() -> None:
    """NFPA 70 314.16(B): 4 x 12 AWG, an earth and a duplex socket: (4 + 1 + 2) x 2.25 in3.

    The published example counts 2.25 in3 more for clamps inside the box, 18.0 in3 in all.
    """
    twelve = one_size("12AWG")
    assert box_cm3([twelve] * 4, [twelve], True) == pytest.approx((18.0 - 2.25) * 16.387064)
    six_earths = box_cm3([], [twelve] * 6, False)
    assert six_earths == pytest.approx(2.25 * 1.5 * 16.387064)


def test_a_conduit_of_three_sizes() -> None:
    """A published example: 3 x 12, 4 x 10 and 8 x 8 AWG THWN fill 0.4171 in2."""
    filled = 3 * area_in2("12AWG") + 4 * area_in2("10AWG") + 8 * area_in2("8AWG")
    assert filled == pytest.approx(0.4171)
    assert 0.864 * fill_limit(15) < filled < 1.496 * fill_limit(15)  # 1 in no, 1-1/4 in yes
