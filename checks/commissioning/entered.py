"""What became of a sheet of readings: good, out of bounds, due again, not done.

entered(stage, rows)      rows as they stand in the file: (line, test, reading, digest)
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from ..tracing.trace import Stage
from .readings import NotUnderstood, judge, understood
from .trial import Trial, digest

GOOD, OUT, STALE, UNREAD, BLANK, MISSING, GONE = (
    "good", "out of bounds", "due again", "not understood", "not done", "not in the file", "gone",
)  # fmt: skip
FAILING = (OUT, STALE, UNREAD)
OPEN = (BLANK, MISSING)


class Written(NamedTuple):
    """A row of the file: its line, the test, what was read, the digest it was made with."""

    line: int
    test: str
    reading: str
    digest: str


class Entry(NamedTuple):
    """A test and what became of it; ``trial`` None: the rig has no such test now."""

    state: str
    test: str
    trial: Trial | None
    line: int = 0
    reading: str = ""
    why: str = ""


def entered(stage: Stage, trials: Sequence[Trial], rows: Iterable[Written]) -> list[Entry]:
    """Every test of the stage once, then what the file names besides.

    A reading whose row was made with another digest is due again, whatever it says: the circuit is
    not the one that was tested.
    """
    known = {trial.id: trial for trial in trials}
    filled: dict[str, Written] = {}
    twice: dict[str, str] = {}
    for row in rows:
        before = filled.get(row.test)
        if before is not None and before.reading and row.reading not in ("", before.reading):
            twice[row.test] = f"`{before.reading}` on line {before.line}"
        if before is None or row.reading:
            filled[row.test] = row
    found = [_entry(stage, trial, filled, twice) for trial in trials]
    return [*found, *_gone(known, filled)]


def _entry(
    stage: Stage, trial: Trial, filled: Mapping[str, Written], twice: Mapping[str, str]
) -> Entry:
    row = filled.get(trial.id)
    if row is None:
        return Entry(MISSING, trial.id, trial)
    here = (trial.id, trial, row.line, row.reading)
    if not row.reading:
        return Entry(BLANK, *here)
    if trial.id in twice:
        return Entry(UNREAD, *here, f"twice in the file: {twice[trial.id]}")
    try:
        value = understood(row.reading, trial.unit)
    except NotUnderstood as error:
        return Entry(UNREAD, *here, str(error))
    if row.digest != digest(trial, stage.rig):
        lost = "" if row.digest else "its row carries no digest; "
        return Entry(STALE, *here, f"{lost}changed since, one of: {' '.join(trial.names)}")
    why = judge(trial, value)
    return Entry(OUT if why else GOOD, *here, why)


def _gone(known: Mapping[str, Trial], filled: Mapping[str, Written]) -> Iterator[Entry]:
    for row in filled.values():
        if row.test not in known and row.reading:
            why = "this stage has no such test"
            yield Entry(GONE, row.test, None, row.line, row.reading, why)
