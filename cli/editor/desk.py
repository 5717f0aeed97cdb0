"""The texts that an editor holds, before what is on the disk, and the rigs they come to."""

from __future__ import annotations

import os
from collections.abc import Iterator
from itertools import chain, islice

from ...checks.books.book import flaws, is_own
from ...checks.books.overlay import UNSAVED
from ...checks.findings import Report
from ...checks.run import check_rigs
from ...dsl.library import HERE, MARK, is_shipped, locate
from ...dsl.model import Rig
from ...dsl.problems import Problem
from ...dsl.reader import Reading, cleaned, load, read_text
from ...dsl.records import record
from ...dsl.source import Spoiled, Statement, statements
from .spots import Lines

Parsed = list[Statement | Spoiled]
HEADS = ("rig", "rules")
SHARED = ("part", "place", "route", "use")
"""What a file says, and nothing else, that is made to be used by rigs."""
ROUNDS, MOST_WRONG = 3, 8
"""How often, and how much of, what is wrong is left out before the last readable text is taken."""
MOST_FILES, MOST_FOLDERS = 300, 1000


@record
class Judgement:
    """What is wrong with a rig: mistakes in its texts, or else what a check finds."""

    problems: tuple[Problem, ...]
    report: Report | None
    files: tuple[str, ...]


class Desk:
    """Files by the name that spans use: an absolute path, or ``ferrule:parts/…``.

    Whatever is asked is answered from the texts as they are now; readings are kept until the next
    change of a text, and one that was under way then is not taken for the new one's.
    """

    def __init__(self) -> None:
        self.open: dict[str, str] = {}
        self.ends: dict[str, str] = {}
        self.good: dict[str, tuple[Rig, ...]] = {}
        self.generation = 0
        self._readings: dict[str, tuple[int, Reading]] = {}
        self._parsed: dict[str, tuple[str, Parsed]] = {}

    # -- texts ---------------------------------------------------------------------------------

    def put(self, file: str, text: str) -> None:
        """An editor's text of a file, which goes before the saved one until it is dropped."""
        self.open[file] = cleaned(text)
        self.ends[file] = "\r\n" if "\r\n" in text else "\n"
        if is_own(file):
            UNSAVED[file] = self.open[file]
        self.stale()

    def drop(self, file: str) -> None:
        """The editor has closed the file."""
        self.open.pop(file, None)
        UNSAVED.pop(file, None)
        self.stale()

    def stale(self) -> None:
        """Something has changed, here or on the disk."""
        self.generation += 1

    def load(self, file: str) -> str | Problem:
        """The text of a file as it is now, or why there is none."""
        held = self.open.get(file)
        return load(path_of(file)) if held is None else held

    def text(self, file: str) -> str:
        """The text of a file as it is now; empty where it cannot be read."""
        text = self.load(file)
        return "" if isinstance(text, Problem) else text

    def ended(self, file: str, text: str) -> str:
        """A text for a file, its lines ended as those of the editor's text are."""
        return text.replace("\n", self.ends.get(file, "\n"))

    # -- statements ----------------------------------------------------------------------------

    def parsed(self, file: str) -> Parsed:
        """The statements of one file."""
        text = self.text(file)
        known = self._parsed.get(file)
        if known is None or known[0] != text:
            known = self._parsed[file] = (text, list(statements(text, file, [])))
        return known[1]

    def uses(self, file: str) -> tuple[str, ...]:
        """The files that a file uses, and those that they use, itself first."""
        found = {file: None}
        waiting = [file]
        while waiting:
            user = waiting.pop()
            for statement in self.parsed(user):
                if isinstance(statement, Statement) and statement.word == "use":
                    used = locate(statement.text_of_label(), user)[0]
                    if used not in found:
                        found[used] = None
                        waiting.append(used)
        return tuple(found)

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

    def _is_rig(self, file: str) -> bool:
        return any(statement.word in HEADS for statement in self.parsed(file))

    def is_shared(self, file: str) -> bool:
        """Whether a file is no rig, but a set of parts or places for rigs."""
        words = {statement.word for statement in self.parsed(file)}
        return is_shipped(file) or (bool(words) and words <= set(SHARED))

    # -- rigs ----------------------------------------------------------------------------------

    def reading(self, file: str) -> Reading:
        """What reading a file gives, its stages one by one."""
        now, known = self.generation, self._readings.get(file)
        if known is not None and known[0] == now:
            return known[1]
        reading = self._read(file)
        self._readings[file] = (now, reading)
        if reading.rigs:
            self.good[file] = reading.rigs
        return reading

    def _read(self, file: str) -> Reading:
        text = self.text(file)
        if not self.is_shared(file):
            return read_text(text, file, self.load)
        label = file.removeprefix(MARK) if is_shipped(file) else os.path.basename(file)
        head = os.path.join(os.path.dirname(path_of(file)), "\N{WHITE SQUARE}")
        found = read_text(f'rules nfpa70\nuse "{label}"\n', head, self.load)
        problems = tuple(p for p in found.problems if p.span.file != head)
        sources = {name: text for name, text in found.sources.items() if name != head}
        return Reading(found.rigs, problems, {**sources, file: text})

    def without(self, file: str, start: int, end: int) -> tuple[Rig, ...]:
        """The rigs of a file as if a stretch of it were blank; the last readable, if none are.

        What cannot be read without that stretch, as a move of what it lays, is left out as well.
        """
        lines = Lines(self.text(file))
        text = _blanked(lines.text, start, end)
        for _ in range(ROUNDS):
            found = read_text(text, file, self.load)
            wrong = [p.span for p in found.problems if p.span.file == file]
            if found.rigs or not wrong or len(wrong) > MOST_WRONG:
                break
            for span in wrong:
                last = lines.index(span.end_line, len(text))
                text = _blanked(text, lines.index(span.line, 1), last)
        return found.rigs or self.rigs(file)

    def rigs(self, file: str) -> tuple[Rig, ...]:
        """The stages of the last text of a file that could be read."""
        return self.reading(file).rigs or self.good.get(file, ())

    def judged(self, file: str) -> Judgement:
        """What is wrong with a file: a rig, parts for rigs, or a rule book."""
        if is_own(file):
            return Judgement(flaws(path_of(file))[0], None, (file,))
        reading = self.reading(file)
        files = tuple(dict.fromkeys((file, *reading.sources)))
        if not reading.rigs or self.is_shared(file):
            return Judgement(reading.problems, None, files)
        book = reading.rigs[0].book
        problems, _ = flaws(book)
        report = None if problems else check_rigs(reading.rigs)
        return Judgement(problems, report, (*files, book) if is_own(book) else files)

    def concerned(self, file: str) -> list[str]:
        """The open files whose judgement may be another when this one's text changes."""
        return [
            other
            for other in list(self.open)
            if other == file or file in self.uses(other) or (is_own(file) and not is_own(other))
        ]


def _blanked(text: str, start: int, end: int) -> str:
    """The text with spaces in the place of a stretch, its lines kept."""
    return text[:start] + "".join(c if c == "\n" else " " for c in text[start:end]) + text[end:]


def name_of(path: str) -> str:
    """The name that spans use for a path."""
    label = os.path.relpath(path, HERE) if path.startswith(HERE + os.sep) else ""
    label = label.replace(os.sep, "/")
    return MARK + label if label.startswith("parts/") else path


def path_of(file: str) -> str:
    """The path of a file that spans name."""
    return os.path.join(HERE, file.removeprefix(MARK)) if is_shipped(file) else file


def _rig_files(folders: list[str]) -> Iterator[str]:
    """The ``.rig`` files below the folders, hidden ones left out, as far as the bounds allow."""
    walks = (os.walk(folder) for folder in dict.fromkeys(folders) if folder)
    files = 0
    for place, below, names in islice(chain.from_iterable(walks), MOST_FOLDERS):
        below[:] = sorted(name for name in below if not name.startswith("."))
        for name in sorted(names):
            if name.endswith(".rig") and files < MOST_FILES:
                files += 1
                yield os.path.join(place, name)
