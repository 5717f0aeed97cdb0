"""Where and beside what a conductor runs: ambient temperature, grouping, drums."""

from __future__ import annotations

from itertools import cycle, islice
from pathlib import Path

import pytest
from ferrule.checks.books.book import Figure, Missing, book
from ferrule.checks.tracing.trace import Stage, analyse
from ferrule.dsl.model import Rig
from ferrule.dsl.reader import read_text
from hypothesis import given, settings
from hypothesis import strategies as st
from printed_tables import printed


def rig_of(rules: str, *lines: str) -> Rig:
    reading = read_text("\n".join(['rig "Factors"', f"rules {rules}", *lines, ""]))
    assert reading.problems == (), reading.problems
    return reading.rigs[-1]


def ampacity(rig: Rig, name: str) -> Figure:
    """As the text alone tells, no roles traced."""
    found = book(rig.book).ampacity(rig.conductors[name], rig)
    assert isinstance(found, Figure), found
    return found


def traced(stage: Stage, name: str) -> Figure:
    found = stage.ampacity(stage.rig.conductors[name])
    assert isinstance(found, Figure), found
    return found


def product(figure: Figure) -> float:
    """What the cell comes to with its factors, before the terminals have their say."""
    (line,) = [step for step in figure.steps if " x " in step and " = " in step]
    return float(line.rpartition("= ")[2].removesuffix(" A"))


ENDS = ("fuse F1 100A dc at=HERE", "fuse F2 100A dc at=THERE")


def lone(rules: str, size: str, here: str, there: str = "", items: str = "") -> Rig:
    """One wire between two places."""
    places = (f'place HERE "h" {here}', f'place THERE "t" {there}')
    return rig_of(rules, *places, *ENDS, f"wire W {size} 1m F1.2 -> F2.1 {items}")


# -- ambient --------------------------------------------------------------------------------------


def test_every_ambient_cell_through_a_conductor() -> None:
    """NFPA 70 Table 310.15(B)(1)(1), 39 cells on 8 AWG: its own column's cell of Table 310.16
    times the factor; in the first degree of a band and in its last."""
    header, rows = printed("nfpa70-310-15-B-1")
    base = {"60": 40, "75": 50, "90": 55}
    low, seen = 0, 0
    for upto, *cells in rows:
        for celsius, cell in zip(header[1:], cells, strict=True):
            for ambient in (low, int(upto)):
                rig = lone(
                    "nfpa70",
                    "8AWG",
                    f"ambient={ambient}degC",
                    "ambient=-10degC",
                    f"insulation={celsius}degC",
                )
                found = ampacity(rig, "W")
                assert product(found) == pytest.approx(base[celsius] * float(cell or 0), abs=0.006)
                if not cell:
                    limit = book("nfpa70").limit(rig.conductors["W"], rig)
                    assert isinstance(limit, Figure) and limit.value == 0
                    assert any("may carry nothing there" in step for step in limit.steps)
                    continue
                seen += 1
        low = int(upto) + 1
    assert seen == 2 * 39


def test_printed_derated_currents_through_a_conductor() -> None:
    """Compressor handbooks print IEC 60364-5-52 at 40 to 55 degC, 16 currents, rounded."""
    seen = 0
    for key, size, method, celsius, _, *derated in printed("iec60364-derated")[1]:
        loaded = int(key.rpartition("-")[2])
        for ambient, amperes in zip((40, 45, 50, 55), derated, strict=True):
            items = f"method={method} insulation={celsius}degC"
            rig = lone("iec60364", size, f"ambient={ambient}degC", "", items)
            found = book("iec60364").ampacity(rig.conductors["W"], rig, loaded)
            assert isinstance(found, Figure)
            assert found.value == pytest.approx(float(amperes), abs=0.65)
            seen += 1
    assert seen == 16


@pytest.mark.parametrize(
    ("here", "there", "via", "factor"),
    [
        ("ambient=40degC", "", "", 0.91),  # one end
        ("", "ambient=40degC", "", 0.91),  # the other
        ("", "", "via=R", 0.82),  # its route, 50 degC
        ("ambient=40degC", "ambient=60degC", "via=R", 0.71),  # the hottest of all three
        ("ambient=10degC", "ambient=10degC", "", 1.15),  # both cool
        ("ambient=10degC", "", "", 1.00),  # one cool, the other as the rig
    ],
)
def test_the_hottest_place_counts(here: str, there: str, via: str, factor: float) -> None:
    """NFPA 70, 90 degC column: 0.91 at 40, 0.82 at 50, 0.71 at 60, 1.15 at 10 degC."""
    places = (f'place HERE "h" {here}', f'place THERE "t" {there}', 'route R "r" ambient=50degC')
    rig = rig_of("nfpa70", *places, *ENDS, f"wire W 8AWG 0.5m F1.2 -> F2.1 {via}")
    assert product(ampacity(rig, "W")) == pytest.approx(55 * factor)


def test_a_panel_stands_in_its_place_and_the_rig_s_ambient_counts_elsewhere() -> None:
    lines = ('place HOT "h" ambient=40degC', "panel AP ways=4 at=HOT", "ambient 35degC")
    rig = rig_of("nfpa70", *lines, "fuse F1 1A at=AP.1", "fuse F2 1A", "fuse F3 1A",
                 "wire W1 8AWG 1m F1.2 -> F2.1", "wire W2 8AWG 1m F2.2 -> F3.1")  # fmt: skip
    assert product(ampacity(rig, "W1")) == pytest.approx(55 * 0.91)
    # values-na 3.3: 8 AWG, 90 degC, at 35 degC: 55 x 0.96 = 52.8 A
    assert product(ampacity(rig, "W2")) == pytest.approx(52.8)
    assert any("35 degC (the whole rig): x 0.96" in step for step in ampacity(rig, "W2").steps)


def test_all_cores_of_a_cable_share_its_hottest_end() -> None:
    """The far end of one core is in the heat: so is the cable."""
    lines = ('place HOT "h" ambient=40degC', "fuse F1 1A", "fuse F2 1A", "fuse F3 1A at=HOT")
    rig = rig_of("nfpa70", *lines, "cable C 2x8AWG 1m F1.1 F1.2 -> F2.1 F3.1")
    assert ampacity(rig, "C/1").value == ampacity(rig, "C/2").value
    assert product(ampacity(rig, "C/1")) == pytest.approx(55 * 0.91)


def test_engine_spaces() -> None:
    """33 CFR 183.425 Table 5 note: 105 degC cable 0.85 in an engine space, printed 15 sizes; and in
    any place above 30 degC, for which the book prints nothing else."""
    for size, amperes in printed("abyc-e11-inside-engine")[1]:
        for place in ("engine", "ambient=50degC", "engine ambient=45degC", "ambient=31degC"):
            found = ampacity(lone("abyc-e11", size, place), "W")
            assert found.value == pytest.approx(float(amperes), abs=0.0501)
    assert ampacity(lone("abyc-e11", "8AWG", "", "ambient=10degC"), "W").value == 80
    hotter = lone("abyc-e11", "8AWG", "engine ambient=60degC")
    found = book("abyc-e11").ampacity(hotter.conductors["W"], hotter)
    assert isinstance(found, Missing) and "above 50 degC" in found.reason


def test_engine_factor_of_each_insulation() -> None:
    header, rows = printed("33cfr-183-425")
    factors = dict(printed("33cfr-183-425-engine")[1])
    for size, *cells in rows:
        for celsius, cell in zip(header[1:], cells, strict=True):
            rig = lone("abyc-e11", size, "engine", "", f"insulation={celsius}degC")
            expected = float(cell) * float(factors[celsius])
            assert ampacity(rig, "W").value == pytest.approx(expected, abs=0.006)


def test_ground_has_a_base_of_its_own() -> None:
    """IEC 60364-5-52: methods D1 and D2 are at 20 degC in the ground, 0.89 at 30 degC (PVC)."""
    rig = lone("iec60364", "4mm2", "", "", "method=D1")  # 37 A, Table B.52.2
    assert ampacity(rig, "W").value == pytest.approx(37 * 0.89)
    assert any("ground at 30 degC" in step for step in ampacity(rig, "W").steps)


def test_cords_take_the_factor_of_their_own_rating() -> None:
    """NFPA 70 400.5(A): Table 310.15(B)(1)(1) by the cord's temperature: 0.82 at 60, 0.91 at 90."""
    for items, factor in (("", 0.82), ("insulation=90degC", 0.91)):
        rig = lone("nfpa70", "10AWG", "ambient=40degC", "", f"cord {items}")
        assert ampacity(rig, "W").value == pytest.approx(30 * factor)


# -- terminals have the last word -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("size", "ambient", "group", "corrected", "amperes"),
    [
        ("8AWG", 30, 6, 44.0, 40),  # 55 x 0.80 = 44.0, 60 degC terminals 40 A
        ("8AWG", 35, 1, 52.8, 40),  # 55 x 0.96
        ("10AWG", 40, 6, 29.12, 29.12),  # 40 x 0.91 x 0.80 = 29.1, under the 30 A of its terminals
        ("6AWG", 40, 1, 68.25, 55),  # 75 x 0.91, capped at 55 A (60 degC)
        ("2/0AWG", 45, 6, 135.72, 135.72),  # 195 x 0.87 x 0.80, terminals 175 A (75 degC)
    ],
)
def test_from_the_own_column_then_the_terminals(
    size: str, ambient: int, group: int, corrected: float, amperes: float
) -> None:
    """NFPA 70 310.15(B), (C), 110.14(C): derate from the conductor's own 90 degC column, then no
    more than the terminals' column; four of the cases as computed in trade handbooks."""
    wires = [f"wire W{n} {size} 1m F1.2 -> F2.1 via=R" for n in range(group)]
    lines = (f'route R "r" ambient={ambient}degC', "fuse F1 1A", "fuse F2 1A", *wires)
    found = ampacity(rig_of("nfpa70", *lines), "W0")
    assert product(found) == pytest.approx(corrected)
    assert found.value == pytest.approx(amperes)
    assert found.steps[-1].endswith(f"so {found.value:g} A")


def test_terminals_of_75_degrees_in_a_book_of_one_s_own(tmp_path: Path) -> None:
    """The same 6 AWG on equipment marked for 75 degC: 65 A."""
    (tmp_path / "own.book").write_text(
        'base = "nfpa70"\n[use]\nwhy = "marked"\nterminals = [["4/0AWG", 75]]\n', encoding="utf-8"
    )
    text = """rig "x"
rules "own.book"
ambient 40degC
fuse F1 1A
fuse F2 1A
wire W 6AWG 1m F1.2 -> F2.1
"""
    reading = read_text(text, str(tmp_path / "a.rig"))
    assert reading.problems == ()
    assert ampacity(reading.rigs[0], "W").value == 65


# -- grouping -------------------------------------------------------------------------------------


def test_printed_bundles_through_conductors() -> None:
    """A cable maker's tables of E-11: 14 sizes in bundles of 3, 6 and 24, outside and inside engine
    spaces, 84 currents, to the rounding of print."""
    header, rows = printed("abyc-e11-bundled")
    sizes = [row[0] for row in rows]
    seen = 0
    for column, head in enumerate(header[1:], 1):
        count, _, inside = head.partition(" ")
        for first in range(0, len(sizes), int(count)):
            chosen = sizes[first : first + int(count)]
            filled = list(islice(cycle(chosen), int(count)))
            wires = [f"wire W{n} {s} 1m F1.2 -> F2.1 via=R" for n, s in enumerate(filled)]
            route = f'route R "r" {"engine" if inside else ""}'
            rig = rig_of("abyc-e11", route, "fuse F1 1A dc", "fuse F2 1A dc", *wires)
            for n, size in enumerate(chosen):
                cell = float(next(row for row in rows if row[0] == size)[column])
                assert ampacity(rig, f"W{n}").value == pytest.approx(cell, abs=0.0501)
                seen += 1
    assert seen == 84


@pytest.mark.parametrize(
    ("count", "factor"),
    [(1, 1), (3, 1), (4, 0.8), (6, 0.8), (7, 0.7), (9, 0.7), (10, 0.5), (20, 0.5), (21, 0.45),
     (30, 0.45), (31, 0.4), (40, 0.4), (41, 0.35)],
)  # fmt: skip
def test_nfpa70_counts_conductors(count: int, factor: float) -> None:
    """NFPA 70 Table 310.15(C)(1): both ends of every band."""
    wires = [f"wire W{n} 8AWG 1m F1.2 -> F2.1 via=R" for n in range(count)]
    rig = rig_of("nfpa70", 'route R "r"', "fuse F1 1A", "fuse F2 1A", *wires)
    found = ampacity(rig, "W0")
    assert product(found) == pytest.approx(55 * factor)
    plural = "s" * (count > 1)
    assert any(
        f"{count} current-carrying conductor{plural} in R: x {factor:.2f}" in s for s in found.steps
    )


def circuits(count: int, laid: str = "", size: str = "2.5mm2") -> Rig:
    cables = [f"cable C{n} 2x{size} 1m F1.1 F1.2 -> F2.1 F2.2 via=R" for n in range(count)]
    return rig_of("iec60364", f'route R "r" {laid}', "fuse F1 1A", "fuse F2 1A", *cables)


def test_every_grouping_cell_through_cables() -> None:
    """IEC 60364-5-52 Table B.52.17 by circuits; a layer of more than nine has no further reduction;
    a number between two rows counts as the next."""
    header, rows = printed("iec60364-B-52-17")
    for column, laid in enumerate(header[1:], 1):
        last = 0.0
        for row in rows:
            last = float(row[column] or last)
            found = ampacity(circuits(int(row[0]), f"laid={laid}"), "C0/1")
            assert found.value == pytest.approx(23 * last, abs=0.006), (row[0], laid)
    assert ampacity(circuits(10), "C0/1").value == pytest.approx(23 * 0.45)
    many = circuits(21)
    found = book("iec60364").ampacity(many.conductors["C0/1"], many)
    assert isinstance(found, Missing) and "21 circuits in R are beyond the table" in found.reason


def test_spaced_cables_are_not_grouped() -> None:
    for rules in ("nfpa70", "abyc-e11", "iec60364"):
        cables = (f"cable C{n} 2x10AWG 1m F1.1 F1.2 -> F2.1 F2.2 via=R" for n in range(9))
        lines = ("fuse F1 1A dc", "fuse F2 1A dc", *cables)
        apart = ampacity(rig_of(rules, 'route R "r" laid=spaced', *lines), "C0/1")
        together = ampacity(rig_of(rules, 'route R "r"', *lines), "C0/1")
        assert product(apart) > product(together)
        assert any("spaced two diameters apart: x 1.00" in step for step in apart.steps)


def test_the_worst_of_several_routes_counts() -> None:
    lines = ("fuse F1 1A", "fuse F2 1A", 'route A "a"', 'route B "b"',
             *(f"wire X{n} 8AWG 1m F1.2 -> F2.1 via=A" for n in range(3)),
             *(f"wire Y{n} 8AWG 1m F1.2 -> F2.1 via=B" for n in range(6)),
             "wire W 8AWG 1m F1.2 -> F2.1 via=A,B")  # fmt: skip
    rig = rig_of("nfpa70", *lines)
    assert product(ampacity(rig, "W")) == pytest.approx(55 * 0.7)  # 7 in B
    assert product(ampacity(rig, "X0")) == pytest.approx(55 * 0.8)  # 4 in A


def test_nfpa70_leaves_out_what_is_no_longer_than_24_inches() -> None:
    """310.15(C)(1): the short one neither counts nor is corrected."""
    lines = ("fuse F1 1A", "fuse F2 1A", 'route R "r"',
             *(f"wire W{n} 8AWG 25in F1.2 -> F2.1 via=R" for n in range(3)),
             "wire SHORT 8AWG 24in F1.2 -> F2.1 via=R")  # fmt: skip
    rig = rig_of("nfpa70", *lines)
    assert product(ampacity(rig, "W0")) == 55
    assert any("3 current-carrying" in step for step in ampacity(rig, "W0").steps)
    assert any("alone" in step for step in ampacity(rig, "SHORT").steps[2:])


MAINS = (
    "supply S 120V 60Hz 50A bonded fault=5kA",
    "bus LB 100A positions=9", "bus NB 100A positions=9", "bus EB 100A positions=9",
    "earth CH positions=2",
    "cable W0 3x6AWG 1m S.(L N PE) -> LB.1 NB.1 EB.1",
    'route R "r"',
)  # fmt: skip


def mains(count: int, *more: str, items: str = "") -> Stage:
    loads = [f"heater E{n} 120V 1200W" for n in range(count)]
    cables = [
        f"cable C{n} 3x10AWG 2m LB.{n + 2} NB.{n + 2} EB.{n + 2} -> E{n}.(L N PE) via=R {items}"
        for n in range(count)
    ]
    return analyse(rig_of("nfpa70", *MAINS, *loads, *cables, *more))


def test_earth_never_counts() -> None:
    """310.15(F): of three cores two carry current."""
    assert mains(3).groups.conductors == {"R": 6}
    assert mains(3).groups.circuits == {"R": 3}
    assert product(traced(mains(3), "C0/1")) == pytest.approx(40 * 0.8)
    assert product(traced(mains(1), "C0/1")) == pytest.approx(40)


def test_what_is_planned_or_dead_does_not_count() -> None:
    assert mains(3, items="status=planned").groups.conductors == {}
    stage = analyse(rig_of("nfpa70", *MAINS, "heater X 120V 10W", "block B 20A positions=3",
                           "cable D 3x10AWG 2m X.(L N PE) -> B.1 B.2 B.3 via=R"))  # fmt: skip
    assert stage.groups.conductors == {}


def test_the_mode_with_the_most_counts() -> None:
    """Two converters of which one runs at a time: never all four conductors at once."""
    text = (
        "battery G1 12V 100Ah", "battery G2 12V 100Ah", "load E1 12V 60W dc", "load E2 12V 60W dc",
        'route R "r"',
        "cable C1 2x8AWG 2m G1.(+ -) -> E1.(+ -) via=R",
        "cable C2 2x8AWG 2m G2.(+ -) -> E2.(+ -) via=R",
    )  # fmt: skip
    both = analyse(rig_of("nfpa70", *text))
    one = analyse(rig_of("nfpa70", *text, "mode a { G2=off }", "mode b { G1=off }"))
    assert both.groups.conductors == {"R": 4}
    assert one.groups.conductors == {"R": 2}


@pytest.mark.parametrize(
    ("supply", "flag", "cores", "terminals", "count"),
    [
        ("120V", "", 3, "L N PE", 2),
        ("240V", "split", 4, "L1 L2 N PE", 2),  # the neutral carries the difference: 310.15(E)(1)
        ("208V", "three", 5, "L1 L2 L3 N PE", 3),  # as well: 310.15(E)(1)
    ],
)
def test_which_cores_carry(supply: str, flag: str, cores: int, terminals: str, count: int) -> None:
    text = (f"supply S {supply} 60Hz 30A {flag} bonded", f"socket X 30A {flag}", 'route R "r"',
            f"cable C {cores}x10AWG 5m S.({terminals}) -> X.({terminals}) via=R")  # fmt: skip
    stage = analyse(rig_of("nfpa70", *text))
    assert stage.groups.conductors == {"R": count}
    assert stage.groups.loaded["C"] == count


def test_traced_roles_tell_what_the_text_cannot() -> None:
    """Three cores of a battery's cable, two + and one -: three carry, which a cord's table asks."""
    text = ("battery G 12V 100Ah holds=2", "bus P 50A positions=3", "bus N 50A positions=3",
            "load E1 12V 60W dc", "load E2 12V 60W dc",
            "wire W1 8AWG 1m G.+ -> P.1", "wire W2 8AWG 1m G.- -> N.1",
            "cable C 3x10AWG 5m P.2 P.3 N.2 -> E1.+ E2.+ E1.- cord")  # fmt: skip
    stage = analyse(rig_of("nfpa70", *text))
    assert traced(stage, "C/1").value == 25  # Table 400.5(A)(1), column A
    assert ampacity(stage.rig, "C/1").value == 30


@settings(max_examples=40, deadline=None)
@given(
    rules=st.sampled_from(["nfpa70", "abyc-e11", "iec60364"]),
    count=st.integers(1, 12),
    ambient=st.integers(-10, 50),
)
def test_more_company_and_more_heat_never_help(rules: str, count: int, ambient: int) -> None:
    def current(cables: int, celsius: int) -> float:
        lines = [f"cable C{n} 2x6AWG 1m F1.1 F1.2 -> F2.1 F2.2 via=R" for n in range(cables)]
        route = f'route R "r" ambient={celsius}degC'
        rig = rig_of(rules, "ambient -10degC", route, "fuse F1 1A", "fuse F2 1A", *lines)
        return ampacity(rig, "C0/1").value

    assert current(count + 1, ambient) <= current(count, ambient)
    if ambient < 50:
        assert current(count, ambient + 1) <= current(count, ambient)


@pytest.mark.parametrize(("rules", "amperes"), [("nfpa70", 25), ("abyc-e11", 25)])
def test_a_cord_s_own_conductors_are_in_its_table(rules: str, amperes: float) -> None:
    """Table 400.5(A)(1) column A is for three loaded: no bundling factor on top of it."""
    text = ("supply S 208V 60Hz 30A three bonded", "socket X 30A three",
            "cable C 5x10AWG 5m S.(L1 L2 L3 N PE) -> X.(L1 L2 L3 N PE) cord")  # fmt: skip
    rig = rig_of(rules, *text)
    assert ampacity(rig, "C/1").value == traced(analyse(rig), "C/1").value == amperes


# -- drums ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("drum", "factor"), printed("bs7671-drum")[1])
def test_cords_on_a_drum(drum: str, factor: str) -> None:
    """BS 7671 Table 4F1A note; a core of 16 mm2, rubber 60 degC, carries 73 A off it."""
    rig = lone("iec60364", "16mm2", "", "", f"cord drum={drum}")
    assert ampacity(rig, "W").value == pytest.approx(73 * float(factor))


@pytest.mark.parametrize("rules", ["nfpa70", "abyc-e11"])
def test_books_without_drums_say_so(rules: str) -> None:
    rig = lone(rules, "10AWG", "", "", "cord drum=1")
    for found in (
        book(rules).ampacity(rig.conductors["W"], rig),
        book(rules).limit(rig.conductors["W"], rig),
    ):
        assert isinstance(found, Missing) and "unwind it" in found.reason


# -- free air -------------------------------------------------------------------------------------


def test_free_air_carries_more_but_its_terminals_do_not() -> None:
    """NFPA 70 Table 310.17 (from memory): 4/0, 90 degC, 405 A; terminals of 75 degC take 230 A."""
    found = ampacity(lone("nfpa70", "4/0AWG", "", "", "method=F"), "W")
    assert product(found) == 405
    assert found.value == 230
    hot = ampacity(lone("nfpa70", "4/0AWG", "ambient=75degC", "", "method=F"), "W")
    inside = ampacity(lone("nfpa70", "4/0AWG", "ambient=75degC"), "W")
    assert (hot.value, inside.value) == (405 * 0.5, 260 * 0.5)
