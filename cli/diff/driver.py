"""``ferrule diff`` as git calls it: with two blobs in place of two versions of a file.

Git goes on only where its driver ends well, so a text that cannot be read is no failure here: its
mistakes are told, and then the texts line by line.
"""

from __future__ import annotations

import difflib
import os
import sys
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack
from typing import NamedTuple

from ...dsl.listing import listing
from ...dsl.problems import render_problem
from ...dsl.reader import cleaned
from ..errors import CLEAN, Unusable
from ..terminal import colours, printable
from . import text
from .comparison import NOTHING, Pair, Side, across, compared, in_turn, nothing, sides
from .versions import Version, checked, of_text

ARGUMENTS = "PATH OLD-FILE OLD-ID OLD-MODE NEW-FILE NEW-ID NEW-MODE"


class Blob(NamedTuple):
    """One of the two texts; None where the file is not there on that side."""

    name: str
    text: str | None


def run(words: Sequence[str]) -> int:
    """What git calls for each changed file; raises ``Unusable`` where it is not git that calls."""
    if len(words) == 1:  # a file that is not merged yet
        print(f"{printable(words[0])}: not merged, nothing to compare")
        return CLEAN
    if len(words) not in (7, 9):
        raise Unusable(f"{len(words)} arguments after --git", f"git gives it: {ARGUMENTS}")
    path, old_file, old_id, _, new_file, new_id, _ = words[:7]
    new_path = words[7] if len(words) == 9 else path
    old = Blob(_name(path, old_id), _text(old_file))
    new = Blob(_name(new_path, new_id), _text(new_file))
    sys.stdout.write(told(old, path, new, new_path))
    return CLEAN


def _name(path: str, blob: str) -> str:
    """What a side is called: the path, with the beginning of its id where git knows it."""
    return f"{path}@{blob[:10]}" if blob.strip("0.") else path


def _text(file: str) -> str | None:
    if file == os.devnull:
        return None
    with open(file, "rb") as opened:
        return cleaned(opened.read().decode("utf-8", errors="replace"))


def told(old: Blob, old_path: str, new: Blob, new_path: str) -> str:
    """The comparison of two texts, or why there is none and the texts by lines."""
    with ExitStack() as stack:
        read = [
            checked(of_text(blob.name, path, blob.text), stack)
            for blob, path in ((old, old_path), (new, new_path))
            if blob.text is not None
        ]
        broken = [version for version, _ in read if version.reading.problems]
        if broken:
            return printable("".join(_by_lines(broken, old, new)))
        every = [sides(version, rigs) for version, rigs in read]
        return text.write(compared(_pairs(every, old, new)), colours(sys.stdout)) if every else ""


def _pairs(every: Sequence[list[Side]], old: Blob, new: Blob) -> list[Pair]:
    if len(every) == 2:
        return across(*every)
    stages = every[0]
    if old.text is None:
        first = Pair(nothing(stages[0], NOTHING), stages[0])
        return [first, *(in_turn(stages) if len(stages) > 1 else ())]
    return [Pair(stages[-1], nothing(stages[-1], NOTHING))]


def _by_lines(broken: Iterable[Version], old: Blob, new: Blob) -> Iterator[str]:
    for version in broken:
        yield f"{version.name} cannot be used; it is compared by its lines.\n\n"
        for problem in version.reading.problems:
            yield render_problem(problem, version.reading.sources, False) + "\n\n"
    before, after = ((blob.text or "").splitlines(keepends=True) for blob in (old, new))
    for line in difflib.unified_diff(before, after, old.name, new.name):
        yield line if line.endswith("\n") else line + "\n"


def listed(file: str) -> str:
    """A file as git compares it by lines: its listing, or the text as it is where that fails."""
    given = _text(file) or ""
    return listing(given, file) or given
