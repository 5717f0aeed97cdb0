"""Rules on trip bands: what turns a finding on and off, and figures against a hand reckoning."""

from __future__ import annotations

from pathlib import Path

import pytest
from ferrule.checks.findings import Finding
from ferrule.checks.run import check_rigs
from ferrule.dsl.reader import read_text

FAULTS = Path(__file__).parent / "faults"


def found(name: str, *changes: tuple[str, str]) -> dict[str, Finding]:
    text = (FAULTS / f"{name}.rig").read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    reading = read_text(text)
    assert not reading.problems, reading.problems
    return {finding.rule: finding for finding in check_rigs(reading.rigs).findings}


def test_no_order_is_asked_of_what_belongs_to_the_site() -> None:
    name = "p27_feeder_no_larger_than_its_branch"
    feeder = "16A poles=2 curve=C"
    assert "P27" in found(name)
    assert "P27" not in found(name, ('"Workshop feeder"      ' + feeder, '"F" ' + feeder + " site"))


def test_a_main_as_large_as_its_supply_cannot_be_larger() -> None:
    name = "p27_feeder_no_larger_than_its_branch"
    assert "P27" not in found(
        name, ("50Hz 32A fault", "50Hz 16A fault"), ("32A poles", "16A poles")
    )


def test_fault_current_at_the_end_of_a_long_circuit_by_hand() -> None:
    """230 V, Cmin 0.95 (IEC 60909-0); 55 m of 1.5 mm2 out and back at 12.1 mohm/m (IEC 60228) and
    70 degC (x 1.2); 10 m of 6 mm2 cord and the supply add a twentieth."""
    finding = found("p25_end_of_a_long_circuit")["P25"]
    by_hand = 0.95 * 230 / (2 * 55 * 0.0121 * 1.2 * 1.05)
    drawn = float(finding.message.split("only ")[1].split(" A")[0])
    assert drawn == pytest.approx(by_hand, rel=0.06)
    assert finding.limit == 0.4, "Table 41.1, TN, 230 V"


def test_a_book_without_times_gives_a_warning() -> None:
    assert found("p25_end_of_a_long_circuit")["P25"].severity == "error"
    assert found("p25_large_fuse_on_a_thin_lead")["P25"].severity == "warning"


def test_an_inverter_that_leaves_no_dangerous_voltage_passes_where_no_time_is_asked() -> None:
    """9 A through less than a tenth of an ohm is under a volt."""
    name = "p25_inverter_cannot_trip_its_breaker"
    assert "P25" in found(name)
    assert "P25" not in found(name, ("rules iec60364", "rules nfpa70"))


def test_interrupting_rating_is_held_to_the_current_at_the_device() -> None:
    near = found("p11_breaker_next_to_a_strong_supply")["P11"]
    assert near.limit == 6000 and near.value is not None
    assert 6000 < near.value < 10000, "between its rating and what the supply states"


def test_heat_of_a_thin_cable_by_hand() -> None:
    """(115 x 1.5)^2 = 29.8 kA2s (IEC 60364-4-43 434.5.2, PVC)."""
    finding = found("p26_thin_cable_near_a_strong_supply")["P26"]
    assert finding.limit == pytest.approx((115 * 1.5) ** 2, rel=0.002)
    assert finding.value == 70000, "EN 60898-1 class 3, B 16, above 6 to 10 kA (from memory)"


def test_inverter_current_at_cutoff_by_hand() -> None:
    """2400 W / (22 V x 0.9) = 121.2 A."""
    finding = found("p33_fuse_too_small_at_cutoff")["P33"]
    assert finding.value == pytest.approx(121.2, abs=0.1)
    better = ("cutoff=22V", "cutoff=22V efficiency=95%")
    other = found("p33_fuse_too_small_at_cutoff", better)["P33"]
    assert other.value == pytest.approx(2400 / 22 / 0.95, abs=0.1)


@pytest.mark.parametrize(("inrush", "trips"), [("48A", False), ("49A", True)])
def test_a_start_at_the_lower_end_of_the_band(inrush: str, trips: bool) -> None:
    """B 16 holds 48 A for 0.1 s at least and may open at once above (IEC 60898-1)."""
    assert ("P32" in found("p32_compressor_on_a_fast_breaker", ("60A", inrush))) is trips
