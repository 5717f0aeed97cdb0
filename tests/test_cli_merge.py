"""git and rigs: the merge driver in a repository of its own, set up as the command prints it."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
from ferrule.cli.main import main
from ferrule.dsl.reader import read
from ferrule.dsl.writer import format_text
from repository import Repository

ROOT = Path(__file__).parents[1]
STARTER = format_text((ROOT / "cli/starter.rig").read_text(encoding="utf-8"))
LAMP = 'lamp E{n} "Lamp {n}" 12V 5W dc\n'


def branches(repository: Repository, ours: dict[str, str], theirs: dict[str, str]) -> None:
    """Two branches with a commit each; ours is where we stand."""
    repository.git("checkout", "-qb", "boat")
    repository.commit("theirs", theirs)
    repository.git("checkout", "-q", "main")
    repository.commit("ours", ours)


def set_up(repository: Repository) -> None:
    """Follow what the command prints: its lines for the shell, and those for attributes."""
    told = repository.run("ferrule", "merge", "--git-setup").stdout
    assert told == repository.run("ferrule", "diff", "--git-setup").stdout
    shell = [line for line in told.splitlines() if line.startswith("git config ")]
    assert len(shell) >= 2
    for line in shell:
        assert repository.run("sh", "-c", line).returncode == 0
    rows = [line for line in told.splitlines() if line.startswith("*.rig ")]
    repository.write(".gitattributes", "".join(f"{row}\n" for row in rows))


@pytest.fixture
def repository(tmp_path: Path) -> Repository:
    made = Repository(tmp_path)
    set_up(made)
    made.commit("a first rig", {"van.rig": STARTER})
    return made


def added(text: str, line: str, before: str = "earth") -> str:
    """The text with a line in front of the first statement of a kind."""
    start = text.index(f"\n{before} ") + 1
    return format_text(text[:start] + line + text[start:])


def test_branches_that_add_merge_by_themselves(repository: Repository) -> None:
    ours = added(STARTER, "# by the door\n" + LAMP.format(n=2))
    theirs = added(STARTER, LAMP.format(n=3))
    branches(repository, {"van.rig": ours}, {"van.rig": theirs})
    repository.git("merge", "-q", "boat")
    text = repository.text("van.rig")
    assert {"E1", "E2", "E3"} <= read(repository.folder / "van.rig").rigs[0].devices.keys()
    assert "# by the door\nlamp    E2" in text and format_text(text) == text
    assert repository.git("status", "--porcelain") == ""


def test_a_terminal_that_both_land_on_is_told_and_stops_nothing(repository: Repository) -> None:
    ours, theirs = (added(STARTER, f"wire W{n} 14AWG 1m F1.1 -> CH.1\n", "bond") for n in (5, 6))
    branches(repository, {"van.rig": ours}, {"van.rig": theirs})
    ran = repository.run("git", "merge", "-q", "boat")
    assert ran.returncode == 0
    assert "ferrule: van.rig: F1.1: ours lands W5 on it, theirs W6; `ferrule check`" in ran.stderr


def test_git_itself_would_have_stopped(repository: Repository) -> None:
    """What the driver is for: the same branches, by line."""
    ours, theirs = (added(STARTER, LAMP.format(n=n)) for n in (2, 3))
    branches(repository, {"van.rig": ours}, {"van.rig": theirs})
    repository.git("config", "--remove-section", "merge.rig")
    assert repository.run("git", "merge", "-q", "boat").returncode == 1


def test_one_conductor_landed_twice_stops_the_merge(repository: Repository) -> None:
    ours = added(STARTER, LAMP.format(n=2)).replace("F1.2 -> E1.+", "F1.2 -> E2.+")
    theirs = STARTER.replace("F1.2 -> E1.+", "F1.2 -> CH.1")
    branches(repository, {"van.rig": ours}, {"van.rig": theirs})
    ran = repository.run("git", "merge", "-q", "boat")
    assert ran.returncode == 1
    said = "ferrule: van.rig: W2: ours lands it on E2.+, theirs on CH.1 (it was E1.+)"
    assert said in ran.stderr
    rows = repository.text("van.rig").splitlines()
    marks = [n for n, row in enumerate(rows) if row[:7] in ("<<<<<<<", "=======", ">>>>>>>")]
    assert [b - a for a, b in pairwise(marks)] == [2, 2]  # a line each
    assert repository.git("status", "--porcelain") == "UU van.rig"


def test_a_way_that_both_took_stops_the_merge_in_words(repository: Repository) -> None:
    base = added(STARTER, 'panel AP "Panel" ways=4\n', before="battery")
    repository.commit("a panel", {"van.rig": base})
    texts = [added(base, f'fuse F{n} "New" 5A class=ATO dc at=AP.2\n') for n in (2, 3)]
    branches(repository, {"van.rig": texts[0]}, {"van.rig": texts[1]})
    ran = repository.run("git", "merge", "-q", "boat")
    assert ran.returncode == 1
    assert "F3 takes way 2 of AP, where F2 has way 2" in ran.stderr
    text = repository.text("van.rig")
    assert "F2" in text and "F3" in text and "<<<" not in text


def test_a_name_given_in_two_stages_stops_the_merge_in_words(repository: Repository) -> None:
    ours = added(STARTER, LAMP.format(n=9))
    theirs = STARTER + "stage NEXT {\n  " + LAMP.format(n=9) + "}\n"
    branches(repository, {"van.rig": ours}, {"van.rig": theirs})
    ran = repository.run("git", "merge", "-q", "boat")
    assert ran.returncode == 1 and "the name E9 is taken" in ran.stderr


def test_a_part_that_arrives_with_the_same_merge_is_no_mistake(repository: Repository) -> None:
    """git merges file by file: the used file may still be as it was."""
    base = added(STARTER, 'use "parts.rig"\n', before="battery")
    repository.commit("parts", {"van.rig": base, "parts.rig": "part small lamp 5W dc\n"})
    both = "part small lamp 5W dc\npart large lamp 50W dc\n"
    theirs = {"van.rig": added(base, 'lamp E2 "Big" large 12V\n'), "parts.rig": both}
    branches(repository, {"van.rig": added(base, LAMP.format(n=3))}, theirs)
    repository.git("merge", "-q", "boat")
    rig = read(repository.folder / "van.rig").rigs[0]
    assert {"E2", "E3"} <= rig.devices.keys()


def test_a_version_that_does_not_parse_is_merged_by_line(repository: Repository) -> None:
    ours = STARTER.replace("lamp ", "lmap ")
    theirs = STARTER.replace('"Starter"', '"First"')
    branches(repository, {"van.rig": ours}, {"van.rig": theirs})
    ran = repository.run("git", "merge", "-q", "boat")
    assert ran.returncode == 0, ran.stderr  # neither side's mistake is one of the merge
    assert "was merged by line" in ran.stderr
    assert '"First"' in repository.text("van.rig") and "lmap" in repository.text("van.rig")


def test_rebase_and_cherry_pick_go_through_it_too(repository: Repository) -> None:
    texts = [added(STARTER, LAMP.format(n=n)) for n in (2, 3)]
    branches(repository, {"van.rig": texts[0]}, {"van.rig": texts[1]})
    repository.git("cherry-pick", "boat")
    assert {"E2", "E3"} <= read(repository.folder / "van.rig").rigs[0].devices.keys()


@pytest.fixture
def versions(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    texts = {
        "base": STARTER,
        "ours": added(STARTER, LAMP.format(n=2)),
        "theirs": added(STARTER, LAMP.format(n=3)),
    }
    for name, text in texts.items():
        Path(f"{name}.rig").write_text(text, encoding="utf-8")
    return tmp_path


ARGV = ["merge", "base.rig", "ours.rig", "theirs.rig"]


def test_the_result_is_written_over_ours_or_only_printed(
    versions: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = Path("ours.rig").read_text(encoding="utf-8")
    assert main([*ARGV, "--print"]) == 0
    printed = capsys.readouterr().out
    assert Path("ours.rig").read_text(encoding="utf-8") == before
    assert main(ARGV) == 0
    assert Path("ours.rig").read_text(encoding="utf-8") == printed != before
    assert capsys.readouterr() == ("", "")


def test_line_ends_are_those_of_ours(versions: Path) -> None:
    ours = Path("ours.rig").read_bytes()
    Path("ours.rig").write_bytes(ours.replace(b"\n", b"\r\n"))
    assert main(ARGV) == 0
    merged = Path("ours.rig").read_bytes()
    assert b"E3" in merged and merged.count(b"\r\n") == merged.count(b"\n") > 8


def test_marks_are_as_long_as_git_says(versions: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for name, lands in (("ours", "CH.1"), ("theirs", "GB.+")):
        text = STARTER.replace("F1.2 -> E1.+", f"F1.2 -> {lands}")
        Path(f"{name}.rig").write_text(text, encoding="utf-8")
    assert main([*ARGV, "boats/a.rig", "--marker-size", "9", "--print"]) == 1
    told = capsys.readouterr()
    assert "\n<<<<<<<<< ours\n" in told.out
    assert told.err.startswith("ferrule: boats/a.rig: W2: ours lands it on CH.1")


def test_what_is_no_text_is_refused(versions: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("theirs.rig").write_bytes(b"\xff\xfe")
    before = Path("ours.rig").read_bytes()
    assert main(ARGV) == 2
    assert Path("ours.rig").read_bytes() == before
    assert main(["merge", "base.rig", "ours.rig"]) == 2
    assert "three versions" in capsys.readouterr().err


def test_a_mistake_behind_files_outside_is_seen_where_they_may_be_read(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Ours takes a part that theirs has taken out; what is outside hides it unless it is read."""
    (tmp_path / "lamp.rig").write_text("part lamp5 lamp 12V 5W dc\n", encoding="utf-8")
    (tmp_path / "van").mkdir()
    part = "part lamp9 lamp 12V 9W dc\n"
    theirs = added(STARTER, 'use "../lamp.rig"\n', "battery")
    base = added(theirs, part, "battery")
    ours = added(base, 'lamp E7 "Seven" lamp9\n')
    versions = [tmp_path / f"van/{side}" for side in ("base", "ours", "theirs")]

    def merged(*words: str) -> int:
        for path, text in zip(versions, (base, ours, theirs), strict=True):
            path.write_text(text, encoding="utf-8")
        return main(["merge", *words, *map(str, versions), str(tmp_path / "van/van.rig")])

    assert merged("--allow-outside") == 1
    assert "lamp9" in capsys.readouterr().err
    assert merged() == 0
