"""Writes ``grammar_table.py``: the grammar of a statement as lark reads it, ready for use.

Run ``python -m ferrule.dsl.make_grammar`` after a change to ``rig.lark``.  Nothing in a statement
nests, so its LALR parser knows few stacks: each is a state of a plain automaton, and reading a rig
needs neither lark nor a stack.
"""

from __future__ import annotations

import os
import pprint
from pathlib import Path
from typing import Any, TypeAlias

from lark import Lark, Token

SOURCE = os.path.join(os.path.dirname(__file__), "rig.lark")
TARGET = Path(__file__).parent / "grammar_table.py"
OPTIONS: dict[str, Any] = {"start": "statement", "parser": "lalr", "lexer": "basic"}
END = "$END"
KEYWORD = r"\A{}(?![\w.\/=-])"
MOST = 1000

Moves: TypeAlias = list[dict[str, int]]


def parser() -> Lark:
    """The parser that lark makes of the grammar."""
    return Lark(Path(SOURCE).read_text(encoding="utf-8"), **OPTIONS)


def terminals(lark: Lark) -> str:
    """One expression for the next word, in the order in which lark's lexer tries the terminals.

    What is ignored goes before; no group matches where there is no word.  All keywords are one
    group: 19 that are tried one after another take as long as all the rest.
    """
    order = sorted(
        (t for t in lark.terminals if t.name not in lark.ignore_tokens),
        key=lambda t: (-t.priority, -t.pattern.max_width, -len(t.pattern.value), t.name),
    )
    words = [t for t in order if t.pattern.to_regexp() == KEYWORD.format(t.name.lower())]
    if words != order[: len(words)]:
        raise ValueError("a terminal is tried before a keyword")
    keyword = KEYWORD.format(f"(?:{'|'.join(t.name.lower() for t in words)})")
    others = (f"(?P<{t.name}>{t.pattern.to_regexp()})" for t in order[len(words) :])
    ignored = (t.pattern.to_regexp() for t in lark.terminals if t.name in lark.ignore_tokens)
    return f"(?:{'|'.join(ignored)})*(?:(?P<KEYWORD>{keyword})|{'|'.join(others)}|)"


def automaton(lark: Lark) -> Moves:
    """For each state what may follow and the state it leads to; ValueError where stacks grow."""
    start: Any = lark.parse_interactive("")
    queue = [start]
    numbers = {tuple(start.parser_state.state_stack): 0}
    moves: Moves = []
    for state in queue:
        row = dict.fromkeys(sorted(state.accepts()), 0)
        for name in [name for name in row if name != END]:
            after = state.copy(deepcopy_values=False)
            after.feed_token(Token(name, ""))
            stack = tuple(after.parser_state.state_stack)
            if stack not in numbers:
                numbers[stack] = len(queue)
                queue.append(after)
            row[name] = numbers[stack]
        moves.append(row)
        if len(queue) > MOST:
            raise ValueError("the grammar of a statement nests: it has no automaton")
    return moves


def fewest(moves: Moves) -> Moves:
    """The same automaton with states that nothing tells apart made one (Moore 1956)."""
    alike, count = [0] * len(moves), 1
    while True:
        seen: dict[tuple[tuple[str, int], ...], int] = {}
        rows = [tuple((name, alike[to]) for name, to in row.items()) for row in moves]
        alike = [seen.setdefault(row, len(seen)) for row in rows]
        if len(seen) == count:
            return [dict(row) for row in seen]
        count = len(seen)


def text() -> str:
    """The module that ``rig.lark`` makes."""
    lark = parser()
    moves = pprint.pformat(fewest(automaton(lark)), width=99, compact=True)
    return (
        '"""Made from rig.lark by make_grammar.py; change that grammar, not this table."""\n'
        "# ruff: noqa: E501\n"
        "# fmt: off\n\n"
        f"END = {END!r}\n"
        f"NEXT = {terminals(lark)!r}\n"
        f"MOVES: tuple[dict[str, int], ...] = (\n{moves[1:-1]},\n)\n"
    )


if __name__ == "__main__":
    TARGET.write_text(text(), encoding="utf-8")
