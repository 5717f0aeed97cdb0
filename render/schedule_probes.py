"""The probe table: what a voltmeter shows at every terminal, a column a mode."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from ..checks.commissioning.data import band, said, tables
from ..checks.figures.probes import ProbeRow, Reading, probe_rows, trials
from ..checks.tracing.trace import ModeView, Stage
from .schedule import RIGHT, Column, Row, Schedule, Section
from .schedule_commissioning import number, to_fill_in
from .wiring import natural, place_heading, place_name, rating_text

DOC = "Probe table"
MOST = 6
"""Modes side by side; more stand in tables below each other."""
NOTHING = "–"
AGAINST = ("to N", "to PE", "own")


def schedule(stage: Stage) -> Schedule:
    """Every terminal, place by place; modes beyond MOST in further sections."""
    modes = stage.modes
    groups = [modes[i : i + MOST] for i in range(0, len(modes), MOST)]
    wide = len(groups[0])
    columns = [Column("Device", bold=True), Column("Terminal", bold=True)]
    for index in range(wide):
        heading = modes[index].name if len(groups) == 1 else ""
        columns += [Column(heading, unit, RIGHT) for unit in AGAINST]
    rows = list(probe_rows(stage))
    sections = [s for i, _ in enumerate(groups) for s in _sections(stage, rows, i, wide)]
    return Schedule("Voltages to expect", DOC, tuple(columns), tuple(sections), _remarks())


def _sections(stage: Stage, rows: Sequence[ProbeRow], group: int, wide: int) -> Iterator[Section]:
    """A section a place; where there are several groups of modes, its title names them."""
    rig, first = stage.rig, group * MOST
    views = stage.modes[first : first + MOST]
    several = len(stage.modes) > MOST
    order = {place: index for index, place in enumerate([*rig.places, ""])}
    known = sorted(
        rows,
        key=lambda r: (order.get(place_name(rig, r.device.name), 999), natural(r.device.name)),
    )
    for place, found in groupby(known, key=lambda row: place_name(rig, row.device.name)):
        title = place_heading(rig, place)
        if several:
            title += f" – modes {', '.join(view.name for view in views)}"
        lines = [_row(row, views, first, wide) for row in found]
        yield Section(title, tuple(lines), _tolerance(stage))


def _row(row: ProbeRow, views: Sequence[ModeView], first: int, wide: int) -> Row:
    said_so = " ".join(filter(None, (row.device.name, rating_text(row.device))))
    texts = [said_so, _terminals(row.terminals)]
    for index in range(wide):
        read = row.readings[first + index] if index < len(views) else None
        texts += ["", "", ""] if read is None else [_volts(v) for v in _shown(read)]
    return Row(tuple(texts), f"dev-{row.device.name}")


def _shown(read: Reading) -> tuple[float | None, ...]:
    """Dead terminals show 0 once: against earth; panels that are off are not dead by day."""
    return read.volts if read.role or read.sun else (None, 0.0, None)


def _volts(value: float | None) -> str:
    return NOTHING if value is None else number(value)


def _terminals(names: Sequence[str]) -> str:
    """Names, with runs of numbers drawn together.

    >>> _terminals(("1", "2", "3", "5", "N1")), _terminals(("L", "N"))
    ('1–3 5 N1', 'L N')
    """
    runs: list[list[str]] = []
    for name in names:
        last = runs[-1][-1] if runs else ""
        if last.isdecimal() and name.isdecimal() and int(name) == int(last) + 1:
            runs[-1].append(name)
        else:
            runs.append([name])
    return " ".join("–".join((r[0], r[-1])) if len(r) > 2 else " ".join(r) for r in runs)


def _tolerance(stage: Stage) -> str:
    """What a live reading may be off the nominal volts, and where that comes from."""
    name = stage.book.name
    ac, dc = (band(name, direct) for direct in (False, True))
    by = said(tables()["volts"][name])
    return f"nominal volts; AC {_share(ac)}, DC {_share(dc)} ({by})"


def _remarks() -> tuple[str, ...]:
    return (
        "to N: neutral or DC negative of its system; to PE: earth; own: the return on the device "
        f"itself. {NOTHING}: not defined, or none there. 0 to PE alone: dead. A low-impedance "
        "tester: a voltmeter shows stray volts on a dead conductor.",
    )


def _share(bounds: tuple[float, float]) -> str:
    below, above = (100 * share for share in bounds)
    return f"±{below:g} %" if below == above else f"-{below:g} to +{above:g} %"


def csv_text(stage: Stage) -> str:
    """The table row by row, as ``ferrule enter`` takes it: one voltage a line."""
    return to_fill_in(((DOC, trial) for trial in trials(stage)), stage.rig)
