"""A plan of rework as lines for the bench: job by job, what to isolate, lift, lay, land, test.

    for section in sections(plan): section.title, section.lines

Every output of a work order takes its lines from here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from functools import cached_property
from typing import NamedTuple

from ..checks.consequences import due
from ..checks.rework import Job, Live, Plan
from ..checks.trace import Stage, analyse
from ..dsl.changes import Added, Change, Changed, Removed, Replaced
from ..dsl.model import Conductor, End, Rig
from ..dsl.things import DEVICE, PANEL, RUN, is_end
from .change_rows import whole
from .change_work import crowded, reprint
from .ends import NONE, preparation
from .schedule_bill import schedule as bill
from .schedule_commissioning import number
from .schedule_cuts import pieces
from .wiring import natural, place_name

NEW_RUN = ("size", "length", "insulation", "type", "solid", "tinned", "fine", "cord")
"""Facts of a conductor that make it another piece of cable; a shorter one is cut back."""


class Line(NamedTuple):
    """One thing to do: at which terminal, with which conductor, its marker and how it is made."""

    do: str
    what: str
    at: str = ""
    marker: str = ""
    made: str = ""
    where: str = ""


class Section(NamedTuple):
    """Lines under a heading; ``job`` is its number, 0 for what concerns all of them."""

    job: int
    title: str
    lines: tuple[Line, ...]


def sections(plan: Plan) -> list[Section]:
    """The whole work order: each job's work, then what is needed, tested and printed anew."""
    found = [s for n, job in enumerate(plan.jobs, 1) for s in _Job(plan, n, job).sections()]
    found += [s for s in _closing(plan) if s.lines]
    return found


# ---- one job ------------------------------------------------------------------------------------


class _Job:
    """A job with the rigs before and after it traced."""

    def __init__(self, plan: Plan, index: int, job: Job) -> None:
        self.plan, self.index, self.job = plan, index, job
        self.runs = _by_run(job.changes)

    @cached_property
    def after(self) -> Stage:
        return analyse(self.job.after)

    def sections(self) -> Iterator[Section]:
        heading = f"Job {self.index} of {len(self.plan.jobs)}"
        for title, lines in (
            ("isolate and prove dead", self._isolate()),
            ("lift and take out", self._out()),
            ("fit and set", self._devices()),
            ("cut and lay", self._lay()),
            ("prepare and land", self._land()),
            ("before power comes back", self._stop()),
        ):
            found = tuple(lines)
            if found:
                yield Section(self.index, f"{heading}: {title}", found)

    def _isolate(self) -> Iterator[Line]:
        if not self.job.isolate:
            yield Line("nothing live", "no source reaches this work; prove it all the same")
        for live in self.job.isolate:
            kind = _kind(self.plan, live.source)
            modes = f"live in {', '.join(live.modes)}"
            inside = f"; inside {', '.join(live.panels)}" if live.panels else ""
            yield Line("isolate", f"{live.source}, {kind}", where=f"{modes}{inside}")
            yield from _prove(live)

    def _out(self) -> Iterator[Line]:
        """Ends off their terminals, then cables out, then devices."""
        rig = self.job.before
        for name, changes in self.runs.items():
            for conductor in _cores(rig, name):
                ends = _lifted(conductor, changes)
                yield from (self._lift(rig, conductor, end) for end in ends)
        for name, changes in self.runs.items():
            if any(isinstance(c, Removed | Replaced) for c in changes) or _is_new_piece(changes):
                yield Line("pull out", name, where=_way(rig, name))
        for change in self.job.changes:
            if change.group in (DEVICE, PANEL) and isinstance(change, Removed | Replaced):
                yield Line("take out", change.name, where=place_name(rig, change.name))

    def _lift(self, rig: Rig, conductor: Conductor, end: End) -> Line:
        return Line("lift", conductor.name, end.name, where=place_name(rig, end.device))

    def _devices(self) -> Iterator[Line]:
        rig = self.job.after
        for change in self.job.changes:
            if change.group not in (DEVICE, PANEL):
                continue
            where = place_name(rig, change.name)
            match change:
                case Added(thing) | Replaced(_, thing):
                    what = f"{change.name}  {thing.label}"
                    yield Line("fit", what, made=whole(thing), where=where)
                case Changed(fact=fact, old=old, new=new):
                    said = f"{fact} from {old} to {new}" if old is not None else f"{fact} {new}"
                    yield Line("set or exchange", change.name, made=said, where=where)

    def _lay(self) -> Iterator[Line]:
        cut = {piece.name: piece for piece in pieces(self.after)}
        for name, changes in self.runs.items():
            if not _is_laid(changes) or name not in cut:
                continue
            piece = cut[name]
            made = f"cut {piece.cut_m:.2f} m of {piece.reel}"
            yield Line("cut and lay", name, made=made, where=_way(self.job.after, name))

    def _land(self) -> Iterator[Line]:
        """Ends by place and terminal, what is farthest from a source first."""
        rig = self.job.after
        lines = [
            self._landing(rig, conductor, end)
            for name, changes in self.runs.items()
            for conductor in _cores(rig, name)
            for end in _landed(conductor, changes)
        ]
        live = {point.terminal for each in self.job.isolate for point in each.points}
        lines.sort(key=lambda line: (line.at in live, line.where, natural(line.at)))
        yield from lines

    def _landing(self, rig: Rig, conductor: Conductor, end: End) -> Line:
        device = rig.devices.get(end.device)
        terminal = device.terminal(end.terminal) if device else None
        far = conductor.b if end is conductor.a else conductor.a
        made = str(preparation(conductor, device, end.terminal))
        if terminal is not None and terminal.torque is not None:
            made = f"{made}; {terminal.torque.value:g} N·m"
        marker = "" if conductor.kind == "link" else f"{_colon(end)} to {_colon(far)}"
        shown = "" if made == NONE else made
        return Line("land", conductor.name, end.name, marker, shown, place_name(rig, end.device))

    def _stop(self) -> Iterator[Line]:
        """What holds at the end of the job, where the builder may stop."""
        last = self.index == len(self.plan.jobs)
        if self.job.off:
            yield Line("leave off or open", ", ".join(self.job.off))
        for finding in self.job.wrong:
            yield Line("not safe yet", f"{finding.rule} {finding.message}")
        if not self.job.wrong and not last:
            yield Line("may stop here", "checked in every mode it can be run in now: no new error")


def _prove(live: Live) -> Iterator[Line]:
    for point in live.points:
        volts = "" if point.volts is None else f"{point.volts:.4g} V while live"
        yield Line("prove dead", point.role, point.terminal, made=f"{volts}, mode {point.mode}")


def _kind(plan: Plan, name: str) -> str:
    device = plan.new.devices.get(name) or plan.old.devices[name]
    return f"{device.kind} {device.label}".strip()


def _by_run(changes: Iterable[Change]) -> dict[str, list[Change]]:
    found: dict[str, list[Change]] = {}
    for change in changes:
        if change.group == RUN:
            found.setdefault(change.name, []).append(change)
    return dict(sorted(found.items(), key=lambda item: natural(item[0])))


def _cores(rig: Rig, name: str) -> list[Conductor]:
    cable = rig.cables.get(name)
    names = cable.cores if cable else (name,)
    return [rig.conductors[core] for core in names if core in rig.conductors]


def _is_new_piece(changes: Iterable[Change]) -> bool:
    """Whether the old piece of cable cannot serve: another size or make, or longer."""
    return any(isinstance(c, Changed) and c.fact in NEW_RUN and c.verb != "shortened"
               for c in changes)  # fmt: skip


def _is_laid(changes: list[Change]) -> bool:
    return any(isinstance(c, Added | Replaced) for c in changes) or _is_new_piece(changes)


def _moved_ends(conductor: Conductor, changes: Iterable[Change]) -> list[End]:
    """The ends whose terminal changes, as this conductor has them."""
    facts = {c.fact for c in changes if isinstance(c, Changed) and is_end(c.fact)}
    core = f"/{conductor.core}" if conductor.cable else ""
    pairs = ((f"from{core}", conductor.a), (f"to{core}", conductor.b))
    return [end for fact, end in pairs if fact in facts]


def _lifted(conductor: Conductor, changes: list[Change]) -> list[End]:
    gone = any(isinstance(c, Removed | Replaced) for c in changes) or _is_new_piece(changes)
    return [conductor.a, conductor.b] if gone else _moved_ends(conductor, changes)


def _landed(conductor: Conductor, changes: list[Change]) -> list[End]:
    whole_run = _is_laid(changes)
    return [conductor.a, conductor.b] if whole_run else _moved_ends(conductor, changes)


def _way(rig: Rig, name: str) -> str:
    """From where to where a run goes, and along what."""
    cores = _cores(rig, name)
    if not cores:
        return ""
    ends = dict.fromkeys(place_name(rig, e.device) for e in (cores[0].a, cores[0].b))
    via = f" via {', '.join(cores[0].via)}" if cores[0].via else ""
    return " to ".join(filter(None, ends)) + via


def _colon(end: End) -> str:
    """A terminal's designation as on a marker (IEC 61666)."""
    return f"{end.device}:{end.terminal}"


# ---- all jobs together --------------------------------------------------------------------------


def _closing(plan: Plan) -> Iterator[Section]:
    old, new = analyse(plan.old), analyse(plan.new)
    needed, freed = _materials(old, new)
    yield Section(0, "Material needed", tuple(needed))
    yield Section(0, "Material freed", tuple(freed))
    yield Section(0, "Tests due", tuple(_tests(old, new)))
    yield Section(0, "Mark and print anew", tuple(_labels(plan)))


def _materials(old: Stage, new: Stage) -> tuple[list[Line], list[Line]]:
    """What the new bill has more of than the old one, and what less."""
    before, after = _bill(old), _bill(new)
    units = {**before[1], **after[1]}
    needed, freed = [], []
    for key in {**after[0], **before[0]}:
        more = round(after[0][key] - before[0][key], 2)
        many = f"{abs(more):g} {units[key]}"
        if more > 0:
            needed.append(Line("get", " ".join(key), made=many))
        elif more < 0:
            freed.append(Line("keep", " ".join(key), made=many))
    return needed, freed


def _bill(stage: Stage) -> tuple[Counter[tuple[str, str]], dict[tuple[str, str], str]]:
    counts: Counter[tuple[str, str]] = Counter()
    units: dict[tuple[str, str], str] = {}
    table = bill(stage)
    at = {column.heading: index for index, column in enumerate(table.columns)}
    for section in table.sections:
        for row in section.rows:
            key = (row.cells[at["Item"]], row.cells[at["Description"]])
            counts[key] += float(row.cells[at["Quantity"]])  # type: ignore[assignment]
            units[key] = row.cells[at["Unit"]] or "pieces"
    return counts, units


def _tests(old: Stage, new: Stage) -> Iterator[Line]:
    for each in due(old, new):
        trial = each.trial
        bounds = " to ".join(filter(None, (number(trial.low), number(trial.high))))
        expected = f"{number(trial.expected)} {trial.unit}" if trial.expected is not None else ""
        within = f"within {bounds} {trial.unit}" if bounds else ""
        made = "; ".join(filter(None, (expected, within)))
        word = "test" if each.fresh else "test again"
        yield Line(word, trial.id, trial.where, made=made, where=f"{each.step}: {trial.task}")


def _labels(plan: Plan) -> Iterator[Line]:
    changes = (*plan.paper, *(c for job in plan.jobs for c in job.changes))
    for row in reprint(plan.old, plan.new, changes):
        yield Line(row.task, ", ".join(row.names))
    for row in crowded(plan.old, plan.new):
        yield Line("now shared", row.task, made=", ".join(row.names))
