"""The texts that an editor holds, before those on the disk, and which of them belong together."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from itertools import chain, islice

from ...checks.books.book import is_own
from ...checks.books.overlay import UNSAVED
from ...dsl.bounds import Bounds, real
from ...dsl.library import HERE, MARK, is_shipped, locate
from ...dsl.problems import Problem
from ...dsl.reader import cleaned, load
from ...dsl.source import Spoiled, Statement, statements
from .spots import Lines

Parsed = list[Statement | Spoiled]
HEADS = ("rig", "rules")
SHARED = ("part", "place", "route", "use")
"""What a file says, and nothing else, that is made to be used by rigs."""
MOST_FILES, MOST_FOLDERS = 300, 1000
_USE = re.compile(r"\buse\b")


class Texts:
    """Files by the name that spans use: an absolute path, or ``ferrule:parts/…``.

    Whatever is kept of them is kept until the next change of a text (``generation``).
    """

    def __init__(self, outside: bool = False) -> None:
        self.outside = outside
        self.open: dict[str, str] = {}
        self.ends: dict[str, str] = {}
        self.generation = 0
        self._saved: dict[str, tuple[int, str | Problem]] = {}
        self._parsed: dict[str, tuple[str, Parsed]] = {}

    # -- one by one ----------------------------------------------------------------------------

    def put(self, file: str, text: str) -> None:
        """An editor's text of a file, which goes before the saved one until it is dropped."""
        self.open[file] = cleaned(text)
        self.ends[file] = "\r\n" if "\r\n" in text else "\n"
        if is_own(file):
            UNSAVED[file] = self.open[file]
        self.stale()

    def drop(self, file: str) -> None:
        """The editor has closed the file."""
        for shelf in (self.open, self.ends, UNSAVED):
            shelf.pop(file, None)
        self._parsed.pop(file, None)
        self.stale()

    def stale(self) -> None:
        """Something has changed, here or on the disk."""
        self.generation += 1

    def load(self, file: str) -> str | Problem:
        """The text of a file as it is now, or why there is none."""
        held = self.open.get(file)
        if held is not None:
            return held
        now, known = self.generation, self._saved.get(file)
        if known is None or known[0] != now:
            known = self._saved[file] = (now, load(path_of(file)))
        return known[1]

    def text(self, file: str) -> str:
        """The text of a file as it is now; empty where it cannot be read."""
        text = self.load(file)
        return "" if isinstance(text, Problem) else text

    def ended(self, file: str, text: str) -> str:
        """A text for a file, its lines ended as those of the editor's text are."""
        return text.replace("\n", self.ends.get(file, "\n"))

    def parsed(self, file: str) -> Parsed:
        """The statements of one file."""
        text = self.text(file)
        known = self._parsed.get(file)
        if known is None or known[0] != text:
            known = self._parsed[file] = (text, list(statements(text, file, [])))
        return known[1]

    # -- together ------------------------------------------------------------------------------

    def uses(self, file: str) -> tuple[str, ...]:
        """The files that a file uses, and those that they use, itself first.

        As the reader has it, those out of the rig's bounds are not followed.
        """
        bounds = Bounds(path_of(file))
        found = {file: None}
        waiting = [file]
        while waiting:
            for used in self._used(waiting.pop()):
                if used not in found and self._within(bounds, used):
                    found[used] = None
                    waiting.append(used)
        return tuple(found)

    def _used(self, user: str) -> Iterator[str]:
        # Most rigs are one file, and this is asked at every key: no parsing for nothing.
        for statement in self.parsed(user) if _USE.search(self.text(user)) else ():
            if isinstance(statement, Statement) and statement.word == "use":
                yield locate(statement.text_of_label(), user)[0]

    def _within(self, bounds: Bounds, file: str) -> bool:
        return self.outside or is_shipped(file) or bounds.hold(real(file))

    def named(self, file: str, offset: int) -> list[str] | None:
        """The file that a ``use`` or ``rules`` at a place names, if it may and can be read.

        None where no such statement stands there.
        """
        lines = Lines(self.text(file))
        for statement in self.parsed(file):
            if not isinstance(statement, Statement) or statement.word not in ("use", "rules"):
                continue
            start, end = lines.within(statement.span)
            if start <= offset <= end and statement.label is not None:
                other = locate(statement.text_of_label(), file)[0]
                within = any(self._within(Bounds(path_of(r)), other) for r in self.roots(file))
                return [other] if within and not isinstance(self.load(other), Problem) else []
        return None

    def roots(self, file: str) -> list[str]:
        """The open rigs that a file belongs to: itself, where it is no part of another."""
        users = [other for other in list(self.open) if other != file and file in self.uses(other)]
        return users if users and not self._is_rig(file) else [file]

    def kin(self, file: str, folders: list[str]) -> tuple[str, ...]:
        """All files that share names with a file: what it uses, and all that use any of those.

        Looked for among the open files, and in the ``.rig`` files of the folders.
        """
        shared = [other for other in self.uses(file) if not is_shipped(other)]
        words = [os.path.basename(other) for other in shared]
        there = dict.fromkeys((*self.open, *_rig_files([os.path.dirname(file), *folders])))
        users = [
            other
            for other in there
            if any(word in self.text(other) for word in words)
            and not set(shared).isdisjoint(self.uses(other))
        ]
        return tuple(dict.fromkeys(f for user in (file, *users) for f in self.uses(user)))

    def concerned(self, file: str) -> list[str]:
        """The open files whose judgement may be another when this one's text changes."""
        return [
            other
            for other in list(self.open)
            if other == file or file in self.uses(other) or (is_own(file) and not is_own(other))
        ]

    def is_shared(self, file: str) -> bool:
        """Whether a file is no rig, but a set of parts or places for rigs."""
        words = {statement.word for statement in self.parsed(file)}
        return is_shipped(file) or (bool(words) and words <= set(SHARED))

    def _is_rig(self, file: str) -> bool:
        return any(statement.word in HEADS for statement in self.parsed(file))


def name_of(path: str) -> str:
    """The name that spans use for a path."""
    label = os.path.relpath(path, HERE) if path.startswith(HERE + os.sep) else ""
    label = label.replace(os.sep, "/")
    return MARK + label if label.startswith("parts/") else path


def path_of(file: str) -> str:
    """The path of a file that spans name."""
    return os.path.join(HERE, file.removeprefix(MARK)) if is_shipped(file) else file


def _rig_files(folders: list[str]) -> Iterator[str]:
    """The ``.rig`` files below the folders, hidden ones and links left out, up to a number."""
    walks = (os.walk(folder) for folder in dict.fromkeys(folders) if folder)
    files = 0
    for place, below, names in islice(chain.from_iterable(walks), MOST_FOLDERS):
        below[:] = sorted(name for name in below if not name.startswith("."))
        for path in (os.path.join(place, name) for name in sorted(names) if name.endswith(".rig")):
            if files < MOST_FILES and not os.path.islink(path):
                files += 1
                yield path
