"""What is fuzzed: a function of bytes for each door that a stranger's file comes in by.

A harness returns what it saw of it, or None where the input is refused; it raises where ferrule
fails.  What is a refusal is named; every other exception is a finding.
"""

from __future__ import annotations

import io
import json
import tempfile
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from hashlib import sha256
from pathlib import Path

from ferrule.checks.books.overlay import BookError, laid_over
from ferrule.checks.run import CRASHED, check_rigs
from ferrule.cli import readings_file
from ferrule.cli.errors import Unusable
from ferrule.cli.fleet import documents
from ferrule.cli.fleet.cache import HEAD, Cache
from ferrule.cli.main import dispatch
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


def checker(data: bytes) -> object:
    """A rig's text as a file, through the commands: it is checked, and told and drawn in turn.

    The digest of a text says which other commands it goes through: all would take too long.
    """
    text = cleaned(data.decode("utf-8", errors="replace"))
    reading = read_text(text, "fuzz.rig", lambda path: Problem(NOWHERE, "no file"))
    path = ROOM / "fuzz.rig"
    path.write_bytes(data)
    said = _ran(["check", str(path), "--format", "json"])
    if not reading.rigs:
        return None
    assert f'"{CRASHED}"' not in said, said[:2000]
    number, other = sha256(data).digest()[:2]
    command, *rest = TOLD[other % len(TOLD)]
    _ran([command, str(path), *rest])
    if number < SHOWN * len(MADE):
        command, *rest = MADE[number % len(MADE)]
        _ran([command, str(path), *rest, "-o", str(ROOM / "out")])
    if number < TRACED:
        for device in list(reading.rigs[-1].devices.values())[:3]:
            for terminal in device.terminals[:2]:
                _ran(["trace", str(path), f"{device.name}.{terminal.name}"])
    return reading.rigs


def _ran(argv: list[str]) -> str:
    """What a command prints; a refusal is one of its answers."""
    out = io.StringIO()
    try:
        with redirect_stdout(out), redirect_stderr(io.StringIO()):
            dispatch(argv)
    except Unusable:
        pass
    return out.getvalue()


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


TOLD = [
    ["check", "--format", "text"],
    ["check", "--format", "sarif"],
    ["check", "--format", "github"],
    ["figures", "--format", "json"],
    ["capacity"],
    ["diff", "--format", "markdown"],
    ["rework", "--format", "markdown"],
]
MADE = [
    ["draw", "--format", "svg,csv,md"],
    ["draw", "--format", "pdf", "--symbols", "ieee"],
    ["report"],
    ["diff", "--format", "svg"],
    ["rework"],
]
SHOWN = 6  # of 256 texts, for each way of drawing: one takes as long as some twenty checks
TRACED = 40  # of 256
HARNESSES: dict[str, Callable[[bytes], object]] = {
    "reader": reader,
    "checker": checker,
    "book": book,
    "cache": cache,
    "readings": readings,
}
NOWHERE = read_text("").problems[0].span
