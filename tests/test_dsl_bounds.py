"""A rig brings in what lies in its own folders, and nothing else unless it is told to."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from ferrule.cli.main import main
from ferrule.dsl.bounds import Bounds, real
from ferrule.dsl.library import shipped
from ferrule.dsl.reader import MOST_BYTES, Reading, read

ROOT = Path(__file__).parents[1]
STARTER = (ROOT / "cli/starter.rig").read_text(encoding="utf-8")
PART = "part lamp24 lamp 24W dc\n"


def using(label: str) -> str:
    """A sound rig that uses a file with a part."""
    return STARTER.replace("battery GB", f'use "{label}"\nbattery GB')


def put(path: Path, text: str) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def said(reading: Reading) -> list[str]:
    return [f"{p.span.line}: {p.message}" for p in reading.problems]


INSIDE = [
    "lamp.rig", "below/lamp.rig", "./below/../lamp.rig", "shared/lamp.rig", "../parts/lamp.rig",
    "../shared/lamp.rig", "../../shared/deep/lamp.rig",
]  # fmt: skip
OUTSIDE = [
    "../lamp.rig", "../../lamp.rig", "../sharedx/lamp.rig", "../shared/../lamp.rig",
    "../other/shared/lamp.rig", "../other/lamp.rig", "../vanilla/lamp.rig",
]  # fmt: skip


@pytest.mark.parametrize("label", INSIDE)
def test_files_of_the_rig_and_shared_ones_are_read(label: str, tmp_path: Path) -> None:
    put(tmp_path / "a/van" / label, PART)
    reading = read(put(tmp_path / "a/van/van.rig", using(label)))
    assert not reading.problems and "lamp24" in reading.rigs[0].parts


@pytest.mark.parametrize("label", OUTSIDE)
def test_files_elsewhere_are_read_only_where_that_is_allowed(label: str, tmp_path: Path) -> None:
    there = put(tmp_path / "a/van/.." / ".." / "a/van" / label, PART)
    rig = put(tmp_path / "a/van/van.rig", using(label))
    line = using(label).split("\n").index(f'use "{label}"') + 1
    where = os.path.normpath(tmp_path / "a/van" / label)
    assert said(read(rig)) == [f"{line}: {where} lies outside the folders of this rig"]
    assert "--allow-outside" in read(rig).problems[0].hint
    assert "lamp24" in read(rig, outside=True).rigs[0].parts
    there.unlink()  # whether there is such a file is not told
    assert said(read(rig)) == [f"{line}: {where} lies outside the folders of this rig"]


def test_an_absolute_path_is_judged_like_any_other(tmp_path: Path) -> None:
    inside = put(tmp_path / "van/lamp.rig", PART)
    assert not read(put(tmp_path / "van/van.rig", using(str(inside)))).problems
    assert "lies outside" in said(read(put(tmp_path / "van/van.rig", using("/etc/passwd"))))[0]


def test_a_link_is_judged_by_where_it_leads(tmp_path: Path) -> None:
    secret = put(tmp_path / "secret.rig", PART)
    rig = put(tmp_path / "van/van.rig", using("lamp.rig"))
    (tmp_path / "van/lamp.rig").symlink_to(secret)
    assert f"leads to {secret}, outside the folders of this rig" in said(read(rig))[0]
    (tmp_path / "van/shared").symlink_to(tmp_path)
    (tmp_path / "shared").symlink_to(tmp_path)
    for label in ("shared/secret.rig", "../shared/secret.rig"):
        assert "outside" in said(read(put(tmp_path / "van/van.rig", using(label))))[0]
    (tmp_path / "van/lamp.rig").unlink()
    put(tmp_path / "van/below/real.rig", PART)
    (tmp_path / "van/lamp.rig").symlink_to("below/real.rig")
    assert not read(put(tmp_path / "van/van.rig", using("lamp.rig"))).problems


def test_a_rig_that_is_reached_by_a_link_lies_where_the_link_lies(tmp_path: Path) -> None:
    rig = put(tmp_path / "real/van.rig", using("lamp.rig"))
    put(tmp_path / "van/lamp.rig", PART)
    (tmp_path / "van/van.rig").symlink_to(rig)
    assert not read(tmp_path / "van/van.rig").problems


def test_a_used_file_has_no_reach_of_its_own(tmp_path: Path) -> None:
    """What a shared file names is judged from the rig, not from the shared file's folder."""
    put(tmp_path / "lib/lamp.rig", PART)
    put(tmp_path / "a/shared/all.rig", 'use "../../lib/lamp.rig"\n')
    reading = read(put(tmp_path / "a/van/van.rig", using("../shared/all.rig")))
    assert [p.span.file for p in reading.problems] == [os.path.join(tmp_path, "a/shared/all.rig")]


def test_one_file_by_two_names_is_read_once(tmp_path: Path) -> None:
    put(tmp_path / "lamp.rig", PART)
    (tmp_path / "again.rig").symlink_to("lamp.rig")
    text = using("lamp.rig").replace("battery GB", 'use "again.rig"\nbattery GB')
    assert not read(put(tmp_path / "van.rig", text)).problems


@pytest.mark.parametrize("label", ["round/van.rig", "self.rig", "loop.rig", "round/round/a.rig"])
def test_a_loop_of_links_ends_in_one_problem(label: str, tmp_path: Path) -> None:
    (tmp_path / "round").symlink_to(".")
    (tmp_path / "loop.rig").symlink_to("loop.rig")
    put(tmp_path / "self.rig", 'use "round/self.rig"\n')
    put(tmp_path / "a.rig", 'use "round/b.rig"\n')
    put(tmp_path / "b.rig", 'use "round/round/a.rig"\n')
    (problem,) = said(read(put(tmp_path / "van.rig", using(label))))
    assert "use each other" in problem or "symbolic links" in problem


def test_a_book_is_bound_like_a_used_file(tmp_path: Path) -> None:
    text = STARTER.replace("rules abyc-e11", 'rules "../house.book"')
    put(tmp_path / "house.book", 'base = "abyc-e11"\n')
    rig = put(tmp_path / "van/van.rig", text)
    (problem,) = read(rig).problems
    assert "lies outside" in problem.message and text.split("\n")[problem.span.line - 1] in text
    assert text.split("\n")[problem.span.line - 1].startswith("rules")
    assert not read(rig, outside=True).problems
    put(tmp_path / "shared/house.book", 'base = "abyc-e11"\n')
    assert not read(put(rig, text.replace("../house", "../shared/house"))).problems


@pytest.mark.parametrize("label", ["pipe.rig", "device.rig", "folder.rig"])
def test_what_is_no_plain_file_is_never_waited_for(label: str, tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.rig")
    (tmp_path / "device.rig").symlink_to("/dev/zero")
    (tmp_path / "folder.rig").mkdir()
    rig = put(tmp_path / "van.rig", using(label))
    (problem,) = read(rig, outside=True).problems
    assert "it is no plain file" in problem.message or "it is a folder" in problem.message


def test_a_file_without_end_is_refused() -> None:
    (problem,) = read("/dev/zero").problems
    assert f"larger than {MOST_BYTES // 1_000_000} MB" in problem.message


def test_shipped_parts_are_within_every_reach(tmp_path: Path) -> None:
    reading = read(put(tmp_path / "van.rig", using(shipped()[0])))
    assert not reading.problems


def test_the_root_of_the_disk_shares_nothing() -> None:
    bounds = Bounds("/srv/van/van.rig")
    assert bounds.hold("/srv/shared/x.rig") and not bounds.hold("/shared/x.rig")
    assert not bounds.hold("/srv/van") and not bounds.hold("/srv/vanilla/x.rig")
    assert real("a\0b").endswith("a\0b")


COMMANDS = ("capacity", "check", "diff", "draw", "enter", "figures", "report", "trace", "watch")


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_that_reads_a_rig_takes_the_word(
    command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit):
        main([command, "--help"])
    assert "--allow-outside" in capsys.readouterr().out


@pytest.mark.parametrize("jobs", ["1", "2"])
def test_a_fleet_allows_what_its_command_line_allows(
    jobs: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "home"))
    put(tmp_path / "lamp.rig", PART)
    for index in range(8):
        put(tmp_path / f"fleet/{index}.rig", using("../lamp.rig"))
    asked = ["check", str(tmp_path / "fleet"), "--jobs", jobs]
    assert main(asked) == 2
    assert main([*asked, "--allow-outside"]) == 0
    assert main(asked) == 2  # what was kept of the run before is no answer to this one
    assert "lies outside" in capsys.readouterr().err
