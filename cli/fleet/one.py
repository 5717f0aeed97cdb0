"""One rig of a fleet in a process at work: what became of it, as plain data."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from ...checks.books.book import is_own
from ...dsl.model import Span
from ...dsl.problems import Problem
from ...dsl.reader import Reading, cleaned
from .. import files
from ..commands.check import report_of
from ..errors import Unusable
from ..writers.json import document
from . import keys


@dataclass(frozen=True, slots=True)
class Made:
    """What became of a file, and the digests of all that it follows from.

    ``inputs`` is empty where the result is not to be kept: the text could not be used, or changed
    while it was read.
    """

    result: dict[str, Any]
    inputs: dict[str, str] = field(default_factory=dict)


Work = Callable[[Reading], dict[str, Any]]


def checked(name: str, stage: str | None) -> Made:
    """The document of one file's findings."""

    def work(reading: Reading) -> dict[str, Any]:
        report = report_of(reading.rigs, stage)
        return {"document": document(files.Outcome(name, reading.sources, report=report))}

    return made(name, work)


def made(name: str, work: Work) -> Made:
    """What ``work`` makes of a file that can be read; whatever goes wrong becomes its problem.

    One rig that cannot be read, or that ferrule fails on, must not keep the others from theirs.
    """
    try:
        reading = files.load(name)
        if reading.problems:
            return _refused(files.Outcome.unread(name, reading))
        book = reading.rigs[0].book if is_own(reading.rigs[0].book) else ""
        before = keys.of_file(book) if book else ""
        result = work(reading)
        return Made(result, _inputs(reading, book, before))
    except Unusable as error:
        return _refused(_failed(name, str(error.args[0]), error.hint))
    except RecursionError:
        return _refused(_failed(name, "the text is nested too deeply to be read"))
    except MemoryError:
        return _refused(_failed(name, "the rig does not fit into memory"))
    except OSError as error:
        what = f"{error.filename or 'input or output'}: {error.strerror or error}"
        return _refused(_failed(name, what))
    except Exception as error:
        what = f"a defect of ferrule, not of your text: {type(error).__name__}: {error}"
        return _refused(_failed(name, what, "please report it with the file that shows it"))


def _refused(outcome: files.Outcome) -> Made:
    return Made({"document": document(outcome)})


def _failed(name: str, message: str, hint: str = "") -> files.Outcome:
    said = message.removeprefix(f"{name}: ")
    return files.Outcome(name, {}, (Problem(Span(name, 1, 1, 1, 1), said, "", hint),))


def _inputs(reading: Reading, book: str, before: str) -> dict[str, str]:
    """The digests of the files read; none where one is no longer what was read of it."""
    inputs = keys.of_files(reading.sources)
    for name in inputs:
        if _text(name) != reading.sources[name]:
            return {}
    if book:
        inputs[book] = keys.of_file(book)
        if inputs[book] != before:
            return {}
    return inputs if all(inputs.values()) else {}


def _text(name: str) -> str | None:
    """A file's text as the reader takes it; None where it has gone."""
    if not os.path.isfile(name):
        return None
    with open(name, "rb") as file:
        return cleaned(file.read().decode("utf-8", errors="replace"))
