"""The schedules of a set by the names of ``--only``: a ruled table as sheets, CSV and Markdown."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import lru_cache

from ..checks.tracing.trace import Stage
from . import (
    directory_rows,
    schedule_bill,
    schedule_commissioning,
    schedule_cuts,
    schedule_devices,
    schedule_limits,
    schedule_loads,
    schedule_probes,
    schedule_terminations,
)
from .canvas import Sheet
from .options import Options
from .schedule import Schedule, csv_text, markdown
from .schedule_sheet import sheets

SCHEDULES: Mapping[str, Callable[[Stage], Schedule]] = {
    "directory": directory_rows.schedule,
    "terminations": schedule_terminations.schedule,
    "cut-list": schedule_cuts.schedule,
    "material": schedule_bill.schedule,
    "load-list": schedule_loads.schedule,
    "limits": schedule_limits.schedule,
    "devices": schedule_devices.schedule,
    "commissioning": schedule_commissioning.schedule,
    "probes": schedule_probes.schedule,
}

# Schedules whose CSV is to be filled in and read back: a row a reading.
TO_FILL_IN: Mapping[str, Callable[[Stage], str]] = {
    "commissioning": schedule_commissioning.csv_text,
    "probes": schedule_probes.csv_text,
}


def told(stage: Stage) -> list[str]:
    """The schedules of a stage; a rig with nothing to switch or to reset has no directory."""
    return [name for name in SCHEDULES if name != "directory" or made(name, stage).sections]


@lru_cache(maxsize=32)
def made(name: str, stage: Stage) -> Schedule:
    """One schedule of a stage, worked out once for all its outputs."""
    return SCHEDULES[name](stage)


def layout_of(name: str) -> Callable[[Stage, Options], list[Sheet]]:
    """The function that draws a schedule's sheets."""

    def drawn(stage: Stage, options: Options) -> list[Sheet]:
        return sheets(made(name, stage), options)

    return drawn


def csv_of(name: str, stage: Stage) -> str:
    """A schedule as CSV."""
    own = TO_FILL_IN.get(name)
    return own(stage) if own else csv_text(made(name, stage))


def markdown_of(name: str, stage: Stage) -> str:
    """A schedule as Markdown."""
    return markdown(made(name, stage), stage.rig)
