"""A plan of rework as lines for the bench: job by job, what to isolate, lift, lay, land, test.

    for section in sections(plan): section.title, section.lines

Every output of a work order takes its lines from here.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from ..checks.commissioning.trial import YES, Trial
from ..checks.figures.consequences import Due, due, findings
from ..checks.findings import ERROR
from ..checks.rework import Plan
from ..checks.tracing.trace import analyse
from ..dsl.changes import Renamed
from ..dsl.things import DEVICE, RUN
from .change_rows import lines as change_lines
from .change_work import crowded, reprint
from .rework_job import JobLines
from .rework_line import Line
from .rework_material import materials
from .schedule_commissioning import UNITS, number

FUNCTION = "working"
"""The step of the commissioning sheet that tries the whole rig in its modes."""
FIRST = "Mark anew first: all that follows speaks in the new names"
NOT_YET = "Do not build this yet: errors that the old text has not"
NOTHING = "Nothing to do at the bench"


class Section(NamedTuple):
    """Lines under a heading; ``job`` is its number, 0 for what concerns all of them."""

    job: int
    title: str
    lines: tuple[Line, ...]


def sections(plan: Plan) -> list[Section]:
    """The whole work order: each job's work and tests, then material, what is printed, on paper."""
    return [section for section in _sections(plan) if section.lines]


def _sections(plan: Plan) -> Iterator[Section]:
    yield Section(0, NOT_YET, tuple(_against(plan)))
    yield Section(0, FIRST, tuple(_renamed(plan)))
    if not plan.jobs:
        told = "no conductor, device or panel is another one"
        yield Section(0, NOTHING, (Line("nothing", told),))
    tests = _by_job(plan)
    for index, _ in enumerate(plan.jobs):
        job = JobLines(plan, index)
        heading = f"Job {index + 1} of {len(plan.jobs)}"
        for title, lines in (*job.work(), ("test", tests[index]), ("stop here", job.stop())):
            yield Section(index + 1, f"{heading}: {title}", tuple(lines))
    needed, freed = materials(plan)
    yield Section(0, "Material needed", tuple(needed))
    yield Section(0, "Material freed", tuple(freed))
    yield Section(0, "Print anew", tuple(_print(plan)))
    yield Section(0, "Changes on paper", tuple(_paper(plan)))


def _against(plan: Plan) -> Iterator[Line]:
    """The errors that the new rig has and the old one has not, and nobody has accepted."""
    for finding in findings(plan.old, plan.new)[0]:
        if finding.severity == ERROR and finding.accepted is None:
            yield Line(finding.rule, finding.on[0], made=finding.message)


def _renamed(plan: Plan) -> Iterator[Line]:
    for change in plan.paper:
        if isinstance(change, Renamed):
            yield Line("mark anew", change.new, made=f"was {change.old}")


# ---- tests --------------------------------------------------------------------------------------


def due_tests(plan: Plan) -> list[Due]:
    """The tests due: those that ``ferrule diff`` tells of."""
    return list(due(analyse(plan.old), analyse(plan.new)))


def _by_job(plan: Plan) -> list[list[Line]]:
    """The tests due, each after the last job that touches anything it depends on.

    How the rig works in its modes is tested when all is done.
    """
    if not plan.jobs:
        return []
    touched = [_names(plan, index) for index in range(len(plan.jobs))]
    found: list[list[Line]] = [[] for _ in plan.jobs]
    for each in due_tests(plan):
        names = each.trial.names
        after = [i for i, own in enumerate(touched) if own.intersection(names)]
        whole = each.trial.step == FUNCTION or not after
        found[-1 if whole else after[-1]].append(test_line(each))
    return found


def _names(plan: Plan, index: int) -> set[str]:
    """The devices and conductors that a job changes."""
    job = plan.jobs[index]
    names = {change.name for change in job.changes if change.group in (DEVICE, RUN)}
    cables = (rig.cables[n] for rig in (job.before, job.after) for n in names if n in rig.cables)
    return names | {core for cable in cables for core in cable.cores}


def test_line(each: Due) -> Line:
    """A test as a line: its number, where, what, and what it may read."""
    trial = each.trial
    said = [f"mode {trial.mode}" if trial.mode else "", trial.task, reading(trial)]
    made = ": ".join(filter(None, said))
    return Line("test" if each.fresh else "test again", trial.id, trial.where, made=made)


def reading(trial: Trial) -> str:
    """What a test is expected to read, and its bounds; empty where the answer is yes or no."""
    if trial.unit == YES:
        return ""
    unit = UNITS.get(trial.unit, trial.unit)
    expected = "" if trial.expected is None else f"{number(trial.expected)} {unit}"
    if trial.low == trial.high == trial.expected:
        return expected
    low = "" if trial.low is None else f"at least {number(trial.low)} {unit}"
    high = "" if trial.high is None else f"at most {number(trial.high)} {unit}"
    return ", ".join(filter(None, (expected, low, high)))


# ---- the rest -----------------------------------------------------------------------------------


def _print(plan: Plan) -> Iterator[Line]:
    for row in reprint(plan.old, plan.new, plan.changes):
        yield Line(row.task, ", ".join(row.names))
    for row in crowded(plan.old, plan.new):
        yield Line("now shared", row.task, made=f"takes {', '.join(row.names)}")


def _paper(plan: Plan) -> Iterator[Line]:
    """Modes, texts and what is known better; renamings have a section of their own."""
    rest = [change for change in plan.paper if not isinstance(change, Renamed)]
    for row in change_lines(plan.old, plan.new, rest):
        yield Line(row.verb, f"{row.name}  {row.label}".strip(), made=row.said, where=row.group)
