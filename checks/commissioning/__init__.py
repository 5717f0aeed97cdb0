"""What to test before a rig is used, in the order of its rule book, with the figures to expect.

    for step in commissioning(stage): ...     step.title, step.trials

Every figure is the book's, the solution's or the text's; what no standard fixes is told as common
practice.  ``digest`` tells later whether a test is due again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from typing import NamedTuple

from ..tracing.trace import Stage
from .bonds import bonds
from .data import clause, tables
from .earth import earth
from .inspection import inspection
from .insulation import insulated
from .loop import loops
from .residual import residual
from .trial import YES, Trial, digest, tidy
from .working import batteries, drops, phases, polarity, working

__all__ = ["YES", "Step", "Trial", "commissioning", "digest"]

MAKERS: Mapping[str, Callable[[Stage], Iterator[Trial]]] = {
    "inspection": inspection,
    "earth": earth,
    "insulation": insulated,
    "battery": batteries,
    "polarity": polarity,
    "bonds": bonds,
    "loop": loops,
    "residual": residual,
    "phases": phases,
    "working": working,
    "drop": drops,
}


class Step(NamedTuple):
    """One kind of test: what to mind, whose clause it is, and its trials."""

    key: str
    title: str
    note: str
    clause: str
    trials: tuple[Trial, ...]


@lru_cache(maxsize=16)
def commissioning(stage: Stage) -> tuple[Step, ...]:
    """The steps that the rig needs, in the order of its rule book."""
    name = stage.book.name
    rows = tables()["steps"]
    steps = []
    for key in tables()["order"][name]:
        trials = tuple(map(tidy, MAKERS[key](stage)))
        steps.append(Step(key, rows[key]["title"], rows[key]["note"], clause(key, name), trials))
    return tuple(step for step in steps if step.trials)
