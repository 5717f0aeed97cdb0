"""What changes from one rig to another as lines for people, by panel and place.

    for title, some in grouped(lines(old, new, changes)): ...

Every output of a comparison takes its words from here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import groupby
from typing import NamedTuple

from ..dsl.changes import LABEL, Added, Change, Changed, Removed, Renamed, Replaced, Turned
from ..dsl.kinds import kinds, words
from ..dsl.model import Rig
from ..dsl.names import FLIPPED
from ..dsl.things import (
    ACCEPT,
    DEVICE,
    MODE,
    PANEL,
    PLACE,
    REVISION,
    RIG,
    RUN,
    Fact,
    Key,
    Spot,
    Thing,
    default_state,
    is_end,
    things,
)

TITLES = {
    RIG: "The whole rig",
    REVISION: "Revisions",
    PLACE: "Places and routes",
    MODE: "Modes",
    ACCEPT: "Accepted findings",
}
NOWHERE = "No place said"
UNSAID = "not said"
FINE_PRINT = (
    "clamp", "torque", "holds", "stud", "strip", "stack", "maker", "order", "terminals", "screw",
    "plate", "loop", "spring", "uses", "demand", "ip", "box", "enclosure", "efficiency", "priority",
)  # fmt: skip
"""Attributes left out where a whole device is told: they say how it is wired, not what it is."""


class Line(NamedTuple):
    """One change: what happens to what, and what was and is; ``more`` is worth knowing besides.

    ``group`` is the heading it stands under; ``old`` is empty for what is added, ``new`` for what
    is removed.
    """

    group: str
    verb: str
    name: str
    label: str
    old: str
    new: str
    more: str = ""

    @property
    def said(self) -> str:
        """Old, new and more on one line."""
        arrow = f"{self.old} -> {self.new}" if self.old and self.new else self.old or self.new
        return f"{arrow} ({self.more})" if self.more else arrow


# ---- lines --------------------------------------------------------------------------------------


def lines(old: Rig, new: Rig, changes: Iterable[Change]) -> list[Line]:
    """The changes as lines, those of a panel or place together, in the order of the new text."""
    after = things(new)
    found = [_line(change, after, old, new) for change in changes]
    first = (TITLES[RIG], TITLES[REVISION], TITLES[PLACE])
    last = (NOWHERE, TITLES[MODE], TITLES[ACCEPT])
    order = list(dict.fromkeys((*first, *_headings(new), *_headings(old), *last)))
    return sorted(found, key=lambda line: order.index(line.group))


def grouped(some: Iterable[Line]) -> Iterator[tuple[str, list[Line]]]:
    """The lines by their heading."""
    for title, rows in groupby(some, key=lambda line: line.group):
        yield title, list(rows)


def _headings(rig: Rig) -> Iterator[str]:
    for place in (*rig.panels.values(), *rig.places.values()):
        yield f"{place.name} {place.label}".strip()


def _line(change: Change, after: Mapping[Key, Thing], old: Rig, new: Rig) -> Line:
    verb = change.verb
    match change:
        case Removed(thing):
            return _told(thing, old, verb, thing.name, whole(thing), "")
        case Added(thing):
            return _told(thing, new, verb, thing.name, "", whole(thing))
        case Replaced(was, thing):
            return _told(thing, new, verb, thing.name, whole(was), whole(thing))
        case Renamed(group, was, name):
            return _told(after[group, name], new, verb, name, was, name)
        case Turned(name):
            more = "written the other way round; nothing to do"
            return _told(after[RUN, name], new, verb, name, "", "", more)
        case Changed(group, _, name, fact, a, b):
            thing = after[group, name]
            if group == MODE and fact != LABEL:
                a, b = a or _usual(old, fact), b or _usual(new, fact)
                return _told(thing, new, verb, name, f"{fact} {a}", str(b))
            if group == RUN and is_end(fact):
                return _relanded(change, thing, new)
            what = "" if fact in (LABEL, "at", "size", "length") else f"{fact} "
            return _told(thing, new, verb, name, what + _value(fact, a), _value(fact, b))


def _usual(rig: Rig, device: str) -> str:
    return default_state(rig, device) or "not there"


def _relanded(change: Changed, run: Thing, rig: Rig) -> Line:
    """An end that lies elsewhere now; it stands under where it is to be landed."""
    end, slash, core = change.fact.partition("/")
    name = run.name + slash + core
    more = f"its other end: {run.facts[FLIPPED[end] + slash + core]}"
    at = str(change.new).partition(".")[0]
    return _told(run, rig, change.verb, name, str(change.old), str(change.new), more, at)


def _told(
    thing: Thing, rig: Rig, verb: str, name: str, old: str, new: str, more: str = "", at: str = ""
) -> Line:
    label = "" if thing.group in (RIG, ACCEPT) else thing.label
    return Line(_heading(thing, rig, at), verb, name, label, old, new, more)


def _heading(thing: Thing, rig: Rig, at: str) -> str:
    """Where somebody goes to make the change: a panel or place, or what is of the whole rig."""
    if thing.group in TITLES:
        return TITLES[thing.group]
    where = thing.name
    if thing.group == DEVICE:
        spot = thing.facts.get("at")
        where = spot.where if isinstance(spot, Spot) else ""
    elif thing.group == RUN:
        device = rig.devices.get(at or next(end for _, end in thing.ends()).partition(".")[0])
        where = (device.panel or device.place or "") if device else ""
        where = device.name if device and device.kind == PANEL else where
    place = rig.panels.get(where) or rig.places.get(where)
    return f"{place.name} {place.label}".strip() if place else NOWHERE


def _value(fact: str, value: Fact | None) -> str:
    """A fact's value in words."""
    if value is None:
        return UNSAID
    if value is True:
        return "yes"
    if fact == LABEL:
        return f'"{value}"'
    return ",".join(value) if isinstance(value, tuple) else str(value)


# ---- a whole thing ------------------------------------------------------------------------------


def whole(thing: Thing) -> str:
    """A thing in one line: what it is, its figures, where it stands or what it joins."""
    if thing.group == RUN:
        return _whole_run(thing)
    if thing.group == MODE:
        states = ", ".join(f"{device} {state}" for device, state in thing.facts.items())
        return f"{states}; all else as usual" if states else "everything as usual"
    if thing.group == ACCEPT:
        return f"because {thing.label}"
    at = thing.facts.get("at")
    items = [thing.sort, *_items(thing)]
    return " ".join(items) + (f" at {at}" if at else "")


def _items(thing: Thing) -> Iterator[str]:
    kind = thing.sort if thing.sort in kinds() else "place"
    headline = words(kind).headline.values()
    for fact, value in thing.facts.items():
        if fact in FINE_PRINT or isinstance(value, Spot) or (fact == "ways" and kind != PANEL):
            continue
        if value is True:
            yield fact
        else:
            yield _value(fact, value) if fact in headline else f"{fact}={_value(fact, value)}"


def _whole_run(run: Thing) -> str:
    size = run.facts.get("size")
    cores = f"{run.cores}x" if run.cores else ""
    ends = list(run.ends())
    a, b = (joined([end for fact, end in ends if fact.startswith(side)]) for side in ("from", "to"))
    more = [_value(fact, value) if fact == "length" else f"{fact}={_value(fact, value)}"
            for fact, value in run.facts.items()
            if fact in ("length", "via", "status", "insulation", "type")]  # fmt: skip
    flags = [fact for fact, value in run.facts.items() if value is True]
    what = [run.sort, f"{cores}{size}" if size else "", *more, *flags]
    return f"{' '.join(filter(None, what))}, {a} to {b}"


def joined(ends: Iterable[str]) -> str:
    """Terminals as the text writes them: ``X1.(L N PE) EB.1``."""
    found = []
    for device, some in groupby(ends, key=lambda end: end.partition(".")[0]):
        terminals = [end.partition(".")[2] for end in some]
        one = terminals[0] if len(terminals) == 1 else f"({' '.join(terminals)})"
        found.append(f"{device}.{one}")
    return " ".join(found)
