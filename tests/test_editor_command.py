"""The command ``ferrule editor``: its libraries are wanted at one place, and missed in words."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]
LIBRARIES = ("pygls", "lsprotocol")


def test_few_modules_know_the_protocol() -> None:
    found = {
        path.relative_to(ROOT).as_posix()
        for room in ("dsl", "checks", "render", "cli")
        for path in (ROOT / room).rglob("*.py")
        if any(
            f"import {name}" in line or line.startswith(f"from {name}")
            for name in LIBRARIES
            for line in path.read_text(encoding="utf-8").split("\n")
        )
    }
    assert found == {
        f"cli/editor/{name}.py" for name in ("answers", "places", "server", "session", "shapes")
    }


def without(*modules: str) -> subprocess.CompletedProcess[str]:
    """``ferrule editor`` where modules cannot be imported."""
    code = (
        "import sys\n"
        f"sys.modules.update(dict.fromkeys({modules}))\n"
        "from ferrule.cli.main import main\n"
        "sys.exit(main(['editor']))\n"
    )
    return subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)


def test_without_the_extra_the_refusal_says_what_to_install() -> None:
    ran = without("pygls", "lsprotocol")
    assert ran.returncode == 2
    assert "pip install pygls" in ran.stderr and "'.[editor]'" in ran.stderr
    assert "Traceback" not in ran.stderr


def test_a_defect_of_ours_is_not_told_as_a_library_that_is_missing() -> None:
    ran = without("ferrule.cli.editor.desk")
    assert ran.returncode == 2
    assert "a defect of ferrule" in ran.stderr and "pip install" not in ran.stderr


def test_an_editor_that_goes_away_ends_the_server() -> None:
    command = [sys.executable, "-m", "ferrule.cli.main", "editor"]
    ran = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, timeout=30)
    assert ran.stdout == b"" and b"Traceback" not in ran.stderr
