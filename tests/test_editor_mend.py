"""Offers to mend, what is underlined, and the outline."""

from __future__ import annotations

from pathlib import Path

import pytest
from editor_rigs import PARTS, RIG, Project
from ferrule.checks.run import check_rigs
from ferrule.cli.editor.complaints import complaints
from ferrule.cli.editor.desk import Desk
from ferrule.cli.editor.mend import mendings
from ferrule.cli.editor.outline import outline
from ferrule.cli.editor.spots import edited
from ferrule.dsl.reader import read_text

FAULTS = Path(__file__).parent / "faults"


def offered(project: Project) -> dict[str, str]:
    """The text that each offer leads to, by the offer's title."""
    found = mendings(project.desk, project.file, 0, len(project.text))
    return {one.title: edited(project.text, list(one.edits)) for one in found}


@pytest.mark.parametrize(
    ("right", "wrong", "title"),
    [
        ("lamp    E1", "lmap    E1", "write `lamp`"),
        ("class=ATO", "clas=ATO", "write `class`"),
        ("12V 20W at=REAR", "12V 20W at=REER", "write `REAR`"),
        ("E1.(+ -) via=DUCT", "E1.(+ -) via=DUCK", "write `DUCT`"),
        ("rules abyc-e11", "rules abyc-e1", "write `abyc-e11`"),
        ("fuse10 at", "fuze10 at", "write `fuse10`"),
        ('use "parts/bars.rig"', 'use "parts/bar.rig"', "write `parts/bars.rig`"),
        ("0.1m GB.+", "0.1 m GB.+", "write `0.1m`"),
        ("dc 12V 20W", "dc 12V 20 W", "write `20W`"),
    ],
)
def test_a_near_miss_is_put_right(tmp_path: Path, right: str, wrong: str, title: str) -> None:
    text = RIG.replace("fuse10 at", "fuse10 class=ATO at") if "clas=" in wrong else RIG
    assert text.count(right) == 1
    project = Project(tmp_path, text.replace(right, wrong))
    assert offered(project) == {title: text}


def test_what_would_not_mend_is_not_offered(tmp_path: Path) -> None:
    """Two mistakes in one word: the near miss of the first leaves the second, and is offered so."""
    project = Project(tmp_path, RIG.replace("-> F1.1", "-> Fl.7"))
    for text in offered(project).values():
        assert len(read_text(text, project.file).problems) < 1


UNDERSIZED = RIG.replace("fuse10 at", "30A 32V dc breaks=1kA at").replace("10A 32V", "10A 32V")


def test_accepting_a_finding_makes_it_accepted_and_nothing_else(tmp_path: Path) -> None:
    project = Project(tmp_path, UNDERSIZED)
    before = project.desk.judged(project.file).report
    assert before is not None and any(f.accepted is None for f in before.findings)
    for title, text in offered(project).items():
        if not title.startswith("accept "):
            continue
        _, rule, _, name, _ = title.split(" ", 4)
        after = check_rigs(read_text(text, project.file).rigs).findings
        taken = [f for f in after if f.accepted == "…"]
        assert {(f.rule, name in f.on) for f in taken} == {(rule, True)}
        assert {f.rule for f in after} <= {f.rule for f in before.findings}


def clean_after(code: str) -> list[tuple[str, list[str]]]:
    """For each fault file of a rule: the rules that still find something after a mending."""
    rows = []
    for path in sorted(FAULTS.glob("*.rig")):
        text = path.read_text(encoding="utf-8")
        if code not in text.split("\n")[0] + text.split("\n")[1]:
            continue
        desk, file = Desk(), str(path)
        desk.put(file, text)
        for one in mendings(desk, file, 0, len(text)):
            if one.preferred:
                after = check_rigs(read_text(edited(text, list(one.edits)), file).rigs).findings
                rows.append((path.stem, [f.rule for f in after]))
    return rows


def test_mechanical_mendings_leave_no_finding_behind() -> None:
    """Every fault file has one fault; what is offered as sure leaves none."""
    rows = clean_after("B") + clean_after("D")
    assert len(rows) >= 3, "the faults of which a mending is offered are gone: look for others"
    assert all(left == [] for _, left in rows), rows


def test_underlined_is_what_check_finds_and_in_which_file(tmp_path: Path) -> None:
    project = Project(tmp_path, UNDERSIZED)
    judged = project.desk.judged(project.file)
    assert judged.report is not None
    found = complaints(judged)
    assert set(found) == {project.file, str(project.kit), "ferrule:parts/bars.rig"}
    told = sorted(row.code for rows in found.values() for row in rows)
    assert told == sorted(f.rule for f in judged.report.findings)
    assert all(row.about and "fix: " in row.message for row in found[project.file])


def test_an_unsaved_text_goes_before_the_saved_one(tmp_path: Path) -> None:
    project = Project(tmp_path)
    assert not project.desk.judged(project.file).problems
    project.desk.put(str(project.kit), PARTS.replace("fuse10", "fuse15"))
    (problem,) = project.desk.judged(project.file).problems
    assert "fuse10" in problem.message
    project.desk.drop(str(project.kit))
    assert not project.desk.judged(project.file).problems


def test_a_file_of_parts_is_no_broken_rig(tmp_path: Path) -> None:
    project = Project(tmp_path)
    kit = str(project.kit)
    project.desk.put(kit, PARTS)
    assert not project.desk.judged(kit).problems
    project.desk.put(kit, PARTS.replace("10A", "10Ah"))
    (problem,) = project.desk.judged(kit).problems
    assert problem.span.file == kit and problem.span.line == 1


BOOK = """\
base = "abyc-e11"
[values.{value}]
value = {number}
why = "trial"
"""


def test_an_unsaved_book_goes_before_the_saved_one(tmp_path: Path) -> None:
    house = Path(__file__).parents[1] / "examples/house.book"
    text = house.read_text(encoding="utf-8")
    book = tmp_path / "house.book"
    book.write_text(text, encoding="utf-8")
    project = Project(tmp_path, RIG.replace("rules abyc-e11", 'rules "house.book"'))
    assert not project.desk.judged(project.file).problems
    project.desk.put(str(book), text + "\n[nonsense]\nx = 1\n")
    problems = project.desk.judged(project.file).problems
    assert problems and {p.span.file for p in problems} == {str(book)}
    assert project.desk.judged(str(book)).problems == problems
    assert project.file in project.desk.concerned(str(book))
    project.desk.drop(str(book))
    assert not project.desk.judged(project.file).problems


def test_the_outline_is_by_stage_panel_and_place(tmp_path: Path) -> None:
    text = RIG.replace("cable C2", "panel MB ways=4 at=BOX\n  fuse F5 fuse10 at=MB.1\n  cable C2")
    project = Project(tmp_path, text)
    top = {s.name: s for s in outline(project.desk.parsed(project.file))}
    assert [c.name for c in top["BOX"].children] == ["GB", "F1", "PB", "NB"]
    assert [c.name for c in top["REAR"].children] == ["E1"]
    assert [c.name for c in top["Conductors"].children] == ["W1", "W2", "W3", "C1"]
    stage = {s.name: s for s in top["TWO"].children}
    assert [c.name for c in stage["MB"].children] == ["F5"]
    assert [c.name for c in stage["in REAR"].children] == ["E2"]
    assert top["TWO"].span.end_line == text.count("\n")


def test_every_entry_of_an_outline_lies_within_its_own_stretch() -> None:
    """LSP 3.17: selectionRange must be contained in range."""
    for path in (Path(__file__).parents[1] / "examples").glob("*.rig"):
        desk = Desk()
        desk.put(str(path), path.read_text(encoding="utf-8"))
        waiting = outline(desk.parsed(str(path)))
        assert waiting
        while waiting:
            symbol = waiting.pop()
            assert (symbol.span.line, symbol.span.column) <= (symbol.at.line, symbol.at.column)
            assert symbol.at.end_line <= symbol.span.end_line
            for child in symbol.children:
                assert symbol.span.line <= child.span.line <= symbol.span.end_line
            waiting += symbol.children


REMEDIES = {
    "p02_breaker_above_conductor": ["make C1 3x12AWG", "make Q1 15A"],
    "p02_bunched_circuits": ["make C4 3x4mm2"],
    "p03_lead_to_a_fuse_too_big": ["make F1 40A"],
    "p21_main_above_inlet": ["make QS 16A"],
    "p35_thin_chassis_strap": ["make W6 8AWG"],
    "v01_feeder_to_a_trailer": ["make W2 3x8AWG"],
    "d11_socket_never_wired": ["write status=planned on X3"],
    "t03_soldered_in_a_spring": ["write ends=ferrule on W8"],
    "l08_spare_unmarked": ['label Q3 "Spare"'],
    "d10_accept_of_nothing": ["take this `accept` out"],
    "b01_floating_generator": [],
}
"""What is offered for faults besides accepting them: no figure that the rig itself has to tell."""


@pytest.mark.parametrize("fault", REMEDIES)
def test_a_remedy_is_offered_as_a_change_that_cures(fault: str) -> None:
    path = FAULTS / f"{fault}.rig"
    desk, file = Desk(), str(path)
    text = path.read_text(encoding="utf-8")
    desk.put(file, text)
    offers = [m for m in mendings(desk, file, 0, len(text)) if not m.title.startswith("accept ")]
    assert [offer.title for offer in offers] == REMEDIES[fault]
    for offer in offers:
        after = check_rigs(read_text(edited(text, list(offer.edits)), file).rigs).findings
        assert offer.code not in {finding.rule for finding in after}
