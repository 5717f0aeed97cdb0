"""What goes wrong while a command runs: earlier output stays whole, the words are clear, code 2."""

from __future__ import annotations

import errno
import os
import resource
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from ferrule.cli.main import main
from ferrule.render.unfinished import held
from ferrule.render.writing import write

ROOT = Path(__file__).parents[1]
STARTER = (ROOT / "cli/starter.rig").read_text(encoding="utf-8")
DRAW = ["--only", "chart,cut-list", "--format", "svg,pdf,csv"]
FERRULE = [sys.executable, "-m", "ferrule.cli.main"]


CHANGED = STARTER.replace("Cabin lamp", "Reading   lamp")
LATER = STARTER.replace("2.5m", "3m ")
# Everything that writes files; what is written into is there already, but for `new`.
WRITING = {
    "draw": ["draw", "van.rig", "-o", "sheets", *DRAW],
    "report": ["report", "van.rig", "-o", "sheets"],
    "fmt": ["fmt", "van.rig"],
    "new": ["new", "fresh.rig"],
    "rework": ["rework", "van.rig", "later.rig", "-o", "sheets"],
    "diff": ["diff", "van.rig", "later.rig", "--format", "svg", "-o", "sheets"],
    "merge": ["merge", "base.rig", "van.rig", "later.rig"],
}
CODES_OF = {"rework": 1, "diff": 1}  # there is work, there are changes


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A rig of which everything was written once, and which has changed since."""
    folder = tmp_path_factory.mktemp("drawn")
    for name in ("van.rig", "base.rig"):
        (folder / name).write_text(STARTER, encoding="utf-8")
    (folder / "later.rig").write_text(LATER, encoding="utf-8")
    for name in ("draw", "report", "rework", "diff"):
        ran = subprocess.run([*FERRULE, *WRITING[name]], cwd=folder, capture_output=True)
        assert ran.returncode == CODES_OF.get(name, 0), ran.stderr
    (folder / "van.rig").write_text(CHANGED, encoding="utf-8")
    return folder


@pytest.fixture
def rig(drawn: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """That rig, in a folder of the test's own."""
    shutil.copytree(drawn, tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path)
    return tmp_path / "van.rig"


def contents(folder: Path) -> dict[str, bytes]:
    """Every file below a folder, hidden ones too."""
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def hidden(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.rglob(".*"))


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
@pytest.mark.parametrize("name", WRITING)
def test_a_disk_that_refuses_to_move_files_in_leaves_the_earlier(
    name: str, code: int, rig: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    before = contents(rig.parent)
    for call in ("replace", "rename", "link"):
        monkeypatch.setattr(os, call, failing(getattr(os, call), code, 0))
    assert main(WRITING[name]) == 2
    monkeypatch.undo()
    assert contents(rig.parent) == before and hidden(rig.parent) == []
    said = capsys.readouterr().err
    assert os.strerror(code) in said and "Traceback" not in said and "defect" not in said


def ran(argv: list[str], folder: Path, **named: Any) -> subprocess.CompletedProcess[str]:
    """A command in a process of its own."""
    return subprocess.run([*FERRULE, *argv], cwd=folder, capture_output=True, text=True, **named)


@pytest.mark.parametrize("kilobytes", [0, 1, 30])
@pytest.mark.parametrize("name", WRITING)
def test_a_file_that_cannot_grow_leaves_the_earlier(name: str, kilobytes: int, rig: Path) -> None:
    """No file may grow beyond a size: writing fails in the middle, as on a full disk."""
    if name in ("fmt", "new", "merge") and kilobytes:
        return  # the text is shorter than that
    before = contents(rig.parent)

    def bound() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (kilobytes * 1024, kilobytes * 1024))

    done = ran(WRITING[name], rig.parent, preexec_fn=bound)
    assert done.returncode == 2, done.stdout
    assert "Traceback" not in done.stderr and os.strerror(errno.EFBIG) in done.stderr
    assert contents(rig.parent) == before and hidden(rig.parent) == []


@pytest.fixture
def disk(rig: Path) -> Iterator[Path]:
    """The rig on a disk of its own, which only the system's owner may put there."""
    place = rig.parent / "disk"
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=8m", "tmpfs", str(place)]
    if os.geteuid() != 0 or subprocess.run(mount, capture_output=True).returncode != 0:
        pytest.skip("no disk can be mounted here")
    try:
        for path in sorted(rig.parent.iterdir()):
            if path.is_dir() and path != place:
                shutil.copytree(path, place / path.name)
            elif path.is_file():
                shutil.copy(path, place)
        yield place
    finally:
        subprocess.run(["umount", "-l", str(place)], check=True)


@pytest.mark.parametrize("room", [0, 3])
@pytest.mark.parametrize("name", WRITING)
def test_a_full_disk_leaves_the_earlier(name: str, room: int, disk: Path) -> None:
    """With no page left, and with some: then the first files are written and the last are not."""
    if room and name not in ("draw", "rework", "diff"):
        return  # one file
    filler = os.open(disk / "filler", os.O_WRONLY | os.O_CREAT)
    for size in (4096, 1):
        try:
            while os.write(filler, b"x" * size):
                pass
        except OSError as error:
            assert error.errno == errno.ENOSPC
    if room:
        os.truncate(filler, os.fstat(filler).st_size // 4096 * 4096 - (room - 1) * 4096)
    os.close(filler)
    before = contents(disk)
    done = ran(WRITING[name], disk)
    assert done.returncode == 2, done.stdout
    assert os.strerror(errno.ENOSPC) in done.stderr and "Traceback" not in done.stderr
    assert contents(disk) == before and hidden(disk) == []


@pytest.mark.parametrize("name", WRITING)
def test_a_disk_that_may_only_be_read_is_told(name: str, disk: Path) -> None:
    before = contents(disk)
    subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
    done = ran(WRITING[name], disk)
    assert done.returncode == 2, done.stdout
    assert os.strerror(errno.EROFS) in done.stderr and "Traceback" not in done.stderr
    assert contents(disk) == before
    assert ran(["check", "van.rig", "--cache", "kept", "--jobs", "1"], disk).returncode == 0


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
@pytest.mark.parametrize("name", WRITING)
def test_a_folder_that_may_not_be_written_is_told(
    name: str, rig: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = contents(rig.parent)
    for folder in (rig.parent / "sheets", rig.parent):
        folder.chmod(0o500)
    try:
        assert main(WRITING[name]) == 2
    finally:
        for folder in (rig.parent, rig.parent / "sheets"):
            folder.chmod(0o700)
    assert contents(rig.parent) == before
    assert os.strerror(errno.EACCES) in capsys.readouterr().err


def test_output_that_nobody_can_take_is_no_success(rig: Path) -> None:
    # Unbuffered, argparse keeps it to itself that its help could not be written.
    environ = {key: value for key, value in os.environ.items() if key != "PYTHONUNBUFFERED"}
    for argv in (
        ["check", "van.rig"], ["figures", "van.rig"], ["--help"], ["check", "--help"],
        ["--version"], ["explain", "P01"],
    ):  # fmt: skip
        with open("/dev/full", "w") as full:
            done = subprocess.run([*FERRULE, *argv], env=environ, stdout=full, stderr=-1)
        assert done.returncode == 2 and b"Traceback" not in done.stderr, argv


def stopped(argv: list[str], sent: signal.Signals, folder: Path, moves: int) -> int:
    """A run that is sent a signal when so many files have been moved in; its exit code."""
    code = (
        "import os, sys, signal\n"
        "calls, real = [], os.replace\n"
        "def stop(*args, **named):\n"
        "    calls.append(args)\n"
        f"    if len(calls) > {moves}: os.kill(os.getpid(), {int(sent)}); signal.pause()\n"
        "    real(*args, **named)\n"
        "os.replace = os.rename = os.link = stop\n"
        "from ferrule.cli.main import main\n"
        "sys.exit(main(sys.argv[1:]))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *argv], cwd=folder, capture_output=True, text=True
    )
    assert "Traceback" not in done.stderr
    assert sent != signal.SIGINT or "interrupted" in done.stderr
    return done.returncode


@pytest.mark.parametrize("name", WRITING)
def test_a_run_that_is_interrupted_leaves_the_earlier(name: str, rig: Path) -> None:
    before = contents(rig.parent)
    assert stopped(WRITING[name], signal.SIGINT, rig.parent, 0) == 2
    assert contents(rig.parent) == before and hidden(rig.parent) == []


@pytest.mark.parametrize("name", WRITING)
def test_a_run_that_is_killed_leaves_the_earlier_and_what_it_left_goes(
    name: str, rig: Path
) -> None:
    """Killed, it can tidy nothing up: the next run does."""
    before = contents(rig.parent)
    assert stopped(WRITING[name], signal.SIGKILL, rig.parent, 0) == -signal.SIGKILL
    after = contents(rig.parent)
    assert {known: after[known] for known in before} == before
    assert hidden(rig.parent)
    assert main(WRITING[name]) == CODES_OF.get(name, 0)
    assert hidden(rig.parent) == []


def test_of_files_that_a_killed_run_moved_in_halfway_the_next_run_keeps_none(rig: Path) -> None:
    """The set is as it was before; what finds it so writes other files into the folder."""
    folder, name = rig.parent / "sheets", "starter-base-01-wiring-chart.svg"
    (folder / name).unlink()  # the first that is moved in: it must go again
    before = contents(folder)
    assert stopped(WRITING["draw"], signal.SIGKILL, rig.parent, 2) == -signal.SIGKILL
    between = contents(folder)
    assert name in between and any(between[known] != before[known] for known in before)
    write({"other.svg": b"<svg/>"}, folder, "other")
    assert contents(folder) == before | {"other.svg": b"<svg/>"}


def test_what_another_run_is_filling_is_left_alone(rig: Path) -> None:
    folder = rig.parent / "sheets"
    waiting = folder / ".unfinished-other"
    (waiting / "new").mkdir(parents=True)
    with held(waiting):
        write({"a.svg": b"1"}, folder, "a")
        assert waiting.is_dir()
    write({"a.svg": b"2"}, folder, "a")
    assert not waiting.exists()


@pytest.mark.parametrize("name", [name for name in WRITING if name != "new"])
def test_two_runs_into_one_place_leave_the_output_of_one(name: str, rig: Path) -> None:
    argv, code = WRITING[name], CODES_OF.get(name, 0)
    runs = [
        subprocess.Popen(
            [*FERRULE, *argv], cwd=rig.parent, stdout=-3, stderr=subprocess.PIPE, text=True
        )
        for _ in range(2)
    ]
    said = [run.communicate()[1] for run in runs]
    assert [run.returncode for run in runs] == [code, code], said
    both = contents(rig.parent)
    assert hidden(rig.parent) == []
    assert main(argv) == code
    assert contents(rig.parent) == both


def test_of_two_runs_that_begin_a_rig_one_is_told_that_it_is_there(rig: Path) -> None:
    runs = [subprocess.Popen([*FERRULE, *WRITING["new"]], stderr=-3, stdout=-3) for _ in range(2)]
    assert sorted(run.wait() for run in runs) == [0, 2]
    assert (rig.parent / "fresh.rig").read_text(encoding="utf-8") == STARTER
    assert hidden(rig.parent) == []


def test_a_cache_that_cannot_be_kept_stops_nothing(rig: Path) -> None:
    def bound() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))

    argv = ["check", ".", "--cache", "kept", "--jobs", "1"]
    done = ran(argv, rig.parent, preexec_fn=bound)
    assert done.returncode == 0
    assert f"nothing is kept for the next run: {Path('kept')}" in done.stderr
    assert "Traceback" not in done.stderr
    assert not [path for path in (rig.parent / "kept").rglob("*") if path.is_file()]
    assert "3 of 3 rigs looked at" in ran(argv, rig.parent).stderr
    assert "0 of 3 rigs looked at" in ran(argv, rig.parent).stderr


def test_a_clock_that_runs_backwards_is_nothing_to_the_cache(
    rig: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Entries are told by digests; a day in the future or before 1970 spoils none."""
    argv = ["check", str(rig.parent), "--cache", "kept", "--jobs", "1"]
    assert main(argv) == 0
    capsys.readouterr()
    for when in (0.0, time.time() + 10**9):
        for path in (rig, *(rig.parent / "kept").rglob("*.entry")):
            os.utime(path, (when, when))
        monkeypatch.setattr(time, "time", lambda when=when: when)
        main(argv)
        assert "0 of 3 rigs" in capsys.readouterr().err


def test_of_two_sets_at_once_one_stays_whole(tmp_path: Path) -> None:
    """Two versions drawn into one folder at the same time must never be mixed."""
    names = [f"van-base-{n:02d}-chart.svg" for n in range(1, 40)]
    sets = [dict.fromkeys(names[: 30 + 9 * n], bytes([65 + n])) for n in range(2)]
    for _ in range(15):
        with ThreadPoolExecutor(2) as pool:
            list(pool.map(lambda files: write(files, tmp_path, "van-base"), sets))
        assert contents(tmp_path) in sets
