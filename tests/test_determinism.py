"""The same text gives the same bytes: whoever asks, where, when, and in how many processes."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
EXAMPLE = ROOT / "examples/field_kitchen.rig"
COMMANDS: dict[str, list[str]] = {
    "check": ["check", "van.rig", "--format", "json"],
    "sarif": ["check", "van.rig", "--format", "sarif"],
    "figures": ["figures", "van.rig"],
    "draw": ["draw", "van.rig", "-o", "sheets", "--format", "svg,pdf,csv,md"],
    "report": ["report", "van.rig", "-o", "page.html"],
    "fleet": ["check", "fleet", "--format", "json", "--no-cache"],
}
JOBS = {"fleet"}
SETTINGS = [
    {"PYTHONHASHSEED": "1", "TZ": "UTC", "LC_ALL": "C", "folder": "here", "jobs": "1"},
    {
        "PYTHONHASHSEED": "4242",
        "TZ": "Pacific/Kiritimati",
        "LC_ALL": "C.UTF-8",
        "folder": "quite/another folder",
        "jobs": "2",
    },
]


def filled(folder: Path, backwards: bool) -> None:
    """The example, and a fleet whose files come to the disk in one order or the other."""
    (folder / "fleet").mkdir(parents=True)
    shutil.copy(EXAMPLE, folder / "van.rig")
    names = sorted((ROOT / "tests/clean").glob("*.rig"))[:9]
    for path in reversed(names) if backwards else names:
        shutil.copy(path, folder / "fleet")


def files(folder: Path) -> Iterator[tuple[str, bytes]]:
    for path in sorted(folder.rglob("*")):
        if path.is_file():
            yield str(path.relative_to(folder)), path.read_bytes()


def outcome(tmp_path: Path, setting: dict[str, str]) -> dict[str, object]:
    """Everything that all commands print and write under a setting, by name."""
    folder = tmp_path / setting["folder"]
    filled(folder, setting["jobs"] == "2")
    variables = {key: value for key, value in setting.items() if key.isupper()}
    environ = {**os.environ, **variables, "HOME": str(folder / "home")}
    found: dict[str, object] = {}
    for name, argv in COMMANDS.items():
        jobs = ["--jobs", setting["jobs"]] if name in JOBS else []
        ran = subprocess.run(
            [sys.executable, "-m", "ferrule.cli.main", *argv, *jobs],
            cwd=folder, env=environ, capture_output=True,
        )  # fmt: skip
        assert ran.returncode in (0, 1), ran.stderr.decode()
        found[name] = (ran.returncode, ran.stdout)
    return found | dict(files(folder))


def test_nothing_hangs_on_seed_zone_locale_folder_order_or_processes(tmp_path: Path) -> None:
    with ThreadPoolExecutor(2) as pool:
        first, second = pool.map(lambda setting: outcome(tmp_path, setting), SETTINGS)
    assert list(first) == list(second)
    assert [name for name in first if first[name] != second[name]] == []
    made = {Path(name).suffix for name in first}
    assert {".svg", ".pdf", ".csv", ".md", ".html"} <= made  # and they were there to be compared


@pytest.mark.parametrize("now", ["0", "4102444800"])
def test_no_clock_is_looked_at(now: str, tmp_path: Path) -> None:
    """With a clock that stands in 1970 or jumps from day to day, a drawing is the same bytes."""
    code = (
        "import sys, time, datetime, itertools\n"
        f"days = itertools.count({now}, 86_400)\n"
        "time.time = lambda: float(next(days))\n"
        "time.time_ns = lambda: next(days) * 10**9\n"
        "real = time.gmtime, time.localtime\n"
        "time.gmtime = lambda s=None: real[0](next(days) if s is None else s)\n"
        "time.localtime = lambda s=None: real[1](next(days) if s is None else s)\n"
        "class Jumping(datetime.datetime):\n"
        "    @classmethod\n"
        "    def now(cls, tz=None): return cls.fromtimestamp(next(days), tz)\n"
        "datetime.datetime = Jumping\n"
        "from ferrule.cli.main import main\n"
        "sys.exit(main(sys.argv[1:]))\n"
    )
    rig = ROOT / "cli/starter.rig"
    made = []
    for words in ([sys.executable, "-c", code], [sys.executable, "-m", "ferrule.cli.main"]):
        out = tmp_path / str(len(made))
        argv = [*words, "draw", str(rig), "-o", str(out), "--format", "svg,pdf,csv,md"]
        ran = subprocess.run(argv, capture_output=True)
        assert ran.returncode == 0, ran.stderr.decode()
        made.append(dict(files(out)))
    assert made[0] == made[1] and len(made[0]) > 5
