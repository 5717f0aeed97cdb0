"""A change as work at the bench, in an order that is safe wherever the builder stops for the night.

    plan = rework(old, new)
    for job in plan.jobs: job.changes, job.touch, job.live, job.after

A job is what is done in one go, dead.  After each the rig may be used as before, with what is new
off; that state is checked in all old modes, and it has no error that neither end of the change has.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from ...dsl.changes import Change, Renamed
from ...dsl.compare import apply, compare
from ...dsl.kinds import kinds
from ...dsl.model import Rig
from ..tracing.trace import UNGROUNDED, Stage, analyse
from .isolate import Isolation, Live, Point
from .jobs import jobs_of, on_paper
from .order import Stop, merged, ordered
from .states import States
from .touch import Landing, Touch, touch

PARTING = ("source", "converter", "protective", "residual", "switching")
"""What kinds do by which others are live or dead."""
__all__ = ["Job", "Landing", "Live", "Plan", "Point", "Touch", "rework"]


class Job(NamedTuple):
    """Work done in one go: its changes, what it touches, and the rig before and after it.

    ``live``: the sources that reach the work before it; ``points``: where they are proved dead.
    ``charged``: converters whose capacitors may still feed it when all is isolated.
    ``off``: new devices that are left off or open after it, until the last job is done: what opens
    or feeds a circuit, and what would run.
    """

    changes: tuple[Change, ...]
    touch: Touch
    live: tuple[Live, ...]
    points: tuple[Point, ...]
    charged: tuple[str, ...]
    before: Rig
    after: Rig
    off: tuple[str, ...]


class Plan(NamedTuple):
    """All jobs in order; ``paper`` are the changes for which nothing is done at the bench.

    ``old`` calls everything by its new name.  ``tried`` states in between were checked.
    """

    old: Rig
    new: Rig
    jobs: tuple[Job, ...]
    paper: tuple[Change, ...]
    tried: int

    @property
    def changes(self) -> tuple[Change, ...]:
        """All changes, those on paper first."""
        return (*self.paper, *(change for job in self.jobs for change in job.changes))


def rework(old: Rig, new: Rig) -> Plan:
    """The change of one rig into another as jobs in a safe order."""
    changes = compare(old, new)
    paper = tuple(change for change in changes if on_paper(change))
    names = [change for change in changes if isinstance(change, Renamed)]
    states = States(old, new, changes, jobs_of(changes, old.panels))
    stops = merged(ordered(states), states)
    found = tuple(_job(states, stops, index) for index in range(len(stops)))
    return Plan(apply(old, names) if names else old, new, found, paper, states.tried)


def _job(states: States, stops: list[Stop], index: int) -> Job:
    stop = stops[index]
    before = states.rig(stops[index - 1].done if index else frozenset())
    last = index + 1 == len(stops)
    after = states.new if last else states.rig(stop.done)
    changes = tuple(change for number in stop.taken for change in states.jobs[number].changes)
    touched = touch(before, after, changes)
    work = Isolation(analyse(before), after, touched)
    off = () if last else tuple(_matter(analyse(after), states.kept_off(stop.done)))
    return Job(changes, touched, work.live(), work.points(), work.charged(), before, after, off)


def _matter(after: Stage, names: Iterable[str]) -> Iterator[str]:
    """Of what is off, what parts or feeds others, and what is live where it stands."""
    for name in names:
        device = after.rig.devices[name]
        live = (v.role(name, t.name) in UNGROUNDED for v in after.modes for t in device.terminals)
        if kinds()[device.kind].acts in PARTING or any(live):
            yield name
