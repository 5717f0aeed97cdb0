"""What is fuzzed: a function of bytes for each door that a stranger's file comes in by.

A harness returns what it saw of it, or None where the input is refused; it raises where ferrule
fails.  What is a refusal is named; every other exception is a finding.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path

from ferrule.checks.books.overlay import BookError, laid_over
from ferrule.checks.run import CRASHED, check_rigs
from ferrule.cli import readings_file
from ferrule.cli.errors import Unusable
from ferrule.cli.fleet import documents
from ferrule.cli.fleet.cache import HEAD, Cache
from ferrule.dsl.problems import Problem, render_problem
from ferrule.dsl.reader import cleaned, read_text
from ferrule.dsl.writer import Unreadable, format_text

ROOM = Path(tempfile.mkdtemp(prefix="ferrule-fuzz-"))
KEY = "0" * 64
RIGS_CHECKED = 8_000  # bytes; larger ones are only read


def reader(data: bytes) -> object:
    """A rig's text: read, its problems shown, laid out, checked."""
    text = cleaned(data.decode("utf-8", errors="replace"))
    reading = read_text(text, "fuzz.rig", lambda path: Problem(NOWHERE, "no file"))
    for problem in reading.problems:
        render_problem(problem, reading.sources)
    try:
        once = format_text(text, "fuzz.rig")
        assert format_text(once, "fuzz.rig") == once, "laid out twice is not laid out once"
    except Unreadable:
        pass
    if reading.rigs and len(data) < RIGS_CHECKED:
        defects = [f for f in check_rigs(reading.rigs).findings if f.rule == CRASHED]
        assert not defects, defects
    return reading.rigs or None


def book(data: bytes) -> object:
    """A project's own rule book."""
    path = ROOM / "fuzz.book"
    path.write_bytes(data)
    try:
        return laid_over(str(path))
    except BookError as error:
        assert error.problems
        return None


def cache(data: bytes) -> object:
    """An entry of the cache: the bytes as they are, and as a body with its right digest."""
    store = Cache(str(ROOM / "cache"))
    path = ROOM / "cache" / KEY[:2] / f"{KEY}.entry"
    path.parent.mkdir(parents=True, exist_ok=True)
    for raw in (data, HEAD + sha256(data).hexdigest().encode() + b"\n" + data):
        path.write_bytes(raw)
        store.get(KEY)
    try:
        entry = json.loads(data)
    except (ValueError, RecursionError):
        return None
    try:
        return documents.outcome(entry)
    except documents.Unfit:
        return None


def readings(data: bytes) -> object:
    """A file of readings."""
    path = ROOM / "fuzz.csv"
    path.write_bytes(data)
    try:
        return readings_file.rows(str(path))
    except Unusable:
        return None


HARNESSES: dict[str, Callable[[bytes], object]] = {
    "reader": reader,
    "book": book,
    "cache": cache,
    "readings": readings,
}
NOWHERE = read_text("").problems[0].span
