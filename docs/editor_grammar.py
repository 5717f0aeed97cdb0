"""Writes ``docs/editor/ferrule.tmLanguage.json``: how a rig file is coloured, from the kind table.

    python docs/editor_grammar.py

The grammar is for any editor that takes TextMate grammars.  Words come from the table of kinds and
from the units the reader knows; a test holds the file to what this writes.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

from ferrule.dsl.complaints import KEYWORDS
from ferrule.dsl.kinds import kinds, words
from ferrule.dsl.units import UNITS

TARGET = Path(__file__).parent / "editor" / "ferrule.tmLanguage.json"
NAME = "[A-Za-z][A-Za-z0-9_-]*"
APART = r"(?![\w./=-])"
HEADS = ("rig", "rules", "ambient", "use")
NAMELESS = (*HEADS, "accept", "remove", "move", "change")
SIZED = ("mm2", "AWG")


def either(found: set[str] | tuple[str, ...] | list[str]) -> str:
    """A pattern for one of some words, the longest first."""
    ordered = sorted(set(found), key=lambda word: (-len(word), word))
    return "(?:" + "|".join(re.escape(word) for word in ordered) + ")"


def flags() -> set[str]:
    """Every flag that some statement may say."""
    statements = [words(name) for name in (*kinds(), "conductor", "place")]
    return {flag for known in statements for flag in known.flags}


def rule(name: str, match: str, **captures: str) -> dict[str, Any]:
    """A pattern, the scope of the whole, and of its groups (``g1=…``)."""
    found: dict[str, Any] = {"match": match}
    if name:
        found["name"] = f"{name}.ferrule"
    if captures:
        rows = {key[1:]: {"name": f"{scope}.ferrule"} for key, scope in captures.items()}
        found["captures"] = rows
    return found


def grammar() -> dict[str, Any]:
    """The whole grammar."""
    declaring = [word for word in KEYWORDS if word not in NAMELESS]
    units = either([*UNITS, *SIZED])
    number = r"[-+]?\d+(?:\.\d+)?(?:/0)?"
    label = {
        "name": "string.quoted.double.ferrule",
        "match": r'"(?:[^"\\\n]|\\[^\n])*"|"[^"\n]*"',
    }
    return {
        "$schema": "https://json.schemastore.org/tmlanguage.json",
        "name": "ferrule rig",
        "scopeName": "source.ferrule",
        "fileTypes": ["rig"],
        "patterns": [
            rule("comment.line.number-sign", "#.*$"),
            label,
            rule(
                "",
                rf"^\s*(part)\s+({NAME})\s+({either(list(kinds()))}){APART}",
                g1="keyword.control",
                g2="entity.name.type",
                g3="storage.type",
            ),
            rule(
                "",
                rf"^\s*({either(declaring)}){APART}(?:\s+({NAME}))?",
                g1="keyword.control",
                g2="entity.name",
            ),
            rule("keyword.control", rf"^\s*{either(list(NAMELESS))}{APART}"),
            rule(
                "",
                rf"^\s*({either(list(kinds()))}){APART}(?:\s+({NAME}))?",
                g1="storage.type",
                g2="entity.name",
            ),
            rule("keyword.operator", "->"),
            rule(
                "",
                rf"({NAME})(\.)(\([^()\n]*\)|(?:[A-Za-z0-9+_]|-(?!>))+)",
                g1="variable.other",
                g2="punctuation.accessor",
                g3="variable.other.member",
            ),
            rule("", rf"({NAME})(=)", g1="entity.other.attribute-name", g2="keyword.operator"),
            rule(
                "constant.numeric",
                rf"\b(?:\d+[xX×])?(?:{number}\.\.)?{number}({units})?(?![\w.])",
                g1="keyword.other.unit",
            ),
            rule("constant.language", rf"(?<![\w.=/-]){either(flags())}{APART}"),
            rule("punctuation.section", "[{}]"),
            rule("constant.character.escape", r"\\$"),
        ],
    }


def written() -> str:
    """The text of the file."""
    return json.dumps(grammar(), indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    TARGET.write_text(written(), encoding="utf-8")
    print(TARGET)
