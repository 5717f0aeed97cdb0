"""A mode in a few figures: its sources, its losses, the worst drop, the extremes of fault current.

All of them are the solution's (``solve``); nothing is worked out here but which is the worst.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from ...dsl.model import Rig
from ..solve import Case, Fault, solution
from ..tracing.trace import GROUNDED, ModeView, Stage, analyse
from .rows import load_rows, terminal_rows

DIGITS = 4
"""Significant figures: what the text says is not known more closely."""


def summaries(rigs: Iterable[Rig]) -> dict[str, dict[str, Any]]:
    """By stage and by mode; see ``findings.schema.json`` for the units of each figure."""
    return {
        stage.name: {view.name: summary(stage, view) for view in stage.modes}
        for stage in map(analyse, rigs)
    }


def summary(stage: Stage, view: ModeView) -> dict[str, Any]:
    """The figures of one mode; None where there is none, or something is not stated for it."""
    solved = solution(view)
    drops = [row.drop for row in load_rows(stage, view)]
    worst = max(drops, key=lambda drop: drop.percent, default=None)
    return {
        "sources": {
            name: {"amps": near(solved.source_amps(name)), "watts": near(solved.source_watts(name))}
            for name in view.live
        },
        "losses_watts": near(solved.losses),
        "worst_drop": worst
        and {
            "on": worst.path[2].split(".")[0],
            "from": worst.source,
            "percent": near(worst.percent),
            "volts": near(worst.volts),
        },
        "largest_fault": _told(max(_faults(view, "max"), key=lambda f: f.amps, default=None)),
        "least_fault": _told(min(_faults(view, "min"), key=lambda f: f.amps, default=None)),
    }


def _faults(view: ModeView, case: Case) -> Iterator[Fault]:
    """The faults at every live line terminal that can be worked out."""
    for row in terminal_rows(view):
        if row.role not in GROUNDED:
            for (_, own), found in row.faults.items():
                if own == case and isinstance(found, Fault):
                    yield found


def _told(fault: Fault | None) -> dict[str, Any] | None:
    if fault is None:
        return None
    return {
        "at": fault.path[0],
        "to": fault.path[1],
        "amps": near(fault.amps),
        "limited": fault.limited,
    }


def near(value: float) -> float:
    """A figure as closely as it is known."""
    return float(f"{value:.{DIGITS}g}") + 0.0
