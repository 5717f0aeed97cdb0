"""The rule books against printed tables, each copied apart from the books into data/books/*.csv.

The first line of every such file names the table, its edition and how it was seen.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import sqrt

import pytest
from ferrule.checks.book import Book, book
from ferrule.checks.book_data import (
    BOOKS,
    CONFIRMED,
    FROM_MEMORY,
    STATUSES,
    Origin,
    Table,
    origin_of,
)
from ferrule.checks.sizes import area_mm2
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


@pytest.mark.parametrize("rules", ["nfpa70", "iec60364"])
def test_ambient_factors_follow_the_closed_form(rules: str) -> None:
    """sqrt((Tc - Ta) / (Tc - 30)) to two decimals gives every cell (NFPA 70 310.15(B), eq.)."""
    table = book(rules).tables["ambient"]
    checked = 0
    for row, cells in table.rows.items():
        for celsius, cell in zip(table.columns, cells, strict=True):
            if cell:
                exact = sqrt((float(celsius) - float(row)) / (float(celsius) - 30))
                assert float(cell) == pytest.approx(exact, abs=0.00501)
                checked += 1
    assert checked == {"nfpa70": 39, "iec60364": 26}[rules]


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


# -- what must be true of any table ---------------------------------------------------------------


def origins() -> Iterator[tuple[str, Origin]]:
    for name in BOOKS:
        data = book(name).data
        yield f"{name} use", data.use.origin
        yield f"{name} ratings", data.ratings_origin
        yield from ((f"{name} {key}", rule.origin) for key, rule in data.limits.items())
        yield from ((f"{name} {key}", table.origin) for key, table in data.tables.items())
        rest = {**data.allowances, **data.values, "colours": data.colours}
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
