"""What is the same thing under another name, or the same conductor written the other way round."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from itertools import zip_longest

from .things import DEVICE, MODE, RUN, Fact, Key, Thing, is_end, sense

FLIPPED = {"from": "to", "to": "from"}
_DIGITS = re.compile(r"(\d+)")


def natural(text: str) -> tuple[object, ...]:
    """A key that sorts ``W9`` before ``W10``."""
    parts = _DIGITS.split(text)
    return (*((int(p), "") if n % 2 else (-1, p) for n, p in enumerate(parts)), (-2, text))


def new_names(
    before: Mapping[Key, Thing], after: Mapping[Key, Thing], group: str
) -> dict[str, str]:
    """By old name, the new name of every device or conductor that only changed its name.

    A conductor is the same while its ends stay.  A device is while it stands where it stood, as
    what it was, with the same ends of the same conductors on the same terminals.
    """
    gone = [t for key, t in before.items() if key[0] == group and key not in after]
    come = [t for key, t in after.items() if key[0] == group and key not in before]
    if not gone or not come:
        return {}
    if group == RUN:
        return _pairs(_on_ends(gone), _on_ends(come))
    return _pairs(_on_devices(gone, before), _on_devices(come, after))


_Marked = dict[str, tuple[Thing, object]]


def _pairs(gone: _Marked, come: _Marked) -> dict[str, str]:
    """Old and new names of what has the same mark; of several alike, the likest first."""
    names: dict[str, str] = {}
    for exact in (True, False):
        left = [row for name, row in gone.items() if name not in names]
        free = [row for name, row in come.items() if name not in names.values()]
        olds, news = _marked(left, exact), _marked(free, exact)
        for mark in olds.keys() & news.keys():
            names |= zip(olds[mark], news[mark], strict=False)
    return names


def _marked(rows: Iterable[tuple[Thing, object]], exact: bool) -> dict[object, list[str]]:
    found: dict[object, list[str]] = {}
    for thing, mark in rows:
        whole = (mark, thing.label, _facts(thing)) if exact else mark
        if mark:
            found.setdefault(whole, []).append(thing.name)
    return {mark: sorted(names, key=natural) for mark, names in found.items()}


def _facts(thing: Thing) -> frozenset[object]:
    """The facts of a thing but for its ends."""
    return frozenset((k, sense(v)) for k, v in thing.facts.items() if not is_end(k))


def _on_ends(runs: Iterable[Thing]) -> _Marked:
    return {run.name: (run, _joined(run)) for run in runs}


def _joined(run: Thing) -> object:
    """What a conductor or cable joins, whichever way round it is written."""
    pairs = [run.facts[fact] for fact, _ in run.ends()]
    return run.sort, tuple(frozenset(pair) for pair in zip_longest(pairs[::2], pairs[1::2]))


def _on_devices(some: Iterable[Thing], there: Mapping[Key, Thing]) -> _Marked:
    """Each device with what makes it the same one; nothing lands on it: it is none's."""
    landings: dict[str, list[tuple[str, str, str]]] = {}
    for (group, name), thing in there.items():
        for fact, end in thing.ends() if group == RUN else ():
            device, _, terminal = end.partition(".")
            landings.setdefault(device, []).append((name, fact, terminal))
    return {
        thing.name: (thing, (thing.sort, _facts(thing), frozenset(landings[thing.name])))
        for thing in some
        if thing.name in landings
    }


def renamed(there: Mapping[Key, Thing], group: str, names: Mapping[str, str]) -> dict[Key, Thing]:
    """The things with some under new names, and with the new name of a device in ends and modes."""
    if not names:
        return dict(there)
    made = {}
    for thing in there.values():
        name = names.get(thing.name, thing.name) if thing.group == group else thing.name
        facts = dict(thing.facts)
        if group == DEVICE and thing.group == MODE:
            facts = {names.get(fact, fact): state for fact, state in facts.items()}
        elif group == DEVICE:
            facts |= {fact: end_on(end, names) for fact, end in thing.ends()}
        new = Thing(thing.group, thing.sort, name, thing.label, facts, thing.span)
        made[new.key] = new
    return made


def end_on(end: str, names: Mapping[str, str]) -> str:
    """An end as it reads when its device has another name."""
    device, dot, terminal = end.partition(".")
    return names.get(device, device) + dot + terminal


# ---- direction ----------------------------------------------------------------------------------


def turning(old: Thing, new: Thing) -> bool:
    """Whether more ends of a conductor stay where they were if it is read the other way round."""
    if old.group != RUN or (old.sort, old.cores) != (new.sort, new.cores):
        return False
    return _stay(turned(old), new) > _stay(old, new)


def _stay(old: Thing, new: Thing) -> int:
    return sum(old.facts.get(fact) == end for fact, end in new.ends())


def turned(run: Thing) -> Thing:
    """A conductor or cable written the other way round: its ends, and what is said of each."""
    facts: dict[str, Fact] = {}
    for fact, value in run.facts.items():
        end, slash, core = fact.partition("/")
        facts[FLIPPED.get(end, end) + slash + core] = (
            value[::-1] if fact in ("ends", "lug") and isinstance(value, tuple) else value
        )
    return Thing(run.group, run.sort, run.name, run.label, facts, run.span)
