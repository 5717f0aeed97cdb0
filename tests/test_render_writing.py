"""Writing a set of files: whole or not at all, and what is out of date goes."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from ferrule.render import writing
from ferrule.render.canvas import Sheet
from ferrule.render.frame import blank
from ferrule.render.writing import FORMATS, pack, write

OLD = {"van-base-01-chart.svg": b"old 1", "van-base-02-chart.svg": b"old 2"}
NEW = {"van-base-01-chart.svg": b"new 1", "van-base-03-chart.svg": b"new 3"}


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_writes_into_a_folder_that_is_not_there_yet(tmp_path: Path) -> None:
    paths = write(NEW, tmp_path / "a" / "b", "van-base")
    assert contents(tmp_path / "a" / "b") == NEW
    assert [path.name for path in paths] == list(NEW)
    assert [path.name for path in (tmp_path / "a").iterdir()] == ["b"]


def test_a_later_run_replaces_and_removes_what_it_no_longer_makes(tmp_path: Path) -> None:
    write(OLD, tmp_path, "van-base")
    write(NEW, tmp_path, "van-base")
    assert contents(tmp_path) == NEW


def test_what_is_not_ours_stays(tmp_path: Path) -> None:
    others = {
        "van-base.pdf": b"another format",
        "van-camp-01-chart.svg": b"another stage",
        "van-base-notes.svg": b"the author's",
        "photo.svg": b"the author's",
    }
    write(others | OLD, tmp_path, "van-base")
    write(NEW, tmp_path, "van-base")
    assert contents(tmp_path) == NEW | others


def test_labels_have_names_and_a_book_of_their_own(tmp_path: Path) -> None:
    framed, bare = blank("A4", "", "Chart"), Sheet(210, 297, doc="Device labels", framed=False)
    for sheet in (framed, bare):
        sheet.number = sheet.of = 1
    made = pack([framed, bare], {"cut-list.csv": lambda: "a,b"}, "van-base", FORMATS)
    assert set(made) == {
        "van-base-01-chart.svg", "van-base-01-chart.png", "van-base.pdf", "van-base-cut-list.csv",
        "van-base-labels-01-device-labels.svg", "van-base-labels-01-device-labels.png",
        "van-base-labels.pdf",
    }  # fmt: skip
    write(made, tmp_path, "van-base")
    write({"van-base.pdf": b"1", "van-base-02-chart.svg": b"2", "van-base-03-chart.png": b"3",
           "van-base-chart.csv": b"4"}, tmp_path, "van-base")  # fmt: skip
    assert set(contents(tmp_path)) == {
        "van-base.pdf", "van-base-02-chart.svg", "van-base-03-chart.png", "van-base-chart.csv"
    }  # fmt: skip


@pytest.mark.parametrize("after", [0, 1])
@pytest.mark.parametrize("error", [KeyboardInterrupt, OSError])
def test_an_interrupted_run_leaves_the_earlier_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, after: int, error: type[BaseException]
) -> None:
    folder = tmp_path / "sheets"
    write(OLD, folder, "van-base")
    real, calls = os.replace, []

    def replace(source: Path, target: Path) -> None:
        if target.parent == folder and source.parent.name == "new":
            if len(calls) == after:
                raise error
            calls.append(target)
        real(source, target)

    monkeypatch.setattr(writing.os, "replace", replace)
    with pytest.raises(error):
        write(NEW, folder, "van-base")
    assert contents(folder) == OLD
    assert [path.name for path in tmp_path.iterdir()] == ["sheets"]


def test_an_error_while_drawing_touches_no_file(tmp_path: Path) -> None:
    write(OLD, tmp_path, "van-base")
    broken = {"van-base-01-chart.svg": b"new", "no/such/folder.svg": b"new"}
    with pytest.raises(OSError):
        write(broken, tmp_path, "van-base")
    assert contents(tmp_path) == OLD


def test_a_first_run_that_fails_leaves_no_folder(tmp_path: Path) -> None:
    with pytest.raises(OSError):
        write({"no/such/folder.svg": b"new"}, tmp_path / "sheets", "van-base")
    assert list(tmp_path.iterdir()) == []


def test_pack_names_files_by_sheet_and_makes_only_what_is_asked() -> None:
    sheet = blank("A4", "Van", "Wiring chart")
    sheet.number = 7
    tables = {"chart.csv": lambda: "a,b\n", "chart.md": lambda: "|a|\n"}
    assert list(pack([sheet], tables, "van-base", ("svg", "csv"))) == [
        "van-base-07-wiring-chart.svg",
        "van-base-chart.csv",
    ]
    assert list(pack([sheet], tables, "van-base", ("pdf",))) == ["van-base.pdf"]


def test_pack_tells_of_its_progress() -> None:
    told: list[tuple[int, int, str]] = []
    pack(
        [], {"chart.csv": str, "chart.md": str}, "v", ("csv", "md"), step=lambda *a: told.append(a)
    )
    assert told == [(0, 2, "v-chart.csv"), (1, 2, "v-chart.md")]
