"""T, L and H rules at their boundaries: what is just right, what is just wrong, how grave it is."""

from __future__ import annotations

import pytest
from ferrule.checks.registry import Hit, find
from ferrule.checks.run import check_rigs
from ferrule.checks.tracing.trace import analyse
from ferrule.checks.trade.ends import said
from ferrule.dsl.model import Range
from ferrule.dsl.reader import read_text
from ferrule.render.chart_rows import rows

BENCH = """rig "Bench"
rules {book}
{places}
supply SHORE "Site" 120V 60Hz 15A fault=500A bonded
panel AP "Panel" ways={ways} {panel}
{entries}
breaker QS {label} 15A poles=2 breaks=10kA standard=UL489 at=AP.1-2 {device}
earth CH positions=1
heater E1 120V 500W class2 {load}
cable W1 3x12AWG 2m SHORE.(L N PE) -> QS.(1 3) CH.1 cord {feed}
cable W2 2x12AWG 2m QS.(2 4) -> E1.(L N) {run}
"""
USUAL = {
    "book": "nfpa70", "places": "", "ways": "6", "panel": "", "entries": "", "label": '"Heater"',
    "device": "", "load": "", "feed": "", "run": "",
}  # fmt: skip


def hits(code: str, **said: str) -> list[Hit]:
    reading = read_text(BENCH.format(**{**USUAL, **said}))
    assert not reading.problems, [problem.message for problem in reading.problems]
    rule = find(code)
    assert rule is not None
    return [hit for rig in reading.rigs for hit in rule.check(analyse(rig))]


def problems(**said: str) -> list[str]:
    return [p.message for p in read_text(BENCH.format(**{**USUAL, **said})).problems]


@pytest.mark.parametrize(
    ("clamp", "wrong"),
    [("12..10AWG", 0), ("14..12AWG", 0), ("3.31mm2", 0), ("14AWG", 2), ("10..8AWG", 2)],
)
def test_a_size_at_the_end_of_the_range_fits(clamp: str, wrong: int) -> None:
    """Two cables land on the breaker: each is said once."""
    assert len(hits("T01", device=f"clamp={clamp}")) == wrong


def test_a_ferrule_that_is_named_counts_with_its_section() -> None:
    """12 AWG has a ferrule of 4 mm2 (DIN 46228-4): more than a clamp of 3.5 mm2 takes."""
    assert not hits("T01", device="clamp=2..3.5mm2")
    assert len(hits("T01", device="clamp=2..3.5mm2", run="ferrule=4mm2")) == 1


@pytest.mark.parametrize(
    ("grip", "make", "end", "found"),
    [
        ("screw", "fine", "bare", "error"),
        ("screw", "", "bare", "warning"),
        ("clamp=1..10mm2", "fine", "bare", "error"),
        ("clamp=1..10mm2", "", "bare", ""),
        ("screw", "solid", "bare", ""),
        ("screw", "fine", "ferrule", ""),
        ("spring", "fine", "bare", ""),
    ],
)
def test_strands_and_grips(grip: str, make: str, end: str, found: str) -> None:
    """NFPA 70 110.14(A): strands finer than class C only where the terminal is made for them."""
    got = [hit.severity for hit in hits("T02", device=grip, run=f"{make} ends={end}")]
    assert got == ([found] if found else [])


@pytest.mark.parametrize(
    ("lug", "stud", "found"),
    [("M6", "M6", ""), ("M6", "M8", "error"), ("M8", "M6", "warning"), ("1/4in", "M6", ""),
     ("3/8in", "M8", "warning"), ("M5", "1/4in", "error")],
)  # fmt: skip
def test_lugs_and_studs(lug: str, stud: str, found: str) -> None:
    got = [hit.severity for hit in hits("T05", load=f"stud={stud}", run=f"lug={lug}")]
    assert got == ([found] if found else [])


@pytest.mark.parametrize(
    ("grip", "end", "found"),
    [("clamp=1..10mm2", "ring", "error"), ("stud=M6", "ring", ""), ("stud=M6", "fork", "warning"),
     ("stud=M6", "bare", "error"), ("loop", "ring", ""), ("loop", "fork", ""), ("", "ring", "")],
)  # fmt: skip
def test_ends_and_grips(grip: str, end: str, found: str) -> None:
    got = [hit.severity for hit in hits("T04", load=grip, run=f"ends=ferrule,{end}")]
    assert got == ([found] if found else [])


@pytest.mark.parametrize(("book", "found"), [("abyc-e11", "error"), ("iec60364", "error"),
                                             ("nfpa70", "note")])  # fmt: skip
def test_solid_conductors_by_book(book: str, found: str) -> None:
    """E-11 wants type 2 strands, IEC 60364-7-721 seven; NFPA 70 551 lets trailers have solid."""
    assert [hit.severity for hit in hits("T12", book=book, run="solid")] == [found]


@pytest.mark.parametrize(
    ("colours", "found"),
    [
        ("black,white", ""),
        ("BK,WH", ""),
        ("brown,grey", ""),
        ("white,black", "error"),
        ("black,blue", "error"),
        ("pink,white", "note"),
    ],
)
def test_colours_of_nfpa70(colours: str, found: str) -> None:
    """200.6: white or grey for the neutral; 210.5(C) fixes no colour of a line."""
    got = [hit.severity for hit in hits("L01", run=f"colours={colours}")]
    assert got == ([found] if found else [])


@pytest.mark.parametrize(("colours", "found"), [("green,white", 1), ("black,green-yellow", 1),
                                                ("green-red,white", 0)])  # fmt: skip
def test_green_is_earth(colours: str, found: int) -> None:
    assert len(hits("L02", run=f"colours={colours}")) == found


@pytest.mark.parametrize(
    ("label", "found"),
    [('"Heater"', 0), ('"Misc"', 1), ('"Circuit 4"', 1), ("\"Bill's room\"", 1),
     ("\"Driver's seat\"", 0), ('"Switch for the heater"', 0)],
)  # fmt: skip
def test_labels(label: str, found: int) -> None:
    """NFPA 70 408.4(A): clear, evident, specific; not by transient occupancy."""
    assert len(hits("L07", label=label)) == found


@pytest.mark.parametrize(("rail", "found"), [("36mm", 0), ("35mm", 1)])
def test_modules_are_18_mm(rail: str, found: int) -> None:
    """DIN 43880: 17.5 mm and the half millimetre between two."""
    assert len(hits("H05", panel=f"rail={rail}")) == found


@pytest.mark.parametrize(("ways", "found"), [("3", 0), ("2", 0), ("6", 0)])
def test_a_small_box_may_be_full(ways: str, found: int) -> None:
    assert len(hits("H06", ways=ways)) == found


@pytest.mark.parametrize(
    ("entry", "diameter", "found"),
    [
        ("hole=25mm clamp=9..17mm", "9mm", ""),
        ("hole=25mm clamp=9..17mm", "17mm", ""),
        ("hole=25mm clamp=9..17mm", "8.9mm", "error"),
        ("hole=25mm clamp=9..17mm", "17.1mm", "error"),
        ("hole=12.7mm", "12.8mm", "error"),
        ("hole=12.7mm", "12.7mm", ""),
    ],
)
def test_cables_and_glands(entry: str, diameter: str, found: str) -> None:
    got = [
        hit.severity
        for hit in hits(
            "H07", entries=f"entry G1 {entry} at=AP", run=f"entries=G1 diameter={diameter}"
        )
    ]
    assert got == ([found] if found else [])


def test_a_guessed_diameter_is_a_warning_and_needs_room_for_doubt() -> None:
    """2 x 12 AWG: twice 3.3 mm and a sheath, some 8.2 mm (common practice)."""
    near = hits("H07", entries="entry G1 clamp=3..7.5mm at=AP", run="entries=G1")
    far = hits("H07", entries="entry G1 clamp=3..6mm at=AP", run="entries=G1")
    assert not near and [hit.severity for hit in far] == ["warning"]


@pytest.mark.parametrize(
    ("ip", "found"), [("ip=IP44", ""), ("ip=IPX5", ""), ("ip=IP54B", ""), ("ip=IP43", "error"),
                      ("", "note")],
)  # fmt: skip
def test_panels_in_the_open(ip: str, found: str) -> None:
    """IEC 60529: second digit 4 is splashing water."""
    got = [hit.severity for hit in hits("H12", places='place D "Deck" outside', panel=f"at=D {ip}")]
    assert got == ([found] if found else [])


def test_what_the_reader_says_of_ends_and_entries() -> None:
    assert problems(run="ends=feral") == ["`ends` cannot be feral"]
    assert problems(run="ends=ring,ring,ring") == ["3 words for `ends`"]
    assert problems(run="entries=G9") == ["there is no entry `G9`"]
    assert problems(entries="entry G1 clamp=17..9mm at=AP") == ["17..9mm runs backwards"]
    assert problems(entries="entry G1 clamp=9..17mm2 at=AP") == [
        "9..17mm2 is not a range of lengths"
    ]
    assert problems(places='route R "R" joins=NOWHERE') == ["there is no place `NOWHERE`"]
    assert problems(run="ferrule=3x4mm2") == ["3x4mm2 is not a conductor size"]


def test_a_range_of_lengths_is_in_metres() -> None:
    text = BENCH.format(**{**USUAL, "entries": "entry G1 clamp=9..17mm at=AP"})
    clamp = read_text(text).rigs[0].devices["G1"].attrs["clamp"]
    assert isinstance(clamp, Range) and (clamp.low, clamp.high) == (0.009, 0.017)


def test_one_word_is_said_of_both_ends_and_the_chart_follows() -> None:
    text = BENCH.format(**{**USUAL, "run": "ends=ring,bare lug=M5"})
    rig = read_text(text).rigs[0]
    core = rig.conductors["W2/1"]
    assert [said(core, "ends", end) for end in (core.a, core.b)] == ["ring", "bare"]
    assert [said(core, "lug", end) for end in (core.a, core.b)] == ["M5", "M5"]
    row = next(row for row in rows(analyse(rig)) if row.conductor == "W2/1")
    assert [prepared.fitting for prepared in row.ends] == ["ring", "bare"]
    assert row.ends[0].size == "M5-12AWG"


def test_a_rig_that_says_nothing_of_ends_entries_and_colours_is_not_nagged() -> None:
    findings = check_rigs(read_text(BENCH.format(**USUAL)).rigs).findings
    assert [f.message for f in findings if f.rule[0] in "TLH"] == []


def test_labels_that_are_missing_are_one_finding_a_panel() -> None:
    more = "breaker Q2 10A breaks=5kA at=AP.3\nbreaker Q3 10A breaks=5kA at=AP.4"
    assert [hit.on for hit in hits("L05", label="", entries=more)] == [("Q2", "Q3", "QS", "AP")]
