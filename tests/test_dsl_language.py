"""The example of the language, read whole, and what each statement means in the model."""

from pathlib import Path

import pytest
from ferrule.dsl.model import Quantity, Range, Rig, Size
from ferrule.dsl.reader import read, read_text
from ferrule.dsl.units import AWG, UNITS, amount

VAN = Path(__file__).parent / "data" / "van.rig"


@pytest.fixture(scope="module")
def van() -> tuple[Rig, ...]:
    reading = read(VAN)
    assert not reading.problems
    return reading.rigs


def rig(text: str) -> Rig:
    """The last stage of a text, which must be sound."""
    reading = read_text("rules nfpa70\n" + text)
    assert not reading.problems, [p.message for p in reading.problems]
    return reading.rigs[-1]


def test_a_rig_for_each_stage(van: tuple[Rig, ...]) -> None:
    assert [r.stage for r in van] == ["base", "INVERTER"]
    assert all(r.stages == ("base", "INVERTER") for r in van)
    assert (van[0].label, van[0].attrs["revision"]) == ("Travelling library van", "B")
    assert (van[0].book, van[0].ambient_c) == ("nfpa70", 30.0)
    assert [len(r.devices) for r in van] == [12, 16]
    assert [len(r.conductors) for r in van] == [19, 27]


def test_a_device_starts_from_its_part_and_its_own_items_stand_over_it(
    van: tuple[Rig, ...],
) -> None:
    q2 = van[0].devices["Q2"]
    assert (q2.part, q2.panel, q2.ways) == ("mcb15", "AP", (3,))
    assert q2.number("rating") == 15
    assert q2.number("gfci") == pytest.approx(0.005)
    assert [t.name for t in q2.terminals] == ["1", "2"]
    assert q2.terminals[0].clamp == Range(1.0, 16.0, "mm2", "1..16mm2")
    assert q2.span.line == 19 and q2.span_of("rating").line == 9


def test_cores_are_conductors_that_join_the_ends_pairwise(van: tuple[Rig, ...]) -> None:
    cable = van[0].cables["C1"]
    assert cable.cores == ("C1/1", "C1/2", "C1/3")
    ends = [(c.a.name, c.b.name) for c in map(van[0].conductors.get, cable.cores) if c]
    assert ends == [("Q1.2", "E1.L"), ("NBAR.2", "E1.N"), ("EBAR.2", "E1.PE")]
    core = van[0].conductors["C1/2"]
    assert (core.kind, core.cable, core.core, core.via) == ("core", "C1", 2, ("DUCT",))
    assert (core.size, core.length_m) == (Size(2.08, "14AWG"), 4.2)
    assert core.b.span.column == 60


def test_a_move_changes_one_end_and_leaves_the_earlier_stage_alone(van: tuple[Rig, ...]) -> None:
    assert [r.conductors["W3"].b.name for r in van] == ["LBAR.1", "U1.in-L"]
    assert [r.conductors["W2/2"].b.name for r in van] == ["NBAR.1", "U1.in-N"]
    assert van[1].conductors["W2/1"].b.name == "QS.1"


def test_modes_of_a_stage_take_the_place_of_those_of_the_same_name(van: tuple[Rig, ...]) -> None:
    assert [list(r.modes) for r in van] == [["shore"], ["shore", "away"]]
    assert van[1].modes["shore"].state("U1", "") == "pass"
    assert van[0].modes["shore"].state("U1", "off") == "off"


def test_an_accepted_finding_holds_in_every_stage(van: tuple[Rig, ...]) -> None:
    assert [[(a.rule, a.on) for a in r.accepts] for r in van] == [[("T4", "W2")]] * 2


def test_no_mode_given_is_one_mode_of_all() -> None:
    assert [(m.name, m.settings) for m in rig("").modes.values()] == [("all", ())]


def test_items_stand_in_any_order() -> None:
    a = rig("supply S 120V 60Hz 30A\nlamp E 12V\nwire W 14AWG 2m cord S.L -> E.L\n")
    b = rig("supply S 30A 120V 60Hz\nlamp E 12V\nwire W cord 2m 14AWG S.L -> E.L\n")
    assert a.devices["S"].attrs == b.devices["S"].attrs
    assert a.conductors["W"].attrs == b.conductors["W"].attrs
    assert a.conductors["W"].length_m == b.conductors["W"].length_m == 2


def test_a_statement_may_go_on_and_stand_before_what_it_names() -> None:
    text = "wire W 14AWG \\\n  1m A.L \\\n  -> B.L # on\nlamp A\nlamp B\n"
    wire = rig(text).conductors["W"]
    assert (wire.span.line, wire.span.end_line) == (2, 4)
    assert wire.b.span.line == 4


def test_a_mode_may_span_lines_and_a_stage_stand_on_one() -> None:
    text = "lamp A\nmode m {\n  A=on # yes\n\n}\nstage S { remove A }\nstage T {\nlamp B }\n"
    last = rig(text)
    assert last.stages == ("base", "S", "T")
    assert list(last.devices) == ["B"]
    assert last.modes["m"].state("A", "") == "on"


def test_a_removed_device_leaves_its_conductors() -> None:
    last = rig("lamp A\nlamp B\nwire W 14AWG 1m A.L -> B.L\nstage S {\nremove B\n}\n")
    assert "B" not in last.devices
    assert last.conductors["W"].b.name == "B.L"


def test_a_removed_cable_goes_with_its_cores_and_frees_its_name() -> None:
    text = "lamp A\nlamp B\ncable C 2x14AWG 1m A.(L N) -> B.(L N)\n"
    last = rig(text + "stage S {\nremove C\nwire C 12AWG 2m A.L -> B.L\n}\n")
    assert list(last.conductors) == ["C"] and not last.cables


def test_change_keeps_what_it_does_not_name() -> None:
    text = 'place P "p"\nbreaker Q 15A curve=C at=P\nlamp A\n'
    text += "cable C 2x14AWG 1m Q.1 Q.2 -> A.(L N) cord\n"
    last = rig(text + "stage S {\nchange Q 20A\nchange C 2x12AWG\nchange P ambient=50degC\n}\n")
    q = last.devices["Q"]
    assert (q.number("rating"), q.text("curve"), q.place) == (20, "C", "P")
    core = last.conductors["C/1"]
    assert (str(core.size), core.length_m, core.flag("cord")) == ("12AWG", 1.0, True)
    assert last.ambient_of("P") == 50


def test_a_change_that_adds_terminals_lets_the_same_stage_land_on_them() -> None:
    text = "inverter U 120V\nsupply S 120V\nlamp A\nwire W 14AWG 1m S.L -> A.L\n"
    last = rig(text + "stage T {\nmove W A.L -> U.in-L\nchange U transfer=30A\n}\n")
    assert last.devices["U"].variant == "pass"


@pytest.mark.parametrize(
    ("item", "ways"),
    [("", (2,)), ("poles=2", (2, 3)), ("poles=1N", (2, 3)), ("poles=3N", (2, 3, 4, 5)),
     ("poles=1N ways=1", (2,)), ("poles=3 ways=4", (2, 3, 4, 5))],
)  # fmt: skip
def test_a_device_takes_as_many_ways_as_it_says_or_has_poles(
    item: str, ways: tuple[int, ...]
) -> None:
    text = f"panel P ways=6\nbreaker Q 15A {item} at=P.2\n"
    assert rig(text).devices["Q"].ways == ways


def test_a_range_of_ways_is_taken_as_it_stands() -> None:
    assert rig("panel P ways=6\nbreaker Q 15A at=P.2-3\n").devices["Q"].ways == (2, 3)


def test_a_metal_panel_is_a_device_with_an_earth_terminal() -> None:
    last = rig(
        "panel P ways=6 metal\npanel R ways=2\nearth G positions=1\nwire W 8AWG 1m P.PE -> G.1\n"
    )
    assert [t.name for t in last.devices["P"].terminals] == ["PE"]
    assert "R" not in last.devices and set(last.panels) == {"P", "R"}


def test_a_joint_has_the_terminals_that_are_used() -> None:
    text = "joint J\nlamp A\nlamp B\nwire W 14AWG 1m A.L -> J.x\nwire V 14AWG 1m J.7 -> B.L\n"
    joint = rig(text).devices["J"]
    assert [(t.name, t.holds) for t in joint.terminals] == [("x", None), ("7", None)]


def test_a_part_renames_terminals_and_may_start_from_another() -> None:
    text = "part a breaker 15A terminals=(LINE LOAD)\npart b breaker a curve=D\nbreaker Q b\n"
    q = rig(text).devices["Q"]
    assert [t.name for t in q.terminals] == ["LINE", "LOAD"]
    assert (q.text("curve"), q.number("rating")) == ("D", 15)


def test_a_stud_is_told_from_a_clamp() -> None:
    q = rig("fuse Q 200A stud=M8 torque=12Nm\n").devices["Q"]
    assert (q.terminals[0].stud, q.terminals[0].grip) == ("M8", "stud")


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [("30mA", 0.03, "A"), ("6kA", 6000, "A"), ("3kVA", 3000, "VA"), ("18in", 0.4572, "m"),
     ("15ft", 4.572, "m"), ("104degF", 40, "degC"), ("-40degF", -40, "degC"),
     ("20mohm", 0.02, "ohm"),
     ("100ms", 0.1, "s"), ("3%", 3, "%"), ("10lbin", 1.12984829, "Nm"), ("200Ah", 200, "Ah")],
)  # fmt: skip
def test_quantities_are_kept_in_base_units(text: str, value: float, unit: str) -> None:
    quantity = amount(text)
    assert isinstance(quantity, Quantity)
    assert (quantity.value, quantity.unit, quantity.text) == (pytest.approx(value), unit, text)


def test_sizes_ranges_and_cores() -> None:
    assert amount("2/0AWG") == (0, Size(67.43, "2/0AWG"))
    assert amount("3x14AWG") == (3, Size(2.08, "14AWG"))
    assert amount("2x2.5mm2") == (2, Size(2.5, "2.5mm2"))
    assert amount("18..6AWG") == Range(0.823, 13.30, "mm2", "18..6AWG")
    assert amount("14..4/0AWG") == Range(2.08, 107.2, "mm2", "14..4/0AWG")


def test_awg_areas_follow_the_formula_of_astm_b258() -> None:
    """d = 0.005 in x 92^((36 - n) / 39); the printed areas are within 0.2 % of it."""
    for name, mm2 in AWG.items():
        n = 1 - int(name[0]) if name.endswith("/0") else int(name)
        d_mm = 0.005 * 25.4 * 92 ** ((36 - n) / 39)
        assert mm2 == pytest.approx(3.141592653589793 / 4 * d_mm**2, rel=2e-3), name


def test_every_unit_has_a_base_unit_that_is_one_itself() -> None:
    assert all(UNITS[base] == (base, 1) for base, _ in UNITS.values())


def test_files_are_used_once_and_from_where_they_are(tmp_path: Path) -> None:
    (tmp_path / "sub").mkdir()
    (tmp_path / "a.rig").write_text('rules nfpa70\nuse "sub/b.rig"\nuse "sub/c.rig"\nlamp A p\n')
    (tmp_path / "sub" / "b.rig").write_text('use "c.rig"\nlamp B p\n')
    (tmp_path / "sub" / "c.rig").write_text("part p lamp 12V\n")
    reading = read(tmp_path / "a.rig")
    assert not reading.problems
    assert list(reading.rigs[0].devices) == ["B", "A"]
    assert reading.rigs[0].parts["p"].span.file.endswith("c.rig")
    assert len(reading.sources) == 3


def test_a_change_leaves_a_device_where_it_stands_in_the_order() -> None:
    last = rig("lamp A\nlamp B\npanel P ways=2 metal\nstage S {\nchange A 5W\nchange P ways=3\n}\n")
    assert list(last.devices) == ["P", "A", "B"]


def test_a_name_may_be_spelled_like_a_keyword() -> None:
    text = "lamp wire\nlamp on 5W\nwire because 14AWG 1m wire.L -> on.L\nmode stage { on=off }\n"
    last = rig(text + 'accept P1 on because because "why"\naccept P1 on on because "why"\n')
    assert list(last.devices) == ["wire", "on"]
    assert last.conductors["because"].b.name == "on.L"
    assert [(a.rule, a.on) for a in last.accepts] == [("P1", "because"), ("P1", "on")]


def test_a_statement_may_begin_after_a_carried_on_line() -> None:
    lamp = rig("\\\n  \\\n   lamp A 5W\n").devices["A"]
    assert (lamp.span.line, lamp.span.column, lamp.span_of("power").column) == (4, 4, 11)


def test_a_label_may_hold_quotes_and_backslashes() -> None:
    text = r'lamp E1 "Lamp, 19\" rack \\ aft # {x}" 120V 60W maker="An \"aft\" maker"'
    lamp = rig(text + " # a comment\n").devices["E1"]
    assert lamp.label == r'Lamp, 19" rack \ aft # {x}'
    assert lamp.attrs["maker"] == 'An "aft" maker'
    assert rig('lamp E1 "Lamp A\\B" 120V 60W\n').devices["E1"].label == "Lamp A\\B"


def test_what_a_part_of_another_file_says_is_shown_at_the_device() -> None:
    """A reader can mend his own line; the file that came with the tool he cannot."""
    pump = rig('use "parts/loads.rig"\nmotor M1 "Pump" pump12\n').devices["M1"]
    assert pump.number("inrush") == 21 and pump.span_of("inrush") == pump.span
