"""The documents say what is so: rigs in them are read, commands and links in them exist."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path

import pytest
from ferrule.checks.run import check_rigs
from ferrule.cli.main import COMMANDS
from ferrule.dsl.library import shipped
from ferrule.dsl.reader import read_text
from ferrule.dsl.writer import format_text
from ferrule.render.draw import DOCUMENTS, LEGEND, TEXTS
from ferrule.render.labels import STOCKS

ROOT = Path(__file__).parents[1]
PAGES = [*sorted(ROOT.glob("*.md")), *sorted(ROOT.glob("docs/*.md")), *ROOT.glob("examples/*.md")]
BLOCKS = [
    pytest.param(text, id=f"{page.name}-{number}")
    for page in PAGES
    for number, text in enumerate(re.findall(r"```rig\n(.*?)```", page.read_text("utf-8"), re.S))
]
every_page = pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)


@pytest.mark.parametrize("text", BLOCKS)
def test_a_rig_in_a_document_is_sound_and_laid_out(text: str) -> None:
    reading = read_text(text)
    assert not reading.problems and reading.rigs
    assert not check_rigs(reading.rigs).failed
    assert format_text(text) == text


@every_page
def test_a_command_in_a_document_is_there(page: Path) -> None:
    named = set(re.findall(r"(?:^|[`/])ferrule ([a-z]+)\b", page.read_text("utf-8"), re.M))
    assert named <= COMMANDS.keys()


@every_page
def test_a_link_in_a_document_leads_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", page.read_text("utf-8")):
        assert (page.parent / target).exists(), target


@every_page
def test_a_link_to_a_heading_leads_to_one(page: Path) -> None:
    """GitHub's anchors: lower case, hyphens for spaces, punctuation left out."""
    for target, anchor in re.findall(r"\]\(([^)#: ]*)#([^)]+)\)", page.read_text("utf-8")):
        text = (page.parent / target if target else page).read_text("utf-8")
        heads = re.findall(r"^#+ (.*)$", text, re.M)
        assert anchor in {re.sub(r"[^\w\- ]", "", h.lower()).replace(" ", "-") for h in heads}


def test_the_language_page_lists_every_shipped_file() -> None:
    text = (ROOT / "docs/language.md").read_text(encoding="utf-8")
    assert set(re.findall(r"^\| `(parts/\S+)` \|", text, re.M)) == set(shipped())


def test_the_page_of_documents_lists_every_one_and_its_texts() -> None:
    text = (ROOT / "docs/documents.md").read_text(encoding="utf-8")
    rows = dict(re.findall(r"^\| `([a-z][a-z-]*)` \|.*\|(.*)\|$", text, re.M))
    assert list(rows) == [*DOCUMENTS, LEGEND]
    for name, forms in rows.items():
        written = set(re.findall(r"`([a-z]+)`", forms))
        assert ("csv" in written) == (name in TEXTS), name
    for stock in STOCKS:
        assert f"`{stock}`" in text


CONSOLES = [
    ROOT / "README.md",
    *(ROOT / f"docs/{name}.md" for name in ("capacity", "fleet", "git", "solution")),
]


@pytest.mark.parametrize("page", CONSOLES, ids=lambda page: page.name)
def test_commands_in_a_document_print_what_it_shows(page: Path, tmp_path: Path) -> None:
    """Run `python docs/consoles.py PAGE` where this fails, and read what changed."""
    spec = importlib.util.spec_from_file_location("consoles", ROOT / "docs/consoles.py")
    assert spec and spec.loader
    consoles = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(consoles)
    text = page.read_text(encoding="utf-8")
    assert consoles.replayed(text, tmp_path) == text
