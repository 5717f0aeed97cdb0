"""Whether all outputs are the same bytes: ``python benchmarks/same.py PYTHON...``.

Every example is checked, drawn, reported, compared and reworked by each interpreter named (this one
where none is), each under another hash seed, time zone, locale, folder, order of files and number
of processes; one or two interpreters take turns at the three settings.  All run at once.  Prints a
row for each setting with the digest of its outputs and those that differ from the first's, and
exits with 1 where any does.

Each interpreter needs ferrule installed, with the same versions of the libraries that draw.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from hashlib import sha256
from itertools import cycle
from pathlib import Path

ROOT = Path(__file__).parents[1]
EXAMPLES = sorted((ROOT / "examples").glob("*.rig"))
OF_EACH = {
    "text": ["check", "{rig}"],
    "json": ["check", "{rig}", "--format", "json"],
    "sarif": ["check", "{rig}", "--format", "sarif"],
    "github": ["check", "{rig}", "--format", "github"],
    "figures": ["figures", "{rig}"],
    "figures-json": ["figures", "{rig}", "--format", "json"],
    "capacity": ["capacity", "{rig}"],
    "capacity-json": ["capacity", "{rig}", "--format", "json"],
    "diff": ["diff", "{rig}"],
    "diff-json": ["diff", "{rig}", "--format", "json"],
    "diff-svg": ["diff", "{rig}", "--format", "svg", "-o", "changes"],
    "rework": ["rework", "{rig}", "-o", "work"],
    "rework-json": ["rework", "{rig}", "--format", "json"],
    "draw": ["draw", "{rig}", "-o", "sheets", "--format", "svg,pdf,png,csv,md,txt,dot"],
    "ieee": ["draw", "{rig}", "-o", "ieee", "--symbols", "ieee", "--format", "svg,pdf"],
    "report": ["report", "{rig}", "-o", "page"],
}
OF_ALL = {
    "fleet": ["check", "fleet", "--format", "json", "--no-cache", "--jobs", "{jobs}"],
    "fleet-draw": ["draw", "fleet", "-o", "drawn", "--format", "svg,pdf", "--no-cache",
                   "--jobs", "{jobs}"],
    "books": ["books"],
    "rules": ["rules"],
    "explain": ["explain", "P01"],
    "help": ["--help"],
    "help-draw": ["draw", "--help"],
}  # fmt: skip
SETTINGS = [
    {"PYTHONHASHSEED": "1", "TZ": "UTC", "LC_ALL": "C", "folder": "a", "jobs": "1"},
    {"PYTHONHASHSEED": "4242", "TZ": "Pacific/Kiritimati", "LC_ALL": "C.UTF-8",
     "folder": "quite/another folder", "jobs": "2"},
    {"PYTHONHASHSEED": "77", "TZ": "America/St_Johns", "LC_ALL": "POSIX", "folder": "c",
     "jobs": "2", "PYTHONUTF8": "1"},
]  # fmt: skip
HELP = {"help", "help-draw"}  # argparse's own words may change from one Python to the next
Outputs = dict[str, bytes]


def main(pythons: Sequence[str]) -> int:
    """Compare all settings with the first; 1 where any differs."""
    runs = list(zip(pythons, cycle(SETTINGS), strict=False))
    if len(pythons) < len(SETTINGS):
        runs = list(zip(cycle(pythons or [sys.executable]), SETTINGS, strict=False))
    code = 0
    first: Outputs = {}
    with ThreadPoolExecutor(len(runs)) as pool:
        for (python, setting), made in zip(runs, pool.map(outputs, runs), strict=True):
            first = first or made
            differ = sorted(n for n in first.keys() | made.keys() if first.get(n) != made.get(n))
            seed = f"seed {setting['PYTHONHASHSEED']}"
            row = (version(python), setting["TZ"], setting["LC_ALL"], seed)
            print(*row, f"{len(made)} outputs", digest(made)[:12], *differ, sep="  ", flush=True)
            code = code or int(any(name not in HELP for name in differ))
    return code


def version(python: str) -> str:
    """An interpreter's version and those of the libraries that draw."""
    asked = (
        "import sys, json; from importlib.metadata import version as v; "
        "print(json.dumps([sys.version.split()[0], v('schemdraw'), v('reportlab'), "
        "v('matplotlib')]))"
    )
    said = subprocess.run([python, "-c", asked], capture_output=True, text=True, check=True).stdout
    own, *libraries = json.loads(said)
    return f"{own} (schemdraw {libraries[0]}, reportlab {libraries[1]}, matplotlib {libraries[2]})"


def outputs(run: tuple[str, dict[str, str]]) -> Outputs:
    """All that the commands print and write under a setting, by command and file."""
    with tempfile.TemporaryDirectory(prefix="ferrule-same-") as room:
        return _outputs(*run, Path(room))


def _outputs(python: str, setting: dict[str, str], room: Path) -> Outputs:
    folder = room / setting["folder"]
    (folder / "fleet").mkdir(parents=True)
    backwards = setting["jobs"] != "1"
    clean = sorted((ROOT / "tests/clean").glob("*.rig"))[:9]
    for path in sorted([*EXAMPLES, *(ROOT / "examples").glob("*.book")], reverse=backwards):
        shutil.copy(path, folder)
    for path in reversed(clean) if backwards else clean:
        shutil.copy(path, folder / "fleet")
    rigs = [path.name for path in EXAMPLES]
    names = {f"{key} {rig}": (argv, rig) for key, argv in OF_EACH.items() for rig in rigs}
    names |= {key: (argv, "") for key, argv in OF_ALL.items()}
    upper = {key: value for key, value in setting.items() if key.isupper()}
    environ = {**os.environ, **upper, "HOME": str(room), "COLUMNS": "100"}
    made: Outputs = {}
    for name, (argv, rig) in names.items():
        words = [word.format(rig=rig, jobs=setting["jobs"]) for word in argv]
        ran = subprocess.run([python, "-m", "ferrule.cli.main", *words], cwd=folder, env=environ,
                             capture_output=True)  # fmt: skip
        if ran.returncode not in (0, 1):
            sys.exit(f"{python}: {words}: {ran.stderr.decode()}")
        made[name] = f"{ran.returncode}\n".encode() + ran.stdout
    return made | dict(files(folder))


def files(folder: Path) -> Iterator[tuple[str, bytes]]:
    """Every file below a folder, by its name there."""
    for path in sorted(folder.rglob("*")):
        if path.is_file():
            yield path.relative_to(folder).as_posix(), path.read_bytes()


def digest(made: Outputs) -> str:
    """The SHA-256 of all outputs together."""
    sums = sha256()
    for name in sorted(made):
        sums.update(f"{name} {sha256(made[name]).hexdigest()}\n".encode())
    return sums.hexdigest()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
