"""Who feeds what, what a supply gives at a place, devices in their places, selectivity."""

from __future__ import annotations

from functools import cache
from itertools import pairwise
from math import inf
from pathlib import Path

import pytest
from bench_rig import generated, shed
from ferrule.checks.bands import Band, band
from ferrule.checks.bands.selective import selective_to
from ferrule.checks.books.book import Figure, Missing
from ferrule.checks.capacity.load_list import load_list
from ferrule.checks.figures.chains import ways, worst_fault
from ferrule.checks.tracing.feeds import behind, feed_of, supply_of, takes
from ferrule.checks.tracing.standing import Standing, standings
from ferrule.checks.tracing.trace import Stage, analyse
from ferrule.dsl.reader import read, read_text

ROOT = Path(__file__).parents[1]
EXAMPLES = sorted((ROOT / "examples").glob("*.rig"))


@cache
def example(name: str) -> Stage:
    return analyse(read(ROOT / "examples" / f"{name}.rig").rigs[-1])


def standing(stage: Stage) -> dict[str, Standing]:
    return {each.device.name: each for each in standings(stage)}


# ---- who feeds what ------------------------------------------------------------------------------


def test_a_load_is_fed_by_the_devices_on_its_way() -> None:
    stage = shed()
    on, off = stage.modes
    feed = feed_of(on, "M1")
    assert feed is not None
    assert (feed.source, feed.lines, feed.devices) == ("S", ("L",), ("QM", "F1", "Q1"))
    assert feed_of(off, "M1") is None


def test_the_kitchen_changes_its_source_by_mode() -> None:
    stage = example("field_kitchen")
    feeds = [feed_of(view, "E1") for view in stage.modes]
    assert [feed and feed.source for feed in feeds] == ["SITE", "GEN", None]
    assert [feed and feed.devices[0] for feed in feeds] == ["QM", "QG", None]
    assert {feed.bar for feed in feeds if feed} == {"L1"}


def test_three_lines() -> None:
    stage = generated("three-phase", 12)
    lines = {each.device.name: each.feeds["site"].lines for each in load_list(stage)}
    assert {len(roles) for roles in lines.values()} == {1, 3}
    assert all(roles == ("L1", "L2", "L3") for roles in lines.values() if len(roles) == 3)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.stem)
def test_every_user_hangs_on_the_device_that_is_nearest_to_it(path: Path) -> None:
    """A law: what feeds it last says that it is behind it, in every mode."""
    stage = analyse(read(path).rigs[-1])
    seen = 0
    for view in stage.modes:
        for name in stage.rig.devices:
            feed = feed_of(view, name) if takes(stage, name) and view.takes(name) else None
            if feed and feed.devices:
                assert name in behind(stage, feed.devices[-1]).users
                for ahead, after in pairwise(feed.devices):
                    assert after in behind(stage, ahead).devices
                seen += 1
    assert seen > 20


def test_an_inlet_and_a_source_hang_on_nothing() -> None:
    stage = example("survey_launch")
    users = {user for name in stage.rig.devices for user in behind(stage, name).users}
    assert "XS" not in users and "GB" not in users
    assert {"U2", "M5", "X1"} <= users


@pytest.mark.parametrize(
    ("rig", "device", "said"),
    [
        ("field_kitchen", "Q1", [(32, "SITE"), (20, "GEN"), None]),
        ("field_kitchen", "Q17", [(9, "U1"), (9, "U1"), (9, "U1")]),
        ("field_kitchen", "QD2", [(40, "F13")] * 3),
        # The inverter/charger passes 30 A on; alone it gives 40 A, and its breaker 30 A.
        ("mobile_clinic", "Q14", [(30, "SHORE"), (30, "QO"), (30, "QO")]),
        # 3600 VA at 120 V are 30 A.
        ("survey_launch", "QT", [None, None, None, (30, "TX")]),
    ],
)
def test_what_a_supply_gives(
    rig: str, device: str, said: list[tuple[float, str] | None]
) -> None:
    stage = example(rig)
    found = [supply_of(view, device) for view in stage.modes]
    assert [supply and (supply.amps, supply.by) for supply in found] == said


def test_a_supply_that_says_nothing_is_not_guessed() -> None:
    text = (
        'rig "R"\nrules iec60364\nbattery B 12V 10Ah\nfuse F 10A\nlamp E dc 12V 5W\n'
        "wire W1 2.5mm2 1m B.+ -> F.1\nwire W2 2.5mm2 1m F.2 -> E.+\nwire W3 2.5mm2 1m E.- -> B.-\n"
    )
    stage = analyse(read_text(text).rigs[-1])
    supply = supply_of(stage.modes[0], "F")
    assert supply is not None and supply.amps is None and supply.source == "B"


# ---- devices in their places ---------------------------------------------------------------------


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.stem)
def test_the_weakest_conductor_is_the_one_told(path: Path) -> None:
    stage = analyse(read(path).rigs[-1])
    told = 0
    for each in standings(stage):
        if each.guarded is None or isinstance(each.guarded.ampacity, Missing):
            continue
        for view in stage.modes:
            for way in ways(view):
                for node in way.nearest_to(each.device.name):
                    edge = way.came[node]
                    conductor = edge and stage.rig.conductors.get(edge.owner)
                    found = stage.ampacity(conductor) if conductor and conductor.size else None
                    if isinstance(found, Figure) and each.most:
                        assert each.guarded.ampacity.value <= found.value + 1e-9
        told += 1
    assert told > 8


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.stem)
def test_the_greatest_fault_is_no_less_than_the_least(path: Path) -> None:
    stage = analyse(read(path).rigs[-1])
    both = [e for e in standings(stage) if e.most and e.least]
    assert len(both) > 10
    for each in both:
        assert each.most and each.least
        assert each.least.fault.amps <= each.most[0].amps * (1 + 1e-9)


def test_the_shed_by_hand() -> None:
    found = standing(shed())
    assert found["QM"].after == ("F1",) and found["Q1"].before == ("F1",)
    assert found["F1"].guarded is None and found["F1"].least is None
    least = found["Q1"].least
    assert least is not None and least.user == "M1" and least.residual == ("F1",)
    assert least.limit is not None and least.limit.value == 0.4
    # 5 + 0.1 + 2 A at 230 V; the drop lowers constant resistances a little or raises the rest.
    assert found["Q1"].load is not None
    assert found["Q1"].load[0] == pytest.approx(7.1, rel=0.02)


def test_a_device_behind_a_converter_is_told_too() -> None:
    """Behind a 24/12 V converter nothing drives a fault but its own limit of 30 A."""
    radio = standing(example("survey_launch"))["QD11"]
    assert radio.most is not None and radio.most[0].amps == 30 and radio.most[0].limited


def test_what_is_not_stated_is_said() -> None:
    text = (
        'rig "R"\nrules iec60364\nsupply S 230V 50Hz 16A bonded\nbreaker Q 10A poles=2 curve=B\n'
        "lamp E 230V 5W\ncable C1 3x2.5mm2 1m S.(L N PE) -> Q.(1 3) E.PE\n"
        "cable C2 2x1.5mm2 1m Q.(2 4) -> E.(L N)\n"
    )
    (found,) = standings(analyse(read_text(text).rigs[-1]))
    assert found.most is None and "fault=" in found.unknown and found.least is None


# ---- selectivity ---------------------------------------------------------------------------------


def bands(*items: str) -> list[Band]:
    lines = "".join(f"{item}\n" for item in items)
    rig = read_text(f'rig "R"\nrules iec60364\n{lines}').rigs[-1]
    found = [band(device, rig) for device in rig.devices.values()]
    assert all(isinstance(each, Band) for each in found)
    return [each for each in found if isinstance(each, Band)]


def breaker(name: str, amps: int, curve: str) -> str:
    return f"breaker {name} {amps}A poles=2 curve={curve} standard=IEC60898"


def fuse(name: str, amps: int) -> str:
    return f"fuse {name} {amps}A class=gG"


def test_two_breakers_are_selective_to_no_more_than_the_upper_ones_magnet() -> None:
    """IEC 60898-1: C 63 may open at once from 5 In on, 315 A."""
    below, above = bands(breaker("Q1", 10, "B"), breaker("Q2", 63, "C"))
    assert selective_to(below, above) == pytest.approx(315, rel=0.01)


def test_a_device_is_not_selective_to_its_like() -> None:
    below, above = bands(breaker("Q1", 16, "B"), breaker("Q2", 16, "B"))
    assert selective_to(below, above) < 2 * 16


def test_gg_fuses_in_the_ratio_of_1_6_are_selective() -> None:
    """IEC 60269-1: gG fuses from 16 A on, rated 1.6 times as large, are selective in full."""
    ratings = (16, 25, 40, 63, 100, 160)
    for small, large in pairwise(ratings):
        below, above = bands(fuse("F1", small), fuse("F2", large))
        assert selective_to(below, above) == inf
    below, above = bands(fuse("F1", 32), fuse("F2", 40))
    assert selective_to(below, above) < inf


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (breaker("Q1", 10, "B"), fuse("F2", 63)),
        (breaker("Q1", 16, "C"), breaker("Q2", 40, "D")),
        (fuse("F1", 16), breaker("Q2", 63, "C")),
    ],
)
def test_up_to_there_it_opens_first_and_beyond_it_may_not(one: str, other: str) -> None:
    below, above = bands(one, other)
    limit = selective_to(below, above)
    assert below.rating < limit < inf
    for share in (0.2, 0.5, 0.8, 0.99):
        soonest, latest = above.times(limit * share)[0], below.times(limit * share)[1]
        assert soonest == inf or latest < soonest
    assert below.times(limit * 1.01)[1] >= above.times(limit * 1.01)[0]


def test_worst_faults_are_those_of_the_solution() -> None:
    stage = example("field_kitchen")
    each = standing(stage)["Q1"]
    assert each.most is not None
    view = next(v for v in stage.modes if v.name == each.most[1])
    node = stage.wiring.node("Q1", "1")
    worst = worst_fault(view, node)
    assert worst is not None and worst[1].amps == each.most[0].amps
