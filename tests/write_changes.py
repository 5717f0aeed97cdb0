"""Writes the comparisons in ``data/changes`` anew, for people to read before they are committed.

    python tests/write_changes.py

Each is what ``ferrule diff`` prints of two stages of an example, or of an example and a proposal
with mistakes in it.  ``test_cli_diff.py`` holds them to what it prints now.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[1]
PLACE = ROOT / "tests/data/changes"
STAGES = (
    ("mobile_clinic", "base", "INVERTER"),
    ("field_kitchen", "base", "GENSET"),
    ("survey_launch", "DOCK", "SURVEY"),
)
# A proposal as it comes in: a reasonable wish, a circuit's neutral left behind, a second joint of
# neutral and earth, a conductor too thin, and a better name.
MISTAKES = (
    ("wire  W31 14AWG   0.3m NB2.4 ", "wire  W31 14AWG   0.3m NBAR.4"),
    ("cable C2  3x14AWG 1.6m", "cable C2  3x16AWG 1.6m"),
    ("  bond B1 2/0AWG", "  bond B9 8AWG 0.5m NB2.8 -> EB2.6\n  bond B1 2/0AWG"),
    ('socket  X7  "Records computer"', 'socket  X7  "Records | @desk #4"'),
)


def proposal() -> str:
    """The clinic with the mistakes in it."""
    text = (ROOT / "examples/mobile_clinic.rig").read_text("utf-8")
    for old, new in MISTAKES:
        assert old in text, f"the example has no {old!r} any more"
        text = text.replace(old, new)
    return text


def comparisons(folder: Path) -> Iterator[tuple[str, list[str]]]:
    """The name of each file, and the words of the command that prints it, run in a folder."""
    (folder / "proposal.rig").write_text(proposal(), encoding="utf-8")
    for example, old, new in STAGES:
        (folder / f"{example}.rig").write_bytes((ROOT / f"examples/{example}.rig").read_bytes())
        words = ["diff", f"{example}.rig", "--stages", old, new]
        yield f"{example}-{new}.txt", words
        yield f"{example}-{new}.md", [*words, "--format", "markdown"]
    words = ["diff", "mobile_clinic.rig", "proposal.rig"]
    yield "proposal.txt", words
    yield "proposal.md", [*words, "--format", "markdown"]


if __name__ == "__main__":
    PLACE.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as place:
        for name, words in comparisons(Path(place)):
            argv = [sys.executable, "-m", "ferrule.cli.main", *words]
            ran = subprocess.run(argv, cwd=place, capture_output=True, check=False)
            assert ran.returncode == 1, ran.stderr.decode()
            (PLACE / name).write_bytes(ran.stdout)
