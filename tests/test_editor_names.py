"""Definition, references and rename: what is named where, over files and stages."""

from __future__ import annotations

from pathlib import Path

import pytest
from editor_rigs import PARTS, RIG, Project
from ferrule.cli.editor.navigate import Refused, definition, references, rename
from ferrule.cli.editor.spots import Lines, edited
from ferrule.dsl.reader import read

EXAMPLES = sorted((Path(__file__).parents[1] / "examples").glob("*.rig"))


def shown(project: Project, spans: list) -> list[tuple[str, str]]:  # type: ignore[type-arg]
    """The name of the file and the whole line of each span."""
    rows = []
    for span in spans:
        text = project.desk.text(span.file)
        rows.append((Path(span.file).name, Lines(text).line(span.line - 1).strip()))
    return rows


@pytest.mark.parametrize(
    ("words", "inside", "file", "line"),
    [
        ("-> F1.1", "F1", "bus.rig", "fuse    F1"),
        ("PB.3 NB.3 -> E2.(+ -)", "NB", "bus.rig", "bus     NB"),
        ("E2.(+ -) via=DUCT", "DUCT", "bus.rig", "route DUCT"),
        ('Lampe é🔌"   dc 12V 20W at=REAR', "REAR", "bus.rig", "place REAR"),
        ("fuse10 at", "fuse10", "kit.rig", "part fuse10"),
        ("move  W2", "W2", "bus.rig", "wire  W2"),
        ("{ GB=on", "GB", "bus.rig", "battery GB"),
        ('use "kit.rig"', "kit", "kit.rig", "part fuse10"),
    ],
)
def test_a_name_leads_to_where_it_is_declared(
    tmp_path: Path, words: str, inside: str, file: str, line: str
) -> None:
    project = Project(tmp_path)
    found = definition(project.desk, project.file, project.at(words, inside))
    ((name, row),) = shown(project, found)
    assert name == file and row.startswith(line)


def test_a_shipped_part_is_found_where_it_comes_from(tmp_path: Path) -> None:
    shipped = (Path(__file__).parents[1] / "dsl/parts/bars.rig").read_text(encoding="utf-8")
    name = next(row.split()[1] for row in shipped.split("\n") if row.startswith("part "))
    project = Project(
        tmp_path, RIG.replace("strip at=BOX\nbus     NB", f"{name} at=BOX\nbus     NB")
    )
    (span,) = definition(project.desk, project.file, project.at(f"{name} at="))
    assert span.file == "ferrule:parts/bars.rig"
    assert shipped.split("\n")[span.line - 1].startswith(f"part {name}")


def test_references_are_all_places_and_no_labels(tmp_path: Path) -> None:
    text = RIG.replace('"Plus" ', '"PB"   ')
    project = Project(tmp_path, text)
    found = references(project.desk, project.file, project.at("F1.2      -> PB.1", "PB"), [])
    # counted by hand in the text: the bar, W2, C1, C2, and the move's two ends
    assert len(found) == 6
    bare = references(project.desk, project.file, project.at("PB.2 NB.2"), [], False)
    assert len(bare) == 5


def test_a_part_is_renamed_in_the_used_file_too(tmp_path: Path) -> None:
    project = Project(tmp_path)
    edits = rename(project.desk, project.file, project.at("fuse10 at"), "melt10", [])
    assert sorted((Path(e.span.file).name, e.text) for e in edits) == [
        ("bus.rig", "melt10"),
        ("kit.rig", "melt10"),
    ]


def test_a_part_is_renamed_from_the_used_file_in_every_rig_of_the_folder(tmp_path: Path) -> None:
    project = Project(tmp_path)
    (tmp_path / "other.rig").write_text(RIG, encoding="utf-8")
    project.desk.put(str(project.kit), PARTS)
    project.desk.drop(project.file)
    edits = rename(project.desk, str(project.kit), PARTS.index("fuse10"), "melt10", [str(tmp_path)])
    files = sorted(Path(e.span.file).name for e in edits)
    assert files == ["bus.rig", "kit.rig", "other.rig"]


@pytest.mark.parametrize(
    ("words", "new", "why"),
    [
        ("GB.+ ", "F1", "taken"),
        ("GB.+ ", "C1", "taken"),  # devices and conductors share one space of names
        ("GB.+ ", "9a", "no name"),
        ("GB.+ ", "a b", "no name"),
        ("GB.+ ", "", "no name"),
        ("fuse10 at", "dc", "flag"),
        ('DUCT "Kanal', "REAR", "taken"),
        ("rules abyc", "x", "no name stands here"),
    ],
)
def test_a_name_that_cannot_be_is_refused(tmp_path: Path, words: str, new: str, why: str) -> None:
    project = Project(tmp_path)
    with pytest.raises(Refused, match=why):
        rename(project.desk, project.file, project.at(words), new, [])


def test_what_comes_with_ferrule_keeps_its_name(tmp_path: Path) -> None:
    project = Project(tmp_path, RIG.replace("strip at=BOX\nbus     NB", "rail4 at=BOX\nbus     NB"))
    shipped = project.desk.text("ferrule:parts/bars.rig")
    name = next(row.split()[1] for row in shipped.split("\n") if row.startswith("part bar"))
    project = Project(
        tmp_path, RIG.replace("strip at=BOX\nbus     NB", f"{name} at=BOX\nbus     NB")
    )
    with pytest.raises(Refused, match="comes with ferrule"):
        rename(project.desk, project.file, project.at(f"{name} at="), "mine", [])


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.stem)
def test_renaming_every_name_there_and_back_changes_nothing(example: Path, tmp_path: Path) -> None:
    """The law of renaming: the rig is read under the other name, and the way back leads back."""
    text = example.read_text(encoding="utf-8")
    rigs = read(example).rigs
    names = [*rigs[-1].devices, *rigs[-1].cables, *rigs[-1].places][::9]
    for name in names:
        (tmp_path / example.name).write_text(text, encoding="utf-8")
        (tmp_path / "house.book").write_text((example.parent / "house.book").read_text())
        project = Project(tmp_path, text)
        start = next(
            project.text.index(row) + row.index(f" {name} ") + 1
            for row in text.split("\n")
            if f" {name} " in f" {row}".replace("  ", "  ") and not row.lstrip().startswith("#")
        )
        edits = rename(project.desk, project.file, start, "Zz9", [])
        renamed = edited(text, edits)
        assert renamed != text
        project.desk.put(project.file, renamed)
        reading = project.desk.reading(project.file)
        assert reading.rigs, reading.problems[:1]
        back = rename(project.desk, project.file, start, name, [])
        assert edited(renamed, back) == text
        assert len(back) == len(edits)
