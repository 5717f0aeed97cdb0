"""A run of mutants as a Markdown table, and what to look at by eye."""

from __future__ import annotations

import argparse
import subprocess
from collections import Counter
from pathlib import Path
from time import monotonic

from ferrule.checks.registry import rules

from .classes import TOLD_BY
from .cover import sayable
from .harmless import HARMLESS
from .judge import NAMES, Correct, Outcome, mutant
from .operators import OPERATORS
from .rigs import ROOT
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


def facts(tally: Tally, seed: int, commit: str, seconds: float) -> str:
    """What a run came to, in a few lines."""
    count = Counter(o.verdict for o in tally.outcomes)
    surely = count["caught"] + count["missed"]
    open_ = count["told"] + count["silent"]
    alike = [o for o in tally.outcomes if o.operator in HARMLESS]
    lines = (
        f"mutants tried | {len(tally.outcomes)}",
        f"operators | {len(OPERATORS)}, and {len(HARMLESS)} that change nothing",
        f"surely faulty, by the oracle | {surely}",
        f"of these caught | {count['caught']}",
        f"of these missed | {count['missed']}",
        f"undecided by the oracle | {open_ - sum(o.verdict == 'silent' for o in alike)}",
        f"not readable as a rig | {count['refused']}",
        f"correct rigs, written otherwise | {len(alike)}",
        f"false alarms on these | {count['alarm']}",
        f"correct rigs as they stand | {len(tally.rigs)}",
        f"false alarms on these | {len(tally.alarms())}",
        f"rules crashed | {count['crash']}",
        f"mistakes of the oracle in correct rigs | {count['wrongly'] + len(tally.wrongly())}",
    )
    head = f"Seed {seed}, commit {commit}, {seconds:.0f} s.\n\n| what | how many |\n| --- | --: |\n"
    return head + "\n".join(f"| {line} |" for line in lines)


def coverage(tally: Tally) -> str:
    """What the language can say and no correct rig said; rules that no mutant raised."""
    spoken = Counter(what for rig in tally.rigs.values() for what in rig.said)
    sayings = sayable()
    never = sorted(what for what in sayings if not spoken[what])
    raised = tally.told_by()
    quiet = sorted(r.code for r in rules() if not raised[r.code])
    return (
        f"The correct rigs said {len(sayings) - len(never)} of {len(sayings)} things that the "
        f"language can say (kinds, forms, attributes, flags, states, statements). Never said:\n"
        f"{', '.join(never) or 'none'}.\n\n"
        f"Mutants raised {len(rules()) - len(quiet)} of {len(rules())} rules. Never raised:\n"
        f"{', '.join(quiet) or 'none'}."
    )


def classes(tally: Tally) -> str:
    rows = [f"| {name} | {TOLD_BY[name]} | {tally.classes[name]} |" for name in TOLD_BY]
    head = "| class | told by | mutants |\n| --- | --- | --: |\n"
    return head + "\n".join(rows)


def whole(tally: Tally, seed: int, commit: str, seconds: float) -> str:
    """The result of a run as a page."""
    parts = (
        "<!-- Made by `python -m mutants --result`; run it anew, do not change this page. -->",
        "# A run of mutants",
        facts(tally, seed, commit, seconds),
        "## By operator",
        table(tally),
        "## By class of fault",
        classes(tally),
        "## What was covered",
        coverage(tally),
    )
    bad = tally.bad()
    return "\n\n".join((*parts, *(["## What is bad", *bad] if bad else []))) + "\n"


def _commit() -> str:
    asked = ("git", "-C", str(ROOT), "rev-parse", "--short", "HEAD")
    found = subprocess.run(asked, capture_output=True, text=True, check=False)
    return found.stdout.strip() or "unknown"


def main() -> int:
    parser = argparse.ArgumentParser(prog="mutants", description=__doc__)
    parser.add_argument("--mutants", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--state", type=Path, metavar="FILE", help="go on from there, and keep")
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="write what is bad there")
    parser.add_argument("--result", type=Path, metavar="FILE", help="write the page there")
    parser.add_argument("--commit", help="of the code, where it is not in its repository")
    parser.add_argument("--review", action="store_true", help="what to look at by eye")
    options = parser.parse_args()
    started = monotonic()
    tally = Tally(run(options.mutants, options.seed, options.processes, options.state))
    seconds = monotonic() - started
    page = whole(tally, options.seed, options.commit or _commit(), seconds)
    print(page)
    if options.review:
        print(*review(tally), sep="\n")
    if options.result:
        options.result.write_text(page, encoding="utf-8")
    if options.keep:
        _write(tally, options.keep)
    return bool(tally.bad())


def _write(tally: Tally, folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for verdict in BAD:
        for o in tally.of(verdict):
            one = mutant(o.number)
            assert one is not None
            path = folder / f"{verdict}_{o.operator}_{o.number}.rig"
            path.write_text(one.text, encoding="utf-8")
