"""What the books ask of circuits: disconnection, voltage drop, residual current, factors."""

from __future__ import annotations

import pytest
from ferrule.checks.books.book import Figure, book
from ferrule.checks.books.data import BOOKS
from ferrule.dsl.model import Rig
from ferrule.dsl.reader import read_text
from printed_tables import printed

NFPA, ABYC, IEC = (book(name) for name in BOOKS)


# -- disconnection --------------------------------------------------------------------------------


@pytest.mark.parametrize(("system", "name"), [("TN", "TN"), ("TT", "TT")])
def test_every_printed_disconnection_time(system: str, name: str) -> None:
    """IEC 60364-4-41 Table 41.1, at the upper end of each band of U0; where it prints none for
    direct current, the time of other circuits: 5 s in TN, 1 s in TT."""
    rest = {"TN": 5.0, "TT": 1.0}[system]
    for upto, *cells in printed(f"iec60364-41-1-{name}")[1]:
        for dc, cell in zip((False, True), cells, strict=True):
            volts = float(upto) + (dc and upto == "120") * 0.5  # 120 V DC is extra-low voltage
            if dc and upto == "120":
                assert IEC.disconnect_time(120, dc=True, rated_a=16, system=system) is None
                continue
            found = IEC.disconnect_time(volts, dc=dc, rated_a=16, system=system)
            assert found is not None
            assert found.value == float(cell or rest)
            assert system in found.steps[0] and f"{volts:g} V" in found.steps[0]


@pytest.mark.parametrize(
    ("final", "rated", "seconds"),
    [
        (True, 16, 0.4),
        (True, 32, 0.4),
        (True, 63, 0.4),  # final circuits with socket-outlets to 63 A (2017)
        (True, 80, 5.0),  # 411.3.2.3: other circuits
        (False, 16, 5.0),  # a distribution circuit
    ],
)
def test_which_circuits_must_be_quick(final: bool, rated: float, seconds: float) -> None:
    found = IEC.disconnect_time(230, final=final, rated_a=rated)
    assert found is not None and found.value == seconds


def test_no_time_at_extra_low_voltage_nor_in_books_that_set_none() -> None:
    """IEC 60364-4-41 414: to 50 V AC and 120 V DC; NFPA 70 and E-11 print no times."""
    assert IEC.disconnect_time(50) is None
    assert IEC.disconnect_time(51, rated_a=10) is not None
    assert NFPA.disconnect_time(120) is None
    assert ABYC.disconnect_time(120) is None


# -- voltage drop ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rules", "lighting", "critical", "public", "percent"),
    [
        ("nfpa70", False, False, False, 5),  # 215.2(A) note: to the farthest outlet
        ("nfpa70", True, True, True, 5),
        ("abyc-e11", False, True, False, 3),  # E-11 11.14.2.6
        ("abyc-e11", True, False, False, 10),
        ("iec60364", True, False, True, 3),  # -5-52 Annex G
        ("iec60364", False, False, True, 5),
        ("iec60364", True, False, False, 6),
        ("iec60364", False, False, False, 8),
        ("iec60364", False, True, False, 3),  # ISO 13297
    ],
)
def test_voltage_drop_limits(
    rules: str, lighting: bool, critical: bool, public: bool, percent: float
) -> None:
    found = book(rules).drop_limit(lighting=lighting, critical=critical, public=public)
    assert found is not None
    assert (found.value, found.unit) == (percent, "%")
    assert found.clause in found.steps[0] and f"{percent} %" in found.steps[0]


# -- residual current -----------------------------------------------------------------------------


def rig(rules: str, device: str, place: str = "") -> Rig:
    text = f'rig "R"\nrules {rules}\nplace P "p" {place}\npanel AP ways=4 at=P\n{device} at=P\n'
    reading = read_text(text)
    assert reading.problems == ()
    return reading.rigs[0]


@pytest.mark.parametrize(
    ("rules", "device", "place", "volts", "amperes"),
    [
        ("iec60364", "socket X 16A", "", 230, 0.03),  # 411.3.3
        ("iec60364", "socket X 63A", "", 230, None),  # above 32 A
        ("iec60364", "inlet X 16A", "", 230, 0.03),  # -7-721
        ("iec60364", "lamp X 230V 60W", "", 230, None),
        ("nfpa70", "socket X 20A", "wet", 120, 0.005),  # 210.8, 551.41(C)
        ("nfpa70", "socket X 20A", "outside", 120, 0.005),
        ("nfpa70", "socket X 20A", "", 120, None),
        ("nfpa70", "socket X 20A", "wet", 240, None),  # above 150 V to ground
        ("nfpa70", "socket X 60A", "wet", 120, None),  # above 50 A
        ("nfpa70", "inlet X 30A", "wet", 120, None),
        ("abyc-e11", "inlet X 30A", "", 120, 0.03),  # E-11 11.11.1
        ("abyc-e11", "socket X 15A", "wet", 120, 0.005),  # E-11 11.13.3.5
        ("abyc-e11", "socket X 15A", "engine", None, 0.005),
        ("abyc-e11", "socket X 15A", "", 120, None),
    ],
)
def test_residual_current(
    rules: str, device: str, place: str, volts: float | None, amperes: float | None
) -> None:
    where = rig(rules, device, place)
    found = book(rules).residual_required(where.devices["X"], where, volts)
    assert (found.value if found else None) == amperes
    if found:
        assert found.unit == "A" and f"{1000 * found.value:g} mA" in found.steps[0]


def test_a_socket_on_a_panel_stands_where_the_panel_does() -> None:
    text = 'rig "R"\nrules nfpa70\nplace P "p" wet\npanel AP ways=4 at=P\nsocket X 20A at=AP\n'
    (where,) = read_text(text).rigs
    assert NFPA.residual_required(where.devices["X"], where, 120) is not None


# -- fault levels ---------------------------------------------------------------------------------


def test_voltage_factors() -> None:
    """IEC 60909-0 Table 1, low voltage: 1.10 (tolerance 10 %) and 0.95; no such in other books."""
    assert [IEC.voltage_factor(case).value for case in ("max", "min")] == [1.10, 0.95]
    for rules in (NFPA, ABYC):
        found = rules.voltage_factor("max")
        assert found.value == 1.0 and "not used" in found.steps[0]


@pytest.mark.parametrize("rules", BOOKS)
def test_bonding(rules: str) -> None:
    """NFPA 70 551.56(C) and E-2 8 AWG, IEC 60364-5-54 6 mm2 at least."""
    found = book(rules).bonding_min()
    assert isinstance(found, Figure)
    assert found.value == {"nfpa70": 8.367, "abyc-e11": 8.367, "iec60364": 6.0}[rules]
