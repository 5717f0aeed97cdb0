"""One mutant: how it comes about from its number, what oracle and checker make of it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from random import Random

from ferrule.checks.run import check_rigs
from ferrule.dsl.model import Rig
from ferrule.dsl.reader import read_text

from . import device_operators, dress, more_operators  # noqa: F401  (enter their operators)
from .cover import said
from .harmless import HARMLESS
from .operators import OPERATORS
from .oracle import faults
from .rigs import any_rig, written
from .statements import Text, Thing, Wire

NAMES = (*sorted(OPERATORS), *sorted(HARMLESS))
ALL = {**OPERATORS, **HARMLESS}
CRASHED = "X01"


@dataclass(frozen=True)
class Mutant:
    """A mutant: its number, the rig it comes from, how it came about, both texts."""

    number: int
    rig: str
    operator: str
    before: str
    text: str


@dataclass(frozen=True)
class Outcome:
    """What became of a mutant.

    ``verdict``: ``refused`` by the reader; ``caught`` or ``missed`` where the oracle is sure;
    ``told`` or ``silent`` where it is not; a harmless one ``silent``, ``alarm`` or ``wrongly``
    (the oracle's own mistake); ``crash`` of a rule.
    """

    number: int
    rig: str
    operator: str
    verdict: str
    classes: dict[str, str]
    told: list[str]
    named: bool
    altered: str


@dataclass(frozen=True)
class Correct:
    """What is said of a correct rig: by the checker, by the oracle."""

    rig: str
    told: list[str]
    classes: dict[str, str]
    said: list[str]


def told(rigs: tuple[Rig, ...], notes: bool = False) -> list[str]:
    """What the checker finds, each rule with what it is about; ``notes`` too where asked for."""
    found = check_rigs(rigs).findings
    return [f"{f.rule} {' '.join(f.on)}" for f in found if notes or f.severity != "note"]


def mutant(number: int) -> Mutant | None:
    """The mutant of a number; None where its operator does not apply to its rig."""
    random = Random(number)
    rig, text = any_rig(random, written())
    name = NAMES[number % len(NAMES)]
    altered = Text(text)
    if not ALL[name](altered, random):
        return None
    return Mutant(number, rig, name, text, altered.text())


@cache
def correct(rig: str, text: str) -> Correct:
    """A correct rig as it stands, in the words that its mutants are written in."""
    again = Text(text).text()
    reading = read_text(again)
    problems = [p.message for p in reading.problems]
    spoken = sorted(said(again, reading.rigs))
    return Correct(rig, problems or told(reading.rigs), faults(reading.rigs), spoken)


def judge(one: Mutant) -> Outcome:
    reading = read_text(one.text)
    if reading.problems:
        return _outcome(one, "refused", {}, [])
    really, found = faults(reading.rigs), told(reading.rigs)
    if any(line.startswith(CRASHED) for line in found):
        return _outcome(one, "crash", really, found)
    if one.operator in HARMLESS:
        verdict = "alarm" if found else "wrongly" if really else "silent"
        return _outcome(one, verdict, really, found)
    if not found:
        # A thing done in the wrong words may be a note; one that the correct rig has not.
        before = told(read_text(one.before).rigs, True)
        found = sorted({*told(reading.rigs, True)} - {*before})
    if really:
        return _outcome(one, "caught" if found else "missed", really, found)
    return _outcome(one, "told" if found else "silent", really, found)


def _outcome(one: Mutant, verdict: str, really: dict[str, str], found: list[str]) -> Outcome:
    named = bool(_touched(one) & {name for line in found for name in _names(line)})
    return Outcome(
        one.number, one.rig, one.operator, verdict, really, found, named, _altered(one)
    )


def _names(line: str) -> Iterator[str]:
    """The things a finding is about; of a core, its cable as well."""
    for word in line.split()[1:]:
        yield from (word, word.split("/")[0])


def _touched(one: Mutant) -> set[str]:
    """The statements that differ between a mutant and its rig, and what their ends are on."""
    before, after = ({str(s): s for s in Text(t).all} for t in (one.before, one.text))
    found: set[str] = set()
    for words in before.keys() ^ after.keys():
        statement = before.get(words) or after.get(words)
        if isinstance(statement, Wire):
            ends = (end.split(".")[0] for end in (*statement.a, *statement.b))
            found |= {statement.name, *ends}
        elif isinstance(statement, Thing):
            found.add(statement.name)
        else:
            found |= set(re.findall(r"([\w-]+)=", words))
    return found


def _altered(one: Mutant) -> str:
    """The statements that a mutant has and its rig has not."""
    before = {str(s) for s in Text(one.before).all}
    return " | ".join(str(s) for s in Text(one.text).all if str(s) not in before)
