"""The rule books against printed tables, each copied apart from the books into data/books/*.csv.

The first line of every such file names the table, its edition and how it was seen.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import sqrt

import pytest
from ferrule.checks.books.book import Book, book
from ferrule.checks.books.data import BOOKS
from ferrule.checks.books.table import (
    CONFIRMED,
    FROM_MEMORY,
    PARTLY,
    STATUSES,
    Origin,
    Table,
    origin_of,
)
from ferrule.checks.trade.sizes import area_mm2
from printed_tables import number_or_size, printed


def tables(*forms: str) -> Iterator[tuple[Book, Table]]:
    for name in BOOKS:
        for table in book(name).tables.values():
            if not forms or set(forms) & set(table.forms):
                yield book(name), table


# -- the tables, cell by cell ---------------------------------------------------------------------

PRINTED = [
    ("nfpa70-310-16", "nfpa70", "ampacity"),
    ("nfpa70-400-5-A-1", "nfpa70", "cord"),
    ("nfpa70-400-5-A-1", "abyc-e11", "cord"),
    ("nfpa70-240-4-D", "nfpa70", "small-conductors"),
    ("nfpa70-310-15-B-1", "nfpa70", "ambient"),
    ("nfpa70-250-122", "nfpa70", "earth"),
    ("33cfr-183-425", "abyc-e11", "ampacity"),
    ("abyc-e11-areas", "abyc-e11", "circular-mils"),
    ("iec60364-B-52-2", "iec60364", "pvc-2"),
    ("iec60364-B-52-4", "iec60364", "pvc-3"),
    ("iec60364-B-52-3", "iec60364", "xlpe-2"),
    ("iec60364-B-52-5", "iec60364", "xlpe-3"),
    ("bs7671-4F1A", "iec60364", "cord"),
    ("bs7671-4F2A", "iec60364", "cord-90"),
    ("iec60364-B-52-14", "iec60364", "ambient"),
    ("iec60364-B-52-17", "iec60364", "grouping"),
    ("iec60364-721", "iec60364", "shore"),
    ("iso10133-A-1", "iec60364", "craft"),
    ("nfpa70-250-66", "nfpa70", "electrode"),
    ("nfpa70-552-10-E-1", "nfpa70", "low-voltage"),
    ("nfpa70-551-44", "nfpa70", "shore"),
    ("abyc-e11-interrupting-ac", "abyc-e11", "interrupting-ac"),
    ("iec60364-41-1-TN", "iec60364", "disconnection"),
    ("bs7671-drum", "iec60364", "drum"),
    ("nfpa70-ch9-9", "nfpa70", "impedance"),
    ("nfpa70-annex-I-2", "nfpa70", "torque-small"),
    ("nfpa70-annex-I-3", "nfpa70", "torque-socket"),
    ("nfpa70-ch9-4-emt", "nfpa70", "conduit"),
    ("nfpa70-ch9-5", "nfpa70", "conductor-area"),
    ("nfpa70-314-16-B", "nfpa70", "box"),
    ("nema-knockouts", "nfpa70", "knockout"),
    ("iec60228", "iec60364", "resistance"),
    ("iec60364-41-1-TT", "iec60364", "disconnection-tt"),
    ("stud-torque", "iec60364", "stud-torque"),
    ("stud-current", "iec60364", "stud-current"),
]

OTHERWISE = {
    ("nfpa70", "grouping"): "test_nfpa70_more_than_three_conductors",
    ("abyc-e11", "grouping"): "test_abyc_bundles",
    ("abyc-e11", "engine"): "test_abyc_engine_factors",
    ("abyc-e11", "interrupting-dc"): "test_abyc_interrupting_ratings",
    ("abyc-e11", "earth"): "the rule itself, in the look-ups' tests",
    ("iec60364", "earth"): "Table 54.2, in the look-ups' tests",
    ("iec60364", "pvc-1mm"): "from memory, no copy to compare with",
    ("iec60364", "cord-small"): "from memory, no copy to compare with",
    ("nfpa70", "free-air"): "test_free_air_is_the_boats_table_from_6_AWG",
    ("nfpa70", "resistance"): "test_nfpa70_table_8",
    ("nfpa70", "torque"): "test_nfpa70_torque",
    ("nfpa70", "fill"): "conduit fill, in the worked examples",
    ("nfpa70", "site"): "test_site_supplies_are_volts_times_amperes",
    ("nfpa70", "withstand"): "test_checks_materials.py",
    ("abyc-e11", "reactance"): "test_abyc_reactance_is_nfpa70_s",
    ("abyc-e11", "withstand"): "test_checks_materials.py",
    ("iec60364", "withstand"): "test_checks_materials.py",
    ("iec60364", "ambient-rubber"): "test_ambient_factors_follow_the_closed_form",
    ("iec60364", "ambient-ground"): "test_ambient_factors_follow_the_closed_form",
}
"""Tables held by other tests than the comparison of cells, and which."""


def test_no_table_goes_untested() -> None:
    held = {(rules.name, table.key) for rules, table in tables()}
    assert held == {(rules, key) for _, rules, key in PRINTED} | set(OTHERWISE)


@pytest.mark.parametrize(("name", "rules", "key"), PRINTED)
def test_every_cell_is_as_printed(name: str, rules: str, key: str) -> None:
    header, rows = printed(name)
    table = book(rules).tables[key]
    assert len(header) == 1 + len(table.columns)
    assert list(table.rows) == [row[0] for row in rows]
    for row, *cells in rows:
        held = ["" if cell == 0 else cell for cell in table.rows[row]]
        assert held == [number_or_size(cell) for cell in cells]


NAMED_COLUMNS = [row for row in PRINTED if len(printed(row[0])[0]) > 2]


@pytest.mark.parametrize(("name", "rules", "key"), NAMED_COLUMNS)
def test_columns_are_as_printed(name: str, rules: str, key: str) -> None:
    header, _ = printed(name)
    assert [str(column) for column in book(rules).tables[key].columns] == header[1:]


def test_nfpa70_standard_ratings() -> None:
    _, rows = printed("nfpa70-240-6-A")
    standard = [float(row[0]) for row in rows]
    assert standard == list(book("nfpa70").standard_ratings)
    # 240.6(A): fuses come in these as well
    assert set(book("nfpa70").data.fuse_ratings) - set(standard) == {1, 3, 6, 10, 601}


def test_abyc_ratings_are_240_6_a_with_blade_fuses_below() -> None:
    """From 15 to 800 A NFPA 70 240.6(A); below, blade fuses of ISO 8820-3 (from memory)."""
    standard = [float(row[0]) for row in printed("nfpa70-240-6-A")[1]]
    small = [1, 2, 3, 4, 5, 7.5, 10]
    assert list(book("abyc-e11").standard_ratings) == small + [r for r in standard if r <= 800]


def test_iec_ratings_are_those_of_breakers_and_of_fuses() -> None:
    """IEC 60898-1 preferred ratings; the rest are fuses of IEC 60269 (from memory)."""
    breakers = {float(row[0]) for row in printed("iec60898-ratings")[1]}
    fuses = {2, 4, 35, 160, 200, 250, 315, 400, 500, 630}
    assert list(book("iec60364").standard_ratings) == sorted(breakers | fuses)


def test_nfpa70_more_than_three_conductors() -> None:
    """Table 310.15(C)(1): both ends of each band that the table prints."""
    table = book("nfpa70").tables["grouping"]
    lowest = 4
    for upto, percent in printed("nfpa70-310-15-C-1")[1]:
        for count in (lowest, int(upto)):
            assert table.rows[table.ceiling(count) or ""][0] == int(percent) / 100
        lowest = int(upto) + 1


def test_abyc_bundles() -> None:
    table = book("abyc-e11").tables["grouping"]
    for count, factor in printed("abyc-e11-bundles")[1]:
        assert table.rows[table.ceiling(int(count)) or ""][0] == float(factor)


def test_abyc_engine_factors() -> None:
    table = book("abyc-e11").tables["engine"]
    rows = printed("33cfr-183-425-engine")[1]
    assert {float(t): float(f) for t, f in rows} == dict(
        zip(table.columns, table.rows["engine"], strict=True)
    )


def test_abyc_interrupting_ratings() -> None:
    table = book("abyc-e11").tables["interrupting-dc"]
    for upto, *ratings in printed("abyc-e11-interrupting")[1]:
        row = table.ceiling(float(upto or 1101))
        assert [float(cell) for cell in table.rows[row or ""]] == [float(r) for r in ratings]


# -- outside checks that no cell is copied from ---------------------------------------------------


AMBIENT = [
    ("nfpa70", "ambient", 30, 39),
    ("iec60364", "ambient", 30, 26),
    ("iec60364", "ambient-rubber", 30, 10),
    ("iec60364", "ambient-ground", 20, 26),
]


@pytest.mark.parametrize(("rules", "key", "base", "count"), AMBIENT)
def test_ambient_factors_follow_the_closed_form(
    rules: str, key: str, base: float, count: int
) -> None:
    """sqrt((Tc - Ta) / (Tc - base)) to two decimals gives every cell (NFPA 70 310.15(B), eq.)."""
    table = book(rules).tables[key]
    checked = 0
    for row, cells in table.rows.items():
        for celsius, cell in zip(table.columns, cells, strict=True):
            if cell:
                exact = sqrt((float(celsius) - float(row)) / (float(celsius) - base))
                assert float(cell) == pytest.approx(exact, abs=0.00501)
                checked += 1
    assert checked == count


def test_engine_factors_follow_the_closed_form() -> None:
    """Within 0.01 of sqrt((T - 50) / (T - 30)); at 200 degC the table leaves the current whole."""
    table = book("abyc-e11").tables["engine"]
    for celsius, factor in zip(table.columns, table.rows["engine"], strict=True):
        exact = sqrt((float(celsius) - 50) / (float(celsius) - 30))
        assert float(factor) == pytest.approx(1.0 if celsius == 200 else exact, abs=0.0101)


def test_printed_derated_currents_reproduce() -> None:
    """Handbooks print IEC tables at 40 to 55 degC: cell times ambient factor, rounded."""
    rules = book("iec60364")
    for key, size, method, celsius, base, *derated in printed("iec60364-derated")[1]:
        cell = float(rules.tables[key].cell(size, method))
        assert cell == float(base)
        for ambient, amperes in zip(("40", "45", "50", "55"), derated, strict=True):
            factor = float(rules.tables["ambient"].cell(ambient, int(celsius)))
            assert cell * factor == pytest.approx(float(amperes), abs=0.65)


def test_abyc_printed_engine_space_and_bundles_reproduce() -> None:
    """A cable maker's printed tables are the 105 degC column times the two factors."""
    rules = book("abyc-e11")
    engine = float(rules.tables["engine"].cell("engine", 105))
    bundle = rules.tables["grouping"]
    for size, amperes in printed("abyc-e11-inside-engine")[1]:
        base = float(rules.tables["ampacity"].cell(size, 105))
        assert base * engine == pytest.approx(float(amperes), abs=0.0501)
    header, rows = printed("abyc-e11-bundled")
    for size, *cells in rows:
        base = float(rules.tables["ampacity"].cell(size, 105))
        for column, cell in zip(header[1:], cells, strict=True):
            count, _, inside = column.partition(" ")
            share = float(bundle.rows[bundle.ceiling(int(count)) or ""][0])
            expected = base * share * (engine if inside else 1)
            assert expected == pytest.approx(float(cell), abs=0.0501)


def test_abyc_areas_reproduce_a_printed_drop_table() -> None:
    """CM = 10.75 I L / E at 24 V, 3 %: the smallest area not below gives all 156 printed sizes."""
    rules = book("abyc-e11")
    constant = rules.value("drop-constant")
    assert constant is not None
    areas = {size: float(row[0]) for size, row in rules.tables["circular-mils"].rows.items()}
    header, rows = printed("abyc-e11-drop-24V-3pct")
    for feet, *sizes in rows:
        for amperes, size in zip(header[1:], sizes, strict=True):
            mils = constant.value * float(amperes) * float(feet) / (24 * 0.03)
            assert next(s for s, area in areas.items() if area >= mils) == size, (feet, amperes)


@pytest.mark.parametrize("gauge", ["18", "16", "14", "12", "10", "8", "6", "4", "3", "2", "1"])
def test_awg_areas_follow_their_definition(gauge: str) -> None:
    """ASTM B258: 0.005 in x 92^((36 - n) / 39), to the rounding of NFPA 70 chapter 9 table 8."""
    diameter_mm = 0.127 * 92 ** ((36 - int(gauge)) / 39)
    assert area_mm2(f"{gauge}AWG") == pytest.approx(0.7853981634 * diameter_mm**2, rel=0.0012)


def test_printed_sizes_at_12_volts_reproduce() -> None:
    """As at 24 V: cells at 3 % on which a catalogue and the formula agree, and a row at 10 %."""
    areas = {s: float(c[0]) for s, c in book("abyc-e11").tables["circular-mils"].rows.items()}
    rows = [(*row, 0.03) for row in printed("abyc-e11-drop-12V-3pct")[1]]
    rows += [("10", *row, 0.10) for row in printed("abyc-e11-drop-12V-10pct")[1]]
    assert len(rows) == 45 + 13
    for feet, amperes, size, share in rows:
        mils = 10.75 * float(amperes) * float(feet) / (12 * float(share))
        assert next(s for s, area in areas.items() if area >= mils) == size, (feet, amperes)


def test_areas_by_gauge_do_not_reproduce_the_printed_drop_table() -> None:
    """It is the SAE areas that E-11 means: with those of ASTM B258 only 129 of 156 cells agree."""
    sizes = book("abyc-e11").tables["circular-mils"].rows
    areas = {size: area_mm2(size) / 5.067075e-4 for size in sizes}
    header, rows = printed("abyc-e11-drop-24V-3pct")
    agree = 0
    for feet, *cells in rows:
        for amperes, size in zip(header[1:], cells, strict=True):
            mils = 10.75 * float(amperes) * float(feet) / 0.72
            agree += next((s for s, area in areas.items() if area >= mils), "") == size
    assert agree == 129


def test_nfpa70_table_8() -> None:
    """Solid and stranded as printed; coated (from memory) is dearer by 1 to 7 %."""
    table = book("nfpa70").tables["resistance"]
    rows = printed("nfpa70-ch9-8")[1]
    assert list(table.rows) == [row[0] for row in rows]
    for size, *cells in rows:
        assert [c or "" for c in table.rows[size][:2]] == [number_or_size(c) for c in cells]
        for plain, tinned in zip(table.rows[size][:2], table.rows[size][2:], strict=True):
            assert bool(plain) == bool(tinned)
            assert not plain or 1.01 < float(tinned) / float(plain) < 1.07


def test_table_8_resistance_times_area_is_the_trade_s_constant() -> None:
    """K, 12.84 to 12.93 ohm CM/ft for stranded copper at 75 degC: trade press says 12.9."""
    for size, cells in book("nfpa70").tables["resistance"].rows.items():
        mils = area_mm2(size) / 5.067075e-4
        assert 12.83 < float(cells[1]) * mils / 1000 < 12.94, size


def test_nfpa70_table_9_agrees_with_table_8_and_with_its_own_impedance() -> None:
    """R in PVC is Table 8's to its rounding; Z at 0.85 is R cos + X sin within 6 % (note 2)."""
    direct = book("nfpa70").tables["resistance"]
    for size, cells in book("nfpa70").tables["impedance"].rows.items():
        x, _, r, _, _, z, *_ = map(float, cells)
        assert r == pytest.approx(float(direct.cell(size, "stranded")), rel=0.05)
        assert z == pytest.approx(0.85 * r + sqrt(1 - 0.85**2) * x, rel=0.06)


def test_abyc_reactance_is_nfpa70_s() -> None:
    ours, theirs = book("abyc-e11").tables["reactance"], book("nfpa70").tables["impedance"]
    assert {s: c[0] for s, c in ours.rows.items()} == {s: c[0] for s, c in theirs.rows.items()}


def test_free_air_is_the_boats_table_from_6_AWG() -> None:
    """Table 310.17 from memory: its 60 and 75 degC columns are those of 33 CFR 183.425."""
    ours, boats = book("nfpa70").tables["free-air"], book("abyc-e11").tables["ampacity"]
    for size, cells in ours.rows.items():
        if area_mm2(size) >= area_mm2("6AWG"):
            assert list(cells[:2]) == [boats.cell(size, 60), boats.cell(size, 75)]
        raceway = book("nfpa70").tables["ampacity"].rows[size]
        assert all(a > b or a == b == 0 for a, b in zip(cells, raceway, strict=True))


def test_nfpa70_torque() -> None:
    """Annex I Table I.1: printed for bands of sizes, the same on each size of a band."""
    table = book("nfpa70").tables["torque"]
    order = list(table.rows)
    seen = []
    for band, *cells in printed("nfpa70-annex-I-1")[1]:
        first, _, last = band.rpartition("-")
        sizes = {"30": ["10AWG"], "": [f"{last}AWG"]}.get(first) or order[
            order.index(f"{first}AWG") : order.index(f"{last}AWG") + 1
        ]
        for size in sizes:
            seen.append(size)
            assert [c or "" for c in table.rows[size]] == [number_or_size(c) for c in cells]
    assert seen == order


def test_emt_areas_follow_from_the_diameters() -> None:
    for inside, area, forty in book("nfpa70").tables["conduit"].rows.values():
        assert float(area) == pytest.approx(0.785398 * float(inside) ** 2, rel=0.003)
        assert float(forty) == pytest.approx(0.4 * float(area), abs=0.0006)


def test_a_punched_hole_fits_a_knockout_of_its_size() -> None:
    """Every hole of a punch lies within the printed limits, or under them by a screw's play."""
    for nominal, least, largest, punch in book("nfpa70").tables["knockout"].rows.values():
        assert float(least) < float(nominal) < float(largest)
        assert float(largest) > float(punch) > float(least) - 0.04


def test_site_supplies_are_volts_times_amperes() -> None:
    """15 A 1800 VA, 30 A 3600 VA, 50 A on two lines 12 000 VA (owners' handbooks)."""
    for amperes, (volts, apparent) in book("nfpa70").tables["site"].rows.items():
        assert float(amperes) * float(volts) == apparent


def test_class_5_is_not_always_above_class_2() -> None:
    """IEC 60228: 50 mm2 of class 5 has 0.386, of class 2 0.387, and so it is printed."""
    for size, (two, two_tinned, five, five_tinned) in (
        book("iec60364").tables["resistance"].rows.items()
    ):
        assert (float(five) < float(two)) == (size == "50mm2")
        assert float(two_tinned) > float(two) and float(five_tinned) > float(five)


# -- what must be true of any table ---------------------------------------------------------------


def origins() -> Iterator[tuple[str, Origin]]:
    for name in BOOKS:
        data = book(name).data
        yield from ((f"{name} {key}", origin) for key, origin in data.rules.items())
        yield f"{name} ratings", data.ratings_origin
        yield from ((f"{name} {key}", table.origin) for key, table in data.tables.items())
        rest = {**data.allowances, **data.values, **data.residuals, "colours": data.colours}
        for key, row in rest.items():
            yield f"{name} {key}", origin_of(row)


@pytest.mark.parametrize(("what", "origin"), list(origins()))
def test_everything_says_where_it_comes_from(what: str, origin: Origin) -> None:
    assert origin.clause and origin.edition and origin.source
    assert origin.status in STATUSES
    if origin.source.startswith("from memory"):
        assert origin.status == FROM_MEMORY
    if origin.status == CONFIRMED:
        assert "unconfirmed" not in origin.source


def test_a_partly_confirmed_table_says_which_cells() -> None:
    """Some of its cells are from memory, some are not; every mark names a cell there is."""
    for rules, table in tables():
        _, marked = table.marks
        if table.origin.status != PARTLY:
            assert not marked, (rules.name, table.key)
            continue
        cells = {(row, column) for row in table.rows for column in table.columns}
        named = {row for row, _ in cells} | {f"*:{column}" for _, column in cells}
        assert marked <= named | {f"{row}:{column}" for row, column in cells}, table.key
        found = {table.status_at(row, column) for row, column in cells if table.cell(row, column)}
        split = {CONFIRMED, FROM_MEMORY}
        assert found == split or (rules.name, table.key) in WHOLLY, (rules.name, table.key)


WHOLLY = {
    ("abyc-e11", "earth"),  # its AC rule is confirmed, its DC rule from memory: the same cells
    ("iec60364", "withstand"),  # what comes of it, k, is confirmed
}


def test_tables_are_full_and_in_order() -> None:
    for rules, table in tables():
        assert len(set(table.columns)) == len(table.columns), (rules.name, table.key)
        assert {len(cells) for cells in table.rows.values()} == {len(table.columns)}
        if table.forms:
            areas = [area_mm2(size) for size in table.rows]
            assert areas == sorted(set(areas)), (rules.name, table.key)


def test_ampacity_rises_with_size_and_with_insulation() -> None:
    for rules, table in tables("single", "multi", "cord"):
        columns = list(zip(*table.rows.values(), strict=True))
        for column in columns:
            present = [float(cell) for cell in column if cell]
            assert present == sorted(set(present)) or rules.name == "abyc-e11", table.key
            assert present == sorted(present)
        if table.axis == "celsius":
            for cells in table.rows.values():
                hot = [float(cell) for cell in cells if cell]
                assert hot == sorted(hot)


def test_methods_rank_as_heat_leaves() -> None:
    """Clipped direct carries more than conduit on a wall, that more than conduit in insulation."""
    for _, table in tables("single"):
        if table.axis != "method":
            continue
        for size in table.rows:
            a1, a2, b1, b2, c = (float(table.cell(size, m)) for m in ("A1", "A2", "B1", "B2", "C"))
            assert c > b1 > b2 > a1 >= a2 > 0, (table.key, size)


def test_three_loaded_carry_less_and_hotter_insulation_more() -> None:
    rules = book("iec60364").tables
    for two, three in (("pvc-2", "pvc-3"), ("xlpe-2", "xlpe-3")):
        for size in rules[two].rows:
            for method in ("A1", "A2", "B1", "B2", "C"):
                assert float(rules[three].cell(size, method)) < float(rules[two].cell(size, method))
    for cool, hot in (("pvc-2", "xlpe-2"), ("pvc-3", "xlpe-3")):
        for size in rules[hot].rows:
            for method in ("A1", "A2", "B1", "B2", "C"):
                assert float(rules[hot].cell(size, method)) > float(rules[cool].cell(size, method))


def test_factors_are_factors() -> None:
    for _, table in tables():
        if table.unit == "1":
            assert all(0 <= float(cell) < 1.3 for cells in table.rows.values() for cell in cells)


@pytest.mark.parametrize("rules", BOOKS)
def test_ratings_rise(rules: str) -> None:
    ratings = book(rules).standard_ratings
    assert list(ratings) == sorted(set(ratings))
    for low, high in pairwise(ratings):
        between = (low + high) / 2
        assert book(rules).next_rating(between) == high
        assert book(rules).rating_below(between) == low
        assert book(rules).next_rating(low) == low == book(rules).rating_below(low)
    assert book(rules).next_rating(1e6) is None
    assert book(rules).rating_below(0.1) is None
