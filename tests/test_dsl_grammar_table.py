"""The parser's table as shipped: made from this grammar, and parsing as lark does with it."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from ferrule.dsl import make_grammar
from ferrule.dsl.parse import Unexpected, parse
from ferrule.dsl.source import chunks
from lark import Lark
from lark.exceptions import UnexpectedCharacters, UnexpectedInput

ROOT = Path(__file__).parents[1]
RIGS = [*ROOT.glob("examples/*.rig"), *ROOT.glob("dsl/parts/*.rig"), ROOT / "cli/starter.rig"]
BROKEN = ["wire W1 14AWG A.1 ->", "breaker", 'rig "x" 15A', "move W1 A.1 B.1", "mode m { A }"]
LARK = make_grammar.parser()


def statements() -> list[str]:
    texts = [path.read_text(encoding="utf-8") for path in RIGS]
    return [chunk.text.lstrip() for text in texts for chunk in chunks(text)]


def mutants(count: int) -> list[str]:
    """Statements with a piece taken out, doubled or exchanged, the same from run to run."""
    dice, whole = random.Random(5), statements()
    pieces = ["->", ".", "(", ")", "{", "}", '"', "=", "#", " ", "-", "/2", "15A", "wire", "\\\n"]
    made = []
    for _ in range(count):
        text = dice.choice(whole)
        at = dice.randrange(len(text) + 1)
        made.append(text[:at] + dice.choice(["", *pieces]) + text[at + dice.randrange(4) :])
    return [text.lstrip() for text in made if text.strip()]


def ours(text: str) -> object:
    try:
        return [(token.type, str(token), token.start) for token in parse(text)]
    except Unexpected as error:
        return error.index, error.token, error.expected


def theirs(lark: Lark, text: str) -> object:
    state = lark.parse_interactive(text)
    tokens = []
    try:
        for token in state.iter_parse():
            tokens.append((token.type, str(token), token.start_pos))
        state.feed_eof()
    except UnexpectedInput as error:
        ended = not isinstance(error, UnexpectedCharacters) and error.token.type == "$END"
        at = len(text) if ended else error.pos_in_stream
        wrong = None if ended else getattr(error, "token", None)
        return at, wrong, frozenset(state.accepts())
    return tokens


def test_the_table_is_current() -> None:
    """Run `python -m ferrule.dsl.make_grammar` where this fails."""
    assert make_grammar.TARGET.read_text(encoding="utf-8") == make_grammar.text()


def test_the_table_parses_as_lark_does() -> None:
    whole = statements()
    assert len(whole) > 300
    for text in whole:
        assert ours(text) == theirs(LARK, text)
        assert isinstance(ours(text), list)


@pytest.mark.parametrize("text", BROKEN)
def test_the_table_refuses_as_lark_does(text: str) -> None:
    assert ours(text) == theirs(LARK, text)
    assert isinstance(ours(text), tuple)


def test_broken_statements_are_read_as_lark_reads_them() -> None:
    told = [(ours(text), theirs(LARK, text)) for text in mutants(4000)]
    assert all(own == lark for own, lark in told)
    refused = sum(isinstance(own, tuple) for own, _ in told)
    assert 500 < refused < len(told) - 500


def test_a_grammar_that_nests_has_no_automaton() -> None:
    nested = Lark('statement: "a" | "(" statement ")"', **make_grammar.OPTIONS)
    with pytest.raises(ValueError, match="nests"):
        make_grammar.automaton(nested)
