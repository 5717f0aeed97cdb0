"""Two rigs into the changes between them, in the trade's terms.

    changes = compare(old, new)            () where both mean the same (see ``things.meaning``)
    apply(old, changes)                    a rig that means what ``new`` means
    inverse(changes)                       what ``compare(new, old)`` gives

Renamings come first and what follows speaks in new names; then what is turned round, gone, there
anew, another thing under the old name, and last each fact that is another one now.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from .changes import LABEL, ORDER, Added, Change, Changed, Removed, Renamed, Replaced, Turned
from .model import Rig
from .names import FLIPPED, end_on, natural, new_names, renamed, turned, turning
from .rebuild import rig_of
from .things import DEVICE, GROUPS, MODE, RUN, Fact, Key, Thing, is_end, sense, things


def compare(old: Rig, new: Rig) -> tuple[Change, ...]:
    """What has to change for ``old`` to mean what ``new`` means."""
    before, after = things(old), things(new)
    changes: list[Change] = []
    for group in (DEVICE, RUN):
        names = new_names(before, after, group)
        changes += [Renamed(group, a, b) for a, b in names.items()]
        before = renamed(before, group, names)
    round_ = [key for key in before if key in after and turning(before[key], after[key])]
    changes += [Turned(name) for _, name in round_]
    before |= {key: turned(before[key]) for key in round_}
    for key in {**before, **after}:
        changes += _of_thing(before.get(key), after.get(key))
    return _sorted(changes)


def _of_thing(old: Thing | None, new: Thing | None) -> Iterator[Change]:
    if old is None or new is None:
        if new is not None:
            yield Added(new)
        elif old is not None:
            yield Removed(old)
    elif (old.sort, old.cores) != (new.sort, new.cores):
        yield Replaced(old, new)
    else:
        if old.label != new.label:
            yield Changed(new.group, new.sort, new.name, LABEL, old.label, new.label)
        for fact in {**old.facts, **new.facts}:
            a, b = old.facts.get(fact), new.facts.get(fact)
            if sense(a) != sense(b):
                yield Changed(new.group, new.sort, new.name, fact, a, b)


def _sorted(changes: Iterable[Change]) -> tuple[Change, ...]:
    return tuple(sorted(changes, key=_rank))


def _rank(change: Change) -> tuple[object, ...]:
    name = change.old if isinstance(change, Renamed) else change.name
    fact = change.fact if isinstance(change, Changed) else ""
    return ORDER.index(type(change)), GROUPS.index(change.group), natural(name), natural(fact)


# ---- applying -----------------------------------------------------------------------------------


def apply(old: Rig, changes: Iterable[Change]) -> Rig:
    """The rig after some changes of it; not all of a comparison need be among them.

    Raises KeyError for a change of what is not there, and what ``things.rig_of`` raises.
    """
    there, ordered = things(old), _sorted(changes)
    for group in (DEVICE, RUN):
        names = {c.old: c.new for c in ordered if isinstance(c, Renamed) and c.group == group}
        there = renamed(there, group, names)
    for change in ordered:
        _do(there, change)
    return rig_of(there.values(), old)


def _do(there: dict[Key, Thing], change: Change) -> None:
    match change:
        case Turned(name):
            there[RUN, name] = turned(there[RUN, name])
        case Removed(thing):
            del there[thing.key]
        case Added(thing) | Replaced(_, thing):
            there[thing.key] = thing
        case Changed(group, _, name, fact, _, new):
            there[group, name] = _with(there[group, name], fact, new)


def _with(thing: Thing, fact: str, value: Fact | None) -> Thing:
    """The thing with one fact another one; None takes it away."""
    label, facts = thing.label, dict(thing.facts)
    if fact == LABEL:
        label = str(value)
    elif value is None:
        facts.pop(fact, None)
    else:
        facts[fact] = value
    return Thing(thing.group, thing.sort, thing.name, label, facts, thing.span)


# ---- the way back -------------------------------------------------------------------------------


def inverse(changes: Iterable[Change]) -> tuple[Change, ...]:
    """The changes that undo these."""
    ordered = tuple(changes)
    back = {(c.group, c.new): c.old for c in ordered if isinstance(c, Renamed)}
    round_ = {c.name for c in ordered if isinstance(c, Turned)}
    return _sorted(_undone(change, back, round_) for change in ordered)


def _undone(change: Change, back: Mapping[Key, str], round_: set[str]) -> Change:
    name = back.get((change.group, change.name), change.name)
    match change:
        case Renamed(group, old, new):
            return Renamed(group, new, old)
        case Turned():
            return Turned(name)
        case Removed(thing):
            return Added(_old_names(thing, back))
        case Added(thing):
            return Removed(_old_names(thing, back))
        case Replaced(old_thing, new_thing):
            return Replaced(_old_names(new_thing, back), _old_names(old_thing, back))
        case Changed(group, sort, _, fact, before, after):
            if group == MODE:
                fact = back.get((DEVICE, fact), fact)
            if group == RUN and is_end(fact):
                before, after = (_end_before(end, back) for end in (before, after))
            if group == RUN and change.name in round_:
                return _flipped(Changed(group, sort, name, fact, after, before))
            return Changed(group, sort, name, fact, after, before)


def _end_before(end: Fact | None, back: Mapping[Key, str]) -> Fact | None:
    """An end as it is called before the renamings."""
    devices = {new: old for (group, new), old in back.items() if group == DEVICE}
    return end_on(end, devices) if isinstance(end, str) else end


def _old_names(thing: Thing, back: Mapping[Key, str]) -> Thing:
    """A thing as it is called before the renamings."""
    devices = {new: old for (group, new), old in back.items() if group == DEVICE}
    there = renamed({thing.key: thing}, DEVICE, devices)
    runs = {new: old for (group, new), old in back.items() if group == RUN}
    return next(iter(renamed(there, RUN, runs).values()))


def _flipped(change: Changed) -> Changed:
    """A change of a conductor as it reads when the conductor is written the other way round."""
    end, slash, core = change.fact.partition("/")
    fact = FLIPPED.get(end, end) + slash + core
    old, new = (
        value[::-1] if fact in ("ends", "lug") and isinstance(value, tuple) else value
        for value in (change.old, change.new)
    )
    return Changed(change.group, change.sort, change.name, fact, old, new)
