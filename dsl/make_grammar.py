"""Writes ``grammar_table.py``: the parser's tables, which take lark ten times longer to work out.

Run ``PYTHONHASHSEED=0 python -m ferrule.dsl.make_grammar`` after a change to ``rig.lark`` (the
seed: lark numbers its states in the order of sets).  Until it is run, and
with any release of lark but the one that made the table, the parser is built from the grammar:
right, only some 20 milliseconds later.
"""

from __future__ import annotations

from pathlib import Path

import lark
from lark.grammar import Rule
from lark.lexer import TerminalDef

from .source import OPTIONS, mark, written

TARGET = Path(__file__).parent / "grammar_table.py"


def text() -> str:
    """The module that ``rig.lark`` makes."""
    grammar = written()
    data, memo = lark.Lark(grammar, **OPTIONS).memo_serialize([TerminalDef, Rule])
    return (
        '"""Made from rig.lark by make_grammar.py; change that grammar, not this table."""\n'
        "# ruff: noqa: E501\n"
        "# fmt: off\n\n"
        "from typing import Any\n\n"
        f"MARK = {mark(grammar)!r}\n"
        f"DATA: dict[str, Any] = {data!r}\n"
        f"MEMO: dict[int, Any] = {memo!r}\n"
    )


if __name__ == "__main__":
    TARGET.write_text(text(), encoding="utf-8")
