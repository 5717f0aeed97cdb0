"""The grammar for colours: current, and right about every word of the examples and shipped parts.

A TextMate grammar takes, from each place on, the pattern that matches first, the earlier in the
list where two match at one place.  The reader's own tokens are what it is held to.
"""

from __future__ import annotations

import json
import re
import runpy
from functools import cache
from pathlib import Path

import pytest
from ferrule.dsl.kinds import kinds, words
from ferrule.dsl.source import Statement, statements

ROOT = Path(__file__).parents[1]
FILES = [*(ROOT / "examples").glob("*.rig"), *(ROOT / "dsl/parts").glob("*.rig")]
MADE = runpy.run_path(str(ROOT / "docs/editor_grammar.py"))


@cache
def grammar() -> dict:  # type: ignore[type-arg]
    found: dict = json.loads((ROOT / "docs/editor/ferrule.tmLanguage.json").read_text("utf-8"))  # type: ignore[type-arg]
    return found


def test_the_grammar_is_that_of_the_kind_table() -> None:
    written = (ROOT / "docs/editor/ferrule.tmLanguage.json").read_text(encoding="utf-8")
    assert written == MADE["written"](), "run: python docs/editor_grammar.py"


def coloured(line: str) -> dict[int, str]:
    """The scope of each character of a line that has one, by its index."""
    scopes: dict[int, str] = {}
    at = 0
    while at < len(line):
        found = [
            (m, p) for p in grammar()["patterns"] if (m := re.compile(p["match"]).search(line, at))
        ]
        if not found:
            break
        match, pattern = min(found, key=lambda row: row[0].start())
        for group, name in [(0, pattern.get("name", ""))] + [
            (int(key), row["name"]) for key, row in pattern.get("captures", {}).items()
        ]:
            if name and match[group] is not None:
                scopes.update(dict.fromkeys(range(match.start(group), match.end(group)), name))
        at = max(match.end(), at + 1)
    return scopes


WANTED = {
    "ATTR": "entity.other.attribute-name",
    "END": "variable.other",
    "AMOUNT": "constant.numeric",
    "LABEL": "string.quoted",
    "ARROW": "keyword.operator",
}


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_word_has_the_colour_of_what_it_is(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    lines = text.split("\n")
    told = 0
    for statement in statements(text, path.name, []):
        assert isinstance(statement, Statement)
        for token in statement.tokens:
            span = statement.at(token)
            scope = coloured(lines[span.line - 1]).get(span.column - 1, "")
            wanted = WANTED.get(token.type, "")
            if token is statement.tokens[0] and token.type != "CLOSE":
                wanted = "storage.type" if token in kinds() and token != "panel" else "keyword"
            elif token is statement.name and statement.word not in ("rules", "accept"):
                wanted = "entity.name" if statement.word not in ("remove", "move", "change") else ""
            elif token.type == "NAME" and statement.word in kinds():
                wanted = "constant.language" if token in words(statement.word).flags else ""
            if wanted:
                assert scope.startswith(wanted), (str(token), scope, lines[span.line - 1])
                told += 1
    assert told > 20


def test_comments_and_labels_hide_what_stands_in_them() -> None:
    line = 'lamp E1 "breaker 15A -> # Q1.2" dc # wire W1 10A'
    scopes = coloured(line)
    assert scopes[line.index("15A")].startswith("string")
    assert scopes[line.index("wire")].startswith("comment")
    assert scopes[line.index("dc")].startswith("constant.language")
