"""D: what the text declares and nothing uses, and what it leaves open."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from functools import lru_cache

from ...dsl.library import is_shipped
from ...dsl.model import Cable, Conductor, Device, Mode, Place, Rig
from ...dsl.parse import QUOTED
from ..findings import NOTE, WARNING, Related
from ..registry import Hit, rule
from ..tracing.trace import Stage

NAME = re.compile(r"[A-Za-z][A-Za-z0-9_-]*")
NO_NAMES = re.compile(QUOTED + r"|#[^\n]*")
PRACTICE = {"": "common practice, no published source"}


@lru_cache(maxsize=8)
def _words(texts: tuple[str, ...]) -> Counter[str]:
    """How often each name stands in the texts, labels and comments left out."""
    return Counter(word for text in texts for word in NAME.findall(NO_NAMES.sub(" ", text)))


def _named_elsewhere(rig: Rig, name: str) -> bool:
    """Whether any statement but its own names it: one of an earlier or later stage may use it."""
    own = tuple(text for file, text in rig.sources.items() if not is_shipped(file))
    return bool(_words(own)[name] > 1)


def _last(stage: Stage) -> bool:
    """Only the last stage can tell that nothing ever uses something."""
    return stage.name == stage.rig.stages[-1]


@rule("D07", "unused-part", WARNING, clauses=PRACTICE)
def unused_part(stage: Stage) -> Iterator[Hit]:
    """A part of the rig's own files that no device is made from.

    Why: a part that nothing uses is often one that a device was meant to use: the device then has
    other ratings than its author thinks.
    Breaks it: `part mcb20 breaker 20A` and no statement that names mcb20.
    Does not: a part of the shipped library, of which most rigs use a few; one used in any stage.
    """
    if not _last(stage):
        return
    used = {device.part for device in stage.rig.devices.values()}
    for part in stage.rig.parts.values():
        if is_shipped(part.span.file) or part.name in used:
            continue
        if not _named_elsewhere(stage.rig, part.name):
            yield Hit(
                on=(part.name,),
                span=part.span,
                message=f"no device is made from the part {part.name}",
                fix=f"name {part.name} on the device it is meant for, or take the part out",
            )


@rule("D08", "unused-place", WARNING, clauses=PRACTICE)
def unused_place(stage: Stage) -> Iterator[Hit]:
    """A place or a panel that nothing stands in, or a route that nothing runs through.

    Why: a place's temperature counts for the conductors that are in it.  One that nothing names
    counts for nothing, and the cables meant for it are judged too mildly.
    Breaks it: `route DUCT ambient=50degC`, and no cable with `via=DUCT`.
    Does not: a place that a panel stands in; a route that one cable of any stage runs through.
    """
    if not _last(stage):
        return
    rig = stage.rig
    used = {name for d in rig.devices.values() for name in (d.place, d.panel)}
    used |= {panel.place for panel in rig.panels.values()}
    used |= {name for conductor in rig.conductors.values() for name in conductor.via}
    for thing in (*rig.places.values(), *rig.routes.values(), *rig.panels.values()):
        if thing.name in used or is_shipped(thing.span.file):
            continue
        if not _named_elsewhere(rig, thing.name):
            how = "runs through" if isinstance(thing, Place) and thing.kind == "route" else "is in"
            yield Hit(
                on=(thing.name,),
                span=thing.span,
                message=f"nothing {how} {thing.name}",
                fix=f"say {'via' if how == 'runs through' else 'at'}={thing.name} on what belongs "
                "there, or take it out",
            )


@rule("D09", "unused-mode", WARNING, clauses=PRACTICE)
def unused_mode(stage: Stage) -> Iterator[Hit]:
    """A mode in which every device is in the same state as in another mode.

    Devices that a mode does not name are in their kind's first state.
    Why: one of the two does not say what its author meant, so a way the rig is run is not checked.
    Breaks it: `mode shore { SHORE=on }` and `mode away { }`: a supply is on unless it is said off.
    Does not: modes that differ in the state of one device.
    """
    seen: dict[tuple[tuple[str, str], ...], Mode] = {}
    for view in stage.modes:
        states = tuple(view.network.states.items())
        first = seen.setdefault(states, view.mode)
        if first is not view.mode:
            yield Hit(
                on=(view.name, first.name),
                span=view.mode.span,
                message=f"mode {view.name} is the same as mode {first.name}: every device is in "
                "the same state in both",
                fix=f"say in {view.name} what is off or open in it, or take one of the two out",
                related=(Related(first.span, "the other mode"),),
            )


@rule("D12", "unverified", NOTE, clauses=PRACTICE)
def unverified(stage: Stage) -> Iterator[Hit]:
    """Something the text states and nobody has looked at: an open point.

    Why: all that is derived from it is as good as the guess.
    Breaks it: `status=unverified` on a device, a conductor or a cable.
    Does not: the same after it has been looked at and the word taken out.
    """
    for thing in _statements(stage.rig):
        if thing.status == "unverified":
            yield Hit(
                on=(thing.name,),
                span=thing.span_of("status"),
                message=f"{thing.name} has not been verified",
                fix=f"look at {thing.name} on the rig, put the text right, and take "
                "status=unverified out",
            )


def _statements(rig: Rig) -> Iterator[Device | Conductor | Cable]:
    yield from rig.devices.values()
    yield from rig.cables.values()
    yield from (c for c in rig.conductors.values() if c.cable is None)
