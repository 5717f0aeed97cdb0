"""Syntax errors in plain words: what the parser saw, what it could have taken, what to do."""

from __future__ import annotations

import re
from collections.abc import Iterable

from .kinds import kinds
from .model import Span
from .parse import QUOTED, Token, Unexpected
from .problems import Problem, did_you_mean

KEYWORDS: dict[str, str] = {
    "rig": 'rig "Label" revision=A',
    "revision": 'revision B "What changed" date=2026-03-01',
    "rules": "rules nfpa70",
    "ambient": "ambient 30degC",
    "use": 'use "parts/breakers-na.rig"',
    "part": "part NAME KIND 15A poles=1",
    "place": 'place NAME "Label" ambient=40degC',
    "route": 'route NAME "Label"',
    "panel": 'panel NAME "Label" ways=8 at=PLACE',
    "wire": "wire W1 10AWG 0.2m Q1.2 -> LBAR.1",
    "cable": "cable C1 3x14AWG 4.2m Q1.2 NBAR.2 EBAR.2 -> E1.(L N PE)",
    "link": "link K1 Q1.1 -> Q2.1",
    "bond": "bond B1 6AWG 0.3m NBAR.1 -> EBAR.1",
    "mode": 'mode NAME "Label" { DEVICE=STATE }',
    "stage": 'stage NAME "Label" {',
    "remove": "remove NAME",
    "move": "move W3 LBAR.1 -> U1.in-L",
    "change": "change NAME 20A",
    "accept": 'accept T4 on W2 because "why"',
}

DEVICE_FORM = 'breaker Q1 "Label" 15A at=AP.2'

# what each terminal of the grammar is called in a message
WORDS: dict[str, str] = {
    **{keyword.upper(): f"`{keyword}`" for keyword in KEYWORDS},
    "ARROW": "`->`",
    "OPEN": "`{`",
    "CLOSE": "`}`",
    "LABEL": 'a label in quotes ("…")',
    "ATTR": "an attribute (key=value)",
    "END": "a terminal (DEVICE.TERMINAL)",
    "CORE": "a core (C1/2)",
    "NAME": "a name",
    "AMOUNT": "a quantity (15A, 2.5mm2, 3x14AWG)",
    "$END": "the end of the statement",
}

_WORD = re.compile(r"[^\s\"#{}()=]+")

# what is wrong, by the text at and after the error: (pattern, message, hint)
SLIPS: tuple[tuple[str, str, str], ...] = (
    (r'"[^"]*$', "a label without its closing quote", 'close the label with "'),
    (r"[“”„«»]", "a typographic quote", 'labels stand in plain quotes: "…"'),
    (r"[‘’']", "a single quote", 'labels stand in double quotes: "…"'),
    (r"[→⇒➔]|=>|-->|>", "an arrow the language does not know", "write `->`"),
    (r"[–—−]", "a dash that is no hyphen", "write `-` or `->`"),
    (r"=\s", "a space beside `=`", "write key=value with no spaces"),
    (r"\s*=\s*$", "an attribute without its value", "write key=value"),
    (r"=", "a stray `=`", "write key=value with no spaces"),
    (r"\.\d", "a number that begins with its point", "write 0.5, not .5"),
    (r"\.\([^)]*$", "terminals without their closing bracket", "write DEVICE.(T1 T2)"),
    (
        r"\.\(",
        "terminals that cannot be read",
        "write DEVICE.(T1 T2), names with spaces between",
    ),
    (r"\.\s", "a terminal without its name", "write DEVICE.TERMINAL with no spaces"),
    (r"\.", "a stray point", "write DEVICE.TERMINAL with no spaces"),
    (r"[,;:]", "punctuation the language does not use", "words stand with spaces between them"),
    (r"\\", "a stray `\\`", "a `\\` that carries a statement on is the last thing on its line"),
    (r"//|/\*", "a comment of another language", "a comment begins with #"),
    (r"\u00a0", "a no-break space", "write a plain space"),
    (r"[()]", "a stray bracket", "brackets stand only in DEVICE.(T1 T2) and terminals=(A B)"),
)


def complain(error: Unexpected, text: str, line: int, file: str) -> Problem:
    """The problem behind a parser's error in the statement ``text`` that begins on ``line``."""
    wrong = _first_word_problem(text, line, file)
    if wrong:
        return wrong
    index = error.index
    if index == len(text):
        index = len(_without_comment(text).rstrip())
    message, hint = _slip(error, text, index)
    expected = _expected(error.expected)
    return Problem(_span(text, index, line, file), message, expected, hint or _form(text))


def _without_comment(text: str) -> str:
    return re.sub(f"({QUOTED})|#[^\n]*", lambda found: found[1] or "", text)


def _span(text: str, index: int, line: int, file: str) -> Span:
    before = text[:index]
    row, column = line + before.count("\n"), index - before.rfind("\n")
    word = _WORD.match(text, index)
    width = len(word[0]) if word else 1
    return Span(file, row, column, row, column + width)


def _first_word_problem(text: str, line: int, file: str) -> Problem | None:
    """A statement whose first word is neither a keyword nor a kind: that alone is the mistake."""
    start = len(text) - len(text.lstrip())
    word = _WORD.match(text, start)
    if not word or word[0] in KEYWORDS or word[0] in kinds():
        return None
    if not re.match(r"[A-Za-z]", word[0]):
        return None
    return unknown_statement(word[0], _span(text, start, line, file))


def unknown_statement(word: str, span: Span) -> Problem:
    """A statement that begins with a word the language does not know."""
    known = [*KEYWORDS, *kinds()]
    return Problem(
        span,
        f"`{word[:40]}` is neither a statement nor a kind of device",
        "a statement (" + " ".join(KEYWORDS) + ") or a kind (" + " ".join(kinds()) + ")",
        did_you_mean(word, known),
    )


def _slip(error: Unexpected, text: str, index: int) -> tuple[str, str]:
    rest = text[index:]
    if error.token is not None:
        return _misplaced(error.token), ""
    if not rest.strip() or rest.lstrip().startswith("#"):
        return "the statement ends too early", ""
    for pattern, message, hint in SLIPS:
        if re.match(pattern, rest):
            return message, hint
    word = _WORD.match(rest)
    if word:
        return f"`{word[0][:40]}` does not belong here", ""
    return f"unexpected character {rest[0]!r} (U+{ord(rest[0]):04X})", ""


def _misplaced(token: Token) -> str:
    shown = str(token)[:40]
    if token.type == "LABEL":
        return f"the label {shown} does not belong here; a label goes right after the name"
    return f"`{shown}` does not belong here"


def _expected(names: Iterable[str]) -> str:
    order = list(WORDS)
    found = sorted({n for n in names if n in WORDS}, key=order.index)
    words = [WORDS[n] for n in found]
    if len(words) > len(KEYWORDS):
        return "a statement or a kind of device"
    return " or ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)


def _form(text: str) -> str:
    word = _WORD.match(text.lstrip())
    name = word[0] if word else ""
    if name in KEYWORDS:
        return f"its form is: {KEYWORDS[name]}"
    return f"its form is: {DEVICE_FORM}" if name in kinds() else ""
