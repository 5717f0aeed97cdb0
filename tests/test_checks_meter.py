"""What a meter should find: worked by hand on small rigs."""

from __future__ import annotations

from math import sqrt

import pytest
from ferrule.checks.figures.meter import Probe, Way, probe
from ferrule.checks.tracing.trace import analyse
from ferrule.dsl.reader import read_text

HEAD = 'rig "R"\nrules iec60364\n'


def look(text: str, terminal: str, mode: str = "") -> Probe:
    reading = read_text(HEAD + text)
    assert not reading.problems, reading.problems
    stage = analyse(reading.rigs[-1])
    view = next(view for view in stage.modes if mode in ("", view.name))
    return probe(view, *terminal.split("."))


def volts(found: Probe) -> dict[str, float | None]:
    return {row.against: row.volts for row in found.expected}


def sources(ways: tuple[Way, ...]) -> list[str]:
    return [way.source for way in ways]


SHORE = """
supply G1 "Shore" 230V 50Hz 16A fault=3kA bonded
breaker Q1 "Main" 16A poles=1N rcd=30mA curve=C breaks=6kA
load E1 "Kettle" 230V 1000W
cable W1 3x2.5mm2 9m G1.(L N PE) -> Q1.1 Q1.N1 E1.PE
cable W2 2x2.5mm2 3m Q1.2 Q1.N2 -> E1.(L N)
mode on { }
mode open { Q1=open }
mode away { G1=off }
"""


def test_a_line_has_its_way_back_its_guards_and_its_voltages() -> None:
    found = look(SHORE, "E1.L")
    assert found.role == "L"
    way = found.ways[0]
    assert [(step.start, step.by, step.end) for step in way.steps] == [
        ("E1.L", "W2/1", "Q1.2"),
        ("Q1.2", "Q1", "Q1.1"),
        ("Q1.1", "W1/1", "G1.L"),
    ]
    assert [(g.name, g.rating_a, g.residual_a) for g in way.guards] == [
        ("Q1", 16, 0.03),
        ("G1", 16, None),  # the device at the supply's own head
    ]
    assert volts(found) == {"neutral": pytest.approx(230), "earth": pytest.approx(230)}
    assert found.bonds == ("G1",)


def test_a_neutral_is_at_earth_and_its_pole_holds_no_overcurrent() -> None:
    found = look(SHORE, "E1.N")
    assert found.role == "N"
    assert [(g.name, g.rating_a, g.residual_a) for g in found.ways[0].guards] == [
        ("Q1", None, 0.03)
    ]
    assert volts(found) == {"earth": 0, "L": pytest.approx(230)}


def test_earth_is_at_the_voltage_of_the_lines_against_it() -> None:
    found = look(SHORE, "E1.PE")
    assert found.role == "PE"
    assert sources(found.ways) == ["G1"]
    assert volts(found) == {"G1.L": pytest.approx(230)}


def test_a_dead_terminal_says_what_keeps_it_dead() -> None:
    assert look(SHORE, "E1.L", "open").role == ""
    assert look(SHORE, "E1.L", "open").open == ("Q1 open",)
    assert look(SHORE, "E1.L", "away").open == ("G1 off",)
    assert look(SHORE, "E1.L", "away").ways == ()


def test_a_system_joined_to_earth_nowhere_has_no_voltage_to_earth() -> None:
    found = look(SHORE.replace("bonded", "floating"), "E1.L")
    assert volts(found) == {"neutral": pytest.approx(230), "earth": None}
    assert found.bonds == ()


# 400 V between lines is 400/sqrt(3) = 231 V to neutral; 240 V split is 120 V to neutral.
@pytest.mark.parametrize(
    ("supply", "cores", "ends", "to_neutral", "lines"),
    [
        ("400V 50Hz 16A three", 5, "L1 L2 L3 N PE", 400 / sqrt(3), {"L2": 400, "L3": 400}),
        ("240V 60Hz 30A split", 4, "L1 L2 N PE", 120, {"L2": 240}),
    ],
)
def test_other_lines_of_the_system(
    supply: str, cores: int, ends: str, to_neutral: float, lines: dict[str, float]
) -> None:
    flag = supply.split()[-1]
    text = (
        f'supply G1 "Shore" {supply} fault=3kA bonded\nload E1 "Stove" 3000W {flag}\n'
        f"cable W1 {cores}x4mm2 9m G1.({ends}) -> E1.({ends})\n"
    )
    found = volts(look(text, "E1.L1"))
    assert found.pop("neutral") == pytest.approx(to_neutral)
    assert found.pop("earth") == pytest.approx(to_neutral)
    assert found == {line: pytest.approx(value) for line, value in lines.items()}


BOAT = """
battery GB "Bank" 24V 200Ah fault=4kA holds=3
fuse F1 "Bank fuse" 150A dc class=T breaks=20kA
inverter U1 "Inverter" 230V 50Hz 2000W limit=20A bonds
breaker Q1 "Galley" 16A poles=1N curve=B breaks=6kA
load E1 "Kettle" 230V 1000W
earth CH "Hull" positions=2
wire W1 50mm2 0.3m GB.+ -> F1.1
wire W2 50mm2 1m F1.2 -> U1.+
wire W3 50mm2 1m GB.- -> U1.-
bond W4 16mm2 1m GB.- -> CH.1
cable W5 2x2.5mm2 1m U1.(out-L out-N) -> Q1.1 Q1.N1
cable W6 2x2.5mm2 1m Q1.2 Q1.N2 -> E1.(L N)
wire W7 4mm2 1m E1.PE -> CH.2
"""


def test_the_way_goes_on_behind_a_converter_to_what_feeds_it() -> None:
    found = look(BOAT, "E1.L")
    assert sources(found.ways) == ["U1"]
    assert [(g.name, g.rating_a) for g in found.ways[0].guards] == [("Q1", 16), ("U1", 20)]
    assert sources(found.ways[0].fed_by) == ["GB"]
    assert [g.name for g in found.ways[0].fed_by[0].guards] == ["F1"]


def test_a_direct_voltage_is_against_its_negative() -> None:
    found = look(BOAT, "F1.2")
    assert found.role == "+"
    assert volts(found) == {"DC negative": 24, "earth": 24}
    assert found.bonds == ("W4",)


def test_a_feed_in_a_loop_comes_to_an_end() -> None:
    # The inverter's output runs a charger that charges the inverter's own battery.
    text = BOAT + (
        'charger U2 "Charger" 20A class2\n'
        "cable W8 2x2.5mm2 1m E1.(L N) -> U2.(L N)\n"
        "cable W9 2x6mm2 1m U2.(+ -) -> GB.(+ -)\n"
    )
    found = look(text.replace("1000W\n", "1000W holds=2\n"), "E1.L")
    fed = found.ways[0].fed_by
    assert sources(fed) == ["GB", "U2"]
    assert fed[1].fed_by == ()


def test_an_unknown_terminal_is_a_key_error() -> None:
    with pytest.raises(KeyError):
        look(SHORE, "E1.L9")
