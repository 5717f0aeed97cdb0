"""Inputs that fuzzing or people found to be hard: each is answered, none is a crash.

``tests/fuzz/found/HARNESS-what`` is one input; see ``tests/fuzz/run.py`` for how to look for more.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import pytest

HERE = Path(__file__).parent / "fuzz"
sys.path.insert(0, str(HERE))
from harnesses import HARNESSES  # noqa: E402

FOUND = sorted((HERE / "found").iterdir())


@pytest.mark.parametrize("path", FOUND, ids=lambda path: path.name)
def test_what_was_found_is_answered(path: Path) -> None:
    start = time.process_time()
    HARNESSES[path.name.partition("-")[0]](path.read_bytes())
    assert time.process_time() - start < 2


@pytest.mark.parametrize("name", HARNESSES)
def test_a_harness_takes_what_is_sound(name: str) -> None:
    """One that refused everything would find nothing."""
    root = HERE.parents[1]
    sound = {
        "reader": (root / "cli/starter.rig").read_bytes(),
        "checker": (root / "cli/starter.rig").read_bytes(),
        "book": (root / "examples/house.book").read_bytes(),
        "cache": b'{"file": "a.rig", "problems": [], "stages": []}',
        "readings": b"test,reading\nC01,5 ohm\n",
    }
    assert HARNESSES[name](sound[name])
