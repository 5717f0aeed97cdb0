"""Two versions of a rig put together: by statement, nothing lost, conflicts told in words."""

from __future__ import annotations

from pathlib import Path

import pytest
from ferrule.dsl.blocks import Block, blocks
from ferrule.dsl.merge import merge
from ferrule.dsl.merge_lines import Marks
from ferrule.dsl.reader import read_text
from ferrule.dsl.writer import Unreadable, format_text
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

ROOT = Path(__file__).parents[1]
EXAMPLES = [p.read_text("utf-8") for p in sorted((ROOT / "examples").glob("*.rig"))]
BASE = format_text(
    """
rig "Tea wagon" revision=A
rules nfpa70
supply SHORE "Site supply" 120V 60Hz 30A fault=2kA bonded
panel AP "Panel" ways=6
# the breakers
breaker QM "Main" 30A poles=1 breaks=10kA at=AP.1
breaker Q1 "Lamps" 15A poles=1 breaks=10kA at=AP.2
bus LBAR "Line bar" 100A positions=6
bus NBAR "Neutral bar" 100A positions=6
bus EBAR "Earth bar" 100A positions=6
lamp E1 "Lamps" 120V 180W

cable W1 3x10AWG 7m SHORE.(L N PE) -> QM.1 NBAR.1 EBAR.1
wire W3 10AWG 0.2m QM.2 -> LBAR.1
wire W4 10AWG 0.2m LBAR.2 -> Q1.1
cable C1 3x14AWG 4m Q1.2 NBAR.2 EBAR.2 -> E1.(L N PE)  # left wall
mode shore "On site supply" { SHORE=on }
stage KETTLE "A kettle" {
  breaker Q2 "Kettle" 15A poles=1 breaks=10kA at=AP.3
  heater E2 "Kettle" 120V 1200W
  wire W5 10AWG 0.2m LBAR.3 -> Q2.1
  cable C2 3x14AWG 3m Q2.2 NBAR.3 EBAR.3 -> E2.(L N PE)
}
"""
)


def with_circuit(text: str, number: int, way: int, after: str = "Q1", comment: str = "") -> str:
    """The text with another lamp circuit, its lines beside their like."""
    lines = text.splitlines()

    def put(behind: str, line: str) -> None:
        place = next(n for n, row in enumerate(lines) if row.split()[1:2] == [behind])
        lines[place + 1 : place + 1] = [*([f"# {comment}"] if comment else []), line]

    put(after, f'breaker Q{number} "Lamp {number}" 15A poles=1 breaks=10kA at=AP.{way}')
    put("E1", f'lamp E{number} "Lamp {number}" 120V 60W')
    bar = way
    put("W4", f"wire F{number} 10AWG 0.2m LBAR.{bar} -> Q{number}.1")
    ends = f"Q{number}.2 NBAR.{bar} EBAR.{bar} -> E{number}.(L N PE)"
    put("C1", f"cable C{number} 3x14AWG 4m {ends}")
    return format_text("\n".join(lines) + "\n")


def clean(base: str, ours: str, theirs: str) -> str:
    """The merged text, without conflicts, canonical, and read."""
    merged = merge(base, ours, theirs)
    assert not merged.conflicts, merged.conflicts
    assert format_text(merged.text) == merged.text
    assert not read_text(merged.text).problems
    return merged.text


def meaning(text: str) -> dict[str, list[tuple[str, ...]]]:
    """What every stage says, in no order."""

    def said(block: Block) -> list[tuple[str, ...]]:
        return sorted((*item.words, item.comment) for item in block.items)

    whole = blocks(text)
    stages = {i.words[1]: said(i.block) for i in whole.items if i.block is not None}
    return {"": said(whole), **stages}


# -- what two branches usually do --------------------------------------------------------------


def test_two_branches_that_add_circuits_do_not_conflict() -> None:
    ours = with_circuit(BASE, 7, 4, comment="asked for by the cook")
    theirs = with_circuit(BASE, 8, 5, comment="over the door")
    text = clean(BASE, ours, theirs)
    rig = read_text(text).rigs[0]
    assert {"Q7", "E7", "Q8", "E8"} <= rig.devices.keys()
    assert {"F7", "C7/3", "F8", "C8/3"} <= rig.conductors.keys()
    rows = text.splitlines()
    for comment, name in (("# asked for by the cook", "Q7"), ("# over the door", "Q8")):
        assert rows[rows.index(comment) + 1].split()[1] == name
    order = [row.split()[1] for row in rows if row.startswith("breaker")]
    assert order == ["QM", "Q1", "Q7", "Q8"]  # ours, then theirs, in the place they share
    assert text.count("# the breakers") == text.count("# left wall") == 1


def test_both_ways_round_say_the_same() -> None:
    ours, theirs = with_circuit(BASE, 7, 4), with_circuit(BASE, 8, 5)
    assert meaning(clean(BASE, ours, theirs)) == meaning(clean(BASE, theirs, ours))


def test_statements_of_a_stage_are_put_together_within_it() -> None:
    ours = BASE.replace("  heater", '  lamp E5 "Lamp of ours" 120V 5W class2\n  heater')
    theirs = BASE[: BASE.rindex("}")] + '  lamp E6 "Lamp of theirs" 120V 5W class2\n}\n'
    text = clean(BASE, format_text(ours), format_text(theirs))
    base, stage = read_text(text).rigs
    assert {"E5", "E6"} <= stage.devices.keys() and not {"E5", "E6"} & base.devices.keys()


def test_a_new_stage_of_each_is_kept() -> None:
    ours = BASE + 'stage OVEN "Oven" {\n  lamp E5 "Oven lamp" 120V 5W class2\n}\n'
    theirs = BASE + 'stage FAN "Fan" {\n  lamp E6 "Fan lamp" 120V 5W class2\n}\n'
    text = clean(BASE, ours, theirs)
    assert [rig.stage for rig in read_text(text).rigs] == ["base", "KETTLE", "OVEN", "FAN"]


def test_the_same_change_by_both_is_no_conflict() -> None:
    both = BASE.replace("Q1.2 NBAR.2", "Q1.2 NBAR.5")
    assert clean(BASE, both, with_circuit(both, 8, 6)) == with_circuit(both, 8, 6)


def test_layout_is_no_change() -> None:
    ours = BASE.replace("wire  W3", "wire    W3")
    theirs = BASE.replace("0.2m QM", "0.3m QM").replace("0.2m   QM", "0.3m   QM")
    assert ours != BASE != theirs
    merged = merge(BASE, ours, theirs)
    assert not merged.conflicts and "0.3m" in merged.text


def test_different_changes_of_different_statements_are_both_taken() -> None:
    ours = BASE.replace("15A poles=1 breaks=10kA at=AP.2", "10A poles=1 breaks=10kA at=AP.2")
    theirs = BASE.replace("# left wall", "# right wall")
    assert ours != BASE != theirs
    text = clean(BASE, ours, theirs)
    assert "10A" in text and "# right wall" in text


def test_settings_of_a_mode_are_put_together_by_device() -> None:
    ours = BASE.replace("{ SHORE=on }", "{ SHORE=on Q1=open }")
    theirs = BASE.replace("{ SHORE=on }", "{ SHORE=on QM=open }")
    mode = read_text(clean(BASE, ours, theirs)).rigs[0].modes["shore"]
    assert {s.device: s.state for s in mode.settings} == {
        "SHORE": "on",
        "Q1": "open",
        "QM": "open",
    }


def test_comments_of_both_are_kept() -> None:
    ours = BASE.replace("# the breakers", "# the breakers\n# all of one make")
    theirs = BASE.replace("# the breakers", "# the breakers, by way").replace(
        "# left wall", "# left wall, low"
    )
    theirs += "# drawn on a wet day\n"
    text = clean(BASE, ours, theirs)
    for line in ("# all of one make", "# the breakers, by way", "# left wall, low", "# drawn on a"):
        assert line in text


def test_a_comment_above_what_the_other_took_out_is_kept() -> None:
    ours = "\n".join(r for r in BASE.splitlines() if " C1 " not in r and " E1 " not in r) + "\n"
    ours = format_text(ours)
    theirs = BASE.replace("cable C1", "# renew this one\ncable C1")
    text = merge(BASE, ours, theirs).text
    assert "# renew this one" in text and "cable C1" not in text


# -- what people must decide -------------------------------------------------------------------


def conflict(ours: tuple[str, str], theirs: tuple[str, str], base: str = BASE) -> tuple[str, ...]:
    """The words of a conflict, each side told as what it puts in the place of what."""
    assert ours[0] in base and theirs[0] in base
    return merge(base, base.replace(*ours), base.replace(*theirs)).conflicts


def test_a_conductor_landed_differently_is_told_by_its_terminals() -> None:
    assert conflict(("Q1.2 NBAR.2", "QM.2 NBAR.2"), ("Q1.2 NBAR.2", "LBAR.4 NBAR.2")) == (
        "C1 core 1: ours lands it on QM.2, theirs on LBAR.4 (it was Q1.2)",
    )
    assert conflict(("-> LBAR.1", "-> LBAR.5"), ("-> LBAR.1", "-> LBAR.6")) == (
        "W3: ours lands it on LBAR.5, theirs on LBAR.6 (it was LBAR.1)",
    )


def test_moves_of_one_end_to_two_terminals_are_a_conflict() -> None:
    base = BASE[: BASE.rindex("}")]
    ours, theirs = (base + f"  move W3 LBAR.1 -> {end}\n}}\n" for end in ("LBAR.5", "QM.1"))
    assert merge(BASE, ours, theirs).conflicts == ("W3: ours lands it on LBAR.5, theirs on QM.1",)


def test_other_conflicts_say_what_each_side_says() -> None:
    q1 = next(row for row in BASE.splitlines() if " Q1 " in row)
    assert conflict((q1, q1.replace("15A", "10A")), (q1, q1.replace("15A", "20A"))) == (
        "Q1: ours says 10A, theirs 20A (it was 15A)",
    )
    assert conflict((q1, q1 + " curve=C"), (q1, q1 + " curve=B")) == (
        "Q1: `curve=`: ours says C, theirs B",
    )
    assert conflict((q1, q1.replace("15A", "10A")), (q1, q1.replace("AP.2", "AP.6"))) == (
        "Q1: ours changes 15A to 10A",
        "Q1: theirs changes `at=`: AP.2 to AP.6",
    )
    assert conflict((q1 + "\n", ""), (q1, q1.replace("15A", "20A"))) == (
        "Q1: ours takes it out, theirs changes it: 15A to 20A",
    )
    assert conflict(("rules nfpa70", "rules iec60364"), ("rules nfpa70", "rules abyc-e11")) == (
        "rules: ours says iec60364, theirs abyc-e11 (it was nfpa70)",
    )


def test_a_name_given_twice_is_told() -> None:
    ours = BASE.replace("lamp ", "fan F9\nlamp ", 1).replace("fan F9", 'motor F9 "Fan" 120V 60W')
    theirs = BASE.replace("lamp ", 'fuse F9 "Fuse" 10A\nlamp ', 1)
    (said,) = merge(BASE, ours, theirs).conflicts
    assert said == "F9: ours is a motor, theirs a fuse: one of them needs another name"


def test_marks_stand_around_what_is_in_conflict_and_nothing_else() -> None:
    ours = with_circuit(BASE.replace("-> LBAR.1", "-> LBAR.5"), 7, 4)
    theirs = with_circuit(BASE.replace("-> LBAR.1", "-> LBAR.6"), 8, 6)
    rows = merge(BASE, ours, theirs).text.splitlines()
    first, middle, last = (
        next(n for n, row in enumerate(rows) if row.startswith(sign * 7)) for sign in "<=>"
    )
    assert (rows[first], rows[middle], rows[last]) == ("<<<<<<< ours", "=======", ">>>>>>> theirs")
    assert [row.split()[1] for row in rows[first + 1 : middle]] == ["W3"]
    assert [row.split()[1] for row in rows[middle + 1 : last]] == ["W3"]
    whole = [row for n, row in enumerate(rows) if not first <= n <= middle and n != last]
    resolved = "\n".join(whole) + "\n"
    assert format_text(resolved) == resolved  # whoever takes a side has a text laid out
    assert "C7" in resolved and "C8" in resolved


def test_marks_are_as_long_as_git_asks_for() -> None:
    ours, theirs = (BASE.replace("-> LBAR.1", f"-> LBAR.{n}") for n in (5, 6))
    text = merge(BASE, ours, theirs, Marks(12, "main", "boat")).text
    assert f"\n{'<' * 12} main\n" in text and f"\n{'>' * 12} boat\n" in text


def test_a_terminal_that_both_came_to_land_on_is_told() -> None:
    ours, theirs = with_circuit(BASE, 7, 4), with_circuit(BASE, 8, 4).replace("AP.4", "AP.5")
    merged = merge(BASE, ours, theirs)
    assert not merged.conflicts
    assert merged.shared == (
        "EBAR.4: ours lands C7/3 on it, theirs C8/3",
        "LBAR.4: ours lands F7 on it, theirs F8",
        "NBAR.4: ours lands C7/2 on it, theirs C8/2",
    )
    assert merge(BASE, ours, ours).shared == ()
    assert merge(BASE, ours, with_circuit(BASE, 8, 5)).shared == ()
    inside = BASE[: BASE.rindex("}")]
    moved = [f"{inside}  move {move} -> LBAR.6\n}}\n" for move in ("W3 LBAR.1", "W4 LBAR.2")]
    assert merge(BASE, *moved).shared == ("LBAR.6: ours lands W3 on it, theirs W4",)


def test_two_labels_of_a_stage_leave_its_statements_in_peace() -> None:
    ours = BASE.replace('"A kettle"', '"Kettle"')
    theirs = BASE.replace('"A kettle"', '"Tea"').replace("1200W", "900W")
    merged = merge(BASE, ours, theirs)
    assert merged.conflicts == (
        'stage KETTLE: the label: ours says "Kettle", theirs "Tea" (it was "A kettle")',
    )
    taken = [r for r in merged.text.splitlines() if '"Kettle" {' not in r and r[:7] not in MARKS]
    text = "\n".join(taken) + "\n"
    assert format_text(text) == text and "900W" in text


def test_a_heading_that_both_put_their_own_beneath_is_told_once() -> None:
    """Above the first breaker stands the heading of all; each side adds one on top of the list."""
    base = BASE.replace("# the breakers", "# the mains\n# and the breakers")
    texts = []
    for number, way in ((7, 4), (8, 5)):
        line = f'breaker Q{number} "New" 15A poles=1 breaks=10kA at=AP.{way}\n# new {number}\n'
        texts.append(format_text(base.replace("breaker QM", line + "breaker QM")))
    text = clean(base, *texts)
    assert text.count("# the mains") == text.count("# and the breakers") == 1
    assert text.count("# new 7") == text.count("# new 8") == 1
    assert text.index("# the mains") < text.index("Q7") < text.index("Q8") < text.index("QM")


def test_a_layout_of_one_s_own_stays() -> None:
    base = BASE.replace("wire  W3", "wire W3")
    theirs = base.replace("wire W3", "wire     W3").replace("wire  W4", "wire W4")
    assert merge(base, base, theirs).text == theirs == merge(base, theirs, base).text


def test_a_comment_like_no_other_is_only_a_comment() -> None:
    ours = BASE + "#@0 of the owner\n#@@1\n"
    theirs = BASE.replace("mode shore", "#@7\nmode shore")
    assert {"#@0 of the owner", "#@@1", "#@7"} <= set(clean(BASE, ours, theirs).splitlines())
    ours, theirs = (
        text.replace("-> LBAR.1", f"-> LBAR.{n}") for n, text in ((5, ours), (6, theirs))
    )
    assert {"#@0 of the owner", "#@7", "======="} <= set(
        merge(BASE, ours, theirs).text.splitlines()
    )


MARKS = ("<<<<<<<", "=======", ">>>>>>>")


def test_a_text_that_does_not_parse_is_not_put_together() -> None:
    for texts in ((BASE, BASE, "lmap X"), ("}", BASE, BASE), (BASE, "stage A {\n", BASE)):
        with pytest.raises(Unreadable):
            merge(*texts)


# -- laws --------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", [BASE, *EXAMPLES], ids=len)
def test_blocks_lose_nothing(text: str) -> None:
    assert "\n".join(blocks(text).told()) + "\n" == text


@st.composite
def edits(draw: st.DrawFn) -> str:
    """A version of the base with statements taken out, changed, added, moved; or with comments."""
    lines = BASE.splitlines()
    inner = lines.index(next(row for row in lines if row.startswith("stage")))
    free = [n for n in range(2, len(lines) - 1) if n != inner and lines[n].strip()]
    changed = draw(st.lists(st.sampled_from(free), max_size=3, unique=True))
    for n in sorted(changed, reverse=True):
        what = draw(st.sampled_from(["out", "flag", "comment", "above", "down"]))
        if what == "out":
            del lines[n]
        elif what == "flag" and "{" not in lines[n] and "#" not in lines[n]:
            lines[n] += draw(st.sampled_from([" status=planned", " status=unverified"]))
        elif what == "comment" and "#" not in lines[n]:
            lines[n] += "  # " + draw(st.sampled_from(["seen", "to be renewed"]))
        elif what == "above":
            lines.insert(n, "# " + draw(st.sampled_from(["as built", "ask first"])))
        elif what == "down" and n + 1 < len(lines) and "}" not in lines[n + 1]:
            lines[n], lines[n + 1] = lines[n + 1], lines[n]
    for _ in range(draw(st.integers(0, 3))):
        place = draw(st.integers(2, len(lines)))
        number = draw(st.integers(20, 29))
        size = draw(st.sampled_from(["10AWG", "12AWG"]))
        lines.insert(place, f"wire N{number} {size} 1m LBAR.{number - 15} -> QM.2")
    return "\n".join(lines) + "\n"


def sound(text: str) -> str:
    """A version that has the canonical layout, if it has one."""
    try:
        blocks(text)
        return format_text(text)
    except Unreadable:
        assume(False)
        raise


@settings(deadline=None)
@given(edits(), st.booleans())
def test_a_version_that_only_one_side_changed_is_the_result(text: str, laid: bool) -> None:
    canonical = sound(text)
    other = canonical if laid else text
    for ours, theirs in ((BASE, other), (other, BASE), (other, other)):
        merged = merge(BASE, ours, theirs)
        assert not merged.conflicts
        assert merged.text == other


@settings(deadline=None)
@given(edits(), edits())
@example(with_circuit(BASE, 7, 4), with_circuit(BASE, 8, 5))
def test_both_ways_round_mean_the_same(one: str, two: str) -> None:
    ours, theirs = sound(one), sound(two)
    there, back = merge(BASE, ours, theirs), merge(BASE, theirs, ours)
    assert len(there.conflicts) == len(back.conflicts)
    if not there.conflicts:
        assert _unordered(meaning(there.text)) == _unordered(meaning(back.text))


def _unordered(said: dict[str, list[tuple[str, ...]]]) -> object:
    """Where both commented on one line, both comments stand there, ours first."""
    return {
        stage: sorted((*words[:-1], *sorted(words[-1].split("  "))) for words in rows)
        for stage, rows in said.items()
    }


@settings(deadline=None)
@given(edits(), edits())
def test_nothing_that_one_side_wrote_is_lost(one: str, two: str) -> None:
    ours, theirs = sound(one), sound(two)
    merged = merge(BASE, ours, theirs)
    rows = {row.strip() for row in merged.text.splitlines()}
    for side in (ours, theirs):
        for row in side.splitlines():
            if row.strip().startswith("#") and row not in BASE:
                assert row.strip() in rows
    names = {i.key for i in blocks(BASE).items}
    if not merged.conflicts:
        kept = {i.key for i in blocks(merged.text).items}
        for side in (ours, theirs):
            assert {i.key for i in blocks(side).items} - names <= kept
        assert format_text(merged.text) == merged.text
