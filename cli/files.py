"""From a path on the command line to rigs, or to a refusal that says what to do."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from types import MappingProxyType
from typing import Any

from ..checks.books.book import flaws, is_own
from ..checks.findings import Report
from ..dsl.model import Rig
from ..dsl.problems import Problem, did_you_mean, listed
from ..dsl.reader import Reading, read
from ..dsl.records import record
from .errors import Unusable


@record
class Outcome:
    """What became of one file: a report, or the problems that kept it from being read.

    ``figures`` by stage and mode, where they are asked for.
    """

    file: str
    sources: Mapping[str, str]
    problems: tuple[Problem, ...] = ()
    report: Report | None = None
    figures: Mapping[str, Any] = MappingProxyType({})

    @classmethod
    def unread(cls, name: str, reading: Reading) -> Outcome:
        """A file with mistakes in its text."""
        return cls(name, reading.sources, tuple(reading.problems))


_outside = False


@contextmanager
def reaching(outside: bool) -> Iterator[None]:
    """For as long as it is open, rigs may name files outside their folders, or may not."""
    before = _outside
    reach(outside)
    try:
        yield
    finally:
        reach(before)


def reach(outside: bool) -> None:
    """From now on, rigs read in this process may name files outside their folders, or may not."""
    global _outside
    _outside = outside


def outside() -> bool:
    """Whether this run allows rigs to name files outside their folders: ``--allow-outside``."""
    return _outside


def load(name: str) -> Reading:
    """Read a rig, and the project's own rule book where it names one.

    Raises ``Unusable`` where there is no file to read.
    """
    reading = read(usable(name), outside())
    if not reading.rigs or not is_own(reading.rigs[0].book):
        return reading
    path = reading.rigs[0].book
    problems, text = flaws(path)
    return Reading((), problems, {**reading.sources, path: text}) if problems else reading


def text(name: str) -> str:
    """A file's text as it stands; raises ``Unusable`` where it is not UTF-8 text."""
    try:
        with open(usable(name), encoding="utf-8", newline="") as file:
            return file.read()
    except UnicodeDecodeError as error:
        hint = "save the file as UTF-8 text"
        raise Unusable(f"{name}: byte {error.start + 1} is not UTF-8", hint) from None


def usable(name: str) -> str:
    """The path of a file that can be read; raises ``Unusable`` where there is none."""
    if "\0" in name:
        raise Unusable("a file name cannot hold a zero byte")
    if not name:
        raise Unusable("a file name is empty", "name a .rig file")
    if os.path.isdir(name):
        raise Unusable(f"{name}: is a folder", _rigs_hint(name))
    if not os.path.exists(name):
        raise Unusable(f"{name}: there is no such file", _missing_hint(name))
    if not os.access(name, os.R_OK):
        raise Unusable(f"{name}: may not be read", "look at its permissions")
    return name


def stages(rigs: Iterable[Rig], wanted: str | None) -> tuple[Rig, ...]:
    """The rigs of the stage asked for, or of all; raises ``Unusable`` for an unknown stage."""
    every = tuple(rigs)
    chosen = tuple(rig for rig in every if wanted in (None, rig.stage))
    if not chosen:
        names = [rig.stage for rig in every]
        raise unknown("stage", str(wanted), names, every[0].file)
    return chosen


def unknown(what: str, word: str, known: Iterable[str], where: str = "") -> Unusable:
    """A refusal of a name that is not there, with the nearest one or the list."""
    names = list(known)
    some = f"{what}s: {listed(names)}" if names else f"it has no {what}s at all"
    hint = did_you_mean(word, names) or some
    return Unusable(f"{where + ': ' if where else ''}there is no {what} `{word}`", hint)


def _rigs(folder: str) -> list[str]:
    return sorted(name for name in os.listdir(folder) if name.endswith(".rig"))


def _rigs_hint(folder: str) -> str:
    rigs = [os.path.join(folder, name) for name in _rigs(folder)]
    return f"name a file in it: {listed(rigs, 6)}" if rigs else "name a .rig file"


def _missing_hint(path: str) -> str:
    folder, name = os.path.split(path)
    if not os.path.isdir(folder or "."):
        return f"nor is there a folder {folder}"
    near = did_you_mean(name, _rigs(folder or "."))
    new = "`ferrule new FILE` writes a small rig to start from" if name.endswith(".rig") else ""
    return near or new
