"""What is generated or shipped: the table of kinds, its page, the parts."""

import re
from pathlib import Path

import pytest
from ferrule.dsl import make_grammar, make_kinds, reference
from ferrule.dsl.complaints import KEYWORDS, WORDS
from ferrule.dsl.kinds import kinds
from ferrule.dsl.library import HERE, is_shipped, shipped
from ferrule.dsl.reader import read_text
from ferrule.dsl.units import DIMENSIONS
from ferrule.dsl.writer import format_text

ROOT = Path(__file__).parent.parent
TYPES = {*DIMENSIONS, "range", "int", "word", "words", "terminals"} - {"size", "cores"}


def test_the_table_of_kinds_is_current() -> None:
    """Run `python -m ferrule.dsl.make_kinds` where this fails."""
    assert make_kinds.TARGET.read_text(encoding="utf-8") == make_kinds.text()


def test_the_page_of_kinds_is_current() -> None:
    """Run `python -m ferrule.dsl.reference > docs/kinds.md` where this fails."""
    assert (ROOT / "docs" / "kinds.md").read_text(encoding="utf-8") == reference.page()


def test_every_attribute_has_a_type_the_reader_knows() -> None:
    for kind in kinds().values():
        for attr in kind.attrs.values():
            assert attr.choices or attr.type in TYPES, (kind.name, attr.key)
        assert set(kind.headline.values()) <= set(kind.attrs), kind.name


def test_every_terminal_of_the_grammar_has_its_word() -> None:
    named = {t.name for t in make_grammar.parser().terminals} - {"COMMENT", "BLANK"}
    assert named == set(WORDS) - {"$END"}
    assert {k.upper() for k in KEYWORDS} <= named


def test_no_kind_is_called_like_a_statement() -> None:
    assert set(KEYWORDS) & set(kinds()) == {"panel"}


@pytest.mark.parametrize("name", shipped())
def test_a_shipped_file_reads_and_is_in_canonical_layout(name: str) -> None:
    reading = read_text(f'rules nfpa70\nuse "{name}"\n')
    assert not reading.problems, reading.problems[:3]
    assert reading.rigs[0].parts
    assert all(is_shipped(p.span.file) for p in reading.rigs[0].parts.values())
    text = (Path(HERE) / name).read_text(encoding="utf-8")
    assert format_text(text) == text
    assert re.search("common practice|IEC|UL|NEMA|ISO", text.split("\n\n")[0])


def test_shipped_parts_do_not_clash_and_say_what_a_rule_may_ask() -> None:
    uses = "".join(f'use "{name}"\n' for name in shipped())
    reading = read_text("rules nfpa70\n" + uses)
    assert not reading.problems
    for part in reading.rigs[0].parts.values():
        if part.kind in ("breaker", "fuse", "rcd"):
            assert {"rating", "breaks"} <= set(part.attrs), part.name
            assert "clamp" in part.attrs or "stud" in part.attrs, part.name
        if part.kind in ("breaker", "rcd"):
            assert "standard" in part.attrs, part.name
        if "ways" in part.attrs:
            assert part.attrs["ways"] == 1 or part.attrs.get("poles") not in (None, "1"), part.name
