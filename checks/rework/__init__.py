"""A change as work at the bench, in an order that is safe wherever the builder stops for the night.

    plan = rework(old, new)
    for job in plan.jobs: job.changes, job.isolate, job.after

A job is what is done in one go, dead.  After each the rig may be used: that state is checked, in
every mode it could then be run in, and an order with a state in between that is worse than both
ends is not offered while a safe one is found.
"""

from __future__ import annotations

from typing import NamedTuple

from ...dsl.changes import Change
from ...dsl.compare import compare
from ...dsl.model import Rig
from ..findings import Finding
from ..trace import analyse
from .isolate import Live, live
from .jobs import jobs_of, on_paper
from .order import Stop, ordered
from .states import States

__all__ = ["Job", "Live", "Plan", "rework"]


class Job(NamedTuple):
    """Work done in one go: its changes, what is live there before it, and the rig after it.

    ``wrong``: what that state is blamed for and neither end of the change is; empty: it is safe.
    ``off``: new devices that must stay off or open until the last job is done.
    """

    changes: tuple[Change, ...]
    isolate: tuple[Live, ...]
    before: Rig
    after: Rig
    wrong: tuple[Finding, ...]
    off: tuple[str, ...]


class Plan(NamedTuple):
    """All jobs in order; ``paper`` are changes of names and words alone; ``tried`` states."""

    old: Rig
    new: Rig
    jobs: tuple[Job, ...]
    paper: tuple[Change, ...]
    tried: int

    @property
    def safe(self) -> bool:
        """Whether the rig is safe after every job."""
        return not any(job.wrong for job in self.jobs)


def rework(old: Rig, new: Rig) -> Plan:
    """The change of one rig into another as jobs in a safe order."""
    changes = compare(old, new)
    paper = tuple(change for change in changes if on_paper(change))
    states = States(old, new, changes, jobs_of(changes))
    stops = ordered(states)
    found = tuple(_job(old, states, stops, index) for index in range(len(stops)))
    return Plan(old, new, found, paper, states.tried)


def _job(old: Rig, states: States, stops: list[Stop], index: int) -> Job:
    stop = stops[index]
    before = states.rig(stops[index - 1].done) if index else old
    last = index + 1 == len(stops)
    after = states.new if last else states.rig(stop.done)
    isolate = live(analyse(before), analyse(after), stop.changes)
    off = () if last else states.kept_off(stop.done)
    return Job(stop.changes, isolate, before, after, stop.wrong, off)
