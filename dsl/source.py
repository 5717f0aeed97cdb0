"""A text cut into statements, each parsed by itself: one mistake, one problem, the rest is read.

A statement is a line, with the lines it goes on to after a ``\\``.  The braces of a stage stand
as statements of their own; a mode's braces belong to its statement, on one line or on several.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from sys import intern

from .complaints import KEYWORDS, complain, unknown_statement
from .kinds import kinds
from .model import Span
from .parse import QUOTED, Token, Unexpected, parse, unquoted
from .problems import Problem
from .records import record

NAME = re.compile(r"[A-Za-z][A-Za-z0-9_-]*")
_QUIET = re.compile(QUOTED + r"|#[^\n]*")
_SETTINGS = re.compile(r"[\s\w+=-]*\}?\s*(?:#.*)?")
_LEAD = re.compile(r"(?:[ \t\n]|\\(?=\n))*")
LONGEST = 50_000  # characters of a statement: a mode of a thousand settings is a tenth of it
TANGLED = 100  # escaped quotes, or braces, of a statement; looking for their ends takes time
UNFIT = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\ufffd\ufeff\u2028\u2029\u202a-\u202e\u2066-\u2069]"
)
"""What no text may hold: what moves a terminal's cursor, ends lines, or turns the order of words
round so that people read another text than the one that is checked.
"""


class Statement:
    """One parsed statement: its words by what they are, in the order of the text.

    Its text begins on line ``line`` of the file.  ``word`` is the keyword or kind; ``ends`` and
    ``far`` are what stands left and right of ``->``.
    """

    def __init__(self, file: str, chunk: Chunk, tokens: list[Token]) -> None:
        self.file, self.line, self.text = file, chunk.line, chunk.text
        self.one_line = "\n" not in chunk.text
        self.word, self.tokens = intern(str(tokens[0])), tokens
        self.name: Token | None = None
        self.label: Token | None = None
        self.items: list[Token] = []
        self.ends: list[Token] = []
        self.far: list[Token] = []
        self._sort(tokens[1:])

    def _sort(self, tokens: list[Token]) -> None:
        into = self.ends
        for token in tokens:
            match token.type:
                case "END":
                    into.append(token)
                case "ARROW":
                    into = self.far
                case "LABEL":
                    self.label = token
                case "OPEN" | "CLOSE":
                    pass
                case "NAME" | "CORE" if self.name is None:
                    self.name = token
                case "AMOUNT" if self.name is None and self.word == "revision":
                    self.name = token  # revisions may be counted: `revision 2 "…"`
                case _:
                    self.items.append(token)

    def at(self, token: Token) -> Span:
        """Where a word of this statement stands."""
        return self._between(token, token)

    def after(self, token: Token) -> Token | None:
        """The word that follows a word of this statement."""
        return next((other for other in self.tokens if other.start > token.start), None)

    def line_of(self, token: Token) -> int:
        """The line of the file that a word of this statement stands on."""
        return self._place(token.start)[0]

    def _between(self, first: Token, last: Token) -> Span:
        start, end = first.start, last.start + len(last)
        if self.one_line:
            return Span(self.file, self.line, start + 1, self.line, end + 1)
        return Span(self.file, *self._place(start), *self._place(end))

    def _place(self, index: int) -> tuple[int, int]:
        newline = self.text.rfind("\n", 0, index)
        if newline < 0:
            return self.line, index + 1
        return self.line + self.text.count("\n", 0, index), index - newline

    @property
    def span(self) -> Span:
        return self._between(self.tokens[0], self.tokens[-1])

    def text_of_label(self) -> str:
        return unquoted(self.label) if self.label else ""


@record
class Spoiled:
    """A statement that could not be read: what is left of it, so that nothing follows from it."""

    file: str
    line: int
    word: str
    name: str


@record
class Chunk:
    """A stretch of text that holds one statement; ``line`` is the number of its first line."""

    text: str
    line: int


def masked(text: str) -> str:
    """The text with labels and comments blanked out, position for position."""
    return _QUIET.sub(lambda found: " " * len(found[0]), text)


def _goes_on(line: str) -> bool:
    return line.rstrip().endswith("\\") and masked(line).rstrip().endswith("\\")


def _first_word(line: str) -> str:
    words = line.split(None, 1)
    return words[0] if words else ""


def chunks(text: str) -> Iterator[Chunk]:
    """The statements of a text, in order, blank lines and comments left out."""
    lines = text.split("\n")
    number = 0
    while number < len(lines):
        first = number
        line, number = _whole_line(lines, number)
        if too_much(line):
            yield Chunk(line, first + 1)
        elif "{" in line or "}" in line:
            line, number = _mode_block(line, lines, number)
            yield from _braces(line, first + 1)
        elif line and not line.isspace() and not line.lstrip().startswith("#"):
            yield Chunk(line, first + 1)


def _whole_line(lines: list[str], number: int) -> tuple[str, int]:
    """A line with the lines it goes on to, and the number of the next."""
    first = number
    number += 1
    while number < len(lines) and not too_much(lines[number - 1]) and _goes_on(lines[number - 1]):
        number += 1
    return "\n".join(lines[first:number]), number


def too_much(text: str) -> bool:
    """Whether a stretch of text is more than any statement needs to be."""
    if len(text) <= TANGLED:
        return False
    braces = text.count("{") + text.count("}")
    return len(text) > LONGEST or braces > TANGLED or text.count('\\"') > TANGLED


def _mode_block(line: str, lines: list[str], number: int) -> tuple[str, int]:
    """A mode's line with the lines of settings up to its closing brace."""
    open_mode = _first_word(line) == "mode" and "}" not in masked(line)
    first = number
    while open_mode and number < len(lines) and _SETTINGS.fullmatch(lines[number]):
        if _first_word(lines[number]) in KEYWORDS or too_much(lines[number]):
            break
        number += 1
        open_mode = "}" not in masked(lines[number - 1])
    return "\n".join([line, *lines[first:number]]), number


def _braces(line: str, number: int) -> Iterator[Chunk]:
    """A line with braces: a stage's opening and closing stand alone, a mode keeps its own."""
    quiet = masked(line)
    start = 0
    while start < len(line) and quiet[start:].strip():
        end = _end(quiet, start)
        if not quiet[end:].strip():
            end = len(line)  # a comment at the end stays with its statement
        if quiet[start:end].strip():
            before = line[:start]
            row = before.count("\n")
            pad = " " * (start - before.rfind("\n") - 1)
            yield Chunk(pad + line[start:end], number + row)
        start = end


def _end(quiet: str, start: int) -> int:
    """Where the statement that begins at ``start`` ends."""
    word = _first_word(quiet[start:])
    closing = quiet.find("}", start)
    opening = quiet.find("{", start)
    if word == "mode" and opening >= 0:
        return closing + 1 if closing >= 0 else len(quiet)
    if opening >= 0 and (closing < 0 or opening < closing):
        return opening + 1
    if quiet[start:].lstrip().startswith("}"):
        return closing + 1
    return closing if closing >= 0 else len(quiet)


def statements(text: str, file: str, problems: list[Problem]) -> Iterator[Statement | Spoiled]:
    """All statements of a text; what cannot be read goes to ``problems``."""
    for chunk in chunks(text):
        if too_much(chunk.text):
            problems.append(_too_much(chunk, file))
            yield Spoiled(file, chunk.line, _first_word(chunk.text[:80]), "")
            continue
        bad = UNFIT.search(chunk.text)
        if bad:
            problems.append(_unreadable(chunk, file, bad.start()))
            yield _spoiled(chunk, file)
            continue
        lead = _LEAD.match(chunk.text)
        try:
            tokens = parse(chunk.text, lead.end() if lead else 0)
        except Unexpected as error:
            problems.append(complain(error, chunk.text, chunk.line, file))
            yield _spoiled(chunk, file)
            continue
        statement = Statement(file, chunk, tokens)
        if statement.tokens[0].type == "NAME" and statement.word not in kinds():
            span = statement.at(statement.tokens[0])
            problems.append(unknown_statement(statement.word, span))
            yield _spoiled(chunk, file)
            continue
        yield statement


def _spoiled(chunk: Chunk, file: str) -> Spoiled:
    words = NAME.findall(masked(chunk.text))
    stray = masked(chunk.text).strip()[:1]
    word = words[0] if words and stray not in ("}", "{") else stray
    return Spoiled(file, chunk.line, word, words[1] if len(words) > 1 else "")


def _too_much(chunk: Chunk, file: str) -> Problem:
    most = f"{LONGEST} characters, {TANGLED} braces and {TANGLED} escaped quotes"
    message = f"a statement that is too long to be read: it has {len(chunk.text)} characters"
    span = Span(file, chunk.line, 1, chunk.line, 2)
    return Problem(span, message, f"at most {most} in a statement", "close it, or cut it in two")


def _unreadable(chunk: Chunk, file: str, index: int) -> Problem:
    before = chunk.text[:index]
    line = chunk.line + before.count("\n")
    column = index - before.rfind("\n")
    character = chunk.text[index]
    what = (
        "bytes that are not UTF-8"
        if character == "\ufffd"
        else f"a control character (U+{ord(character):04X})"
    )
    return Problem(
        Span(file, line, column, line, column + 1),
        f"the text has {what} here",
        "plain UTF-8 text",
        "save the file as UTF-8 text and take the character out",
    )
