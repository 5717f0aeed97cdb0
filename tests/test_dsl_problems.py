"""Broken texts, one mistake each: where it is reported, in what words; and nothing follows."""
# ruff: noqa: E501 (a row of a table of texts stays on its line)

import time
from pathlib import Path

import pytest
from ferrule.dsl.problems import render_problem
from ferrule.dsl.reader import read, read_text

BASE = """\
rig "Test rig" revision=A
rules nfpa70
place REAR "Rear"
route DUCT "Duct"
part mcb15 breaker 15A poles=1 ways=1
supply SHORE "Site" 120V 60Hz 30A bonded
panel AP "Panel" ways=4 at=REAR
breaker Q1 "One" mcb15 at=AP.1
bus NBAR "Neutral" 100A positions=4
inverter U1 120V 3000W at=REAR
lamp E1 "Lamp" 120V 60W
joint J1
wire W1 14AWG 1m SHORE.L -> Q1.1
cable C1 2x14AWG 4m Q1.2 NBAR.1 -> E1.(L N) via=DUCT
mode on { SHORE=on }
"""

# text added after BASE (line 16 on): words of the message, of the hint or expectation, line, column
BROKEN = [
    # the statement itself
    ("wrie W2 14AWG 1m Q1.1 -> NBAR.2", "`wrie` is neither", "`wire`", 16, 1),
    ("braker Q2 15A", "`braker` is neither", "`breaker`", 16, 1),
    ("Lamp E2 12V", "`Lamp` is neither", "`lamp`", 16, 1),
    ("wire W2 14AWG 1m Q1.1 NBAR.2", "ends too early", "`->`", 16, 29),
    ("wire W2 14AWG 1m Q1.1 ->", "ends too early", "a terminal", 16, 25),
    ("wire W2 14AWG 1m", "ends too early", "a terminal", 16, 17),
    ("wire", "ends too early", "a name", 16, 5),
    ("lamp E2 12V \"late label\"", "a label goes right after the name", "its form is", 16, 13),
    ("lamp E2 \"open label", "without its closing quote", 'close the label with "', 16, 9),
    ("lamp E2 “quoted” 12V", "typographic quote", '"…"', 16, 9),
    ("wire W2 14AWG 1m Q1.1 => NBAR.2", "an arrow", "write `->`", 16, 23),
    ("wire W2 14AWG 1m Q1.1 → NBAR.2", "an arrow", "write `->`", 16, 23),
    ("wire W2 14AWG .5m Q1.1 -> NBAR.2", "begins with its point", "0.5", 16, 15),
    ("wire W2 14AWG 1m Q1.(1 -> NBAR.2", "closing bracket", "DEVICE.(T1 T2)", 16, 20),
    ("lamp E2 12V at= REAR", "a space beside `=`", "no spaces", 16, 15),
    ("lamp E2 12V at = REAR", "a space beside `=`", "no spaces", 16, 16),
    ("lamp 2E 12V", "`2E` does not belong here", "a name", 16, 6),
    ("breaker Q2, 15A", "punctuation", "spaces between", 16, 11),
    ("mode off { SHORE off }", "`SHORE", "attribute", 16, 12),
    ("mode off { SHORE=off", "ends too early", "`}`", 16, 21),
    ("}", "closes nothing", "stage", 16, 1),
    ("stage A \"a\" {", "not closed", "`}`", 16, 1),
    ("accept T4 on W1", "ends too early", "because", 16, 16),
    ('accept T4 of W1 because "x"', "`of` does not belong here", "`on`", 16, 11),
    ('accept T4 on W1 as "x"', "`as` does not belong here", "`because`", 16, 17),
    ("rig \"Second\"", "a second `rig`", "first is at", 16, 1),
    ("rules abyc-e11", "a second `rules`", "first is at", 16, 1),
    ("ambient hot", "`hot` does not belong here", "a quantity", 16, 9),
    ("ambient 30A", "30A is not a temperature", "40degC", 16, 9),
    # items
    ("lamp E2 12v", "unknown unit v", "`12V`", 16, 9),
    ("wire W2 2,5mm2 1m Q1.1 -> NBAR.2", "a decimal comma", "`2.5mm2`", 16, 9),
    ("wire W2 14AGW 1m Q1.1 -> NBAR.2", "unknown unit AGW", "`14AWG`", 16, 9),
    ("wire W2 14AWG 1M Q1.1 -> NBAR.2", "unknown unit M", "`1m`", 16, 15),
    ("breaker Q2 15A breaks=10KA", "unknown unit KA", "`10kA`", 16, 16),
    ("breaker Q2 15", "15 has no unit", "15A", 16, 12),
    ("breaker Q2 15 A", "a space between 15 and its unit A", "`15A`", 16, 12),
    ("wire W2 14 AWG 1m Q1.1 -> NBAR.2", "between 14 and its unit AWG", "`14AWG`", 16, 9),
    ("wire W2 14AWG 0.2 m Q1.1 -> NBAR.2", "between 0.2 and its unit m", "`0.2m`", 16, 15),
    ("lamp E2 12V 40°C", "unknown unit", "`40degC`", 16, 13),
    ("lamp E2 12V 2.5mm2", "no conductor size", "V (voltage)", 16, 13),
    ("lamp E2 12V 30Ah", "no use for 30Ah", "V (voltage)", 16, 13),
    ("breaker Q2 15A 5m", "no use for 5m", "strip=5m", 16, 16),
    ("breaker Q2 15A 20A", "its rating twice", "line 16", 16, 16),
    ("breaker Q2 15A poles=5", "cannot be 5", "1 2 3 1N 3N", 16, 16),
    ("breaker Q2 15A curve=c", "cannot be c", "did you mean `C`", 16, 16),
    ("breaker Q2 15A brakes=10kA", "no attribute `brakes`", "`breaks`", 16, 16),
    ("breaker Q2 15A breaks=10V", "10V is not a current", "15A", 16, 16),
    ("breaker Q2 15A breaks", "needs a value", "breaks=", 16, 16),
    ("breaker Q2 15A dc=yes", "takes no value", "alone", 16, 16),
    ("breaker Q2 mcb16", "no flag of a breaker and no part", "`mcb15`", 16, 12),
    ("breaker Q2 15A polarized", "no flag", "`polarised`", 16, 16),
    ("breaker Q2 15A clamp=16..1mm2", "backwards", "1..16mm2", 16, 16),
    ("breaker Q2 15A 1..16mm2", "without its key", "clamp=1..16mm2", 16, 16),
    ("bus B2 100A positions=999999999", "cannot be 999999999", "1 to 10000", 16, 13),
    ("bus B2 100A positions=" + "9" * 5000, "cannot be 9999", "1 to 10000", 16, 13),
    ("breaker Q2 " + "9" * 400 + "A", "beyond any rig", "", 16, 12),
    ("bus B2 100A", "how many terminals", "positions=", 16, 1),
    ("panel P2 \"No ways\"", "how many ways", "ways=", 16, 1),
    ("breaker Q2 15A terminals=(A)", "1 terminal names for 2", "1 2", 16, 1),
    ("part p2 braker 15A", "no kind of device", "`breaker`", 16, 9),
    ("lamp E2 mcb15", "the part mcb15 is a breaker", "a part of kind lamp", 16, 9),
    # names
    ("lamp Q1 12V", "the name Q1 is taken", "first declared at t.rig:8:1", 16, 6),
    ("wire Q1 14AWG 1m SHORE.N -> NBAR.2", "the name Q1 is taken", "t.rig:8:1", 16, 6),
    ("lamp W1 12V", "the name W1 is taken", "t.rig:13:1", 16, 1),
    ("place DUCT \"d\"", "the name DUCT is taken", "t.rig:4:1", 16, 7),
    ("part mcb15 fuse 15A", "the name mcb15 is taken", "t.rig:5:1", 16, 6),
    ("mode on { SHORE=off }", "the name on is taken", "t.rig:15:1", 16, 6),
    ("lamp E2 12V at=REER", "no place or panel `REER`", "`REAR`", 16, 13),
    ("lamp E2 12V at=REAR.2", "is a place, it has no ways", "", 16, 13),
    ("panel P2 ways=2 at=REER", "no place `REER`", "`REAR`", 16, 17),
    # ways
    ("breaker Q2 mcb15 at=AP.1", "takes way 1 of AP, where Q1 has way 1", "t.rig:8:1", 16, 18),
    ("breaker Q2 mcb15 at=AP.5", "which has ways 1 to 4", "free ways: 2 3 4", 16, 18),
    ("breaker Q2 15A poles=2 at=AP.4", "takes ways 4-5 of AP", "free ways: 2 3 4", 16, 24),
    ("breaker Q2 15A ways=2 at=AP.2-4", "3 ways, the device covers 2", "2-3", 16, 23),
    # conductors
    ("wire W2 14AWG 1m Q1.1 -> NBRA.2", "no device NBRA", "`NBAR`", 16, 26),
    ("wire W2 14AWG 1m Q1.1 -> W1.1", "W1 is a wire, not a device", "", 16, 26),
    ("wire W2 14AWG 1m Q1.3 -> NBAR.2", "no terminal 3", "it has 1 2", 16, 18),
    ("wire W2 14AWG 1m Q1.1 -> NBAR.9", "no terminal 9", "it has 1 2 3 4", 16, 26),
    ("wire W2 14AWG 1m U1.in-L -> Q1.1", "no terminal in-L", "comes with transfer=", 16, 18),
    ("wire W2 14AWG 1m Q1.N1 -> NBAR.2", "no terminal N1", "comes with poles=", 16, 18),
    ("wire W2 14AWG 1m AP.PE -> NBAR.2", "AP has no terminal PE", "`metal`", 16, 18),
    ("cable C2 3x14AWG 1m Q1.1 NBAR.2 -> E1.(L N)", "3 cores and 2 ends", "2x14AWG", 16, 10),
    ("cable C2 2x14AWG 1m Q1.1 -> E1.(L N)", "1 ends before `->`, 2 after", "", 16, 1),
    ("cable C2 14AWG 1m Q1.1 NBAR.2 -> E1.(L N)", "no number of cores", "2x14AWG", 16, 10),
    ("wire W2 2x14AWG 1m Q1.1 -> NBAR.2", "one conductor, not 2", "cable", 16, 1),
    ("wire W2 14AWG 1m Q1.1 NBAR.2 -> E1.(L N)", "one end on each side", "cable", 16, 1),
    ("wire W2 1m Q1.1 -> NBAR.2", "no conductor size", "14AWG", 16, 1),
    ("wire W2 14AWG Q1.1 -> NBAR.2", "no length", "4.5m", 16, 1),
    ("wire W2 13AWG 1m Q1.1 -> NBAR.2", "13AWG is no conductor size", "14 12 10", 16, 9),
    ("link K1 14AWG Q1.1 -> NBAR.2", "no size and no length", "wire", 16, 1),
    ("wire W2 14AWG 1m Q1.1 -> NBAR.2 via=DUKT", "no route `DUKT`", "`DUCT`", 16, 33),
    ("cable C2 2x14AWG 1m Q1.1 NBAR.2 -> E1.(L N) colours=red", "1 colours for 2", "", 16, 1),
    # modes, stages, use
    ("mode off { SHOR=off }", "no device SHOR", "`SHORE`", 16, 12),
    ("mode off { SHORE=off SHORE=on }", "sets SHORE twice", "", 16, 22),
    ("mode off { G1=on }\nstage B { \n generator G1 120V\n}", "no device G1", "later stage", 16, 12),
    ("stage B {\n remove NBRA\n}", "no NBRA to remove", "`NBAR`", 17, 9),
    ("stage B {\n move W9 Q1.1 -> NBAR.2\n}", "no conductor W9", "a wire", 17, 7),
    ("stage B {\n move W1 Q1.2 -> NBAR.2\n}", "W1 does not end on Q1.2", "SHORE.L Q1.1", 17, 10),
    ("stage B {\n move C1/3 Q1.2 -> NBAR.2\n}", "C1 has no core 3", "1 to 2", 17, 7),
    ("stage B {\n change SHOER 12V\n}", "no SHOER to change", "`SHORE`", 17, 9),
    ("stage B {\n change U1 4000V 10Ah\n}", "no use for 10Ah", "", 17, 18),
    ("stage B {\n remove Q1\n wire W2 14AWG 1m Q1.1 -> NBAR.2\n}", "no device Q1", "removed at", 18, 19),
    ("stage B {\n rules nfpa70\n}", "inside a stage", "outside any", 17, 2),
    ("stage B {\n remove E1\n}\nstage B {\n}", "the name B is taken", "t.rig:16:1", 19, 1),
    ("stage base {\n}", "the name base is taken", "outside any stage", 16, 1),
    ('use "parts/nothing.rig"', "cannot read", "parts/…", 16, 1),
    ('use "missing.rig"\nlamp E2 unknownpart', "cannot read", "", 16, 1),
]  # fmt: skip


@pytest.mark.parametrize("row", BROKEN, ids=lambda row: row[0][:40].replace("\n", " "))
def test_one_mistake_is_one_problem(row: tuple[str, str, str, int, int]) -> None:
    text, message, more, line, column = row
    problems = read_text(BASE + text + "\n", "t.rig").problems
    assert len(problems) == 1, [p.message for p in problems]
    problem = problems[0]
    assert message in problem.message
    assert more in f"{problem.expected} {problem.hint}"
    assert (problem.span.line, problem.span.column) == (line, column)


def test_the_base_of_the_broken_texts_is_sound() -> None:
    reading = read_text(BASE)
    assert not reading.problems
    assert len(reading.rigs) == 1


def test_all_mistakes_are_reported_in_one_run() -> None:
    lines = [text for text, _, _, line, _ in BROKEN[:11] if line == 16]
    problems = read_text(BASE + "\n".join(lines) + "\n").problems
    assert [p.span.line for p in problems] == list(range(16, 16 + len(lines)))


def test_a_name_that_is_nowhere_is_one_problem_however_often_it_stands_there() -> None:
    text = "cable C2 3x14AWG 1m XBAR.1 NBAR.2 NBAR.3 -> E1.(L N PE)\nwire W2 14AWG 1m XBAR.2 -> Q1.1\n"
    (problem,) = read_text(BASE + text).problems
    assert problem.message == "there is no device XBAR; it is named on line 17 too"
    (problem,) = read_text(BASE + "lamp E2 120V\ncable C2 3x14AWG 1m E3.(L N PE) -> E2.(L N PE)\n").problems
    assert problem.message == "there is no device E3"


def test_what_refers_to_a_spoiled_statement_is_not_judged() -> None:
    text = (
        'breaker Q2 "Open 15A\n'
        "wire W2 14AWG 1m Q2.9 -> NBAR.2\n"
        "part p9 breaker 15Q\n"
        "breaker Q3 p9\n"
        "wire W3 14AWG 1m Q3.2 -> NBAR.3\n"
        "mode m { Q2=open Q3=open }\n"
        "stage S {\n move W2 Q2.9 -> NBAR.4\n remove Q2 Q3\n}\n"
    )
    problems = read_text(BASE + text).problems
    assert [p.span.line for p in problems] == [16, 18]


def test_no_rules_is_a_problem() -> None:
    assert "whose rules" in read_text("lamp E1 12V\n").problems[0].message


def test_bytes_that_are_not_text(tmp_path: Path) -> None:
    file = tmp_path / "r.rig"
    file.write_bytes(BASE.encode() + b'lamp E2 "\xff" 12V\nlamp E3 \x00 12V\n')
    problems = read(file).problems
    assert [(p.span.line, p.span.column) for p in problems] == [(16, 10), (17, 9)]
    assert "UTF-8" in problems[0].message and "U+0000" in problems[1].message


def test_byte_order_mark_and_line_ends_of_other_systems_are_read(tmp_path: Path) -> None:
    file = tmp_path / "r.rig"
    file.write_bytes(b"\xef\xbb\xbf" + BASE.replace("\n", "\r\n").encode())
    assert not read(file).problems


def test_a_file_that_is_not_there() -> None:
    problems = read("no/such/file.rig").problems
    assert len(problems) == 1 and "cannot read" in problems[0].message


def test_files_that_use_each_other(tmp_path: Path) -> None:
    (tmp_path / "a.rig").write_text('rules nfpa70\nuse "b.rig"\n')
    (tmp_path / "b.rig").write_text('use "a.rig"\nlamp E1 12V\n')
    problems = read(tmp_path / "a.rig").problems
    assert len(problems) == 1 and "use each other" in problems[0].message
    assert problems[0].span.file.endswith("b.rig")


def test_a_used_file_says_nothing_of_the_rig(tmp_path: Path) -> None:
    (tmp_path / "a.rig").write_text('rules nfpa70\nuse "b.rig"\n')
    (tmp_path / "b.rig").write_text('rig "Other"\nlamp E1 12V\n')
    problems = read(tmp_path / "a.rig").problems
    assert [p.message for p in problems] == ["`rig` in a used file"]


def test_a_problem_is_shown_with_its_line_and_carets() -> None:
    reading = read_text(BASE + "wire W2 14AWG 1m Q1.1 -> NBRA.2\n", "t.rig")
    shown = render_problem(reading.problems[0], reading.sources)
    assert shown == (
        "t.rig:16:26: error: there is no device NBRA\n"
        "   16 | wire W2 14AWG 1m Q1.1 -> NBRA.2\n"
        "      |                          ^^^^^^\n"
        "      expected: a device of this rig\n"
        "      hint: did you mean `NBAR`?"
    )
    assert "\x1b[" in render_problem(reading.problems[0], reading.sources, colour=True)


def test_thousands_of_mistakes_are_told_in_bounded_time() -> None:
    """Near misses are not searched for without end: 4,000 bad lines take seconds, not minutes."""
    good = "".join(f"lamp E{n} 12V\n" for n in range(2000))
    bad = "".join(f"wire W{n} 14AWG 1m F{n}.L -> E{n}.L\nlamp G{n} vvv\n" for n in range(2000))
    start = time.perf_counter()
    problems = read_text("rules nfpa70\n" + good + bad).problems
    assert len(problems) == 4000
    assert time.perf_counter() - start < 10


def test_a_terminal_of_another_form_of_the_kind_is_explained() -> None:
    text = "breaker Q 15A\nlamp E dc\nwire W 14AWG 1m Q.N1 -> E.L\n"
    hints = [p.hint for p in read_text("rules nfpa70\n" + text).problems]
    assert hints == ["N1 comes with poles=1N or poles=3N", "with the flag `dc` it has none"]
