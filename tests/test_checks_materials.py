"""Copper under each book: resistance at a temperature, reactance, heat in a short circuit."""

from __future__ import annotations

from math import log10, sqrt

import pytest
from ferrule.checks.books.book import Figure, Missing, book
from ferrule.checks.trade.sizes import area_mm2
from ferrule.dsl.model import Conductor, Rig
from ferrule.dsl.reader import read_text
from printed_tables import printed

KFT = 304.8
MIL = 5.067075e-4  # mm2 in a circular mil


def one(rules: str, size: str, length: str = "1000ft", items: str = "") -> tuple[Conductor, Rig]:
    """A conductor of that size, alone in a rig."""
    word, cores, ends = ("cable", "1x", "F1.2") if "cord" in items else ("wire", "", "F1.2")
    text = f"""rig "One"
rules {rules}
battery GB 12V 100Ah
fuse F1 100A dc
fuse F2 100A dc
{word} W {cores}{size} {length} {ends} -> F2.1 {items}
"""
    reading = read_text(text)
    assert reading.problems == ()
    (rig,) = reading.rigs
    return next(iter(rig.conductors.values())), rig


def ohms(rules: str, size: str, celsius: float, length: str = "1000ft", items: str = "") -> float:
    found = book(rules).resistance(*one(rules, size, length, items), celsius)
    assert isinstance(found, Figure), found
    assert found.unit == "ohm"
    return found.value


def k(rules: str, items: str = "", initial: float | None = None, size: str = "10mm2") -> float:
    found = book(rules).withstand(*one(rules, size, "1m", items), initial)
    assert isinstance(found, Figure), found
    return found.value


# -- resistance -----------------------------------------------------------------------------------


def test_nfpa70_every_printed_resistance_through_a_conductor() -> None:
    """NFPA 70 Chapter 9 Table 8: solid to 8 AWG, stranded everywhere, at 75 degC."""
    for size, solid, stranded in printed("nfpa70-ch9-8")[1]:
        assert ohms("nfpa70", size, 75) == pytest.approx(float(stranded))
        assert ohms("nfpa70", size, 75, items="solid") == pytest.approx(float(solid or stranded))


def test_iec_every_printed_resistance_through_a_conductor() -> None:
    """IEC 60228: class 2 unless it is fine or a cord; tinned where it says so; at 20 degC."""
    for size, *cells in printed("iec60228")[1]:
        makes = ("", "tinned", "fine", "fine tinned")
        for make, cell in zip(makes, cells, strict=True):
            assert ohms("iec60364", size, 20, "1000m", make) == pytest.approx(float(cell))
        assert ohms("iec60364", size, 20, "1000m", "cord") == pytest.approx(float(cells[2]))


def test_iec_correction_is_the_printed_one() -> None:
    """IEC 60228 Annex B, 12 printed rows: R20 = Rt Kt, Kt = 250 / (230 + t) to its rounding."""
    cold = ohms("iec60364", "2.5mm2", 20)
    for celsius, factor in printed("iec60228-annex-b")[1]:
        assert cold / ohms("iec60364", "2.5mm2", float(celsius)) == pytest.approx(
            float(factor), abs=0.00051
        )


def test_nfpa70_correction_is_note_2_of_table_8() -> None:
    """R2 = R1 (1 + 0.00323 (T2 - 75)): 12 AWG, 1.98 ohm/kft at 75, 2.0759 at 90 degC."""
    assert ohms("nfpa70", "12AWG", 90) == pytest.approx(1.98 * 1.04845)


def test_nfpa70_comes_near_copper_at_20_degrees() -> None:
    """100 % IACS, 10.371 ohm CM/ft at 20 degC: 12 AWG 1.588, 10 AWG 0.9988 ohm/kft, within 2 %
    (the table's strands are longer than the wire they make)."""
    for size, exact in (("12AWG", 1.588), ("10AWG", 0.9988), ("18AWG", 6.385)):
        assert ohms("nfpa70", size, 20) == pytest.approx(exact, rel=0.03)
        assert ohms("nfpa70", size, 20, items="solid") == pytest.approx(exact, rel=0.02)


@pytest.mark.parametrize(("size", "feet"), [("16AWG", 10.0), ("2AWG", 40.0)])
def test_abyc_resistance_is_k_over_the_area(size: str, feet: float) -> None:
    """E-11 11.14.2: E = K I L / CM with K = 10.75, about copper at 30 degC."""
    (mils,) = book("abyc-e11").tables["circular-mils"].rows[size]
    assert ohms("abyc-e11", size, 30, f"{feet:g}ft") == pytest.approx(10.75 * feet / float(mils))


def test_abyc_constant_is_copper_near_30_degrees() -> None:
    """10.75 / 10.371: taken from 20 degC with 0.00393 that is 29.3 degC."""
    rise = (10.75 / 10.371 - 1) / 0.00393
    assert 20 + rise == pytest.approx(book("abyc-e11").data.resistance["celsius"], abs=1)


def test_a_size_that_is_not_printed_goes_by_its_area() -> None:
    """3 AWG has no E-11 area: between 2 and 4 AWG, in proportion to the next smaller."""
    thick, here, thin = (ohms("abyc-e11", s, 30) for s in ("2AWG", "3AWG", "4AWG"))
    assert thick < here < thin
    assert here == pytest.approx(thin * area_mm2("4AWG") / area_mm2("3AWG"))
    assert ohms("nfpa70", "20AWG", 75) > ohms("nfpa70", "18AWG", 75)


def test_line_and_protective_conductor_together() -> None:
    """BS 7671 guidance prints R1 + R2 for fifteen pairs: the sums of IEC 60228 class 2 (1 mm2 to
    50 mm2), to the digits it prints."""
    for line, protective, total in printed("bs7671-r1-r2")[1]:
        pair = sum(
            ohms("iec60364", f"{size}mm2".replace(".0", ""), 20, "1m")
            for size in (line, protective)
        )
        assert 1000 * pair == pytest.approx(float(total), rel=0.0006)


def test_resistance_tells_its_steps() -> None:
    found = book("nfpa70").resistance(*one("nfpa70", "10AWG", "10m"), 90)
    assert isinstance(found, Figure)
    assert found.steps[0] == "NFPA 70 Chapter 9 Table 8, 10 AWG, stranded: 1.24 ohm/kft at 75 degC"
    assert "0.00323" in found.steps[1] and found.steps[-1] == f"10 m: {found.value:.4g} ohm"


def test_a_link_has_no_resistance_to_look_up() -> None:
    text = 'rig "L"\nrules nfpa70\nfuse F1 10A\nfuse F2 10A\nlink K F1.2 -> F2.1\n'
    (rig,) = read_text(text).rigs
    for found in (
        book("nfpa70").resistance(rig.conductors["K"], rig, 75),
        book("nfpa70").reactance(rig.conductors["K"], rig, 60),
    ):
        assert isinstance(found, Missing) and "no size" in found.reason


# -- the temperatures to reckon with --------------------------------------------------------------


@pytest.mark.parametrize(
    ("rules", "items", "drop", "hot"),
    [
        ("nfpa70", "", 75, 90),  # Tables 8 and 9 are at 75 degC
        ("abyc-e11", "", 30, 105),  # K = 10.75
        ("iec60364", "", 70, 70),
        ("iec60364", "insulation=90degC", 90, 90),
    ],
)
def test_temperatures(rules: str, items: str, drop: float, hot: float) -> None:
    where = one(rules, "10AWG", "1m", items)
    found = [book(rules).celsius(*where, case) for case in ("drop", "max", "min")]
    assert found == [drop, 20, hot]


# -- reactance ------------------------------------------------------------------------------------


def test_reactance() -> None:
    """NFPA 70 Table 9, 60 Hz, in PVC; IEC 60364-5-52 Annex G 0.08 mohm/m, 50 Hz; in proportion to
    the frequency, none for direct current."""
    for size, x, *_ in printed("nfpa70-ch9-9")[1]:
        found = book("nfpa70").reactance(*one("nfpa70", size), 60)
        assert isinstance(found, Figure)
        assert found.value == pytest.approx(float(x))
    where = one("iec60364", "35mm2", "50m")
    values = [book("iec60364").reactance(*where, hertz) for hertz in (50, 60, 0)]
    assert all(isinstance(found, Figure) for found in values)
    assert [found.value for found in values if isinstance(found, Figure)] == pytest.approx(
        [0.004, 0.0048, 0]
    )


# -- short-circuit heating ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("items", "initial", "expected"),
    [
        ("", None, 115),  # PVC 70 to 160: IEC 60364-4-43 Table 43A
        ("insulation=90degC", None, 143),  # XLPE 90 to 250: Table 43A
        ("", 30, 143),  # PVC-covered, apart from its lines, 30 to 160: -5-54 Table 54.3
        ("insulation=90degC", 30, 176),  # XLPE, apart, 30 to 250: Table 54.2
        ("cord", None, 141),  # rubber 60 to 200
    ],
)
def test_iec_k(items: str, initial: float | None, expected: float) -> None:
    """k = 226 sqrt(ln((f + 234.5) / (i + 234.5))), to the whole number that is printed."""
    assert round(k("iec60364", items, initial)) == expected


def test_icea_withstand_table() -> None:
    """ICEA P-32-382, copper, 75 to 150 degC: 45 currents of the formula; a fuse maker's chart
    reads 4300 A for 10 AWG and one cycle."""
    header, rows = printed("icea-withstand")
    density = k("nfpa70", "insulation=75degC")
    for size, *cells in rows:
        for seconds, amperes in zip(header[1:], cells, strict=True):
            mils = area_mm2(size) / MIL
            exact = mils * sqrt(0.0297 * log10(384 / 309) / float(seconds))
            assert exact == pytest.approx(float(amperes), rel=0.006)
            stood = density * area_mm2(size) / sqrt(float(seconds))
            assert stood == pytest.approx(float(amperes), rel=0.006)
    assert density * area_mm2("10AWG") * sqrt(60) == pytest.approx(4300, rel=0.012)


def test_icea_thermosetting() -> None:
    """90 to 250 degC: 142 A/mm2 at one second, where the conductor says it is such."""
    assert k("nfpa70", "type=XHHW-2") == pytest.approx(142.0, abs=0.1)
    assert k("nfpa70") == pytest.approx(92.4, abs=0.1)  # 90 to 150: thermoplastic unless said


@pytest.mark.parametrize("rules", ["nfpa70", "abyc-e11", "iec60364"])
def test_hotter_before_stands_less(rules: str) -> None:
    falling = [k(rules, "", celsius) for celsius in (30, 50, 70)]
    assert falling == sorted(falling, reverse=True)


def test_no_withstand_above_the_end_temperature() -> None:
    found = book("nfpa70").withstand(*one("nfpa70", "10AWG", "1m"), 155)
    assert isinstance(found, Missing)
