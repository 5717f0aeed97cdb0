"""What the books answer about a conductor: ampacity, device, lengths, earth, colours."""

from __future__ import annotations

import pytest
from ferrule.checks.books.book import Figure, Missing, book
from ferrule.checks.books.data import BOOKS
from ferrule.checks.trade.colours import code_of
from ferrule.checks.trade.sizes import area_mm2
from ferrule.dsl.model import Conductor, Rig, Size
from ferrule.dsl.reader import read_text
from printed_tables import printed

TRADE_MM2 = (1, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120)


def one(rules: str, conductor: str) -> tuple[Conductor, Rig]:
    """A rig whose one conductor (or first core) of interest lies between two fuses."""
    text = f"""rig "One conductor"
rules {rules}
battery GB 12V 100Ah
fuse F1 100A dc
fuse F2 100A dc
{conductor}
"""
    reading = read_text(text)
    assert reading.problems == ()
    (rig,) = reading.rigs
    return next(iter(rig.conductors.values())), rig


def ampacity(rules: str, size: str, items: str = "", loaded: int | None = None) -> float:
    """Ampacity in A of a single conductor of that size."""
    found = book(rules).ampacity(*one(rules, f"wire W {size} 1m F1.2 -> F2.1 {items}"), loaded)
    assert isinstance(found, Figure), found
    return found.value


def limit(rules: str, size: str, items: str = "") -> float:
    """Largest device in A for a single conductor of that size."""
    found = book(rules).limit(*one(rules, f"wire W {size} 1m F1.2 -> F2.1 {items}"))
    assert isinstance(found, Figure), found
    return found.value


# -- ampacity of a conductor ----------------------------------------------------------------------


def test_33_cfr_all_cells_through_a_conductor() -> None:
    """33 CFR 183.425 Table 5: the insulation a wire states picks its column, 105 cells."""
    header, rows = printed("33cfr-183-425")
    seen = 0
    for size, *cells in rows:
        for celsius, cell in zip(header[1:], cells, strict=True):
            assert ampacity("abyc-e11", size, f"insulation={celsius}degC") == float(cell)
            seen += 1
    assert seen == 105


def test_abyc_usual_cable_is_105_degrees() -> None:
    assert ampacity("abyc-e11", "2/0AWG") == 330


@pytest.mark.parametrize("insulation", ["", "insulation=75degC", "insulation=105degC"])
def test_nfpa70_terminals_hold_small_sizes_to_60_degrees(insulation: str) -> None:
    """110.14(C)(1): 14 to 1 AWG by the 60 degC column, larger by 75, whatever the insulation."""
    for size, *cells in printed("nfpa70-310-16")[1]:
        if cells[0]:
            small = area_mm2(size) <= area_mm2("1AWG")
            assert ampacity("nfpa70", size, insulation) == float(cells[0 if small else 1])


def test_nfpa70_insulation_below_its_terminals_holds() -> None:
    assert ampacity("nfpa70", "2/0AWG", "insulation=60degC") == 145


@pytest.mark.parametrize(("size", "amperes"), [("18AWG", 7), ("16AWG", 10)])
def test_nfpa70_sizes_without_a_60_degree_cell(size: str, amperes: float) -> None:
    """310.16 prints 18 and 16 AWG at 90 degC only; 240.4(D) holds them lower than any column."""
    assert ampacity("nfpa70", size) == limit("nfpa70", size) == amperes


@pytest.mark.parametrize("loaded", [2, 3])
@pytest.mark.parametrize(
    ("insulation", "celsius", "names"),
    [("", 70, ("B-52-2", "B-52-4")), ("insulation=90degC", 90, ("B-52-3", "B-52-5"))],
)
def test_iec_cells_through_a_conductor(
    loaded: int, insulation: str, celsius: int, names: tuple[str, str]
) -> None:
    header, rows = printed(f"iec60364-{names[loaded - 2]}")
    for size, *cells in rows:
        for method, cell in zip(header[1:], cells, strict=True):
            if cell and method in ("A1", "B1", "C"):
                items = f"{insulation} method={method}"
                assert ampacity("iec60364", size, items, loaded) == float(cell)


@pytest.mark.parametrize(
    ("rules", "cable", "amperes"),
    [
        ("iec60364", "cable C 2x2.5mm2 1m F1.2 F1.1 -> F2.1 F2.2", 23),  # B2, Table B.52.2
        ("iec60364", "cable C 2x2.5mm2 1m F1.2 F1.1 -> F2.1 F2.2 cord", 25),  # Table 4F3A
        ("iec60364", "cable C 2x16mm2 1m F1.2 F1.1 -> F2.1 F2.2 cord", 73),  # Table 4F1A
        ("iec60364", "cable C 2x16mm2 1m F1.2 F1.1 -> F2.1 F2.2 cord insulation=90degC", 103),
        ("nfpa70", "cable C 2x10AWG 1m F1.2 F1.1 -> F2.1 F2.2 cord", 30),  # Table 400.5, col. B
        ("nfpa70", "cable C 2x10AWG 1m F1.2 F1.1 -> F2.1 F2.2", 30),  # Table 310.16, 60 degC
        ("abyc-e11", "cable C 2x6AWG 1m F1.2 F1.1 -> F2.1 F2.2 cord", 55),
    ],
)
def test_cables_and_cords_have_tables_of_their_own(rules: str, cable: str, amperes: float) -> None:
    found = book(rules).ampacity(*one(rules, cable))
    assert isinstance(found, Figure)
    assert found.value == amperes


@pytest.mark.parametrize(
    ("rules", "size", "same_as"),
    [
        ("nfpa70", "2.5mm2", "14AWG"),
        ("nfpa70", "16mm2", "6AWG"),
        ("nfpa70", "70mm2", "2/0AWG"),
        ("abyc-e11", "50mm2", "1AWG"),
        ("iec60364", "14AWG", "1.5mm2"),
        ("iec60364", "10AWG", "4mm2"),
        ("iec60364", "2/0AWG", "50mm2"),
    ],
)
def test_a_size_of_the_other_system_counts_as_the_next_smaller(
    rules: str, size: str, same_as: str
) -> None:
    assert ampacity(rules, size) == ampacity(rules, same_as)
    found = book(rules).ampacity(*one(rules, f"wire W {size} 1m F1.2 -> F2.1"))
    assert isinstance(found, Figure)
    spoken = same_as.replace("AWG", " AWG").replace("mm2", " mm2")
    assert any(f"the next smaller is {spoken}" in step for step in found.steps)


@pytest.mark.parametrize(
    ("rules", "conductor", "reason"),
    [
        ("nfpa70", "link K F1.2 -> F2.1", "no size"),
        ("nfpa70", "wire W 120mm2 1m F1.2 -> F2.1", "beyond"),
        ("nfpa70", "wire W 20AWG 1m F1.2 -> F2.1", "no figure for 20 AWG"),
        ("iec60364", "wire W 0.75mm2 1m F1.2 -> F2.1", "no figure for 0.75 mm2"),
        ("iec60364", "wire W 2.5mm2 1m F1.2 -> F2.1 insulation=60degC", "no figure"),
        ("iec60364", "wire W 2.5mm2 1m F1.2 -> F2.1 method=F", "method F"),
        ("abyc-e11", "wire W 8AWG 1m F1.2 -> F2.1 insulation=50degC", "50 degC"),
    ],
)
def test_what_the_book_does_not_print_is_missing(rules: str, conductor: str, reason: str) -> None:
    for look_up in (book(rules).ampacity, book(rules).limit):
        found = look_up(*one(rules, conductor))
        assert isinstance(found, Missing)
        assert reason in found.reason


# -- the device that may protect it ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("size", "amperes"),
    [
        ("14AWG", 15),  # 240.4(D)(3)
        ("12AWG", 20),  # 240.4(D)(5)
        ("10AWG", 30),  # 240.4(D)(7)
        ("8AWG", 40),  # 40 A is a standard rating
        ("6AWG", 60),  # 55 A is none: the next
        ("50mm2", 150),  # 1 AWG at 75 degC, 130 A: the printed example of 240.4(B)
        ("2/0AWG", 175),  # 175 A is a standard rating: no larger device
        ("4/0AWG", 250),  # 230 A is none
    ],
)
def test_nfpa70_limits(size: str, amperes: float) -> None:
    assert limit("nfpa70", size) == amperes


def test_nfpa70_limits_follow_240_4_b() -> None:
    """The ampacity where that is a standard rating, else the next one; 240.4(D) on top."""
    small = {size: float(device) for size, device in printed("nfpa70-240-4-D")[1]}
    standard = [float(row[0]) for row in printed("nfpa70-240-6-A")[1]]
    for size in book("nfpa70").tables["ampacity"].rows:
        carries = ampacity("nfpa70", size)
        up = min(rating for rating in standard if rating >= carries)
        assert limit("nfpa70", size) == min(up, small.get(size, up))


def test_nfpa70_cords_have_no_next_size_up() -> None:
    """240.4 leaves flexible cords to 240.5: their ampacity is the limit."""
    assert limit("nfpa70", "6AWG", "cord") == 55


def test_abyc_limits_stay_within_150_percent() -> None:
    rules = book("abyc-e11")
    for size in rules.tables["ampacity"].rows:
        for celsius in rules.tables["ampacity"].columns:
            items = f"insulation={celsius}degC"
            carries, device = ampacity("abyc-e11", size, items), limit("abyc-e11", size, items)
            assert carries <= device <= 1.5 * carries
            assert device in rules.standard_ratings
            assert not any(carries <= r < device for r in rules.standard_ratings)


def test_how_far_rounding_up_may_go() -> None:
    """240.4(B)(3): to 800 A.  E-11: to 150 % of the ampacity.  433.1: not at all."""
    caps = {name: book(name).data.limits["limit"].cap(700) for name in BOOKS}
    assert caps == {"nfpa70": 800, "abyc-e11": 1050, "iec60364": 700}


def test_federal_150_percent_example() -> None:
    """33 CFR 183.455(c): 2/0, 330 A, x 1.5 = 495 A, the next lower commercial size is 450 A."""
    rules = book("abyc-e11")
    federal = rules.data.limits["limit-federal"]
    assert rules.rating_below(federal.cap(ampacity("abyc-e11", "2/0AWG"))) == 450


def test_iec_device_never_above_the_ampacity() -> None:
    """433.1: In <= IZ."""
    for size in book("iec60364").tables["pvc-2"].rows:
        assert limit("iec60364", size) == ampacity("iec60364", size)


@pytest.mark.parametrize("rules", BOOKS)
def test_a_limit_tells_its_steps(rules: str) -> None:
    found = book(rules).limit(*one(rules, "wire W 6AWG 1m F1.2 -> F2.1"))
    assert isinstance(found, Figure)
    carries = book(rules).ampacity(*one(rules, "wire W 6AWG 1m F1.2 -> F2.1"))
    assert isinstance(carries, Figure)
    assert found.steps[: len(carries.steps)] == carries.steps
    assert f"{carries.value:g} A" in carries.steps[-1]
    assert any(carries.clause in step for step in carries.steps)
    assert f"{found.value:g} A" in found.steps[-1] and found.clause in found.steps[-1]
    assert found.unit == carries.unit == "A"


def test_the_steps_tell_an_insulation_that_the_text_does_not_state() -> None:
    for items, words in (("", "the usual: none is stated"), ("insulation=90degC", "")):
        found = book("nfpa70").ampacity(*one("nfpa70", f"wire W 8AWG 1m F1.2 -> F2.1 {items}"))
        assert isinstance(found, Figure)
        assert found.steps[0] == "8 AWG copper, 90 degC insulation" + (
            f" ({words})" if words else ""
        )


# -- how many carry load --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("supply", "flag", "cores", "terminals", "amperes"),
    [
        ("120V 60Hz", "", 3, "L N PE", 30),
        ("240V 60Hz", "split", 4, "L1 L2 N PE", 30),  # the neutral carries the difference only
        ("208V 60Hz", "three", 5, "L1 L2 L3 N PE", 25),
    ],
)
def test_loaded_cores_of_a_cord(
    supply: str, flag: str, cores: int, terminals: str, amperes: float
) -> None:
    """NFPA 70 Table 400.5(A)(1), 10 AWG: 30 A with two loaded (B), 25 A with three (A)."""
    text = f"""rig "Cord"
rules nfpa70
supply S {supply} 30A {flag} bonded
inlet X 30A {flag}
cable C {cores}x10AWG 5m S.({terminals}) -> X.({terminals}) cord
"""
    (rig,) = read_text(text).rigs
    found = book("nfpa70").ampacity(rig.conductors["C/1"], rig)
    assert isinstance(found, Figure)
    assert found.value == amperes


def test_a_caller_who_traced_the_roles_decides() -> None:
    conductor, rig = one("iec60364", "cable C 2x2.5mm2 1m F1.2 F1.1 -> F2.1 F2.2")
    found = book("iec60364").ampacity(conductor, rig, loaded=3)
    assert isinstance(found, Figure)
    assert found.value == 20  # B2, Table B.52.4


# -- lengths without protection -------------------------------------------------------------------

INCH, FOOT = 0.0254, 0.3048


ALLOWANCES = [
    ("abyc-e11", "battery", 7 * INCH),  # E-11 11.10.1.1.1; 33 CFR 183.455(b)
    ("abyc-e11", "source", 7 * INCH),
    ("abyc-e11", "battery-sheathed", 72 * INCH),  # E-11 11.10.1.1.1
    ("abyc-e11", "source-sheathed", 40 * INCH),  # E-11; 33 CFR 183.455(b)
    ("abyc-e11", "panel", 40 * INCH),  # 33 CFR 183.455(b): sheath or enclosure
    ("abyc-e11", "inlet-to-main", 10 * FOOT),
    ("nfpa70", "tap", 10 * FOOT),  # 240.21(B)(1)
    ("nfpa70", "tap-single", 25 * FOOT),  # 240.21(B)(2)
    ("nfpa70", "panel", 10 * FOOT),  # 240.21(B)(1), inside the enclosure
    ("nfpa70", "battery", 18 * INCH),  # 552.10(E), from memory
    ("iec60364", "battery", 0.2),  # ISO 13297 12.1, from memory
    ("iec60364", "battery-sheathed", 3.0),  # IEC 60364-4-43 434.2.1, from memory
    ("iec60364", "source-sheathed", 3.0),  # IEC 60364-4-43 434.2.1, from memory
    ("iec60364", "change-of-section", 3.0),  # IEC 60364-4-43 433.2.2, from memory
    ("iec60364", "tap", 3.0),  # IEC 60364-4-43 433.2.2, from memory
    ("iec60364", "panel", 3.0),  # IEC 60364-4-43 433.2.2, from memory
    ("iec60364", "inlet-to-main", 3.0),  # ISO 13297 13.2.2
    ("iec60364", "charge-source", 1.8),  # ISO 13297 12.3
]


@pytest.mark.parametrize(("rules", "situation", "length_m"), ALLOWANCES)
def test_allowances(rules: str, situation: str, length_m: float) -> None:
    found = book(rules).allowance(situation)
    assert found is not None
    assert found.value == pytest.approx(length_m)
    assert found.unit == "m"
    assert found.conditions and found.steps[1:] == found.conditions


def test_no_allowance_goes_untested() -> None:
    held = {(name, key) for name in BOOKS for key in book(name).data.allowances}
    assert held == {(rules, situation) for rules, situation, _ in ALLOWANCES}


def test_taps_of_a_400_A_feeder() -> None:
    """240.21(B): 40 A at 10 ft, 133.3 A at 25 ft (1 AWG, 130 A, fails; 1/0, 150 A, passes)."""
    short, long = book("nfpa70").allowance("tap"), book("nfpa70").allowance("tap-single")
    assert short is not None and long is not None
    assert 400 * short.ratio == pytest.approx(40)
    assert 130 < 400 * long.ratio < 150
    assert long.ends_in_device and not short.ends_in_device


def test_no_allowance_is_none() -> None:
    assert book("nfpa70").allowance("inlet-to-main") is None


# -- earth ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rating", "size"),
    [(15, "14AWG"), (30, "10AWG"), (40, "10AWG"), (50, "10AWG"), (70, "8AWG"), (125, "6AWG")],
)
def test_nfpa70_earth_by_rating(rating: float, size: str) -> None:
    """Table 250.122: the first row whose rating is not below the device's."""
    found = book("nfpa70").earth_min(rating, Size(107.2, "4/0AWG"))
    assert isinstance(found, Figure)
    assert found.value == area_mm2(size)


def test_nfpa70_earth_never_larger_than_the_circuit() -> None:
    """250.122(A)."""
    found = book("nfpa70").earth_min(30, Size(area_mm2("12AWG"), "12AWG"))
    assert isinstance(found, Figure)
    assert found.value == area_mm2("12AWG")


@pytest.mark.parametrize(("line", "protective"), printed("iec60364-54-2")[1])
def test_iec_earth_by_line(line: str, protective: str) -> None:
    """Table 54.2: the smallest trade size that satisfies it is the printed one."""
    found = book("iec60364").earth_min(16, Size(float(line), f"{line}mm2"))
    assert isinstance(found, Figure)
    assert next(size for size in TRADE_MM2 if size >= found.value) == float(protective)


def test_iec_earth_apart_from_its_line_is_at_least_2_5() -> None:
    found = book("iec60364").earth_min(10, Size(1.5, "1.5mm2"), separate=True)
    assert isinstance(found, Figure)
    assert found.value == 2.5


@pytest.mark.parametrize(
    ("rating", "dc", "size"),
    [(30, False, "10AWG"), (31, False, "12AWG"), (30, True, "12AWG")],
)
def test_abyc_earth_one_size_under_above_30_A(rating: float, dc: bool, size: str) -> None:
    """E-11: as the line conductor; above 30 A, and for a DC case ground, one size smaller."""
    found = book("abyc-e11").earth_min(rating, Size(area_mm2("10AWG"), "10AWG"), dc=dc)
    assert isinstance(found, Figure)
    assert found.value == area_mm2(size)


def test_earth_beyond_the_table_is_missing() -> None:
    assert isinstance(book("nfpa70").earth_min(1600, Size(107.2, "4/0AWG")), Missing)


# -- single figures -------------------------------------------------------------------------------


VALUES = [
    ("nfpa70", "residual", 0.005, "A"),  # 210.8, Class A
    ("nfpa70", "bonding-min", 8.367, "mm2"),  # 551.56(C): 8 AWG
    ("nfpa70", "battery-earth-min", 8.367, "mm2"),  # 552.10: 8 AWG
    ("nfpa70", "size-min", 2.08, "mm2"),  # 310.3(A): 14 AWG, from memory
    ("nfpa70", "extra-low-ac", 50.0, "V"),  # 250.20(A), from memory
    ("nfpa70", "extra-low-dc", 60.0, "V"),  # 110.26(A)(1)(b), from memory
    ("nfpa70", "per-terminal", 1.0, "conductors"),  # 110.14(A), from memory
    ("nfpa70", "continuous-factor", 1.25, "1"),  # 210.20(A)
    ("nfpa70", "source-bar-share", 1.2, "1"),  # 705.12
    ("nfpa70", "drop-branch", 3.0, "%"),  # 210.19(A) Informational Note
    ("nfpa70", "drop-total", 5.0, "%"),  # 215.2(A) Informational Note
    ("nfpa70", "all-poles-unpolarised", 1.0, "yes"),  # from memory
    ("nfpa70", "source-factor", 1.25, "1"),  # 705.12
    ("nfpa70", "nipple-fill", 60.0, "%"),  # chapter 9 table 1 note 4
    ("nfpa70", "nipple-length", 0.6096, "m"),  # chapter 9 table 1 note 4: 24 in
    ("nfpa70", "screw-max", 5.261, "mm2"),  # UL 458: 10 AWG
    ("abyc-e11", "residual", 0.030, "A"),  # E-11 11.11.1
    ("abyc-e11", "residual-time", 0.100, "s"),  # E-11 11.11.1
    ("abyc-e11", "residual-outlet", 0.005, "A"),  # E-11 11.13.3.5
    ("abyc-e11", "interrupting-large", 20000.0, "A"),  # E-11 Table 3B (2018)
    ("abyc-e11", "bonding-min", 8.367, "mm2"),  # 8 AWG, from memory
    ("abyc-e11", "size-min", 1.31, "mm2"),  # E-11 11.14.1.2: 16 AWG
    ("abyc-e11", "extra-low-ac", 50.0, "V"),  # 33 CFR 183.455(c)
    ("abyc-e11", "extra-low-dc", 60.0, "V"),  # from memory
    ("abyc-e11", "per-terminal", 1.0, "conductors"),  # from memory
    ("abyc-e11", "per-stud", 4.0, "conductors"),  # E-11: four lugs
    ("abyc-e11", "battery-switch-above", 800.0, "A"),  # E-11: CCA
    ("abyc-e11", "reverse-polarity-impedance", 25000.0, "ohm"),  # E-11
    ("abyc-e11", "drop-constant", 10.75, "ohm CM/ft"),  # E-11 11.14.2
    ("abyc-e11", "drop-branch", 10.0, "%"),  # E-11 11.14.2.6
    ("abyc-e11", "drop-critical", 3.0, "%"),  # E-11 11.14.2.6
    ("abyc-e11", "all-poles-unpolarised", 1.0, "yes"),  # from memory
    ("iec60364", "residual", 0.030, "A"),  # 60364-4-41 411.3.3
    ("iec60364", "bonding-min", 4.0, "mm2"),  # -7-721, from memory
    ("iec60364", "main-bonding-min", 6.0, "mm2"),  # -5-54
    ("iec60364", "size-min", 1.5, "mm2"),  # Table 52.2, from memory
    ("iec60364", "size-min-control", 0.5, "mm2"),  # Table 52.2, from memory
    ("iec60364", "extra-low-ac", 50.0, "V"),  # -4-41 414.1.1
    ("iec60364", "extra-low-dc", 120.0, "V"),  # -4-41 414.1.1
    ("iec60364", "vehicle-dc-max", 48.0, "V"),  # -7-721, from memory
    ("iec60364", "per-terminal", 1.0, "conductors"),  # from memory
    ("iec60364", "drop-lighting", 6.0, "%"),  # -5-52 Annex G, private supply
    ("iec60364", "drop-other", 8.0, "%"),  # -5-52 Annex G, private supply
    ("iec60364", "main-bonding-max", 25.0, "mm2"),  # -5-54
    ("iec60364", "pen-min", 10.0, "mm2"),  # -5-54 543.4
    ("iec60364", "separate-unprotected-min", 4.0, "mm2"),  # -5-54 543.1.3
    ("iec60364", "overload-factor", 1.45, "1"),  # -4-43 433.1, from memory
    ("iec60364", "transformer-primary", 1.25, "1"),  # ISO 13297:2000 13.2.3
    ("iec60364", "touch-voltage", 50.0, "V"),  # -4-41 411.5.3, from memory
    ("iec60364", "drop-lighting-public", 3.0, "%"),  # -5-52 Annex G, public supply
    ("iec60364", "drop-other-public", 5.0, "%"),  # -5-52 Annex G, public supply
    ("iec60364", "drop-critical", 3.0, "%"),  # ISO 13297
    ("iec60364", "drop-resistivity", 0.0225, "ohm mm2/m"),  # -5-52 Annex G
    ("iec60364", "disconnect-final", 32.0, "A"),  # -4-41 411.3.2.2
    ("iec60364", "disconnect-socket", 63.0, "A"),  # -4-41 411.3.2.2 (2017)
    ("iec60364", "disconnect-rest-TN", 5.0, "s"),  # -4-41 411.3.2.3, from memory
    ("iec60364", "disconnect-rest-TT", 1.0, "s"),  # -4-41 411.3.2.4, from memory
    ("iec60364", "voltage-factor-max", 1.10, "1"),  # IEC 60909-0 Table 1
    ("iec60364", "voltage-factor-min", 0.95, "1"),  # IEC 60909-0 Table 1
    ("iec60364", "all-poles-unpolarised", 1.0, "yes"),  # -7-721, ISO 13297 13.1.1
]


@pytest.mark.parametrize(("rules", "key", "value", "unit"), VALUES)
def test_values(rules: str, key: str, value: float, unit: str) -> None:
    found = book(rules).value(key)
    assert found is not None
    assert (found.value, found.unit) == (value, unit)
    assert found.steps


def test_no_value_goes_untested() -> None:
    held = {(name, key) for name in BOOKS for key in book(name).data.values}
    assert held == {(rules, key) for rules, key, _, _ in VALUES}


def test_no_value_is_none() -> None:
    assert book("nfpa70").value("per-stud") is None


# -- colours --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rules", "roles"),
    [
        ("nfpa70", "N WH  PE GN  + RD  - BK"),  # 200.6(A), 250.119
        ("abyc-e11", "L BK  N WH  PE GN  + RD  - BK"),  # E-11 Tables XIV, XV
        ("iec60364", "L BN  L1 BN  L2 BK  L3 GY  N BU  PE GNYE  + RD  - WH  FE PK"),  # IEC 60445
    ],
)
def test_usual_colours(rules: str, roles: str) -> None:
    words = roles.split()
    for role, code in zip(words[::2], words[1::2], strict=True):
        usual = book(rules).colour(role)
        assert usual is not None
        assert usual.code == code, role


def test_abyc_dc_negative_is_yellow_where_ac_is_aboard() -> None:
    usual = book("abyc-e11").colour("-", ac_aboard=True)
    assert usual is not None
    assert usual.name == "yellow"
    assert {c.name for c in book("abyc-e11").colours("-")} == {"black", "yellow"}


@pytest.mark.parametrize("rules", BOOKS)
def test_no_line_or_neutral_may_be_green(rules: str) -> None:
    earth = {c.name for c in book(rules).colours("PE")}
    for role in ("L", "L1", "L2", "L3", "N", "+", "-"):
        names = {c.name for c in book(rules).colours(role)}
        assert names and not names & earth


@pytest.mark.parametrize("rules", BOOKS)
def test_every_colour_has_a_code(rules: str) -> None:
    held = book(rules).data.colours
    names = [name for value in held.values() if isinstance(value, list) for name in value]
    assert all(code_of(name) for name in names)


@pytest.mark.parametrize(
    ("name", "code"),
    [
        ("red-blue", "RDBU"),  # IEC 60757: joined in the order of its table
        ("blue-red", "RDBU"),
        ("green-yellow", "GNYE"),
        ("yellow-red", "RDYE"),
        ("light blue", "BU"),
        ("gray", "GY"),
        ("clear", ""),
    ],
)
def test_letter_codes(name: str, code: str) -> None:
    assert code_of(name) == code


# -- books ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", BOOKS)
def test_a_book_knows_its_name_and_is_read_once(name: str) -> None:
    assert book(name).name == name and book(name).title
    assert book(name) is book(name)
    assert book(name).symbols in ("iec60617", "ieee315")


def test_an_unknown_book_raises() -> None:
    with pytest.raises(FileNotFoundError):
        book("nobody-s")
