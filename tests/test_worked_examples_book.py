"""Published worked examples: printed inputs, printed answer, and what the books give for them.

Each cites where it is printed.  Those that need a rig's network solved are with the
solver's tests.
"""

from __future__ import annotations

from math import acos, cos, sin, sqrt

import pytest
from ferrule.checks.books.book import Figure, book
from ferrule.checks.trade.sizes import area_mm2
from ferrule.dsl.model import Conductor, Rig, Size
from ferrule.dsl.reader import read_text
from printed_tables import printed

FEET = 1000.0  # Chapter 9 of NFPA 70 tables resistance per 1000 ft
MIL = 5.067075e-4  # mm2 in a circular mil
NFPA, ABYC, IEC = book("nfpa70"), book("abyc-e11"), book("iec60364")


def one(rules: str, size: str, length: str, items: str = "") -> tuple[Conductor, Rig]:
    """A conductor of that size and length, alone in a rig."""
    text = f"""rig "One"
rules {rules}
fuse F1 100A dc
fuse F2 100A dc
wire W {size} {length} F1.2 -> F2.1 {items}
"""
    (rig,) = read_text(text).rigs
    return rig.conductors["W"], rig


def found(figure: object) -> Figure:
    assert isinstance(figure, Figure), figure
    return figure


def impedance(size: str, column: str) -> float:
    """NFPA 70 Chapter 9 Table 9, ohm per 1000 ft."""
    return float(NFPA.tables["impedance"].cell(size, column))


def smallest(mils: float, areas: dict[str, float]) -> str:
    """The smallest size whose area is not below so many circular mils."""
    return next(size for size, area in areas.items() if area >= mils)


SAE = {size: float(cells[0]) for size, cells in ABYC.tables["circular-mils"].rows.items()}
AWG = {size: area_mm2(size) / MIL for size in NFPA.tables["resistance"].rows}


# -- voltage drop, North America ------------------------------------------------------------------


def test_sixteen_gauge_at_a_hundred_feet() -> None:
    """A training course's page: 2-wire, 16 AWG stranded, 4.99 ohm/kft, 100 ft one way, 4 A:
    4.0 V, 16.7 % of 24 V."""
    ohms = found(
        NFPA.resistance(
            *one("nfpa70", "16AWG", "100ft"), NFPA.celsius(*one("nfpa70", "16AWG", "1m"))
        )
    )
    volts = 2 * ohms.value * 4
    assert round(volts, 1) == 4.0
    assert 100 * volts / 24 == pytest.approx(16.7, abs=0.1)


@pytest.mark.parametrize(
    ("size", "feet", "volts"),
    [("10AWG", 200, 7.62), ("12AWG", 200, 11.8), ("12AWG", 500, 29.0)],
)
def test_three_phase_drops_in_steel_conduit(size: str, feet: float, volts: float) -> None:
    """Trade press, "Basics of calculating voltage drop": 480 V three-phase, 20 A, sqrt(3) I Z L, Z
    of Table 9 in steel at 0.85: 7.62 V (it prints 7620.8 / 1000), 11.8 V, 29 V."""
    drop = sqrt(3) * 20 * impedance(size, "Z steel") * feet / FEET
    assert drop == pytest.approx(volts, rel=0.016)


def test_least_size_for_a_three_phase_run() -> None:
    """Same article: 1.732 x 12.9 x 200 ft x 20 A / 14.4 V = 6207 CM, 12 AWG."""
    mils = 1.732 * 12.9 * 200 * 20 / 14.4
    assert mils == pytest.approx(6207, abs=1)
    assert smallest(mils, AWG) == "12AWG"


@pytest.mark.parametrize(("size", "feet"), [("10AWG", 377), ("12AWG", 244)])
def test_longest_three_phase_run(size: str, feet: float) -> None:
    """Same article: 1000 x 14.4 / (1.732 Z 20) = 377 and 244 ft."""
    assert int(FEET * 14.4 / (1.732 * impedance(size, "Z steel") * 20)) == feet


def test_impedance_at_a_power_factor() -> None:
    """NFPA 70 handbook, Table 9 (from memory): 1 AWG in aluminium conduit, R 0.16, X 0.046, pf
    0.85, 100 A, 150 ft, 240 V three-phase: 2.40 V to neutral, 4.16 V between lines, 1.7 %."""
    angle = acos(0.85)
    z = impedance("1AWG", "R aluminium") * cos(angle) + impedance("1AWG", "X") * sin(angle)
    drop = z * 100 * 150 / FEET
    assert drop == pytest.approx(2.40, abs=0.01)
    assert drop * sqrt(3) == pytest.approx(4.16, abs=0.01)
    assert 100 * drop * sqrt(3) / 240 == pytest.approx(1.7, abs=0.05)


# -- voltage drop, boats --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("amperes", "feet", "volts", "mils", "size"),
    [
        (10, 21, 12 * 0.03, 6271, "10AWG"),  # a marine supplier: 12 V bilge pump at 3 %
        (10, 21, 32 * 0.03, 2352, "14AWG"),  # the same at 32 V
        (10, 21, 12 * 0.10, 1881, "16AWG"),  # a marine flyer: the same at 12 V, 10 %
        (80, 50, 12 * 0.10, 35833, "4AWG"),  # a marine catalogue: windlass at 10 %
        (100, 10, 24 * 0.03, 14931, "6AWG"),  # a marine page: 24 V, 3 %
    ],
)
def test_boat_sizes_by_voltage_drop(
    amperes: float, feet: float, volts: float, mils: float, size: str
) -> None:
    """CM = K I L / E, K 10.75, L out and back, the smallest E-11 area not below (11.14.2)."""
    constant = found(ABYC.value("drop-constant")).value
    assert constant * amperes * feet / volts == pytest.approx(mils, abs=1)
    assert smallest(constant * amperes * feet / volts, SAE) == size


def test_the_areas_decide_the_printed_size() -> None:
    """The same bilge pump by gauge areas would do with 12 AWG, as the formula's page says."""
    assert smallest(6271, AWG) == "12AWG"


def test_the_book_s_resistance_gives_the_book_s_drop() -> None:
    """Bilge pump, 10 A, 10.5 ft each way on 10 AWG: E = K I L / CM = 0.2416 V under 0.36 V."""
    there = one("abyc-e11", "10AWG", "10.5ft")
    drop = 2 * 10 * found(ABYC.resistance(*there, ABYC.celsius(*there))).value
    assert drop == pytest.approx(10.75 * 10 * 21 / 9343)
    assert drop <= 0.01 * found(ABYC.drop_limit(critical=True)).value * 12


def test_ampacity_decides_where_drop_does_not() -> None:
    """Same page: 100 A at 24 V: 8 AWG has 80 A, so 6 AWG (120 A) whatever the drop."""
    assert found(ABYC.ampacity(*one("abyc-e11", "8AWG", "1m"))).value == 80 < 100
    assert found(ABYC.ampacity(*one("abyc-e11", "6AWG", "1m"))).value == 120


# -- voltage drop, IEC ----------------------------------------------------------------------------


def annex_g(size: str, length: float, phases: int) -> float:
    """Drop in V per A at power factor 1, from the book's own rho1 (IEC 60364-5-52 Annex G)."""
    rho = found(IEC.value("drop-resistivity")).value
    return (1 if phases == 3 else 2) * rho * length / area_mm2(size)


def test_a_riser_and_its_lighting_circuit() -> None:
    """An installation guide of 2008, chapter G, example 2: 70 mm2 three-phase 50 m 150 A, then
    2.5 mm2 single-phase 20 m 20 A: 2.38 V + 7.2 V = 9.6 V, 4.2 % of 230 V."""
    riser, circuit = 150 * annex_g("70mm2", 50, 3), 20 * annex_g("2.5mm2", 20, 1)
    assert riser == pytest.approx(2.38, abs=0.04)
    assert circuit == pytest.approx(7.2, abs=0.01)
    total = 100 * (riser + circuit) / 230
    assert total == pytest.approx(4.2, abs=0.05)
    public = found(IEC.drop_limit(lighting=True, public=True)).value
    own = found(IEC.drop_limit(lighting=True)).value
    assert public < total < own  # too much from a public network, right from one's own


@pytest.mark.parametrize(("amperes", "factor", "volts"), [(100, 0.8, 5.0), (500, 0.35, 13.0)])
def test_a_motor_running_and_starting(amperes: float, factor: float, volts: float) -> None:
    """The same guide, example 1 (from memory): 35 mm2 three-phase, 50 m, 100 A at 0.8: 5 V between
    lines; at its start 500 A at 0.35: 13 V.  Its k is rounded to 1 and 0.52 V/A/km."""
    reactance = found(IEC.reactance(*one("iec60364", "35mm2", "50m"), 50)).value
    ohms = annex_g("35mm2", 50, 3) * factor + reactance * sin(acos(factor))
    assert sqrt(3) * amperes * ohms == pytest.approx(volts, rel=0.03)


def test_a_lamp_far_from_its_battery() -> None:
    """A chandler's page: 12 V, 2.1 A, 18 m one way, 5 % = 0.6 V, 56 m/(ohm mm2): 2.25, so 2.5 mm2;
    the next smaller loses too much in IEC 60228 copper at 20 degC, 2.5 mm2 does not."""
    least = 2 * 18 * 2.1 / (56 * 0.6)
    assert least == pytest.approx(2.25)
    drops = {
        size: 2 * 2.1 * found(IEC.resistance(*one("iec60364", size, "18m"), 20)).value
        for size in ("1.5mm2", "2.5mm2")
    }
    assert drops["2.5mm2"] < 0.6 < drops["1.5mm2"]


@pytest.mark.parametrize(
    ("size", "millivolts"),
    [("1.5mm2", 29), ("2.5mm2", 18), ("4mm2", 11), ("6mm2", 7.3), ("10mm2", 4.4), ("16mm2", 2.8)],
)
def test_millivolts_per_ampere_and_metre(size: str, millivolts: float) -> None:
    """A textbook's table of BS 7671 single-phase drops, PVC 70 degC: 10 mm2 has 4.4 mV/A/m; it is
    twice IEC 60228 class 2 at 70 degC."""
    there = one("iec60364", size, "1m")
    both_ways = 2 * found(IEC.resistance(*there, IEC.celsius(*there))).value
    assert 1000 * both_ways == pytest.approx(millivolts, rel=0.015)


def test_line_and_protective_conductor_of_a_cable() -> None:
    """An electricians' forum: 22 m of 2.5/1.5 mm2: 0.163 + 0.266 = 0.429 ohm at 20 degC, and at
    70 degC 1.20 times that, 0.515 ohm."""
    line, earth = (
        found(IEC.resistance(*one("iec60364", size, "22m"), 20)).value
        for size in ("2.5mm2", "1.5mm2")
    )
    assert [round(line, 3), round(earth, 3), round(line + earth, 3)] == [0.163, 0.266, 0.429]
    hot = [
        found(IEC.resistance(*one("iec60364", s, "22m"), 70)).value for s in ("2.5mm2", "1.5mm2")
    ]
    assert sum(hot) == pytest.approx(0.515, abs=0.0005)


# -- loop impedance -------------------------------------------------------------------------------

BANDS = {"B": 5, "C": 10, "D": 20}  # upper end of the instantaneous band, IEC 60898-1


@pytest.mark.parametrize("rating", [row[0] for row in printed("bs7671-loop-limits")[1]])
def test_largest_loop_impedances(rating: str) -> None:
    """BS 7671, 230 V, Cmin 0.95: Zs <= 218.5 / Ia, nine ratings of bands B, C and D; and 0.8 of it
    for a measurement on cold conductors."""
    header, rows = printed("bs7671-loop-limits")
    cells = dict(zip(header, next(row for row in rows if row[0] == rating), strict=True))
    for band, times in BANDS.items():
        limit = IEC.loop_max(230, times * float(rating)).value
        assert limit == pytest.approx(float(cells[band]), abs=0.0051)
        if f"{band} x 0.8" in cells:
            assert 0.8 * limit == pytest.approx(float(cells[f"{band} x 0.8"]), abs=0.0051)


def test_loop_impedance_of_a_45_A_breaker() -> None:
    """An electricians' forum works it out: B45, 218.5 / 225 = 0.97 ohm, x 0.8 = 0.77 ohm."""
    limit = IEC.loop_max(230, 5 * 45)
    assert f"{limit.value:.2f}" == "0.97"
    assert round(0.8 * 0.97, 2) == pytest.approx(0.77, abs=0.011)
    assert "0.95 x 230 V / 225 A" in limit.steps[-1]


def test_longest_circuit_that_still_trips() -> None:
    """A teaching page: 1.5 mm2, C10 (100 A), 100 m, U0 220 V: Lmax = 0.8 U0 S / (2 rho Ia), 58.6 m,
    so 100 m does not trip; with m = 1 half of 0.8 U0, 88 V, stands on the case meanwhile."""
    rho = found(IEC.value("drop-resistivity")).value
    longest = 0.8 * 220 * 1.5 / (2 * rho * 10 * 10)
    assert longest == pytest.approx(58.6, abs=0.1)
    assert longest < 100
    line = earth = rho * longest / 1.5
    assert 0.8 * 220 * earth / (line + earth) == pytest.approx(88)


# -- short circuits -------------------------------------------------------------------------------


def test_adiabatic_current_of_a_95_mm2_cable() -> None:
    """An IEC 60949 example: 95 mm2 copper, XLPE 90 to 250 degC, 1 s: 13.6 kA."""
    there = one("iec60364", "95mm2", "1m", "insulation=90degC")
    assert round(found(IEC.withstand(*there)).value * 95 / 1000, 1) == 13.6


def test_ten_gauge_and_a_current_limiting_fuse() -> None:
    """A fuse maker's paper: 40 kA available, 10 AWG stands 4300 A for a cycle (chart); a 30 A fuse
    that lets less than 1800 A through for less than half a cycle protects it."""
    density = found(NFPA.withstand(*one("nfpa70", "10AWG", "1m", "insulation=75degC"))).value
    stands = (density * area_mm2("10AWG")) ** 2
    assert sqrt(stands * 60) == pytest.approx(4300, rel=0.012)
    assert 40_000**2 / 60 > stands > 1800**2 / 120


# -- ratings --------------------------------------------------------------------------------------


def test_next_standard_size_up() -> None:
    """Trade press on feeder taps: 1 AWG at 75 degC, 130 A, may have 150 A (240.4(B))."""
    # 50 mm2 counts as 1 AWG and, being larger, stands on terminals of 75 degC
    where = one("nfpa70", "50mm2", "1m")
    assert found(NFPA.ampacity(*where)).value == 130
    assert found(NFPA.limit(*where)).value == 150


def test_taps_of_a_400_A_feeder() -> None:
    """Trade press on feeder taps: 10 ft needs 40 A; 25 ft 133.3 A: not 1 AWG (130 A) but 1/0."""
    short, long = found(NFPA.allowance("tap")), found(NFPA.allowance("tap-single"))
    ratios = [getattr(allowance, "ratio", 0.0) for allowance in (short, long)]
    assert [400 * ratio for ratio in ratios] == pytest.approx([40, 133.33], abs=0.01)
    column = [float(cells[1]) for cells in NFPA.tables["ampacity"].rows.values()]
    assert min(amperes for amperes in column if amperes >= 400 * ratios[1]) == 150


@pytest.mark.parametrize(
    ("bar", "main", "inverter"), [(200, 200, 32), (100, 100, 16), (225, 200, 56)]
)
def test_inverter_on_a_bar_with_a_main(bar: float, main: float, inverter: float) -> None:
    """A licence course on 705.12: 125 % of the source and the main at most 120 % of the bar:
    200/200 A leave 40 A, an inverter of 32 A; 100/100 A 16 A; 225/200 A 70 A, 56 A."""
    share = found(NFPA.value("source-bar-share")).value
    factor = found(NFPA.value("source-factor")).value
    assert (share * bar - main) / factor == pytest.approx(inverter)


@pytest.mark.parametrize(("load", "device"), [(16, 20), (20, 25), (24, 30), (12, 15), (40, 50)])
def test_continuous_loads(load: float, device: float) -> None:
    """A maker's bulletin on 210.20(A): 125 % of the continuous load, next standard rating."""
    factor = found(NFPA.value("continuous-factor")).value
    assert NFPA.next_rating(load * factor) == device


def test_federal_limit_of_a_boat_s_battery_cable() -> None:
    """A marine photograph essay: 2/0 outside the engine space, 330 A x 150 % = 495 A, so the next
    lower rating that is made, 450 A (33 CFR 183.455(c))."""
    carries = found(ABYC.ampacity(*one("abyc-e11", "2/0AWG", "1m"))).value
    cap = ABYC.data.limits["limit-federal"].cap(carries)
    assert (carries, cap, ABYC.rating_below(cap)) == (330, 495, 450)


# -- protective conductors ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("device", "size"),
    [(15, "14AWG"), (30, "10AWG"), (50, "10AWG"), (70, "8AWG"), (125, "6AWG"), (400, "3AWG")],
)
def test_equipment_grounding_conductors(device: float, size: str) -> None:
    """A trainer's newsletter on Table 250.122: the first row not below the device."""
    found_ = NFPA.earth_min(device, Size(107.2, "4/0AWG"))
    assert found(found_).value == area_mm2(size)


def test_grounding_conductor_enlarged_with_its_line() -> None:
    """250.122(B): 30 A, 10 AWG lines made 8 AWG for the drop: 10380 x 16510 / 10380 CM, 8 AWG."""
    line = Size(area_mm2("8AWG"), "8AWG")
    grown = area_mm2("8AWG") / area_mm2("10AWG")
    assert grown == pytest.approx(1.5906, rel=0.001)
    asked = found(NFPA.earth_min(30, line, enlarged=grown))
    assert asked.value == pytest.approx(area_mm2("8AWG"))
    assert any("250.122(B)" in step for step in asked.steps)


@pytest.mark.parametrize(
    ("protective", "bonding"), [(6, 6), (10, 6), (16, 8), (25, 12.5), (50, 25), (120, 25)]
)
def test_main_bonding(protective: float, bonding: float) -> None:
    """Two pages on IEC 60364-5-54: half the main protective conductor, from 6 to 25 mm2."""
    assert found(IEC.bonding_min(protective)).value == bonding


# -- raceways and boxes ---------------------------------------------------------------------------


def test_conduit_for_fifteen_conductors() -> None:
    """A steel tube maker: 3 x 12, 4 x 10 and 8 x 8 AWG THWN: 0.4171 in2, above 40 % of 1 in
    (0.346), so trade size 1-1/4 (0.598)."""
    area = {size: float(cells[0]) for size, cells in NFPA.tables["conductor-area"].rows.items()}
    total = 3 * area["12AWG"] + 4 * area["10AWG"] + 8 * area["8AWG"]
    assert round(total, 4) == 0.4171
    fill = NFPA.tables["fill"]
    share = float(fill.rows[fill.ceiling(15) or ""][0]) / 100
    fits = [
        trade
        for trade in NFPA.tables["conduit"].rows
        if share * float(NFPA.tables["conduit"].cell(trade, "area")) >= total
    ]
    assert (share, fits[0]) == (0.4, "1-1/4")


def test_box_for_a_duplex_outlet() -> None:
    """314.16(B), the trade's usual example: four 12 AWG, their earths (1), clamps (1) and a duplex
    outlet (2): 8 x 2.25 = 18.0 in3."""
    volume = float(NFPA.tables["box"].cell("12AWG", "volume"))
    assert (4 + 1 + 1 + 2) * volume == 18.0
