"""Hover: the figures that ``ferrule figures`` has, meanings of words, and nothing that acts."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from editor_rigs import RIG, Project
from ferrule.checks.figures.derivation import derivation
from ferrule.checks.tracing.trace import analyse
from ferrule.cli.editor.hover import Traced, hover


def over(project: Project, words: str, inside: str = "") -> str:
    found = hover(project.desk, project.file, project.at(words, inside), Traced())
    return found.markdown if found else ""


def test_a_conductor_shows_how_its_figures_are_found(tmp_path: Path) -> None:
    project = Project(tmp_path)
    shown = over(project, "wire  W1", "W1")
    stage = analyse(project.desk.rigs(project.file)[0])
    for section in derivation(stage, stage.modes, "W1"):
        assert section.title in shown
        assert all(line in shown for line in section.lines)
    assert "no proof" in shown and "licensed person" in shown


@pytest.mark.parametrize(
    ("words", "inside", "says"),
    [
        ("fuse    F1", "F1", "F1"),
        ("-> F1.1", "F1.1", "fuse Sicherung"),
        ("PB.2 NB.2 -> E1", "E1", "voltage drop"),
        ("move  W2", "W2", "stage TWO"),
        ("fuse    F1", "fuse", "States, the usual first: closed open"),
        ("100Ah fault", "100Ah", "capacity="),
        ("fault=1kA", "fault", "prospective"),
        ("dc 12V 20W", "dc", "direct current"),
        ("fuse10 at", "fuse10", "part fuse10 fuse 10A 32V dc breaks=1kA class=ATO"),
        ("via=DUCT\n\nmode", "DUCT", "named in 2 places"),
        ("mode on", "mode", "mode NAME"),
    ],
)
def test_words_are_told(tmp_path: Path, words: str, inside: str, says: str) -> None:
    assert says in over(Project(tmp_path), words, inside)


def test_figures_are_those_of_the_stage_the_word_is_in(tmp_path: Path) -> None:
    project = Project(tmp_path)
    assert "F1.2 to PB.1" in over(project, "wire  W2", "W2")
    assert "F1.2 to PB.4" in over(project, "move  W2", "W2")


def test_a_rule_is_explained(tmp_path: Path) -> None:
    project = Project(tmp_path, RIG + 'accept P02 on W1 because "x"\n')
    assert "conductor-undersized" in over(project, "accept P02", "P02")


def test_the_last_readable_text_counts_while_this_one_is_broken(tmp_path: Path) -> None:
    project = Project(tmp_path)
    project.desk.rigs(project.file)
    project.text = RIG.replace('lamp    E1 "Lampe', "lamp    E1 Lampe")
    project.desk.put(project.file, project.text)
    assert project.desk.reading(project.file).problems
    assert "F1.2 to PB.1" in over(project, "wire  W2", "W2")


NASTY = "```\\n<script>alert(1)</script> [x](http://y) ``````` | `a`"


def test_labels_are_inert(tmp_path: Path) -> None:
    """CommonMark 4.5: a fence ends at a run of at least as many backticks. None stands inside."""
    project = Project(tmp_path, RIG.replace("Sicherung", NASTY))
    shown = over(project, "fuse    F1", "F1")
    assert "<script>" in shown
    fences = re.findall(r"^(`{3,})", shown, re.M)
    opening = fences[0]
    body = shown.split(opening + "text\n", 1)[1].split("\n" + opening, 1)[0]
    assert opening not in body
    assert "<script>" in body and "http" in body
    outside = shown.replace(body, "")
    assert "<" not in outside and "http" not in outside


@pytest.mark.parametrize("example", ["field_kitchen", "mobile_clinic", "survey_launch"])
def test_every_word_of_an_example_can_be_pointed_at(tmp_path: Path, example: str) -> None:
    folder = Path(__file__).parents[1] / "examples"
    (tmp_path / "house.book").write_text((folder / "house.book").read_text(encoding="utf-8"))
    project = Project(tmp_path, (folder / f"{example}.rig").read_text(encoding="utf-8"))
    traced = Traced()
    said = [
        hover(project.desk, project.file, offset, traced)
        for offset in range(0, len(project.text), 31)
    ]
    assert sum(found is not None for found in said) > len(said) / 3


@pytest.mark.parametrize(
    ("words", "inside", "says"),
    [
        ("W1 14AWG", "14AWG", "2.08 mm2"),
        ("C1 2x14AWG", "2x14AWG", "2 cores of 14AWG"),
        ("wire  W1", "wire", "one conductor"),
        ("GB=on", "on", "States of a battery: on off; on where a mode says nothing"),
        ("stage TWO", "TWO", "6 devices, 7 conductors; modes on"),
        ("rules abyc-e11", "abyc-e11", "ABYC E-11"),
        ("GB.+      -> F1.1", "1", "lands here: W1; holds 1"),
        ("-> F1.1", ".1", "**F1.1**"),
        ("PB.2 NB.2 -> E1.(+ -)", "-)", "**E1.-**"),
        ("move  W2 PB.1", ".1", "lands here: nothing"),
    ],
)
def test_terminals_states_and_sizes_are_told(
    tmp_path: Path, words: str, inside: str, says: str
) -> None:
    """14 AWG is 2.08 mm2: NFPA 70 chapter 9 table 8."""
    project = Project(tmp_path)
    at = project.at(words) + words.rindex(inside) + (inside.startswith("."))
    found = hover(project.desk, project.file, at, Traced())
    assert found is not None and says in found.markdown


def test_a_terminal_has_its_role_and_volts_in_each_mode(tmp_path: Path) -> None:
    project = Project(tmp_path, RIG.replace("GB=on }", "GB=on }\nmode off { GB=off }"))
    found = hover(project.desk, project.file, project.at("-> F1.1") + 6, Traced())
    assert found is not None
    assert re.search(r"mode on\n  1: \+, 12", found.markdown), found.markdown
    assert "mode off\n  1: dead" in found.markdown


def test_a_core_is_told_by_itself(tmp_path: Path) -> None:
    project = Project(tmp_path, RIG.replace("move  W2 PB.1 -> PB.4", "move C1/2 NB.2 -> NB.4"))
    shown = over(project, "move C1/2", "C1/2")
    assert "NB.4 to E1.-" in shown and "C1/1" not in shown
