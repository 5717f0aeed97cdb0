"""A conflict of two versions of a statement in words: which terminal, which figure, whose."""

from __future__ import annotations

import re
from collections.abc import Iterator

from .blocks import Item
from .conductors import ends
from .source import Statement

RUNS = ("wire", "cable", "link", "bond")
Fields = dict[str, str]  # what a statement says, by what it is about
_UNIT = re.compile(r"[0-9.,/]+(x?)[0-9.,/]*(.*)")


def told(was: Item | None, ours: Item | None, theirs: Item | None) -> list[str]:
    """What two sides disagree on, a line each; ``was`` is what they started from."""
    here = ours or theirs or was
    assert here is not None
    name = _name(here.statement)
    if ours is None or theirs is None:
        return [_taken_out(name, was, ours, theirs)]
    if ours.statement.word != theirs.statement.word:
        kinds = f"ours is a {ours.statement.word}, theirs a {theirs.statement.word}"
        return [f"{name}: {kinds}: one of them needs another name"]
    old, mine, its = (_fields(item) for item in (was, ours, theirs))
    lines = list(_both_changed(name, old, mine, its)) or list(_each_changed(name, old, mine, its))
    return lines or [f"{name}: ours and theirs differ in their comments or in the order of words"]


def _name(statement: Statement) -> str:
    if statement.word in ("rig", "rules", "ambient", "use", "remove"):
        return statement.word
    if statement.word == "move":
        return str(statement.tokens[1])
    if statement.word in ("mode", "stage", "part", "place", "route", "change", "revision"):
        return f"{statement.word} {statement.name}"
    if statement.word == "accept":
        return " ".join(str(token) for token in statement.tokens[:4])
    return str(statement.name)


def _taken_out(name: str, was: Item | None, ours: Item | None, theirs: Item | None) -> str:
    """One side took out what the other changed."""
    who, other = ("ours", "theirs") if ours is None else ("theirs", "ours")
    old, new = _fields(was), _fields(ours or theirs)
    changes = "; ".join(_change(key, old, new) for key in _differing(old, new))
    return f"{name}: {who} takes it out, {other} changes it: {changes or 'what is in it'}"


def _both_changed(name: str, old: Fields, mine: Fields, its: Fields) -> Iterator[str]:
    """What both changed, and not alike."""
    for key in _differing(mine, its):
        was, one, two = (fields.get(key, "") for fields in (old, mine, its))
        if was in (one, two):
            continue
        before = f" (it was {was})" if was else ""
        if _is_landing(key):
            yield f"{name}{_core(key)}: ours lands it on {one}, theirs on {two}{before}"
        else:
            what = _what(key)
            yield f"{name}: {what}ours says {one or 'nothing'}, theirs {two or 'nothing'}{before}"


def _each_changed(name: str, old: Fields, mine: Fields, its: Fields) -> Iterator[str]:
    """What each side changed by itself: different things of one statement."""
    for who, new in (("ours", mine), ("theirs", its)):
        for key in _differing(old, new):
            yield f"{name}: {who} changes {_change(key, old, new)}"


def _differing(one: Fields, two: Fields) -> list[str]:
    return [key for key in {**one, **two} if one.get(key, "") != two.get(key, "")]


def _change(key: str, old: Fields, new: Fields) -> str:
    what = f"the landing{_core(key, ' of')}: " if _is_landing(key) else _what(key)
    return f"{what}{old.get(key) or 'nothing'} to {new.get(key) or 'nothing'}"


def _is_landing(key: str) -> bool:
    return key.partition(" ")[0] in ("from", "to")


def _core(key: str, before: str = "") -> str:
    """Which core's landing a field is; "" for that of a single conductor."""
    core = key.partition(" ")[2]
    return f"{before} core {core}" if core else ""


def _what(key: str) -> str:
    """A field by its name, where what it says does not tell by itself."""
    if key == "label":
        return "the label: "
    return f"`{key}`: " if key.endswith("=") else ""


def _fields(item: Item | None) -> Fields:
    """What a statement says, by what it is about."""
    if item is None:
        return {}
    statement = item.statement
    fields: Fields = {"label": str(statement.label or "")} if statement.label else {}
    if statement.word == "rules":
        fields["book"] = str(statement.name or statement.label)
    fields |= _landings(statement)
    for word in statement.items:
        if word.type == "ATTR":
            key, _, value = word.partition("=")
            fields[f"{key}="] = value
        elif word.type == "AMOUNT":
            found = _UNIT.fullmatch(word)
            unit = found[2] if found else ""
            fields["cores" if found and found[1] else f"amount {unit}"] = str(word)
        elif word.type in ("NAME", "CORE") and word != statement.name:
            fields[f"word {word}"] = str(word)
    return fields


def _landings(statement: Statement) -> Fields:
    """The terminals that a conductor's cores, or a move, lead from and to."""
    if not statement.far:
        return {}
    sides = {"from": statement.ends, "to": statement.far}
    found: Fields = {}
    for side, tokens in sides.items():
        landed = [end.name for end in ends(statement, tokens)]
        many = statement.word == "cable"
        for core, name in enumerate(landed, 1):
            found[f"{side} {core}" if many else side] = name
    return found
