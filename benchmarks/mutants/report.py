"""A run of mutants as a Markdown table, and what to look at by eye."""

from __future__ import annotations

import argparse
from pathlib import Path

from .run import Count, Mutant, Tally, run


def table(tally: Tally) -> str:
    """The counts as a Markdown table."""
    head = (
        *("operator", "mutants", "not readable", "faulty", "caught", "by name", "missed"),
        *("undecided", "of these told of"),
    )
    rows = [_row(name, count) for name, count in tally.operators.items()]
    sums = [sum(int(str(row[i])) for row in rows) for i in range(1, len(head))]
    lines = [head, ("---", *["--:"] * (len(head) - 1)), *rows, ("**all**", *sums)]
    return "\n".join("| " + " | ".join(map(str, line)) + " |" for line in lines)


def _row(name: str, c: Count) -> tuple[object, ...]:
    counts = (c.tried, c.refused, c.faulty, c.caught, c.named, len(c.missed), c.undecided, c.told)
    return name, *counts


def main() -> int:
    parser = argparse.ArgumentParser(prog="mutants", description=__doc__)
    parser.add_argument("--mutants", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", metavar="FOLDER", help="write missed mutants there")
    parser.add_argument("--review", action="store_true", help="what to look at by eye")
    options = parser.parse_args()
    keep: list[Mutant] = []
    tally = run(options.mutants, options.seed, keep)
    print(table(tally))
    print(f"\n{tally.rigs} correct rigs, {len(tally.alarms)} false alarms")
    for name, count in tally.classes.most_common():
        print(f"- {name}: {count}")
    missed = [line for count in tally.operators.values() for line in count.missed]
    for count in tally.operators.values():
        if options.review:
            print(*(f"~ {line}" for line in count.otherwise), sep="\n")
            print(*(f"? {line}" for line in count.silent), sep="\n")
            print(*(f"@ {line}" for line in count.elsewhere), sep="\n")
    for line in (*missed, *tally.alarms, *tally.crashes, *tally.wrongly):
        print(f"! {line}")
    if options.keep:
        _write(keep, options.keep)
    return bool(missed or tally.alarms or tally.crashes or tally.wrongly)


def _write(keep: list[Mutant], folder: str) -> None:
    for one in keep:
        path = Path(folder) / f"{one.operator}_{one.seed}.rig"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(one.text, encoding="utf-8")
