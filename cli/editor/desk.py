"""The rigs that an editor's texts come to, and what is wrong with them."""

from __future__ import annotations

import os

from ...checks.books.book import flaws, is_own
from ...checks.findings import Report
from ...checks.run import check_rigs
from ...dsl.library import MARK, is_shipped
from ...dsl.model import Rig
from ...dsl.problems import Problem
from ...dsl.reader import Reading, read_text
from ...dsl.records import record
from .spots import Lines
from .texts import Texts, path_of

ROUNDS, MOST_WRONG = 3, 8
"""How often, and how much of, what is wrong is left out before the last readable text is taken."""


@record
class Judgement:
    """What is wrong with a rig: mistakes in its texts, or else what a check finds."""

    problems: tuple[Problem, ...]
    report: Report | None
    files: tuple[str, ...]


class Desk(Texts):
    """Texts, and what reading and checking them gives.

    Whatever is asked is answered from the texts as they are now; a reading that was under way when
    a text changed is not taken for the new one's.
    """

    def __init__(self, outside: bool = False) -> None:
        super().__init__(outside)
        self.good: dict[str, tuple[Rig, ...]] = {}
        self._readings: dict[str, tuple[int, Reading]] = {}
        self._judged: dict[str, tuple[int, Judgement]] = {}

    def drop(self, file: str) -> None:
        """The editor has closed the file."""
        for shelf in (self.good, self._readings, self._judged):
            shelf.pop(file, None)
        super().drop(file)

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
            return read_text(text, file, self.load, self.outside)
        label = file.removeprefix(MARK) if is_shipped(file) else os.path.basename(file)
        head = os.path.join(os.path.dirname(path_of(file)), "\N{WHITE SQUARE}")
        found = read_text(f'rules nfpa70\nuse "{label}"\n', head, self.load, self.outside)
        problems = tuple(p for p in found.problems if p.span.file != head)
        sources = {name: text for name, text in found.sources.items() if name != head}
        return Reading(found.rigs, problems, {**sources, file: text})

    def read_as(self, file: str, texts: dict[str, str]) -> Reading:
        """The reading of a file if some texts were others."""
        own = texts.get(file, self.text(file))
        return read_text(
            own, file, lambda p: texts[p] if p in texts else self.load(p), self.outside
        )

    def without(self, file: str, start: int, end: int) -> tuple[Rig, ...]:
        """The rigs of a file as if a stretch of it were blank; the last readable, if none are.

        What cannot be read without that stretch, as a move of what it lays, is left out as well.
        """
        lines = Lines(self.text(file))
        text = _blanked(lines.text, start, end)
        for _ in range(ROUNDS):
            found = read_text(text, file, self.load, self.outside)
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
        now, known = self.generation, self._judged.get(file)
        if known is None or known[0] != now:
            known = self._judged[file] = (now, self._judge(file))
        return known[1]

    def _judge(self, file: str) -> Judgement:
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


def _blanked(text: str, start: int, end: int) -> str:
    """The text with spaces in the place of a stretch, its lines kept."""
    return text[:start] + "".join(c if c == "\n" else " " for c in text[start:end]) + text[end:]
