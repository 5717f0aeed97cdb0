"""What the language can say, and which of it the correct rigs say.

Walked kind by kind: forms (terminal layouts), attributes and their words, flags, states that a
mode sets, statements, books; attributes and flags of conductors, places and routes.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping

from ferrule.dsl.kinds import Attr, kinds, words
from ferrule.dsl.model import Device, Rig, Value
from ferrule.dsl.reader import read_text

STATEMENTS = (
    *("rig", "revision", "rules", "ambient", "place", "route", "panel", "entry", "part"),
    *("wire", "cable", "link", "bond", "mode", "stage", "remove", "move", "change", "accept"),
)
COMMON = "any device"


def sayable() -> set[str]:
    """Everything that the tables let a text say; ``use`` is left out, it takes a second file."""
    found = {f"statement {name}" for name in STATEMENTS}
    found |= {f"book {name}" for name in ("nfpa70", "abyc-e11", "iec60364")}
    common_attrs, common_flags = _common()
    found |= {f"{COMMON} {flag}" for flag in common_flags}
    found |= set(_spelt(COMMON, common_attrs))
    for kind in kinds().values():
        found |= {f"{kind.name} form {v.name}" for v in kind.variants}
        found |= {f"{kind.name} state {state}" for state in kind.states}
        found |= {f"{kind.name} {flag}" for flag in kind.flags if flag not in common_flags}
        own = {key: attr for key, attr in kind.attrs.items() if key not in common_attrs}
        found |= set(_spelt(kind.name, own))
    for name in ("conductor", "place"):
        found |= {f"{name} {flag}" for flag in words(name).flags}
        found |= set(_spelt(name, words(name).attrs))
    return found


def _common() -> tuple[dict[str, Attr], set[str]]:
    """What every kind takes alike."""
    all_kinds = list(kinds().values())
    keys = set.intersection(*(set(k.attrs) for k in all_kinds))
    flags = set.intersection(*(set(k.flags) for k in all_kinds))
    return {key: all_kinds[0].attrs[key] for key in keys}, flags


def _spelt(name: str, attrs: Mapping[str, Attr]) -> Iterator[str]:
    for key, attr in attrs.items():
        yield from (f"{name} {key}={word}" for word in attr.choices or ("",))


def said(text: str, rigs: tuple[Rig, ...] | None = None) -> set[str]:
    """What a rig's text says of it; ``rigs`` where it has been read."""
    found = set()
    for line in text.splitlines():
        word = re.match(r"\s*([a-z]+)\b", line)
        if word and word[1] in STATEMENTS:
            found.add(f"statement {word[1]}")
    for rig in read_text(text).rigs if rigs is None else rigs:
        found.add(f"book {rig.book}")
        for device in rig.devices.values():
            found |= set(_of_device(rig, device))
        for thing in (*rig.conductors.values(), *rig.cables.values()):
            found |= set(_of_attrs("conductor", thing.attrs, words("conductor").attrs))
        for place in rig.places.values():
            found |= set(_of_attrs("place", place.attrs, words("place").attrs))
        for route in rig.routes.values():
            found |= set(_of_attrs("place", route.attrs, words("place").attrs))
        for panel in rig.panels.values():
            found |= set() if panel.flag("metal") else {"panel form plastic"}
            found |= set(_of_attrs("panel", panel.attrs, kinds()["panel"].attrs))
    return found


def _of_device(rig: Rig, device: Device) -> Iterator[str]:
    kind = kinds()[device.kind]
    yield f"{device.kind} form {device.variant}"
    common_attrs, common_flags = _common()
    for what in _of_attrs(device.kind, device.attrs, kind.attrs):
        key = what.split(" ", 1)[1].split("=")[0]
        common = key in common_attrs or key in common_flags
        yield f"{COMMON} {what.split(' ', 1)[1]}" if common else what
    for mode in rig.modes.values():
        if kind.states:
            yield f"{device.kind} state {mode.state(device.name, kind.default_state)}"


def _of_attrs(name: str, attrs: Mapping[str, Value], known: Mapping[str, Attr]) -> Iterator[str]:
    for key, value in attrs.items():
        if key not in known:
            yield f"{name} {key}"
        elif not known[key].choices:
            yield f"{name} {key}="
        else:
            several = value if isinstance(value, tuple) else (value,)
            yield from (f"{name} {key}={one}" for one in several)


def count(texts: Iterable[str]) -> Counter[str]:
    """How many of the texts say each thing that can be said."""
    told = Counter(dict.fromkeys(sayable(), 0))
    for text in texts:
        told.update(said(text) & told.keys())
    return told
