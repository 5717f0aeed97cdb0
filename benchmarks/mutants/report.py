"""A run of mutants as a Markdown table, and what to look at by eye."""

from __future__ import annotations

import argparse
from collections import Counter
from pathlib import Path

from .classes import TOLD_BY
from .judge import HARMLESS, NAMES, Correct, Outcome, mutant
from .run import Chunk, run

HEAD = (
    *("operator", "tried", "not readable", "faulty", "caught", "by name", "missed"),
    *("undecided", "of these told of"),
)
BAD = ("missed", "alarm", "crash", "wrongly")


class Tally:
    """Outcomes by operator, classes of fault, and what was said of the correct rigs."""

    def __init__(self, chunks: list[Chunk]) -> None:
        self.outcomes = [o for one in chunks for o in one.outcomes]
        self.rigs: dict[str, Correct] = {r.rig: r for one in chunks for r in one.rigs}
        self.classes = Counter(name for o in self.outcomes for name in o.classes)

    def of(self, verdict: str) -> list[Outcome]:
        return [o for o in self.outcomes if o.verdict == verdict]

    def alarms(self) -> list[str]:
        """Correct rigs of which something is said."""
        return [f"{r.rig}: {r.told}" for r in self.rigs.values() if r.told]

    def wrongly(self) -> list[str]:
        """Correct rigs in which the oracle finds a fault."""
        return [f"{r.rig}: {r.classes}" for r in self.rigs.values() if r.classes]

    def bad(self) -> list[str]:
        """Everything that should not be."""
        of = [_line(o, f"{o.classes} {o.told}") for v in BAD for o in self.of(v)]
        return [*of, *self.alarms(), *self.wrongly()]

    def told_by(self) -> Counter[str]:
        """How many mutants each rule told of."""
        return Counter(rule for o in self.outcomes for rule in {t.split()[0] for t in o.told})


def _line(o: Outcome, more: str) -> str:
    return f"{o.verdict} {o.operator} {o.number} {o.rig}: {o.altered} | {more}"


def table(tally: Tally) -> str:
    """The counts as a Markdown table."""
    rows = [_row(name, [o for o in tally.outcomes if o.operator == name]) for name in NAMES]
    sums = [sum(int(str(row[i])) for row in rows) for i in range(1, len(HEAD))]
    lines = [HEAD, ("---", *["--:"] * (len(HEAD) - 1)), *rows, ("**all**", *sums)]
    return "\n".join("| " + " | ".join(map(str, line)) + " |" for line in lines)


def _row(name: str, outcomes: list[Outcome]) -> tuple[object, ...]:
    count = Counter(o.verdict for o in outcomes)
    surely = count["caught"] + count["missed"]
    named = sum(o.named for o in outcomes if o.verdict == "caught")
    open_ = len(outcomes) - surely - count["refused"]
    return (
        *(name, len(outcomes), count["refused"], surely, count["caught"], named),
        *(count["missed"], open_, count["told"] + count["alarm"]),
    )


def review(tally: Tally) -> list[str]:
    """What is worth a look by eye: silence, another rule than expected, another thing named."""
    found = []
    for o in tally.outcomes:
        if o.operator in HARMLESS:
            continue
        if o.verdict == "silent":
            found.append("? " + _line(o, ""))
        elif o.verdict == "caught":
            rules = {line.split()[0] for line in o.told}
            if not o.named:
                found.append("@ " + _line(o, str(o.told[:4])))
            if not any(rules & set(TOLD_BY[name].split()) for name in o.classes):
                found.append("~ " + _line(o, f"{o.classes} {o.told[:4]}"))
    return found


def main() -> int:
    parser = argparse.ArgumentParser(prog="mutants", description=__doc__)
    parser.add_argument("--mutants", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--state", type=Path, metavar="FILE", help="go on from there, and keep")
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="write what is bad there")
    parser.add_argument("--review", action="store_true", help="what to look at by eye")
    options = parser.parse_args()
    tally = Tally(run(options.mutants, options.seed, options.processes, options.state))
    print(table(tally))
    print(f"\n{len(tally.rigs)} correct rigs, {len(tally.alarms())} false alarms\n")
    for name in TOLD_BY:
        print(f"- {name}: {tally.classes[name]}")
    print("\nmutants told of by rule:", *(f"{r}:{n}" for r, n in sorted(tally.told_by().items())))
    if options.review:
        print(*review(tally), sep="\n")
    bad = tally.bad()
    print(*(f"! {line}" for line in bad), sep="\n")
    if options.keep:
        _write(tally, options.keep)
    return bool(bad)


def _write(tally: Tally, folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for verdict in BAD:
        for o in tally.of(verdict):
            one = mutant(o.number)
            assert one is not None
            path = folder / f"{verdict}_{o.operator}_{o.number}.rig"
            path.write_text(one.text, encoding="utf-8")
