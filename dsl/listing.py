"""A rig's text as a list to compare line by line: a statement a line, always in the same order.

Layout, comments and the order of statements are gone; what is left differs only where the rig
does.  It is made from one file's text alone, so it needs nothing beside it.
"""

from __future__ import annotations

from .kinds import kinds
from .names import natural
from .problems import Problem
from .source import Spoiled, Statement, statements
from .writer import tidy

ORDER = ("rig", "revision", "rules", "ambient", "use", "part", "place", "route", "panel")
LATER = ("wire", "cable", "link", "bond", "remove", "move", "change", "mode", "accept")


def listing(text: str, file: str = "<text>") -> str | None:
    """The statements of a text, each stage's under its heading; None where it cannot be read."""
    problems: list[Problem] = []
    stages: list[tuple[str, list[Statement]]] = [("", [])]
    for statement in statements(text, file, problems):
        if isinstance(statement, Spoiled):
            return None
        if statement.word == "stage":
            stages.append((_line(statement), []))
        elif statement.word == "}":
            stages.append(("", []))
        else:
            stages[-1][1].append(statement)
    if problems:
        return None
    base = [s for title, group in stages if not title for s in group]
    blocks = ["".join(f"{line}\n" for line in _sorted(base))]
    blocks += [
        f"\n{title}\n" + "".join(f"  {line}\n" for line in _sorted(group))
        for title, group in stages
        if title
    ]
    return "".join(blocks)


def _sorted(some: list[Statement]) -> list[str]:
    """Lines by what they are and by name; moves of one conductor keep their order."""
    order = [*ORDER, *kinds(), *LATER]
    ranked = sorted(some, key=lambda s: (order.index(s.word), natural(str(s.name or ""))))
    return [_line(statement) for statement in ranked]


def _line(statement: Statement) -> str:
    tokens = [
        token for token in statement.tokens if not (statement.word == "stage" and token == "{")
    ]
    return " ".join(tidy(token) for token in tokens)
