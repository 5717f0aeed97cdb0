"""Completion: what may be written at a place, and that it can be read when it is written."""

from __future__ import annotations

from pathlib import Path

import pytest
from editor_rigs import RIG, Project, marked
from ferrule.cli.editor.complete import complete
from ferrule.dsl.kinds import kinds
from ferrule.dsl.reader import read_text


def offered(tmp_path: Path, after: str, line: str) -> list[str]:
    """What is offered at the mark in a line put in after another, likely ones first."""
    project = Project(tmp_path, marked(after, line))
    found = complete(project.desk, project.file, project.mark)
    return [offer.label for offer in sorted(found.offers, key=lambda offer: offer.rank)]


def test_a_statement_begins_with_a_keyword_or_a_kind(tmp_path: Path) -> None:
    words = offered(tmp_path, "lamp    E1", "|")
    assert set(kinds()) <= set(words)
    assert {"wire", "mode", "stage", "accept", "use"} <= set(words)


def test_a_device_takes_the_attributes_and_flags_of_its_kind(tmp_path: Path) -> None:
    words = offered(tmp_path, "lamp    E1", 'fuse F2 "x" at=BOX |')
    kind = kinds()["fuse"]
    assert {f"{key}=" for key in kind.attrs if key != "at"} <= set(words)
    assert set(kind.flags) <= set(words)
    assert "at=" not in words, "what is said already is not offered again"
    assert words[0] == "fuse10", "the parts of the kind go first"
    assert "strip" not in words, "a bar's part is no fuse's"


@pytest.mark.parametrize(
    ("after", "line", "first"),
    [
        ("lamp    E1", "breaker Q9 curve=|", ["B", "C", "D"]),
        ("lamp    E1", "fuse F2 status=|", ["planned", "installed"]),
        ("lamp    E1", "lamp E3 at=|", ["BOX", "REAR"]),
        ("lamp    E1", "fuse F2 15|", ["15A"]),
        ("lamp    E1", "part x fuse breaks=2|", ["2A"]),
        ("wire  W3", "wire W9 14|", ["14AWG", "14mm2"]),
        ("wire  W3", "wire W9 14AWG 2m PB.2 -> NB.3 via=|", ["DUCT"]),
        ("wire  W3", "wire W9 14AWG 2m PB.4 |", ["->"]),
        ("mode on", "mode off { GB=|", ["on", "off"]),
        ("mode on", "accept P02 on W1 |", ["because"]),
        ("rules", "rules |", ["nfpa70", "abyc-e11", "iec60364"]),
        ("move", "  move W3 |", ["NB.1", "GB.-"]),
        ("lamp    E1", "part P9 |", ["supply"]),
    ],
)
def test_values_fit_what_they_are_written_for(
    tmp_path: Path, after: str, line: str, first: list[str]
) -> None:
    words = offered(tmp_path, after, line)
    assert [word for word in words if word in first] == first, words[:20]
    assert words[0] == first[0]


def test_free_terminals_go_first(tmp_path: Path) -> None:
    # On PB, W2 lands on 1 and C1 on 2; 3 and 4 are free until stage TWO.
    assert offered(tmp_path, "wire  W3", "wire W9 14AWG 2m PB.|") == ["3", "4", "1", "2"]
    # In stage TWO, W2 is on 4 and C2 on 3.
    assert offered(tmp_path, "move", "  wire W9 14AWG 2m PB.|") == ["1", "2", "3", "4"]


def test_what_the_statement_itself_lands_on_is_taken(tmp_path: Path) -> None:
    words = offered(tmp_path, "wire  W3", "cable W9 2x14AWG 2m PB.3 PB.|")
    assert words == ["4", "1", "2", "3"]
    within = offered(tmp_path, "wire  W3", "cable W9 2x14AWG 2m PB.(3 |")
    assert within == ["4", "1", "2", "3"]


def test_a_terminal_that_is_being_written_anew_counts_as_free(tmp_path: Path) -> None:
    text = RIG.replace("wire  W2 14AWG   0.2m F1.2      -> PB.1", "wire W2 14AWG 0.2m F1.2 -> PB.|")
    project = Project(tmp_path, text)
    found = complete(project.desk, project.file, project.mark)
    free = [offer.label for offer in found.offers if "free" in offer.detail]
    assert "1" in free


def test_files_are_offered_for_use(tmp_path: Path) -> None:
    words = offered(tmp_path, "use", 'use "|')
    assert words[0] == "kit.rig" and "parts/fuses.rig" in words and "bus.rig" not in words


def test_an_entry_is_offered_for_entries_only(tmp_path: Path) -> None:
    text = marked(
        "lamp    E1",
        "panel MB ways=4 at=BOX\nentry G1 at=MB\nwire W9 14AWG 1m PB.4 -> NB.4 entries=|",
    )
    project = Project(tmp_path, text)
    assert [o.label for o in complete(project.desk, project.file, project.mark).offers] == ["G1"]


def test_free_ways_go_first(tmp_path: Path) -> None:
    text = marked(
        "lamp    E1",
        "panel MB ways=3 at=BOX\nfuse F7 fuse10 at=MB.1\nfuse F8 fuse10 at=MB.|",
    )
    project = Project(tmp_path, text)
    found = complete(project.desk, project.file, project.mark).offers
    assert [o.label for o in sorted(found, key=lambda o: o.rank)] == ["2", "3", "1"]


@pytest.mark.parametrize("line", ["# wire |", 'lamp E9 "PB.|', 'lamp E9 "a', 'lamp E9 "|" dc'])
def test_nothing_is_offered_in_comments_and_labels(tmp_path: Path, line: str) -> None:
    mark = "" if "|" in line else "|"
    assert offered(tmp_path, "lamp    E1", line + mark) == []


def test_whatever_is_offered_for_a_kind_can_be_read(tmp_path: Path) -> None:
    """Every flag and choice that is offered for a device is one that the reader takes."""
    for name in kinds():
        project = Project(tmp_path, marked("lamp    E1", f"{name} Z1 at=BOX |"))
        for offer in complete(project.desk, project.file, project.mark).offers:
            if offer.what != "flag":
                continue
            text = marked("lamp    E1", f"{name} Z1 at=BOX {offer.written}").replace("|", "")
            problems = read_text(text, project.file).problems
            assert not [p for p in problems if "is no flag" in p.message or "twice" in p.message]


def test_a_place_anywhere_in_a_broken_text_is_answered(tmp_path: Path) -> None:
    broken = RIG.replace("->", "-", 3).replace('"Minus"', '"Minus')
    project = Project(tmp_path, broken)
    for offset in range(0, len(broken), 7):
        complete(project.desk, project.file, offset)


@pytest.mark.parametrize(
    ("line", "there", "absent"),
    [
        ("fuse F2 | at=BOX breaks=2kA", "class=", "breaks="),
        ("fuse F2 fuse10 | at=BOX", "breaks=", "at="),
        ("wire W9 14AWG 2m PB.3 | -> NB.3", "F1.", "->"),
        ("mode two { | GB=off }", "", "GB"),
    ],
)
def test_what_is_said_behind_the_place_is_not_offered_again(
    tmp_path: Path, line: str, there: str, absent: str
) -> None:
    words = offered(tmp_path, "mode on" if line.startswith("mode") else "lamp    E1", line)
    assert absent not in words
    assert not there or there in words or there.rstrip(".") in words


def test_a_terminal_taken_behind_the_place_is_not_free(tmp_path: Path) -> None:
    words = offered(tmp_path, "wire  W3", "wire W9 14AWG 2m PB.| -> PB.3")
    assert words.index("4") < words.index("3")


@pytest.mark.parametrize(
    ("line", "first"),
    [
        ("wire |", ["W4"]),
        ("cable |", ["C3"]),  # C2 is laid in a later stage
        ("lamp |", ["E3"]),
        ("fuse |", ["F2"]),
        ("bus |", ["W4"]),  # no bar of this rig is numbered: IEC 81346-2 has W
        ("bond |", ["B1"]),
        ("wire W9 |", ["14AWG"]),
        ("cable C9 |", ["2x14AWG"]),
    ],
)
def test_names_go_on_and_sizes_are_those_of_the_rig(
    tmp_path: Path, line: str, first: list[str]
) -> None:
    assert offered(tmp_path, "wire  W3", line)[: len(first)] == first


def test_a_rig_is_no_file_of_parts(tmp_path: Path) -> None:
    (tmp_path / "other.rig").write_text('# a rig\nrig "Other"\n', encoding="utf-8")
    words = offered(tmp_path, "use", 'use "|')
    assert "kit.rig" in words and "other.rig" not in words
