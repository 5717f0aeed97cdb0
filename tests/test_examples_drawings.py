"""The committed drawings of the examples are what their text gives today, byte for byte.

After a change of the drawings, look at the new ones, then commit what this writes:

    ferrule draw examples/NAME.rig -o examples/drawings/NAME --format svg,pdf,csv,md

Tables are committed as CSV and Markdown, which a review reads line by line; as pictures they are in
the bound PDF.  Labels are committed as CSV alone.  What is not committed stands in ``.gitignore``.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from ferrule.cli.main import main
from pypdf import PdfReader

EXAMPLES = Path(__file__).parent.parent / "examples"
RIGS = sorted(EXAMPLES.glob("*.rig"))


TABLES = (
    "termination-sheet", "cut-list", "bill-of-material", "load-schedule", "device-schedule",
    "commissioning-sheet", "probe-table", "conductor-markers", "device-labels",
)  # fmt: skip


def kept(folder: Path) -> dict[str, Path]:
    """The files of a folder that are committed, by name."""
    unwanted = (*(f"-{table}.svg" for table in TABLES), "-labels.pdf")
    return {path.name: path for path in folder.iterdir() if not path.name.endswith(unwanted)}


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
    committed, fresh = (kept(folder).keys() for folder in drawn)
    assert committed == fresh


def test_tables_are_committed_as_texts(drawn: tuple[Path, Path]) -> None:
    committed, fresh = drawn
    pictures = {path.name for path in fresh.iterdir()} - kept(fresh).keys()
    assert len(pictures) > len(TABLES)
    ignored = (EXAMPLES.parent / ".gitignore").read_text(encoding="utf-8")
    for table in TABLES:
        assert any(name.endswith(f"-{table}.svg") for name in pictures)
        assert f"examples/drawings/*/*-{table}.svg" in ignored
    assert len(list(committed.glob("*.csv"))) == len(list(committed.glob("*.md")))


def test_the_same_bytes(drawn: tuple[Path, Path]) -> None:
    committed, fresh = drawn
    other = [
        path.name
        for path in kept(committed).values()
        if path.suffix != ".pdf" and path.read_bytes() != (fresh / path.name).read_bytes()
    ]
    assert not other, f"changed: {', '.join(other)}"


def test_the_same_words_in_the_bound_book(drawn: tuple[Path, Path]) -> None:
    """A PDF's bytes follow the versions of reportlab and zlib; its pages and words do not."""
    files = [path for folder in drawn for path in kept(folder).values() if path.suffix == ".pdf"]
    committed, fresh = (PdfReader(path) for path in files)
    assert len(committed.pages) == len(fresh.pages) > 5
    for old, new in zip(committed.pages, fresh.pages, strict=True):
        assert old.extract_text() == new.extract_text()
