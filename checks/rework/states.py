"""The rig between two jobs: how it is wired then, and what is wrong with it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from ...dsl.changes import Added, Change, Removed
from ...dsl.compare import apply
from ...dsl.kinds import kinds
from ...dsl.model import Device, Mode, Rig, Setting
from ...dsl.records import replace
from ...dsl.things import PLACE
from ..findings import ERROR, Finding
from ..run import check_rigs
from .jobs import ALWAYS_ON, BENCH, Bundle, on_paper

OFF = ("off", "open")
Done = frozenset[int]
"""The jobs done, by number."""
Blame = tuple[str, str]
UNFINISHED = ("D04", "D13", "S06", "S07")
"""Rules that tell of what is not finished and dead: no danger to stop at."""


class States:
    """States between two rigs by the jobs done; each is built and checked once."""

    def __init__(
        self, old: Rig, new: Rig, changes: Iterable[Change], jobs: Sequence[Bundle]
    ) -> None:
        self.names = tuple(c for c in changes if _at_once(c))
        self.old = apply(old, self.names) if self.names else old
        self.new, self.jobs = new, jobs
        self.fresh = {name for name in new.devices if name not in self.old.devices}
        self.excused = _blamed(_errors(self.old)) | _blamed(_errors(new))
        self.spots = tuple(job.spots(self.old, new) for job in jobs)
        self._wrong: dict[Done, tuple[Finding, ...]] = {}
        self._rigs: dict[Done, Rig] = {}

    @property
    def tried(self) -> int:
        """How many states in between were checked."""
        return len(self._wrong)

    def known(self, done: Done) -> bool:
        """Whether a state was checked."""
        return done in self._wrong

    def rig(self, done: Done) -> Rig:
        """The rig after some jobs, in the modes it is run in until all is done."""
        if done not in self._rigs:
            work = (change for index in sorted(done) for change in self.jobs[index].changes)
            wired = apply(self.old, work)
            modes = {mode.name: mode for mode in self._modes(wired)}
            self._rigs[done] = replace(wired, modes=modes)
        return self._rigs[done]

    def _modes(self, wired: Rig) -> Iterable[Mode]:
        """The old modes, as far as their devices are there, with what is new off."""
        off = self._off(wired)
        for mode in self.old.modes.values():
            said = tuple(s for s in mode.settings if s.device in wired.devices)
            more = tuple(Setting(device, state, mode.span) for device, state in off.items())
            yield replace(mode, settings=(*said, *more))

    def _off(self, wired: Rig) -> Mapping[str, str]:
        """New devices that can be switched off, and how that state is called."""
        found = {}
        for name in wired.devices.keys() & self.fresh:
            state = _off_state(wired.devices[name])
            if state:
                found[name] = state
        return dict(sorted(found.items()))

    def kept_off(self, done: Done) -> tuple[str, ...]:
        """The new devices that stay off until all is done."""
        return tuple(self._off(self.rig(done)))

    def wrong(self, done: Done) -> tuple[Finding, ...]:
        """The errors of a state that neither end has."""
        if done not in self._wrong:
            found = _errors(self.rig(done))
            self._wrong[done] = tuple(f for f in found if _blame(f) not in self.excused)
        return self._wrong[done]


def _at_once(change: Change) -> bool:
    """Whether a change holds in every state: words, and places that others stand in."""
    if isinstance(change, Added | Removed):
        return change.group == PLACE and isinstance(change, Added)
    return change.group == PLACE or (change.group in BENCH and on_paper(change))


def _off_state(device: Device) -> str:
    """How it is called when it is off; "" for what cannot be, however it is set down in a mode."""
    if device.kind in ALWAYS_ON:
        return ""
    states = kinds()[device.kind].states
    return next((state for state in OFF if state in states), "")


def _errors(rig: Rig) -> list[Finding]:
    """What stands against a rig, accepted or not: an author accepts an end, not what is between."""
    found = check_rigs([replace(rig, accepts=())]).findings
    return [f for f in found if f.severity == ERROR and f.rule not in UNFINISHED]


def _blamed(findings: Iterable[Finding]) -> set[Blame]:
    return {_blame(finding) for finding in findings}


def _blame(finding: Finding) -> Blame:
    return finding.rule, finding.on[0]
