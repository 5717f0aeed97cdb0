"""Changes as lines and as work: under which heading, in which words, and what is to print anew."""

from __future__ import annotations

from ferrule.dsl.compare import compare
from ferrule.dsl.model import Rig
from ferrule.dsl.reader import read_text
from ferrule.render.change_rows import NOWHERE, Line, grouped, joined, lines
from ferrule.render.change_work import Work, crowded, reprint, work

TEXT = """\
rules iec60364
place FRONT "Front locker"
place HALL "Hall"
supply GRID "Grid" 230V 50Hz 16A fault=2kA bonded
panel AP "Panel" ways=6 at=FRONT
panel BP "Board" ways=6 at=HALL
breaker Q1 "Lamps" 16A poles=1 curve=C breaks=6kA at=AP.1
breaker Q2 "Outlet" 16A poles=1 curve=C breaks=6kA at=BP.2
bus N "Neutral bar" 63A positions=6 at=AP
lamp E1 "Lamps" 230V 60W at=HALL
wire W1 2.5mm2 2m GRID.L -> Q1.1
wire W2 2.5mm2 2m GRID.N -> N.1
cable C1 2x1.5mm2 4m Q1.2 N.2 -> E1.(L N)
mode on { }
"""


def rigs(*swaps: tuple[str, str]) -> tuple[Rig, Rig]:
    text = TEXT
    for old, new in swaps:
        assert old in text
        text = text.replace(old, new)
    readings = [read_text(each) for each in (TEXT, text)]
    assert not any(reading.problems for reading in readings)
    return readings[0].rigs[0], readings[1].rigs[0]


def told(*swaps: tuple[str, str]) -> list[Line]:
    old, new = rigs(*swaps)
    return lines(old, new, compare(old, new))


def test_an_end_stands_under_where_it_is_to_be_landed() -> None:
    (line,) = told(("Q1.2 N.2 ->", "Q2.2 N.2 ->"))
    assert line == Line("BP Board", "re-landed", "C1/1", "", "Q1.2", "Q2.2", "its other end: E1.L")
    assert line.said == "Q1.2 -> Q2.2 (its other end: E1.L)"


def test_a_device_gone_stands_under_where_it_was() -> None:
    (line,) = told(('breaker Q2 "Outlet" 16A poles=1 curve=C breaks=6kA at=BP.2\n', ""))
    assert (line.group, line.verb, line.new) == ("BP Board", "removed", "")
    assert line.old == "breaker 16A poles=1 curve=C breaks=6kA at BP.2"


def test_a_device_moved_stands_under_where_it_goes() -> None:
    (line,) = told(("at=BP.2", "at=AP.3"))
    assert (line.group, line.old, line.new) == ("AP Panel", "BP.2", "AP.3")


def test_a_state_is_told_with_the_one_it_was() -> None:
    (line,) = told(("mode on { }", "mode on { Q1=open }"))
    assert (line.group, line.said) == ("Modes", "Q1 closed -> open")
    (line,) = told(("mode on { }", 'lamp E9 "Sign" 230V 5W\nmode on { E9=off }'))[1:]
    assert line.said == "E9 not there -> off"


def test_what_is_in_no_place_has_a_heading_too() -> None:
    (line,) = told(("fault=2kA", "fault=3kA"))
    assert (line.group, line.said) == (NOWHERE, "fault 2kA -> 3kA")


def test_headings_come_in_the_order_of_the_text_the_whole_rig_first() -> None:
    some = told(("fault=2kA", "fault=3kA"), ("60W at=HALL", "40W at=HALL"), ("at=BP.2", "at=BP.3"),
                ("at=AP.1", "at=AP.2"), ("rules iec60364", "rules nfpa70"))  # fmt: skip
    titles = [title for title, _ in grouped(some)]
    assert titles == ["The whole rig", "AP Panel", "BP Board", "HALL Hall", NOWHERE]


def test_terminals_are_written_as_in_the_text() -> None:
    assert joined(["Q1.2", "N.2", "X1.L", "X1.N", "X1.PE"]) == "Q1.2 N.2 X1.(L N PE)"


def test_work_is_told_once_for_each_thing() -> None:
    old, new = rigs(("2x1.5mm2 4m", "2x2.5mm2 5m"), ("Q1.2 N.2 ->", "Q2.2 N.3 ->"))
    assert work(compare(old, new)) == [
        Work("lay again in another size", ("C1",)),
        Work("land elsewhere", ("C1 (2 ends)",)),
    ]


def test_a_device_of_another_kind_goes_out_and_comes_in() -> None:
    old, new = rigs(("lamp E1", "heater E1"))
    assert work(compare(old, new)) == [
        Work("take out devices", ("E1",)),
        Work("fit devices", ("E1",)),
    ]


def test_a_terminal_that_takes_another_conductor_is_named_and_one_that_took_it_is_not() -> None:
    more = "wire W3 2.5mm2 1m N.2 -> Q2.1\nmode on"
    old, new = rigs(("mode on", more))
    assert crowded(old, new) == [Work("N.2", ("C1", "W3"))]
    assert crowded(new, new) == []
    assert crowded(new, old) == []


def test_what_is_printed_and_no_longer_right() -> None:
    old, new = rigs(("at=BP.2", "at=BP.3"), ("wire W2", "wire W7"), ("N.1", "N.4"))
    assert reprint(old, new, compare(old, new)) == [Work("door legend", ("BP",))]
    old, new = rigs(("wire W1", "wire W7"), ("N.1", "N.4"), ('lamp E1 "Lamps"', 'lamp E1 "Sign"'))
    assert reprint(old, new, compare(old, new)) == [
        Work("markers", ("W2", "W7")),
        Work("labels", ("E1",)),
    ]
