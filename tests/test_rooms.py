"""The rooms of the project: imports go one way, and every package is installed."""

from __future__ import annotations

import ast
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
# Who may import whom; a room may always import itself.
MAY = {
    "dsl": set[str](),
    "checks": {"dsl"},
    "render": {"dsl", "checks"},
    "cli": {"dsl", "checks", "render"},
}
DRAWING = (
    *("schemdraw", "matplotlib", "pygraphviz", "graphviz", "numpy", "reportlab", "ferrule.render"),
)
# What takes longer to import than a stage to check, or belongs to other commands.
SLOW = (
    *("argparse", "asyncio", "concurrent", "csv", "difflib", "ferrule.cli.fleet", "graphviz"),
    *("hashlib", "json", "lark", "logging", "matplotlib", "multiprocessing", "numpy", "pathlib"),
    *("pprint", "random", "reportlab", "scipy", "shutil", "signal", "statistics", "subprocess"),
    *("tempfile", "textwrap", "tomllib", "unittest", "urllib", "xml"),
)
FILES = sorted(file for room in MAY for file in (ROOT / room).rglob("*.py"))


def rooms_imported(package: tuple[str, ...], source: str) -> Iterator[str]:
    """The rooms that a module of ``package`` imports from, its own included."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.ImportFrom) and node.level:
            base = package[: len(package) - node.level + 1]
            names = node.module.split(".") if node.module else [a.name for a in node.names]
            yield base[0] if base else names[0]
        elif isinstance(node, ast.ImportFrom | ast.Import):
            modules = [a.name for a in node.names] if isinstance(node, ast.Import) else []
            modules += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            yield from (m.split(".")[1] for m in modules if m.startswith("ferrule."))


@pytest.mark.parametrize("file", FILES, ids=lambda file: str(file.relative_to(ROOT)))
def test_imports_go_one_way(file: Path) -> None:
    package = file.relative_to(ROOT).parent.parts
    imported = set(rooms_imported(package, file.read_text(encoding="utf-8")))
    assert imported <= MAY[package[0]] | {package[0]}


@pytest.mark.parametrize(
    ("package", "line", "room"),
    [
        (("dsl",), "from ..checks.findings import Finding", "checks"),
        (("checks", "rules"), "from ...render import draw", "render"),
        (("dsl",), "from .. import cli", "cli"),
        (("dsl",), "import ferrule.render.draw", "render"),
        (("checks", "rules"), "from ..findings import Finding", "checks"),
    ],
)
def test_the_scan_sees_an_import_for_what_it_is(
    package: tuple[str, ...], line: str, room: str
) -> None:
    assert list(rooms_imported(package, line)) == [room]


def test_every_package_is_installed() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    there = {
        "ferrule." + ".".join(file.relative_to(ROOT).parent.parts)
        for file in FILES
        if file.name == "__init__.py"
    }
    assert set(project["tool"]["setuptools"]["packages"]) == there


@pytest.mark.parametrize("command", [["check"], ["check", "--format", "json"], ["trace"]])
def test_checking_imports_no_drawing_package(command: list[str]) -> None:
    starter = str(ROOT / "cli/starter.rig")
    argv = [*command, starter, *(["E1.+"] if command == ["trace"] else [])]
    code = (
        "import sys\n"
        "from ferrule.cli.main import main\n"
        f"code = main({argv!r})\n"
        f"seen = [n for n in {DRAWING!r} if n in sys.modules]\n"
        "sys.exit(f'imported: {seen}' if seen else code)\n"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert ran.returncode == 0, ran.stderr


def modules(code: str) -> set[str]:
    """The modules that a process of its own imports to run some code."""
    ran = subprocess.run(
        [sys.executable, "-X", "importtime", "-c", code], capture_output=True, text=True
    )
    assert ran.returncode == 0, ran.stderr
    rows = [line for line in ran.stderr.splitlines() if line.startswith("import time:")]
    return {row.rpartition("|")[2].strip() for row in rows}


def imported(argv: list[str]) -> set[str]:
    """What a command line imports that the bare interpreter does not."""
    run = f"import sys; from ferrule.cli.main import main; sys.exit(main({argv!r}))"
    return modules(run) - modules("pass")


@pytest.mark.parametrize("example", sorted((ROOT / "examples").glob("*.rig")), ids=lambda p: p.stem)
def test_a_check_imports_nothing_slow(example: Path) -> None:
    slow = imported(["check", str(example)]) & set(SLOW)
    assert not slow, f"each costs a check more than a millisecond: {slow}"


def test_the_version_is_told_without_reading_the_language() -> None:
    seen = imported(["--version"])
    assert "ferrule.dsl" in seen
    assert not {name for name in seen if name.startswith(("ferrule.dsl.", "ferrule.checks"))}
    assert not seen & {*SLOW, "re", "dataclasses"}


def test_every_data_file_is_installed() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    globs = project["tool"]["setuptools"]["package-data"]
    for room in MAY:
        taken = {path for glob in globs[f"ferrule.{room}"] for path in (ROOT / room).glob(glob)}
        there = {
            path
            for path in (ROOT / room).rglob("*")
            if path.is_file() and path.suffix not in (".py", ".pyc")
        }
        assert there <= taken
