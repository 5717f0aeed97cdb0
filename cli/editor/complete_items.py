"""Completions among the items of a statement: attributes, flags, parts, values and units."""

from __future__ import annotations

import re
from collections.abc import Iterator

from ...dsl.kinds import Attr, Words
from ...dsl.model import Rig
from ...dsl.units import AWG, UNITS
from .offers import FIRST, FLAG, KEY, LAST, NAME, UNIT, VALUE, Offer, Offers, of_words
from .words_at import Writing

_NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?(?:/0)?")
SIZES = ("AWG", "mm2")
COUNTED = ("range", "size")


def items(known: Words, here: Writing, rig: Rig | None, kind: str) -> Offers:
    """What may come next on a statement, or into the word that is begun."""
    word = here.word
    if "=" in word:
        key, _, value = word.partition("=")
        attr = known.attrs.get(key)
        return values(attr, value, here.begun + len(key) + 1, rig) if attr else Offers(0, [])
    if word[:1].isdigit():
        return Offers(here.begun, list(_units(known, word)))
    said = {w.partition("=")[0] for w in here.said}
    offers = [*_parts(rig, kind, said)]
    offers += [Offer(f"{k}=", KEY, a.doc) for k, a in known.attrs.items() if k not in said]
    offers += [Offer(f, FLAG, doc) for f, doc in known.flags.items() if f not in said]
    return Offers(here.begun, offers)


def _parts(rig: Rig | None, kind: str, said: set[str]) -> Iterator[Offer]:
    if rig is None or said & rig.parts.keys():
        return
    for part in rig.parts.values():
        if part.kind == kind:
            figures = " ".join(str(k if v is True else v) for k, v in part.attrs.items())
            yield Offer(part.name, NAME, f"part: {figures}", rank=FIRST)


def _units(known: Words, word: str) -> Iterator[Offer]:
    """A bare number with each unit that the statement has a use for."""
    number = _NUMBER.match(word)
    if number is None:
        return
    sizes = [size for size in SIZES if size == "mm2" or number[0] in AWG]
    for base, key in known.headline.items():
        for unit in sizes if base == "size" else _like(base):
            rank = FIRST if unit in (base, *SIZES) else LAST
            yield Offer(number[0] + unit, UNIT, key, rank=rank)


def _like(base: str) -> list[str]:
    return [unit for unit, (other, _) in UNITS.items() if other == base]


def values(attr: Attr, value: str, begun: int, rig: Rig | None) -> Offers:
    """What an attribute may be; among several, the last one."""
    last = begun + value.rfind(",") + 1
    if attr.choices:
        return Offers(last if attr.several else begun, of_words(attr.choices, VALUE, attr.doc))
    if attr.key == "at":
        return _stands(value, begun, rig)
    named = _named(attr.key, rig)
    if named:
        return Offers(last, named)
    number = _NUMBER.match(value.rpartition("..")[2])
    units = SIZES if attr.type in COUNTED else _like("m" if attr.type == "lengths" else attr.type)
    if number is None:
        return Offers(begun, [])
    head = value[: len(value) - len(value.rpartition("..")[2])] + number[0]
    return Offers(begun, of_words([head + unit for unit in units], UNIT, attr.doc))


def _named(key: str, rig: Rig | None) -> list[Offer]:
    if rig is None:
        return []
    if key in ("via", "joins"):
        shelf = rig.routes if key == "via" else rig.places
        return [Offer(place.name, NAME, f"{place.kind} {place.label}") for place in shelf.values()]
    entries = [d for d in rig.devices.values() if key == "entries" and d.kind == "entry"]
    return [Offer(d.name, NAME, f"entry of {d.panel}: {d.label}") for d in entries]


def _stands(value: str, begun: int, rig: Rig | None) -> Offers:
    """Places and panels; after a panel's point, its ways, the free ones first."""
    if rig is None:
        return Offers(begun, [])
    name, point, _ = value.partition(".")
    panel = rig.panels.get(name)
    if point and panel:
        taken = {w: d.name for d in rig.devices.values() if d.panel == name for w in d.ways}
        ways = [
            Offer(str(w), NAME, taken.get(w, "free"), rank=LAST if w in taken else FIRST)
            for w in range(1, panel.ways + 1)
        ]
        return Offers(begun + len(name) + 1, ways)
    panels = [Offer(p.name, NAME, f"panel {p.label}", rank=FIRST) for p in rig.panels.values()]
    places = [Offer(p.name, NAME, f"place {p.label}") for p in rig.places.values()]
    return Offers(begun, [*panels, *places])
