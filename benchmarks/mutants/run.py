"""Seeds mutants, asks oracle and checker, and counts."""

from __future__ import annotations

import argparse
from collections import Counter
from dataclasses import dataclass, field
from random import Random

from ferrule.checks.run import check_rigs
from ferrule.dsl.model import Rig
from ferrule.dsl.reader import read_text

from . import device_operators  # noqa: F401  (enters its operators)
from .operators import OPERATORS
from .oracle import faults
from .rigs import any_rig, written
from .statements import Text


@dataclass
class Count:
    """What became of one operator's mutants."""

    tried: int = 0
    refused: int = 0
    faulty: int = 0
    caught: int = 0
    undecided: int = 0
    told: int = 0
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
    wrongly: list[str] = field(default_factory=list)


def mutant(seed: int, files: dict[str, str], names: list[str]) -> Mutant | None:
    """The mutant of a number; None where its operator does not apply to its rig."""
    random = Random(seed)
    rig, text = any_rig(random, files)
    name = names[seed % len(names)]
    altered = Text(text)
    if not OPERATORS[name](altered, random):
        return None
    return Mutant(rig, name, seed, altered.text())


def told(rigs: tuple[Rig, ...]) -> list[str]:
    """Errors and warnings of the checker, each with what it is about."""
    found = check_rigs(rigs).findings
    return [f"{f.rule} {' '.join(f.on[:3])}" for f in found if f.severity != "note"]


def run(mutants: int, seed: int, keep: list[Mutant] | None = None) -> Tally:
    """So many mutants, from so many numbers on as it takes; the missed ones into ``keep``."""
    files, names = written(), sorted(OPERATORS)
    tally = Tally({name: Count() for name in names})
    seen: set[str] = set()
    number, done = seed * 10**7, 0
    while done < mutants:
        number += 1
        one = mutant(number, files, names)
        if one is None:
            continue
        done += 1
        _judge(one, tally, keep)
        _correct(one, files, seen, tally)
    return tally


def _judge(one: Mutant, tally: Tally, keep: list[Mutant] | None) -> None:
    count = tally.operators[one.operator]
    count.tried += 1
    reading = read_text(one.text)
    if reading.problems:
        count.refused += 1
        return
    really, found = faults(reading.rigs), told(reading.rigs)
    if not really:
        count.undecided += 1
        count.told += bool(found)
        return
    count.faulty += 1
    tally.classes.update(really.keys())
    if found:
        count.caught += 1
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


def table(tally: Tally) -> str:
    """The counts as a Markdown table."""
    head = ("operator", "mutants", "not readable", "faulty", "caught", "missed", "undecided",
            "of these told of")  # fmt: skip
    rows = [
        (name, c.tried, c.refused, c.faulty, c.caught, len(c.missed), c.undecided, c.told)
        for name, c in tally.operators.items()
    ]
    sums = [sum(row[i] for row in rows) for i in range(1, len(head))]
    lines = [head, ("---", *["--:"] * (len(head) - 1)), *rows, ("**all**", *sums)]
    return "\n".join("| " + " | ".join(map(str, line)) + " |" for line in lines)


def main() -> int:
    parser = argparse.ArgumentParser(prog="mutants", description=__doc__)
    parser.add_argument("--mutants", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", metavar="FOLDER", help="write missed mutants there")
    options = parser.parse_args()
    keep: list[Mutant] = []
    tally = run(options.mutants, options.seed, keep)
    print(table(tally))
    print(f"\n{tally.rigs} correct rigs, {len(tally.alarms)} false alarms")
    for name, count in tally.classes.most_common():
        print(f"- {name}: {count}")
    missed = [line for count in tally.operators.values() for line in count.missed]
    for line in (*missed, *tally.alarms, *tally.wrongly):
        print(f"! {line}")
    if options.keep:
        _write(keep, options.keep)
    return bool(missed or tally.alarms or tally.wrongly)


def _write(keep: list[Mutant], folder: str) -> None:
    from pathlib import Path

    for one in keep:
        path = Path(folder) / f"{one.operator}_{one.seed}.rig"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(one.text, encoding="utf-8")
