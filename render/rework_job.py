"""One job of a rework as lines, in the order of the work: dead, off, out, in, on, shut."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

from ..checks.rework import Landing, Live, Plan, Point
from ..checks.rework.jobs import ALWAYS_ON
from ..checks.rework.touch import ABSENT, is_exchanged
from ..checks.tracing.trace import GROUNDED, UNGROUNDED, Stage, analyse
from ..dsl.changes import Added, Change, Changed, Removed, Replaced
from ..dsl.kinds import kinds
from ..dsl.model import Conductor, Device, End, Rig
from ..dsl.things import DEVICE, PANEL, RUN
from .change_rows import joined, whole
from .ends import NONE, preparation
from .rework_line import Line, spot
from .rework_words import (
    BY_ITSELF,
    CAPPED,
    DISCHARGED,
    LEFT_OFF,
    NO_SOURCE,
    OPENED,
    PROVED,
    SET,
    STAYS_LIVE,
    UNLANDED,
)
from .schedule_cuts import pieces
from .schedule_terminations import torques
from .wiring import natural

Titled = tuple[str, Iterable[Line]]


class JobLines:
    """The lines of one job of a plan."""

    def __init__(self, plan: Plan, index: int) -> None:
        self.plan, self.index, self.job = plan, index, plan.jobs[index]
        self.final = analyse(plan.new)
        self.after = analyse(self.job.after)

    def work(self) -> tuple[Titled, ...]:
        """The work under its headings, in order."""
        load, source = self._landed()
        return (
            ("isolate and prove dead", self._isolate()),
            ("lift and take out", self._out()),
            ("fit, exchange, set", self._devices()),
            ("cut and lay", self._lay()),
            ("prepare, land and torque", load),
            ("land last, where power comes from", source),
        )

    # ---- dead ----

    def _isolate(self) -> Iterator[Line]:
        before, touch = self.job.before, self.job.touch
        if not (*touch.lift, *touch.land, *touch.pull, *touch.lay, *touch.opened):
            return
        if self.index and (off := self.plan.jobs[self.index - 1].off):
            yield Line("see that they are off", ", ".join(off), made="left so by the job before")
        if not self.job.live:
            yield Line("prove dead", "all that is worked on", made=NO_SOURCE)
        for live in self.job.live:
            yield Line(
                "isolate", _named(before, live.source), ", ".join(live.at), "",
                _isolating(before, live), spot(before, (*live.at, live.source)[0]),
            )  # fmt: skip
        for name in self.job.charged:
            yield Line("wait", _named(before, name), made=DISCHARGED, where=spot(before, name))
        found = sorted(self.job.points, key=lambda point: spot(before, point.device))
        for device, points in groupby(found, key=lambda point: point.device):
            yield _prove(before, device, list(points))

    # ---- off and out ----

    def _out(self) -> Iterator[Line]:
        """Ends off their terminals, then cables out, then devices."""
        before, touch = self.job.before, self.job.touch
        landed = {_key(landing) for landing in touch.land}
        ranked = sorted(touch.lift, key=self._off_first)
        ends = [self._lift(each, _key(each) in landed) for each in ranked]
        yield from _by_place(ends)
        for name in touch.pull:
            yield Line("pull out", name, made=_way(before, name))
        for change in self.job.changes:
            if change.group in (DEVICE, PANEL) and isinstance(change, Removed | Replaced):
                yield Line("take out", _named(before, change.name), where=spot(before, change.name))

    def _off_first(self, landing: Landing) -> tuple[bool, bool]:
        """A battery's ends before all other, and of them the negative."""
        always = self.job.before.devices[landing.end.device].kind in ALWAYS_ON
        return not always, always and landing.end.terminal != "-"

    def _lift(self, landing: Landing, again: bool) -> Line:
        conductor, end = landing
        goes = conductor.statement in self.job.touch.pull
        made = "" if goes else "mark, insulate" if again else UNLANDED
        marker = _marker(conductor, end)
        do = "unplug or lift" if _is_outside(self.job.before, end) else "lift"
        return Line(do, conductor.name, end.name, marker, made, spot(self.job.before, end.device))

    # ---- in ----

    def _devices(self) -> Iterator[Line]:
        found: dict[str, list[Change]] = {}
        for change in self.job.changes:
            if change.group in (DEVICE, PANEL):
                found.setdefault(change.name, []).append(change)
        lines = [self._device(name, changes) for name, changes in found.items()]
        lines += [self._other(c) for c in self.job.changes if _is_other(c)]
        return _by_place(line for line in lines if line is not None)

    def _device(self, name: str, changes: Sequence[Change]) -> Line | None:
        """What is done to one device, all that changes of it in one line."""
        rig = self.job.after
        where = spot(rig, name)
        first = changes[0]
        if isinstance(first, Added | Replaced):
            thing = first.thing if isinstance(first, Added) else first.new
            made = whole(thing) + (f"; {CAPPED}" if thing.sort in ALWAYS_ON else "")
            return Line("fit", f"{name}  {thing.label}".strip(), made=made, where=where)
        facts = [change for change in changes if isinstance(change, Changed)]
        said = "; ".join(f"{c.fact} {_said(c.old)} -> {_said(c.new)}" for c in facts)
        return Line(self._do(facts), _named(rig, name), made=said, where=where) if facts else None

    def _do(self, facts: Sequence[Changed]) -> str:
        """Exchanged for another, moved as it is, or set otherwise."""
        rig = self.job.after
        status = next((c for c in facts if c.fact == "status"), None)
        if status is not None:
            return _of_status(status)
        other = [c for c in facts if c.fact != "at"]
        if any(c.group == PANEL or is_exchanged(c, rig) for c in other):
            return "exchange"
        if len(other) < len(facts):
            return "move"
        return SET.get(rig.devices[facts[0].name].kind, "set")

    def _other(self, change: Change) -> Line:
        """A fact of a conductor that neither lays, leads nor lands it: its colour, its state."""
        assert isinstance(change, Changed)
        said = f"{change.fact} {_said(change.old)} -> {_said(change.new)}"
        do = "mark in another colour" if change.fact == "colours" else "see to"
        return Line(do, change.name, made=said)

    def _lay(self) -> Iterator[Line]:
        cut = {piece.name: piece for stage in (self.after, self.final) for piece in pieces(stage)}
        for name in self.job.touch.lay:
            way = _way(self.job.after, name)
            if name in cut:
                way = f"cut {cut[name].cut_m:.2f} m of {cut[name].reel}; {way}"
            yield Line("cut and lay" if name in cut else "fit link", name, made=way)
        for name in self.job.touch.lead:
            yield Line("lead another way", name, made=_way(self.job.after, name))

    # ---- on ----

    def _landed(self) -> tuple[list[Line], list[Line]]:
        """The ends that power does not come from, by place; then those it comes from."""
        load: list[Line] = []
        source: list[Line] = []
        ranked = sorted(self.job.touch.land, key=self._rank)
        for landing in ranked:
            line = self._landing(landing)
            (source if self._is_source_end(landing) else load).append(line)
        return list(_by_place(load)), source

    def _rank(self, landing: Landing) -> tuple[object, ...]:
        """Earth before neutral before lines; batteries last, and of them the negative."""
        role, always = self._role(landing.conductor), self._is_always_on(landing.end)
        line = 2 if role in UNGROUNDED else 1 if role in GROUNDED else 0
        return always, -line if always else line, natural(landing.end.name)

    def _role(self, conductor: Conductor) -> str:
        known = conductor.name in self.plan.new.conductors
        return (self.final if known else self.after).conductor_role(conductor.name)

    def _is_always_on(self, end: End) -> bool:
        return self.job.after.devices[end.device].kind in ALWAYS_ON

    def _is_source_end(self, landing: Landing) -> bool:
        """Whether a conductor becomes live here: on what was live before, or on a battery."""
        end = landing.end
        if self._is_always_on(end):
            return True
        return (end.device, end.terminal) in {(p.device, p.terminal) for p in self.job.points}

    def _landing(self, landing: Landing) -> Line:
        conductor, end = landing
        device = self.job.after.devices[end.device]
        terminal = device.terminal(end.terminal)
        made = str(preparation(conductor, device, end.terminal))
        tight = torques(conductor, terminal)[0] if terminal else ""
        said = "; ".join(
            filter(None, ("" if made == NONE else made, f"{tight} N·m" if tight else ""))
        )
        marker = _marker(conductor, end)
        do = "plug in or land" if _is_outside(self.job.after, end) else "land"
        return Line(do, conductor.name, end.name, marker, said, spot(self.job.after, end.device))

    # ---- shut ----

    def stop(self) -> Iterator[Line]:
        """What holds at the end of the job, where the builder may stop."""
        if self.index + 1 == len(self.plan.jobs):
            yield Line("done", "the rig is as the new text says", made="run it in its new modes")
            return
        if self.job.off:
            yield Line("leave off or open", ", ".join(self.job.off), made=LEFT_OFF)
        yield from self._running()

    def _running(self) -> Iterator[Line]:
        """In which modes the rig may be used until the next job, and what is dead in them."""
        old = analyse(self.plan.old)
        modes = [view.name for view in self.after.modes if view.live]
        if modes:
            yield Line("may be used", f"as before, in {', '.join(modes)}", made=PROVED)
        else:
            yield Line("stays off", "no source is left to run it from", made=PROVED)
        dead = sorted(_fed(old) - _fed(self.after), key=natural)
        if dead:
            yield Line("without power", ", ".join(dead), made="until a later job")


# ---- words --------------------------------------------------------------------------------------


def _named(rig: Rig, name: str) -> str:
    device = rig.devices.get(name) or rig.panels.get(name)
    return f"{name}  {device.label}".strip() if device else name


def _isolating(rig: Rig, live: Live) -> str:
    """How a source is parted from the work, and in which modes it would be live."""
    kind = rig.devices[live.source].kind
    if live.at:
        ways = dict.fromkeys(OPENED.get(rig.devices[name].kind, "open") for name in live.at)
        how = f"{', '.join(ways)}; hang a sign"
    else:
        how = STAYS_LIVE if kind == "battery" else BY_ITSELF.get(kind, "switch it off at itself")
    inside = f", inside {', '.join(live.panels)}" if live.panels else ""
    return f"{how}; live in {', '.join(live.modes)}{inside}"


def _prove(rig: Rig, device: str, points: Sequence[Point]) -> Line:
    """One line a device: its terminals, and what they carry while live."""
    at = joined(f"{device}.{point.terminal}" for point in points)
    roles = ", ".join(dict.fromkeys(point.role for point in points))
    volts = [point for point in points if point.volts is not None]
    most = max(volts, key=lambda point: point.volts or 0.0, default=None)
    said = f"{roles}; {most.volts:.4g} V while live, mode {most.mode}" if most else roles
    return Line("prove dead", _named(rig, device), at, "", said, spot(rig, device))


def _by_place(lines: Iterable[Line]) -> Iterator[Line]:
    """Lines of a panel or place together, in the order in which they first come."""
    found: dict[str, list[Line]] = {}
    for line in lines:
        found.setdefault(line.where, []).append(line)
    for some in found.values():
        yield from some


def _of_status(change: Changed) -> str:
    """What is done where a device is planned no more, out of use, or gone."""
    if change.new in ABSENT:
        return "take out"
    if change.new == "disabled":
        return "put out of use"
    return "fit" if change.old in ABSENT else "put into use"


def _is_other(change: Change) -> bool:
    """Whether a conductor's change is done by no line of lifting, laying and landing."""
    if change.group != RUN or not isinstance(change, Changed):
        return False
    return change.fact in ("colours", "status", "method", "drum", "diameter")


def _is_outside(rig: Rig, end: End) -> bool:
    """Whether an end is at what feeds the rig from outside: often a plug, not a terminal."""
    return rig.devices[end.device].kind == "supply"


def _key(landing: Landing) -> tuple[str, bool]:
    """A conductor's end, wherever it lies."""
    return landing.conductor.name, landing.end is landing.conductor.a


def _marker(conductor: Conductor, end: End) -> str:
    """The marker at an end: both terminals, the near one first (IEC 61666 designations)."""
    far = conductor.other(end)
    if conductor.kind == "link":
        return ""
    return f"{end.device}:{end.terminal} to {far.device}:{far.terminal}"


def _said(fact: object) -> str:
    if fact is None:
        return "not said"
    return "yes" if fact is True else ",".join(fact) if isinstance(fact, tuple) else str(fact)


def _way(rig: Rig, run: str) -> str:
    """From where to where a run goes, and along what."""
    cable = rig.cables.get(run)
    conductor = rig.conductors[cable.cores[0] if cable else run]
    ends = dict.fromkeys(spot(rig, end.device) for end in (conductor.a, conductor.b))
    entries = conductor.attrs.get("entries", ())
    through = [*conductor.via, *(entries if isinstance(entries, tuple) else (str(entries),))]
    return " to ".join(ends) + (
        f" through {', '.join(filter(None, through))}" if any(through) else ""
    )


def _fed(stage: Stage) -> set[str]:
    """What uses power and has it in some mode."""
    return {
        device.name
        for device in stage.rig.devices.values()
        if _uses(device) and any(_is_fed(stage, device, view.name) for view in stage.modes)
    }


def _uses(device: Device) -> bool:
    return kinds()[device.kind].acts == "load" or device.kind == "socket"


def _is_fed(stage: Stage, device: Device, mode: str) -> bool:
    view = next(view for view in stage.modes if view.name == mode)
    return any(view.role(device.name, t.name) in UNGROUNDED for t in device.terminals)
