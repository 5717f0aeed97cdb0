"""Correct rigs to seed faults in: generated ones of every shape, and the tests' clean rigs."""

from __future__ import annotations

import sys
from functools import lru_cache
from pathlib import Path
from random import Random

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "benchmarks"))

from generate import TOPOLOGIES, generate  # noqa: E402

from .composed import composed  # noqa: E402
from .shapes import SHAPES  # noqa: E402

NAMED = (*sorted(TOPOLOGIES), *sorted(SHAPES))
FOLDERS = ("tests/clean", "tests/rigs", "examples")


@lru_cache(maxsize=1)
def written() -> dict[str, str]:
    """The rigs of the tests and the examples that stand alone in their file, by name."""
    found = {}
    for folder in FOLDERS:
        for path in sorted((ROOT / folder).glob("*.rig")):
            text = path.read_text(encoding="utf-8")
            # What brings in other files, or renames terminals, is beyond the operators.
            if not any(word in text for word in ("\nuse ", "terminals=", 'rules "')):
                found[f"{folder}/{path.stem}"] = text
    return found


def any_rig(random: Random, files: dict[str, str]) -> tuple[str, str]:
    """A rig's name and text: two in five out of files, the others generated."""
    if files and random.random() < 0.4:
        name = random.choice(sorted(files))
        return name, files[name]
    shape = "composed" if random.random() < 0.6 else random.choice(NAMED)
    circuits, seed = random.randint(1, 8), random.randrange(10**6)
    return f"{shape} {circuits} {seed}", made(shape, circuits, seed)


def made(shape: str, circuits: int, seed: int) -> str:
    """The text of a generated rig."""
    if shape in TOPOLOGIES:
        return generate(shape, circuits, seed)
    return {**SHAPES, "composed": composed}[shape](circuits, Random(seed))
