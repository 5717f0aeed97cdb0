"""The statement that is being written at a place, whether it can be read or not."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import NamedTuple

from ...dsl.model import Rig
from ...dsl.parse import QUOTED
from ...dsl.source import Spoiled, Statement, chunks, masked

_SPLIT = re.compile(rf'{QUOTED}|#[^\n]*|[A-Za-z][\w-]*\.\([^()\n]*\)?|"[^"\n]*$|\\\n|[^\s"#]+')

_REST = re.compile(r"(?:[\w/+]|-(?!>))*=?")


class Writing(NamedTuple):
    """What stands of a statement before a place: whole words, then the word begun there.

    ``start`` and ``end`` are the indices of the whole statement, ``begun`` that of the word begun
    (which may be empty).  ``quiet``: the place is in a comment.  ``rest``: the words behind it.
    """

    words: tuple[str, ...]
    word: str
    begun: int
    start: int
    end: int
    quiet: bool = False
    rest: tuple[str, ...] = ()

    @property
    def said(self) -> tuple[str, ...]:
        """All words of the statement but the one that is being written."""
        return (*self.words, *self.rest)


def writing(text: str, offset: int) -> Writing:
    """The statement at an index of a text."""
    start, end = _statement(text, offset)
    before = text[start:offset]
    found = [(m[0], m.start()) for m in _SPLIT.finditer(before) if not m[0].startswith("\\\n")]
    if found and found[-1][0].startswith("#"):
        return Writing((), "", offset, start, end, quiet=True)
    word, begun = "", len(before)
    if found and found[-1][1] + len(found[-1][0]) == len(before) and not _closed(found[-1][0]):
        word, begun = found.pop()
    whole = tuple(w for w, _ in found if not w.startswith("#"))
    return Writing(
        whole, word, start + begun, start, end, rest=_words(text[offset:end], bool(word))
    )


def _words(text: str, inside: bool) -> tuple[str, ...]:
    """The words behind a place; ``inside``: what touches it belongs to a word before."""
    found = [m[0] for m in _SPLIT.finditer(text) if not m[0].startswith(("\\\n", "#"))]
    return tuple(found[1:] if inside and found and not text[:1].isspace() else found)


def _closed(word: str) -> bool:
    """Whether a word ends by itself, so that what follows begins another."""
    return (len(word) > 1 and word[0] == '"' == word[-1]) or word in ("{", "}", "->")


def _statement(text: str, offset: int) -> tuple[int, int]:
    """The indices of the lines of the statement at an index, braces of a stage on it left out."""
    first = text.rfind("\n", 0, offset) + 1
    line_end = text.find("\n", offset)
    last = len(text) if line_end < 0 else line_end
    row = text.count("\n", 0, first) + 1
    for chunk in chunks(text):
        rows = chunk.text.count("\n")
        if chunk.line <= row <= chunk.line + rows:
            starts = _line_start(text, first, row - chunk.line)
            lead = len(chunk.text) - len(chunk.text.lstrip(" "))
            begins, ends = starts + lead, starts + len(chunk.text)
            if begins <= offset <= ends or (rows and starts <= offset <= ends):
                return starts if not lead else begins, ends
    return first, last


def _line_start(text: str, start: int, back: int) -> int:
    for _ in range(back):
        start = text.rfind("\n", 0, start - 1) + 1
    return start


def end_of_word(text: str, offset: int) -> int:
    """Where the name, key or quantity that an index is in, or at the end of, ends."""
    found = _REST.match(text, offset)
    return found.end() if found else offset


def stage_at(parsed: Iterable[Statement | Spoiled], line: int) -> str:
    """The stage that a line, from 1, belongs to; empty outside any."""
    inside = ""
    for statement in parsed:
        if statement.line > line:
            break
        if statement.word == "stage":
            inside = str(statement.name or "")
        elif statement.word == "}" and statement.line < line:
            inside = ""
    return inside


def rig_at(rigs: tuple[Rig, ...], stage: str) -> Rig | None:
    """The rig of a stage; the first where the stage is not known."""
    return next((rig for rig in rigs if rig.stage == stage), rigs[0] if rigs else None)


def rig_with(rigs: tuple[Rig, ...], stage: str, name: str) -> Rig | None:
    """The rig of a stage, or else the last, that has a device, conductor or cable of a name."""
    here = [rig for rig in rigs if rig.stage == stage] or list(rigs[:1])
    for rig in (*here, *reversed(rigs)):
        if name in rig.devices or name in rig.conductors or name in rig.cables:
            return rig
    return None


def inside_label(text: str, start: int, offset: int) -> bool:
    """Whether a quote is open at an index of the statement that begins at ``start``."""
    line = text[max(start, text.rfind("\n", 0, offset) + 1) : offset]
    return '"' in masked(line)
