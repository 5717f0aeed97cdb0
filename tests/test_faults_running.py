"""What goes wrong while a command runs: earlier output stays whole, the words are clear, code 2."""

from __future__ import annotations

import errno
import os
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from ferrule.cli.main import main
from ferrule.render.writing import write

ROOT = Path(__file__).parents[1]
STARTER = (ROOT / "cli/starter.rig").read_text(encoding="utf-8")
DRAW = ["--only", "chart,cut-list", "--format", "svg,pdf,csv"]
FERRULE = [sys.executable, "-m", "ferrule.cli.main"]


@pytest.fixture
def rig(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A rig that has been drawn, and has changed since."""
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "van.rig"
    path.write_text(STARTER, encoding="utf-8")
    assert main(["draw", "van.rig", "-o", "sheets", *DRAW]) == 0
    path.write_text(STARTER.replace("Cabin lamp", "Reading   lamp"), encoding="utf-8")
    return path


def contents(folder: Path) -> dict[str, bytes]:
    """Every file below a folder, hidden ones too."""
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


# What writes; a report goes to the disk the way drawings do.
WRITING = [
    ["draw", "van.rig", "-o", "sheets", *DRAW],
    ["fmt", "van.rig"],
    ["new", "fresh.rig"],
]
CODES = [errno.ENOSPC, errno.EDQUOT, errno.EROFS, errno.EIO]


def failing(real: Callable[..., Any], code: int, after: int) -> Callable[..., Any]:
    """A call that works a few times and then fails as a full disk does."""
    calls = []

    def call(*args: Any, **named: Any) -> Any:
        calls.append(args)
        if len(calls) > after:
            raise OSError(code, os.strerror(code), "van")
        return real(*args, **named)

    return call


@pytest.mark.parametrize("code", CODES, ids=lambda code: errno.errorcode[code])
@pytest.mark.parametrize("argv", WRITING, ids=lambda argv: argv[0])
def test_a_disk_that_refuses_to_move_files_in_leaves_the_earlier(
    argv: list[str], code: int, rig: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    before = contents(rig.parent)
    for call in ("replace", "rename", "link"):
        monkeypatch.setattr(os, call, failing(getattr(os, call), code, 0))
    if argv[0] == "new":
        monkeypatch.setattr("builtins.open", failing(open, code, 0))
        monkeypatch.setattr(Path, "open", failing(Path.open, code, 0))
    assert main(argv) == 2
    monkeypatch.undo()
    assert contents(rig.parent) == before
    said = capsys.readouterr().err
    assert os.strerror(code) in said and "Traceback" not in said and "defect" not in said


@pytest.mark.parametrize("kilobytes", [0, 1, 30])
@pytest.mark.parametrize("argv", WRITING[:2], ids=lambda argv: argv[0])
def test_a_disk_that_fills_up_half_way_leaves_the_earlier(
    argv: list[str], kilobytes: int, rig: Path
) -> None:
    """No file may grow beyond a size: writing fails in the middle, as on a full disk."""
    if argv[0] == "fmt" and kilobytes:
        pytest.skip("the text is shorter than that")
    before = contents(rig.parent)

    def bound() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (kilobytes * 1024, kilobytes * 1024))

    ran = subprocess.run(
        [*FERRULE, *argv], cwd=rig.parent, capture_output=True, text=True, preexec_fn=bound
    )
    assert ran.returncode == 2, ran.stdout
    assert "Traceback" not in ran.stderr and os.strerror(errno.EFBIG) in ran.stderr
    assert contents(rig.parent) == before


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
@pytest.mark.parametrize("argv", WRITING, ids=lambda argv: argv[0])
def test_a_folder_that_may_not_be_written_is_told(
    argv: list[str], rig: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = contents(rig.parent)
    for folder in (rig.parent / "sheets", rig.parent):
        folder.chmod(0o500)
    try:
        assert main(argv) == 2
    finally:
        for folder in (rig.parent, rig.parent / "sheets"):
            folder.chmod(0o700)
    assert contents(rig.parent) == before
    assert os.strerror(errno.EACCES) in capsys.readouterr().err


@pytest.mark.parametrize("sent", [signal.SIGINT, signal.SIGKILL], ids=lambda s: s.name)
@pytest.mark.parametrize("argv", WRITING[:2], ids=lambda argv: argv[0])
def test_a_run_that_is_stopped_half_way_leaves_the_earlier(
    argv: list[str], sent: signal.Signals, rig: Path
) -> None:
    """Stopped at the moment at which the first file is about to be moved in."""
    before = contents(rig.parent)
    code = (
        "import os, sys, signal\n"
        f"def stop(*_, **__): os.kill(os.getpid(), {int(sent)}); signal.pause()\n"
        "os.replace = stop\n"
        "from ferrule.cli.main import main\n"
        "sys.exit(main(sys.argv[1:]))\n"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code, *argv], cwd=rig.parent, capture_output=True, text=True
    )
    assert ran.returncode == (2 if sent == signal.SIGINT else -signal.SIGKILL)
    assert "Traceback" not in ran.stderr
    after = contents(rig.parent)
    assert {name: after[name] for name in before} == before
    if sent == signal.SIGINT:
        assert after == before and "interrupted" in ran.stderr
    assert main(argv) == 0  # what was left behind is in nobody's way


@pytest.mark.parametrize("argv", WRITING[:2], ids=lambda argv: argv[0])
def test_two_runs_into_one_place_leave_the_output_of_one(argv: list[str], rig: Path) -> None:
    runs = [
        subprocess.Popen([*FERRULE, *argv], cwd=rig.parent, stderr=subprocess.PIPE, text=True)
        for _ in range(2)
    ]
    said = [run.communicate()[1] for run in runs]
    assert [run.returncode for run in runs] == [0, 0], said
    both = contents(rig.parent)
    assert main(argv) == 0
    assert contents(rig.parent) == both


def test_a_clock_that_runs_backwards_is_nothing_to_the_cache(
    rig: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Entries are told by digests; a day in the future or before 1970 spoils none."""
    argv = ["check", str(rig.parent), "--cache", "kept", "--jobs", "1"]
    main(argv)
    capsys.readouterr()
    for when in (0.0, time.time() + 10**9):
        for path in (rig, *(rig.parent / "kept").rglob("*.entry")):
            os.utime(path, (when, when))
        monkeypatch.setattr(time, "time", lambda when=when: when)
        main(argv)
        assert "0 of 1 rig" in capsys.readouterr().err


def test_of_two_sets_at_once_one_stays_whole(tmp_path: Path) -> None:
    """Two versions drawn into one folder at the same time must never be mixed."""
    names = [f"van-base-{n:02d}-chart.svg" for n in range(1, 40)]
    sets = [dict.fromkeys(names[: 30 + 9 * n], bytes([65 + n])) for n in range(2)]
    for _ in range(15):
        with ThreadPoolExecutor(2) as pool:
            list(pool.map(lambda files: write(files, tmp_path, "van-base"), sets))
        assert contents(tmp_path) in sets
