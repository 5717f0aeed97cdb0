"""The parser's tables as shipped: made from this grammar, and parsing as the grammar does."""

from __future__ import annotations

from pathlib import Path

import pytest
from ferrule.dsl import grammar_table, source
from ferrule.dsl.source import OPTIONS, chunks, grammar, mark, written
from lark import Lark
from lark.exceptions import UnexpectedInput

ROOT = Path(__file__).parents[1]
RIGS = [*ROOT.glob("examples/*.rig"), *ROOT.glob("dsl/parts/*.rig"), ROOT / "cli/starter.rig"]
BROKEN = ["wire W1 14AWG A.1 ->", "breaker", 'rig "x" 15A', "move W1 A.1 B.1", "mode m { A }"]


def test_the_table_is_current() -> None:
    """Run `PYTHONHASHSEED=0 python -m ferrule.dsl.make_grammar` where this fails."""
    assert grammar_table.MARK[1] == mark(written())[1]


def test_the_table_parses_as_the_grammar_does(monkeypatch: pytest.MonkeyPatch) -> None:
    text = written()
    monkeypatch.setattr(grammar_table, "MARK", mark(text))
    monkeypatch.setattr(source, "Lark", NeverBuilt)
    grammar.cache_clear()
    shipped = grammar()
    built = Lark(text, transformer=source._Build(), **OPTIONS)
    count = 0
    for path in RIGS:
        for chunk in chunks(path.read_text(encoding="utf-8")):
            words = chunk.text.lstrip()
            assert shipped.parse(words) == built.parse(words)
            count += 1
    assert count > 300
    for line in BROKEN:
        told = []
        for parser in (shipped, built):
            with pytest.raises(UnexpectedInput) as caught:
                parser.parse(line)
            told.append((type(caught.value), caught.value.column, expected(caught.value)))
        assert told[0] == told[1]


def test_another_lark_builds_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(grammar_table, "MARK", ("0.0", grammar_table.MARK[1]))
    monkeypatch.setattr(grammar_table, "DATA", {})
    grammar.cache_clear()
    assert grammar().parse("link L1 A.1 -> B.1")
    grammar.cache_clear()


class NeverBuilt(Lark):
    def __init__(self, *args: object, **kwargs: object) -> None:
        raise AssertionError("built from the grammar, not loaded from its table")


def expected(error: UnexpectedInput) -> set[str]:
    found: set[str] = set(getattr(error, "accepts", None) or getattr(error, "expected", ()) or ())
    return found
