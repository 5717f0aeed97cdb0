"""The versions of a rig that a command line names: a file, or a file at a revision of git.

version("van.rig")            as it lies there
version("van.rig@main~2")     as it was at a revision, with the files it uses as they were then
"""

from __future__ import annotations

import os
import tempfile
from contextlib import ExitStack
from pathlib import Path
from typing import NamedTuple

from ...checks.books.book import flaws, is_own
from ...dsl.model import Rig
from ...dsl.problems import Problem
from ...dsl.reader import Reading, read_text
from ...dsl.records import replace
from .. import files
from ..errors import Unusable
from .git import Revision

MARK = ".rig@"


class Version(NamedTuple):
    """What was read of a version: its stages, or what is wrong with its text.

    ``book`` is the text of the project's own rule book at that version ("" for a printed one).
    """

    name: str
    reading: Reading
    book: str = ""

    @property
    def rigs(self) -> tuple[Rig, ...]:
        return self.reading.rigs


def split(word: str) -> tuple[str, str]:
    """File and revision ("": as it lies there) of a word of the command line."""
    if os.path.exists(word) or "@" not in word:
        return word, ""
    if MARK in word:
        file, _, revision = word.partition(MARK)
        return file + ".rig", revision or "@"
    file, _, revision = word.rpartition("@")
    return file, revision or "@"


def version(word: str) -> Version:
    """The version that a word names.  Raises ``Unusable`` where there is none such."""
    file, revision = split(word)
    if not revision:
        reading = files.load(file)
        own = reading.rigs and is_own(reading.rigs[0].book)
        return Version(word, reading, files.text(reading.rigs[0].book) if own else "")
    return at_revision(word, file, Revision(file, revision))


def at_revision(name: str, file: str, revision: Revision) -> Version:
    """A file at a commit; its ``use`` and its own book are read there too."""
    text = revision.text(file)
    if isinstance(text, Problem):
        raise Unusable(f"{name}: {text.message}")
    return of_text(name, file, text, revision)


def of_text(name: str, file: str, text: str, revision: Revision | None = None) -> Version:
    """A rig's text as if it lay in ``file``, with what is beside it at a commit, or as it lies."""
    reading = read_text(text, file, revision.text if revision else None, files.outside())
    if not reading.rigs or not is_own(reading.rigs[0].book):
        return Version(name, reading)
    book = reading.rigs[0].book
    own = revision.text(book) if revision else files.text(book)
    return Version(name, reading, own if isinstance(own, str) else "")


def checked(version: Version, stack: ExitStack) -> tuple[Version, tuple[Rig, ...]]:
    """The version, and its rigs as they can be checked: with the book as it was then.

    A book of another day is put into a folder of its own for as long as ``stack`` is open; where
    that book is flawed, the version comes back with its problems and without rigs.
    """
    if not version.book:
        return version, version.rigs
    there = version.rigs[0].book
    if not os.path.isfile(there) or Path(there).read_text("utf-8", "replace") != version.book:
        folder = stack.enter_context(tempfile.TemporaryDirectory(prefix="ferrule-"))
        path = Path(folder, os.path.basename(there))
        path.write_text(version.book, encoding="utf-8")
        there = str(path)
    problems, _ = flaws(there)
    if problems:
        reading = Reading((), problems, {**version.reading.sources, there: version.book})
        return Version(version.name, reading), ()
    return version, tuple(replace(rig, book=there) for rig in version.rigs)
