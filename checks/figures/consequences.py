"""What follows electrically from a change: mode by mode, only what is another figure now.

    found = consequences(analyse(old), analyse(new))

Both stages must call a thing by the same name: ``dsl.compare.apply`` with the renamings alone
sees to that.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from typing import NamedTuple

from ...dsl.model import Rig
from ..commissioning import commissioning
from ..commissioning.trial import Trial, digest
from ..findings import Finding
from ..run import WAITING, check_rigs
from ..tracing.trace import Stage
from .effects import TOPICS, Effect, effects


class Due(NamedTuple):
    """A test that the change makes due: again, or (``fresh``) for the first time."""

    step: str
    trial: Trial
    fresh: bool


class Consequences(NamedTuple):
    """What follows from a change.

    ``gained`` and ``lost`` are findings; ``waiting`` those that are only not told while a graver
    one stands; ``kept`` how many stand as before.
    """

    effects: tuple[Effect, ...]
    gained: tuple[Finding, ...]
    lost: tuple[Finding, ...]
    waiting: tuple[Finding, ...]
    kept: int
    due: tuple[Due, ...]

    @property
    def topics(self) -> dict[str, list[Effect]]:
        """The effects by what they are about; topics without any are left out."""
        found = {topic: [e for e in self.effects if e.topic == topic] for topic in TOPICS}
        return {topic: effects for topic, effects in found.items() if effects}


def consequences(old: Stage, new: Stage) -> Consequences:
    """All that follows from the change of one stage into another."""
    gained, lost, waiting, kept = findings(old.rig, new.rig)
    return Consequences(tuple(effects(old, new)), gained, lost, waiting, kept, tuple(due(old, new)))


# ---- findings -----------------------------------------------------------------------------------

Told = tuple[tuple[Finding, ...], tuple[Finding, ...], tuple[Finding, ...], int]


def findings(old: Rig, new: Rig) -> Told:
    """The findings gained, lost and only waiting, and the number of those that stay."""
    before, after = check_rigs([old]).findings, check_rigs([new]).findings
    gained, lost = _without(after, before, _standing), _without(before, after, _cause)
    hidden = {mode for f in after if WAITING in f.why for mode in f.modes}
    waiting = tuple(f for f in lost if f.modes and hidden.issuperset(f.modes))
    lost = tuple(f for f in lost if f not in waiting)
    return gained, lost, waiting, len(after) - len(gained)


def _without(
    some: Iterable[Finding], others: Iterable[Finding], key: Callable[[Finding], object]
) -> tuple[Finding, ...]:
    """The findings that others have no match for."""
    left = Counter(map(key, others))
    found = []
    for finding in some:
        if left[key(finding)]:
            left[key(finding)] -= 1
        else:
            found.append(finding)
    return tuple(found)


def _cause(finding: Finding) -> object:
    return finding.rule, finding.on[0], finding.severity


def _standing(finding: Finding) -> object:
    """As its cause; one that is accepted is another than one that is not."""
    return _cause(finding), finding.accepted is None


# ---- tests --------------------------------------------------------------------------------------


def due(old: Stage, new: Stage) -> Iterator[Due]:
    """The tests of the new stage whose last reading says nothing any more, or that are new."""
    done = {t.id: digest(t, old.rig) for step in commissioning(old) for t in step.trials}
    for step in commissioning(new):
        for trial in step.trials:
            if trial.names and done.get(trial.id) != digest(trial, new.rig):
                yield Due(step.title, trial, trial.id not in done)
