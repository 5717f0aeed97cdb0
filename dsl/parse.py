"""One statement's text into its words, each by what it is, in the order that the grammar allows.

The grammar is ``rig.lark``; ``grammar_table.py`` is what lark makes of it: the terminals as one
regular expression, and for each state of the parser what may follow and the state it leads to.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from .grammar_table import END, MOVES, NEXT

_NEXT = re.compile(NEXT)
KEYWORD = "KEYWORD"
# Text in quotes, wherever it is looked for without being parsed; `\"` and `\\` stand for " and \.
QUOTED = r'(?:"(?:[^"\\\n]|\\[^\n])*"|"[^"\n]*")'
_ESCAPE = re.compile(r'\\(["\\])')


def unquoted(text: str) -> str:
    """What stands between the quotes of a label, its escapes resolved."""
    return _ESCAPE.sub(r"\1", text[1:-1])


class Token(str):
    """A word of a statement: ``type`` is its terminal's name, ``start`` its index in the text."""

    __slots__ = ("start", "type")
    type: str
    start: int

    def __new__(cls, type_: str, word: str, start: int) -> Token:
        token = super().__new__(cls, word)
        token.type, token.start = type_, start
        return token


class Unexpected(Exception):
    """Text that the grammar does not take at ``index``, and the terminals it would have taken.

    ``token`` is the word that does not belong there; None where no word can be made out.
    """

    def __init__(self, index: int, token: Token | None, expected: Iterable[str]) -> None:
        super().__init__(index, token)
        self.index, self.token, self.expected = index, token, frozenset(expected)


def parse(text: str, start: int = 0) -> list[Token]:
    """The words of the one statement that begins at ``start``; raises ``Unexpected``."""
    words = text[start:]
    tokens: list[Token] = []
    follow, end = MOVES[0], 0
    for found in _NEXT.finditer(words):
        name, end = found.lastgroup, found.end()
        if name is None:
            break  # the end, or nothing that is a word
        word = found[name]
        token = Token(word.upper() if name == KEYWORD else name, word, start + end - len(word))
        if token.type not in follow:
            raise Unexpected(token.start, token, follow)
        follow = MOVES[follow[token.type]]
        tokens.append(token)
    if end < len(words):
        raise Unexpected(start + end, None, follow)
    if END not in follow:
        raise Unexpected(len(text), None, follow)
    return tokens
