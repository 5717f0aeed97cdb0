"""The committed drawings of the examples are what their text gives today, byte for byte.

After a change of the drawings, look at the new ones, then commit what this writes:

    ferrule draw examples/NAME.rig -o examples/drawings/NAME --format svg,pdf,csv,md
"""

from __future__ import annotations

from pathlib import Path

import pytest
from ferrule.cli.main import main
from pypdf import PdfReader

EXAMPLES = Path(__file__).parent.parent / "examples"
RIGS = sorted(EXAMPLES.glob("*.rig"))


@pytest.fixture(scope="module", params=RIGS, ids=lambda p: p.stem)
def drawn(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, Path]:
    rig: Path = request.param
    out = tmp_path_factory.mktemp(rig.stem)
    assert main(["draw", str(rig), "-o", str(out), "--format", "svg,pdf,csv,md"]) == 0
    return EXAMPLES / "drawings" / rig.stem, out


def test_every_example_is_drawn() -> None:
    assert len(RIGS) == 3
    assert {p.name for p in (EXAMPLES / "drawings").iterdir()} == {p.stem for p in RIGS}


def test_the_same_files(drawn: tuple[Path, Path]) -> None:
    committed, fresh = ({p.name for p in folder.iterdir()} for folder in drawn)
    assert committed == fresh


def test_the_same_bytes(drawn: tuple[Path, Path]) -> None:
    committed, fresh = drawn
    other = [
        path.name
        for path in sorted(committed.iterdir())
        if path.suffix != ".pdf" and path.read_bytes() != (fresh / path.name).read_bytes()
    ]
    assert not other, f"changed: {', '.join(other)}"


def test_the_same_words_in_the_bound_book(drawn: tuple[Path, Path]) -> None:
    """A PDF's bytes follow the versions of matplotlib and zlib; its pages and words do not."""
    committed, fresh = (PdfReader(next(folder.glob("*.pdf"))) for folder in drawn)
    assert len(committed.pages) == len(fresh.pages) > 5
    for old, new in zip(committed.pages, fresh.pages, strict=True):
        assert old.extract_text() == new.extract_text()
