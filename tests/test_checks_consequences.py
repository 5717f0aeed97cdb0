"""What follows from a change: figures, findings and tests, and only those that changed."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path

import pytest
from ferrule.checks.commissioning import commissioning
from ferrule.checks.figures.consequences import Consequences, consequences
from ferrule.checks.figures.effects import DROP_POINTS
from ferrule.checks.figures.rows import conductor_rows, load_rows
from ferrule.checks.solve import Fault, solution
from ferrule.checks.tracing.trace import Stage, analyse
from ferrule.dsl.changes import Renamed
from ferrule.dsl.compare import apply
from ferrule.dsl.reader import read, read_text
from ferrule.dsl.things import DEVICE

EXAMPLES = sorted((Path(__file__).parents[1] / "examples").glob("*.rig"))

TEXT = """\
rig "Signal trailer"
rules nfpa70
supply SHORE "Site supply" 120V 60Hz 30A fault=2kA bonded
breaker Q1 "Main" 30A poles=1 breaks=10kA standard=UL489
breaker Q2 "Lamps" 15A poles=1 breaks=10kA standard=UL489
bus N "Neutral bar" 100A positions=6
bus E "Earth bar" 100A positions=6
earth CH "Chassis" positions=2
lamp E1 "Lamps" 120V 600W
cable W1 3x10AWG 5m SHORE.(L N PE) -> Q1.1 N.1 E.1
wire W2 10AWG 0.2m Q1.2 -> Q2.1
cable C1 3x14AWG 10m Q2.2 N.2 E.2 -> E1.(L N PE)
wire W9 8AWG 1m E.6 -> CH.1
mode shore { SHORE=on }
mode off { SHORE=off }
"""


def stage(text: str = TEXT) -> Stage:
    reading = read_text(text)
    assert not reading.problems, reading.problems
    return analyse(reading.rigs[-1])


def follows(*swaps: tuple[str, str]) -> Consequences:
    text = TEXT
    for old, new in swaps:
        assert old in text
        text = text.replace(old, new)
    return consequences(stage(), stage(text))


def told(found: Consequences, topic: str) -> dict[str, tuple[tuple[str, ...], str, str]]:
    return {e.on: (e.modes, e.old, e.new) for e in found.effects if e.topic == topic}


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_of_no_change_nothing_follows(path: Path) -> None:
    for rig in read(path).rigs:
        found = consequences(analyse(rig), analyse(rig))
        assert found == Consequences((), (), (), (), found.kept, ())


def test_a_larger_device_is_told_with_the_limit_it_breaks() -> None:
    # NFPA 70 240.4(D)(3): 14 AWG copper at most 15 A.
    found = follows(('"Lamps" 15A', '"Lamps" 20A'))
    assert told(found, "protection") == {
        "C1": (("shore",), "Q2 15 A (at most 15 A)", "Q2 20 A (at most 15 A)")
    }
    assert [(f.rule, f.on[0]) for f in found.gained] == [("P02", "C1/1")]
    back = consequences(stage(TEXT.replace('"Lamps" 15A', '"Lamps" 20A')), stage())
    assert [(f.rule, f.on[0]) for f in back.lost] == [("P02", "C1/1")]


def test_a_longer_cable_drops_more_and_lets_less_through() -> None:
    found = follows(("3x14AWG 10m", "3x14AWG 30m"))
    old, new = (
        next(row.drop.percent for row in load_rows(s, s.modes[0]) if row.device.name == "E1")
        for s in (stage(), stage(TEXT.replace("3x14AWG 10m", "3x14AWG 30m")))
    )
    assert told(found, "drop")["E1"] == (
        ("shore",), f"{old:.2f} % of 5 %", f"{new:.2f} % of 5 %" + " (too much)" * (new > 5)
    )  # fmt: skip
    assert new - old > DROP_POINTS
    (least,) = (e for e in found.effects if e.topic == "least")
    assert least.on == "E1" and least.share is not None and least.share < -0.05
    assert not told(found, "protection")


def test_a_little_change_is_not_told() -> None:
    # Ten centimetres of ten metres: less than a tenth of a point, less than 5 % of the fault.
    found = follows(("3x14AWG 10m", "3x14AWG 10.1m"))
    assert not found.effects
    assert found.due  # but what was measured was another cable


@pytest.mark.parametrize("metres", [10.2, 10.4, 10.6, 11, 12, 9.7, 9.2, 8])
def test_a_fault_current_is_told_from_a_twentieth_on(metres: float) -> None:
    def least(s: Stage) -> float:
        fault = solution(s.modes[0]).loop("E1", "L", "min")
        assert isinstance(fault, Fault)
        return fault.amps

    new = stage(TEXT.replace("3x14AWG 10m", f"3x14AWG {metres}m"))
    changed = least(new) / least(stage()) - 1
    said = [e.share for e in consequences(stage(), new).effects if e.topic == "least"]
    assert said == ([pytest.approx(changed)] if abs(changed) > 0.05 else [])


def test_a_drop_that_crosses_its_limit_is_told_however_little_it_changes() -> None:
    def crossing(metres: float) -> float:
        s = stage(TEXT.replace("3x14AWG 10m", f"3x14AWG {metres}m"))
        return next(row.drop.percent for row in load_rows(s, s.modes[0]))

    low, high = 10.0, 100.0
    while high - low > 0.05:  # the length at which the lamps stand at 5 %
        middle = (low + high) / 2
        low, high = (middle, high) if crossing(middle) < 5 else (low, middle)
    below, above = round(low - 0.06, 2), round(high + 0.06, 2)
    assert crossing(above) - crossing(below) < DROP_POINTS
    old = stage(TEXT.replace("3x14AWG 10m", f"3x14AWG {below}m"))
    new = stage(TEXT.replace("3x14AWG 10m", f"3x14AWG {above}m"))
    (effect,) = (e for e in consequences(old, new).effects if e.topic == "drop")
    assert effect.new.endswith("(too much)") and "(" not in effect.old


def test_a_conductor_that_is_something_else_now_is_told_core_by_core() -> None:
    # The earth of the lamps is landed on the neutral bar.
    found = follows(("Q2.2 N.2 E.2", "Q2.2 N.2 N.6"))
    roles = {e.modes: (e.old, e.new) for e in found.effects if e.topic == "role" and e.on == "C1"}
    assert roles[("shore",)] == ("L N PE", "L N N")


def test_a_second_joint_of_neutral_and_earth_is_counted() -> None:
    found = follows(("mode shore", "bond B1 8AWG 0.3m N.6 -> E.5\nmode shore"))
    assert told(found, "bonds")["neutral of SHORE"] == (
        ("shore",), "1, by SHORE", "2, by B1, SHORE"
    )  # fmt: skip
    assert "B02" in {f.rule for f in found.gained}


def test_what_runs_along_one_route_derates_what_was_there() -> None:
    # NFPA 70 Table 310.16: 14 AWG, 90 degC, 25 A; at 60 degC x 0.71 (Table 310.15(B)(1)(1)), held
    # to the 15 A of its terminals (60 degC).  With two cables in the duct four conductors carry:
    # x 0.80 (Table 310.15(C)(1)), which is 14.2 A.
    route = ("rules nfpa70", 'rules nfpa70\nroute DUCT "Duct"\nambient 60degC')
    old = TEXT.replace(*route).replace("E1.(L N PE)", "E1.(L N PE) via=DUCT")
    more = 'lamp E2 "More" 120V 60W\ncable C2 3x14AWG 10m Q2.2 N.3 E.3 -> E2.(L N PE) via=DUCT\n'
    found = consequences(stage(old), stage(old.replace("wire W9", more + "wire W9")))
    (effect,) = (e for e in found.effects if e.topic == "ampacity")
    assert (effect.on, effect.old, effect.new) == ("C1", "15 A", "14.2 A")
    assert effect.share == pytest.approx(25 * 0.71 * 0.8 / 15 - 1)


def test_a_mode_that_is_new_tells_its_sources_and_its_joints() -> None:
    generator = 'supply GEN "Generator" 120V 60Hz 20A fault=200A bonded\ncable W5 3x10AWG 5m'
    generator += " GEN.(L N PE) -> Q1.1 N.5 E.5\nmode shore { SHORE=on GEN=off }\nmode off"
    found = follows(
        ("mode shore { SHORE=on }\nmode off", generator),
        ("{ SHORE=off }", "{ SHORE=off GEN=off }\nmode gen { SHORE=off }"),
    )
    in_gen = {(e.topic, e.on, e.old, e.new) for e in found.effects if e.modes == ("gen",)}
    assert ("sources", "sources", "none", "GEN") in in_gen  # as it was with the site supply off
    assert ("bonds", "neutral of GEN", "not live", "2, by SHORE, GEN") in in_gen
    assert ("protection", "W5", "", "GEN 20 A (at most 30 A)") in in_gen
    assert ("protection", "C1", "not live", "Q2 15 A (at most 15 A)") in in_gen


def test_a_mode_that_the_rig_was_never_run_in_has_nothing_to_compare_with() -> None:
    # Open at Q2 with the supply on: there was no such mode.
    found = follows(("mode off", "mode dark { SHORE=on Q2=open }\nmode off"))
    assert {(e.topic, e.old) for e in found.effects} == {("sources", ""), ("bonds", "")}


def test_a_mode_under_another_name_is_compared_with_what_it_was() -> None:
    assert not follows(("mode shore", "mode site")).effects
    found = follows(("mode shore", "mode site"), ('"Lamps" 15A', '"Lamps" 20A'))
    assert told(found, "protection")["C1"][0] == ("site",)


def test_of_a_new_conductor_its_protection_is_told_in_every_mode() -> None:
    found = follows(("wire W9", 'lamp E2 "Sign" 120V 60W\ncable C2 3x14AWG 3m Q2.2 N.3 E.3 ->'
                     " E2.(L N PE)\nwire W9"))  # fmt: skip
    assert told(found, "protection") == {"C2": (("shore",), "", "Q2 15 A (at most 15 A)")}
    assert told(found, "drop")["E2"][1] == ""
    assert not told(found, "role")


def test_every_test_of_what_changed_is_due_and_no_other() -> None:
    old, new = stage(), stage(TEXT.replace("3x14AWG 10m", "3x12AWG 10m"))
    due = {d.trial.id for d in consequences(old, new).due}
    touched = {
        trial.id
        for step in commissioning(new)
        for trial in step.trials
        if any(name.startswith("C1/") for name in trial.names)
    }
    assert touched and due == touched
    every = {trial.id for step in commissioning(new) for trial in step.trials}
    assert due < every


def test_a_label_makes_no_test_due() -> None:
    found = follows(('"Lamps" 120V', '"Working lights" 120V'))
    assert found == Consequences((), (), (), (), found.kept, ())


RIGS = sorted((Path(__file__).parent / "rigs").glob("*.rig"))


@pytest.mark.parametrize("path", [*EXAMPLES, *RIGS], ids=lambda path: path.stem)
def test_a_device_renamed_makes_no_test_due(path: Path) -> None:
    """Whatever it is called, it is what it was: each device that acts, in turn."""
    old = read(path).rigs[-1]
    for name in [d.name for d in old.devices.values() if d.kind in ("breaker", "charger", "motor")]:
        names = [Renamed(DEVICE, name, f"{name}Z")]
        before = apply(old, names)
        there = read_text(_renamed(path, name), str(path)).rigs[-1]
        assert consequences(analyse(before), analyse(there)).due == (), name


def _renamed(path: Path, name: str) -> str:
    words = rf'"[^"\n]*"|(?<![\w.=,-]){name}(?![\w=-])|(?<=[, ]){name}(?==)'
    text = path.read_text(encoding="utf-8")
    return re.sub(words, lambda m: m[0] if m[0][0] == '"' else f"{name}Z", text)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_conductor_whose_cut_changed_is_told_and_no_other(path: Path) -> None:
    # Against the rows of `ferrule figures`, put side by side.
    rigs = read(path).rigs
    for a, b in pairwise(rigs):
        old, new = analyse(a), analyse(b)
        found = consequences(old, new)
        for view in new.modes:
            was = next((v for v in old.modes if v.name == view.name), None)
            if was is None:
                continue
            cuts = [
                {r.conductor.name: r.cut for r in conductor_rows(s, v) if r.cut}
                for s, v in ((old, was), (new, view))
            ]
            changed = {
                a.conductors[name].statement
                for name in cuts[0].keys() & cuts[1].keys()
                if cuts[0][name] != cuts[1][name]
            }
            said = {e.on for e in found.effects if e.topic == "protection" and view.name in e.modes}
            assert changed <= said


def test_a_finding_that_is_accepted_now_is_told_as_that_and_not_as_cleared() -> None:
    bare = TEXT.replace('"Lamps" 15A', '"Lamps" 20A')
    waived = bare + 'accept P02 on C1 because "one lamp of 600 W"\n'
    found = consequences(stage(bare), stage(waived))
    assert [(f.rule, f.accepted) for f in found.gained] == [("P02", "one lamp of 600 W")]
    assert found.lost == ()
    back = consequences(stage(waived), stage(bare))
    assert [(f.rule, f.accepted) for f in back.gained] == [("P02", None)]
    assert back.lost == ()


def test_what_a_graver_finding_hides_is_not_cleared() -> None:
    # The lamps' device is too large; then their line is landed on the neutral bar as well.
    bad = TEXT.replace('"Lamps" 15A', '"Lamps" 20A')
    short = bad.replace("wire W9", "wire W8 10AWG 0.3m Q2.2 -> N.6\nwire W9")
    found = consequences(stage(bad), stage(short))
    assert found.gained
    assert "P02" in {f.rule for f in found.waiting}
    assert "P02" not in {f.rule for f in found.lost}
