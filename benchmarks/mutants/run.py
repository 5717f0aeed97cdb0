"""Seeds mutants, asks oracle and checker, and counts."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from random import Random

from ferrule.checks.run import check_rigs
from ferrule.dsl.model import Rig
from ferrule.dsl.reader import read_text

from . import device_operators  # noqa: F401  (enters its operators)
from .harmless import HARMLESS
from .operators import OPERATORS
from .oracle import faults
from .rigs import any_rig, written
from .statements import Text, Thing, Wire

# The rules that may tell of a class of fault; another finding is counted as a catch, and apart.
TOLD_BY = {
    "end in the air": "D01 D02",
    "terminal overfull": "D03",
    "unknown state": "S07",
    "load never live": "S06 D04 D11 D13 D14 B07 S14 S11",
    "conductor too thin": "P01 P02 P03 P17",
    "short circuit": "S15 S13 S09 S12 B12 S08 S03",
    "return joined to earth": "B04 B12 B15",
    "count of bonds": "B01 B02 B03 B09 B16",
    "sources together": "S01 S02 B05 B09 B08 S03",
    "voltages joined": "S13 S12 S04",
    "line and return crossed": "S08 S09 S15 B05 B08",
    "return lost": "B07 B08 B12 D13",
    "earth missing": "B10 B11 B13",
    "device in earth": "P05",
    "device in return alone": "P06 P20",
    "residual device on one side": "B06 B18",
    "kind of current": "P07",
    "unprotected": "P01 P03",
    "wrong voltage": "S04 P08",
    "interrupts too little": "P11",
    "load above its device": "P22",
    "voltage lost": "V01",
    "supply side reversed": "P09 P10",
    "tie too thin": "P35 P34 P36",
    "chassis untied": "B14 B15 B10 B11",
    "negative joined twice": "B15",
    "bar too small": "P13",
    "return too thin": "P17 P02",
    "live from inside": "S02 S01",
    "residual device missing": "P29",
    "one pole only": "P20",
}


CRASHED = "X01"


@dataclass
class Count:
    """What became of one operator's mutants."""

    tried: int = 0
    refused: int = 0
    faulty: int = 0
    caught: int = 0
    named: int = 0
    undecided: int = 0
    told: int = 0
    otherwise: list[str] = field(default_factory=list)
    elsewhere: list[str] = field(default_factory=list)
    silent: list[str] = field(default_factory=list)
    missed: list[str] = field(default_factory=list)


@dataclass
class Mutant:
    """A mutant: the rig it comes from, how it came about, its text."""

    rig: str
    operator: str
    seed: int
    text: str


@dataclass
class Tally:
    """Counts by operator, by class of fault, and the correct rigs that raised something."""

    operators: dict[str, Count]
    classes: Counter[str] = field(default_factory=Counter)
    rigs: int = 0
    alarms: list[str] = field(default_factory=list)
    crashes: list[str] = field(default_factory=list)
    wrongly: list[str] = field(default_factory=list)


def mutant(seed: int, files: dict[str, str], names: list[str]) -> Mutant | None:
    """The mutant of a number; None where its operator does not apply to its rig."""
    random = Random(seed)
    rig, text = any_rig(random, files)
    name = names[seed % len(names)]
    altered = Text(text)
    if not {**OPERATORS, **HARMLESS}[name](altered, random):
        return None
    return Mutant(rig, name, seed, altered.text())


def told(rigs: tuple[Rig, ...], notes: bool = False) -> list[str]:
    """What the checker finds, each rule with what it is about; ``notes`` too where asked for."""
    found = check_rigs(rigs).findings
    return [f"{f.rule} {' '.join(f.on)}" for f in found if notes or f.severity != "note"]


def run(mutants: int, seed: int, keep: list[Mutant] | None = None) -> Tally:
    """So many mutants, from so many numbers on as it takes; the missed ones into ``keep``."""
    files, names = written(), [*sorted(OPERATORS), *sorted(HARMLESS)]
    tally = Tally({name: Count() for name in names})
    seen: set[str] = set()
    number, done = seed * 10**7, 0
    while done < mutants:
        number += 1
        one = mutant(number, files, names)
        if one is None:
            continue
        done += 1
        _judge(one, files, tally, keep)
        _correct(one, files, seen, tally)
    return tally


def _harmless(
    one: Mutant, count: Count, really: dict[str, str], found: list[str], tally: Tally
) -> None:
    """A mutant that is as correct as its rig: neither oracle nor checker may say otherwise."""
    count.undecided += 1
    if found:
        count.told += 1
        tally.alarms.append(f"{one.operator} {one.seed} {one.rig}: {found}")
    if really:
        tally.wrongly.append(f"{one.operator} {one.seed} {one.rig}: {really}")


def _names(line: str) -> Iterator[str]:
    """The things a finding is about; of a core, its cable as well."""
    for word in line.split()[1:]:
        yield from (word, word.split("/")[0])


def _touched(one: Mutant, files: dict[str, str]) -> set[str]:
    """The statements that differ between a mutant and its rig, and what their ends are on."""
    _, text = any_rig(Random(one.seed), files)
    before, after = ({str(s): s for s in Text(t).all} for t in (text, one.text))
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


def _altered(one: Mutant, files: dict[str, str]) -> str:
    """The statements that a mutant has and its rig has not."""
    _, text = any_rig(Random(one.seed), files)
    before = {str(s) for s in Text(text).all}
    return " | ".join(str(s) for s in Text(one.text).all if str(s) not in before)


def _judge(one: Mutant, files: dict[str, str], tally: Tally, keep: list[Mutant] | None) -> None:
    count = tally.operators[one.operator]
    count.tried += 1
    reading = read_text(one.text)
    if reading.problems:
        count.refused += 1
        return
    really, found = faults(reading.rigs), told(reading.rigs)
    if any(line.startswith(CRASHED) for line in found):
        tally.crashes.append(f"{one.operator} {one.seed} {one.rig}: {found}")
    if one.operator in HARMLESS:
        _harmless(one, count, really, found, tally)
        return
    if not found:
        # A thing done in the wrong words may be a note; one that the correct rig has not.
        _, text = any_rig(Random(one.seed), files)
        found = sorted({*told(reading.rigs, True)} - {*told(read_text(text).rigs, True)})
    if not really:
        count.undecided += 1
        count.told += bool(found)
        if not found:
            count.silent.append(f"{one.operator} {one.seed} {one.rig}: {_altered(one, files)}")
        return
    count.faulty += 1
    tally.classes.update(really.keys())
    if found:
        count.caught += 1
        rules = {line.split()[0] for line in found}
        if _touched(one, files) & {name for line in found for name in _names(line)}:
            count.named += 1
        else:
            count.elsewhere.append(f"{one.seed} {one.rig}: {_altered(one, files)} | {found[:4]}")
        if not any(rules & set(TOLD_BY[name].split()) for name in really):
            count.otherwise.append(f"{one.seed} {one.rig}: {really} | {found[:4]}")
        return
    count.missed.append(f"{one.operator} {one.seed} {one.rig}: {really}")
    if keep is not None:
        keep.append(one)


def _correct(one: Mutant, files: dict[str, str], seen: set[str], tally: Tally) -> None:
    """The rig a mutant comes from raises nothing, nor does the oracle find anything in it."""
    if one.rig in seen:
        return
    seen.add(one.rig)
    tally.rigs += 1
    _, text = any_rig(Random(one.seed), files)
    reading = read_text(Text(text).text())
    found = [p.message for p in reading.problems] or told(reading.rigs)
    if found:
        tally.alarms.append(f"{one.rig}: {found}")
    if reading.rigs and (really := faults(reading.rigs)):
        tally.wrongly.append(f"{one.rig}: {really}")
