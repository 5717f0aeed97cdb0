"""The commissioning sheet: every test with its figures, and room to write the reading in."""

from __future__ import annotations

from collections.abc import Iterable
from math import isinf

from ..checks.commissioning import YES, Step, Trial, commissioning, digest
from ..checks.commissioning.trial import places
from ..checks.tracing.trace import Stage
from ..dsl.model import Rig
from .schedule import ASIDE, RIGHT, Column, Row, Schedule, Section
from .texts import written

DOC = "Commissioning sheet"
TALL = 6.6
"""Height of a row in mm: what a pencil on a knee can write in."""
COLUMNS = (
    Column("Test", bold=True),
    Column("Mode"),
    Column("Where"),
    Column("What"),
    Column("Expected", fill=RIGHT),
    Column("At least", fill=RIGHT),
    Column("At most", fill=RIGHT),
    Column("Unit"),
    Column("Reading", least=24.0),
    Column("Date", least=18.0),
    Column("Initials", least=11.0),
    Column("Instrument", least=17.0),
    Column("Basis", fill=ASIDE),
    Column("Depends on", fill=ASIDE),
    Column("Digest", fill=ASIDE),
)
READING = "reading"
REMARKS = (
    "OL: over range, no joint. Yes or no where no unit stands. A test that fails is repeated when "
    "mended, with every earlier test that the mending may have changed.",
    "Basis of each figure: commissioning.csv. Type the readings into it; `ferrule enter` says what "
    "is out of bounds, missing, or due again since the rig changed.",
)
UNITS = {"ohm": "Ω", "Mohm": "MΩ"}


def schedule(stage: Stage) -> Schedule:
    """All tests in the order of the rule book."""
    sections = tuple(_section(step, stage.rig) for step in commissioning(stage))
    return Schedule("Commissioning", DOC, COLUMNS, sections, REMARKS, tall=TALL)


def _section(step: Step, rig: Rig) -> Section:
    rows = tuple(Row(cells(trial, rig), _subject(trial, rig)) for trial in step.trials)
    return Section(step.title, rows, " ".join(filter(None, (step.note, f"({step.clause})"))))


def cells(trial: Trial, rig: Rig) -> tuple[str, ...]:
    """A test as a row of COLUMNS, nothing read yet."""
    expected = "yes" if trial.unit == YES else number(trial.expected)
    exact = trial.low == trial.high == trial.expected
    low, high = ("", "") if exact else (number(trial.low), number(trial.high))
    return (
        trial.id, trial.mode, trial.where, trial.task, expected, low, high,
        UNITS.get(trial.unit, trial.unit), "", "", "", "", trial.basis,
        " ".join(sorted(trial.names)), digest(trial, rig),
    )  # fmt: skip


def to_fill_in(rows: Iterable[tuple[str, Trial]], rig: Rig) -> str:
    """Tests as CSV, each with its group: what ``ferrule enter`` reads back."""
    head = ("group", *(column.title.lower() for column in COLUMNS))
    return written([head, *((group, *cells(trial, rig)) for group, trial in rows)])


def csv_text(stage: Stage) -> str:
    """The whole sheet as CSV."""
    steps = commissioning(stage)
    return to_fill_in(((step.title, trial) for step in steps for trial in step.trials), stage.rig)


def number(value: float | None) -> str:
    """A figure as an instrument shows it.

    >>> number(0.02594), number(0.004), number(25000.0), number(0.5), number(float("inf"))
    ('0.03', '<0.01', '25000', '0.5', 'OL')
    """
    if value is None:
        return ""
    if isinf(value):
        return "OL"
    if 0 < value < 0.005:
        return "<0.01"
    if value == round(value):
        return f"{value:.0f}"
    one = abs(value * 10 - round(value * 10)) < 1e-9
    return f"{value:.{1 if one else places(value)}f}"


def _subject(trial: Trial, rig: Rig) -> str:
    """What a row is about, where that is one device: the sheets link to it."""
    name = trial.where.partition(":")[0].partition(" ")[0].partition(".")[0]
    return f"dev-{name}" if name in rig.devices else f"test-{trial.id}"
