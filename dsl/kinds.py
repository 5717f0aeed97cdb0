"""The kinds of device, read from ``kinds.toml``: the one place that says what a kind is."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache, cached_property
from typing import Any

from .kinds_table import TABLE
from .records import record

ALWAYS = "*"


@record
class Attr:
    """An attribute's type (see the head of kinds.toml) and its meaning."""

    key: str
    type: str
    doc: str

    @cached_property
    def choices(self) -> tuple[str, ...]:
        """The words it may be (``one of``) or be made of (``several of``)."""
        head, _, words = self.type.partition(": ")
        return tuple(words.split()) if head in ("one of", "several of") else ()

    @cached_property
    def several(self) -> bool:
        return self.type.startswith("several of: ")


@record
class Bond:
    """An internal joint of neutral and earth: present with ``flag``, closed in ``states``."""

    flag: str
    neutral: str
    earth: str
    states: str

    def closed(self, state: str) -> bool:
        return self.states in (ALWAYS, state)


@record
class Variant:
    """One form of a kind: its terminals and what it joins, gives and takes in each state."""

    name: str
    when: tuple[str, ...]
    terminals: tuple[str, ...]
    numbered: str
    poles: tuple[tuple[str, str], ...]
    joins: Mapping[str, tuple[tuple[str, str], ...]]
    gives: Mapping[str, Mapping[str, str]]
    gives_needs: Mapping[str, str]
    takes: Mapping[str, tuple[str, ...]]
    pe: tuple[str, ...]
    bonds: tuple[Bond, ...]


@record
class Kind:
    """A kind of device.  ``holds`` is its terminals' default capacity (0: any number)."""

    name: str
    doc: str
    acts: str
    letter: str
    symbol: str
    headline: Mapping[str, str]
    attrs: Mapping[str, Attr]
    flags: Mapping[str, str]
    states: tuple[str, ...]
    holds: int
    variants: tuple[Variant, ...]

    @property
    def default_state(self) -> str:
        return self.states[0] if self.states else "on"

    def variant(self, name: str) -> Variant:
        return next(v for v in self.variants if v.name == name)

    def choose(self, attrs: Mapping[str, object]) -> Variant:
        """The first variant whose conditions hold for a device's attributes and flags."""

        def holds(condition: str) -> bool:
            key, _, value = condition.partition("=")
            return key in attrs and (not value or str(attrs[key]) == value)

        return next(v for v in self.variants if all(map(holds, v.when)))


def _pairs(rows: Any) -> tuple[tuple[str, str], ...]:
    return tuple((a, b) for a, b in rows)


def _variant(row: dict[str, Any]) -> Variant:
    bonds = row.get("bonds", [row["bond"]] if "bond" in row else [])
    return Variant(
        name=row["name"],
        when=tuple(row["when"]),
        terminals=tuple(row.get("terminals", ())),
        numbered=row.get("numbered", ""),
        poles=_pairs(row.get("poles", ())),
        joins={state: _pairs(rows) for state, rows in row.get("joins", {}).items()},
        gives=row.get("gives", {}),
        gives_needs=row.get("gives_needs", {}),
        takes={state: tuple(names) for state, names in row.get("takes", {}).items()},
        pe=tuple(row.get("pe", ())),
        bonds=tuple(Bond(*bond) for bond in bonds),
    )


def _kind(name: str, rows: dict[str, Any], common: dict[str, Any]) -> Kind:
    own = rows[name]
    row = {**rows[own["like"]], **own} if "like" in own else own
    attrs = {**common["attrs"], **row.get("attrs", {})}
    return Kind(
        name=name,
        doc=row["doc"],
        acts=row["acts"],
        letter=row["letter"],
        symbol=row["symbol"],
        headline=row["headline"],
        attrs={key: Attr(key, *spec) for key, spec in attrs.items()},
        flags={**common["flags"], **row.get("flags", {})},
        states=tuple(row["states"]),
        holds=row.get("holds", 1),
        variants=tuple(_variant(v) for v in row["variants"]),
    )


@record
class Words:
    """What a statement may say: attributes, flags, and the attributes its bare units stand for."""

    noun: str
    headline: Mapping[str, str]
    attrs: Mapping[str, Attr]
    flags: Mapping[str, str]


@cache
def words(name: str) -> Words:
    """What may stand on a statement: that of a kind of device, or conductor, place, rig."""
    article = "an" if name[0] in "aeiou" else "a"
    if name in kinds():
        kind = kinds()[name]
        return Words(f"{article} {name}", kind.headline, kind.attrs, kind.flags)
    row = TABLE["statements"][name]
    attrs = {key: Attr(key, *spec) for key, spec in row["attrs"].items()}
    return Words(f"{article} {name}", row["headline"], attrs, row["flags"])


@cache
def kinds() -> Mapping[str, Kind]:
    """All kinds by name, in the table's order."""
    common = TABLE["common"]
    return {name: _kind(name, TABLE["kinds"], common) for name in TABLE["kinds"]}
