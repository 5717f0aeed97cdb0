"""Words that every format of a comparison uses alike."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from math import inf

from ...checks.commissioning.trial import YES, Trial
from ...checks.figures.consequences import Due
from ...checks.figures.effects import DROP, Effect
from ...checks.findings import Finding
from ...dsl.names import natural
from .comparison import Comparison

CAUTION = (
    "Compared is what the texts say; no text and no drawing is proof that the rig was built to it. "
    "Local codes and a licensed person decide."
)
AGAIN = "Tests to make again"
TO_PRINT = "print anew:"
GAINED = "Findings gained"


def findings(comparison: Comparison) -> Iterator[tuple[str, Sequence[Finding]]]:
    """What the check finds otherwise, under a title each; GAINED is what there is to do."""
    found = comparison.found
    told = {
        GAINED: found.gained,
        "Findings cleared": found.lost,
        "Findings not told while a graver one stands": found.waiting,
    }
    return ((title, rows) for title, rows in told.items() if rows)


def effect_rows(effects: Iterable[Effect]) -> list[tuple[str, Effect]]:
    """Effects that differ in nothing but what they are of, as one row with all the names."""
    rows: dict[tuple[object, ...], list[Effect]] = {}
    for effect in effects:
        rows.setdefault((effect.modes, effect.old, effect.new), []).append(effect)
    return [
        (", ".join(sorted((e.on for e in same), key=natural)), same[0]) for same in rows.values()
    ]


def mode_words(effect: Effect, comparison: Comparison) -> str:
    """The modes an effect shows in; empty where it shows in all, or modes do not matter."""
    if set(effect.modes) == set(comparison.new.rig.modes):
        return "every mode" if len(effect.modes) > 1 else ""
    before = comparison.old.rig.modes
    return ", ".join(mode if mode in before else f"{mode} (new)" for mode in effect.modes)


def gone(effect: Effect) -> str:
    """What a figure was and is, what stays of it once; the share where that tells more."""
    if not effect.old:
        return f"new: {effect.new}"
    share = "" if effect.share is None or effect.topic == DROP else f" ({effect.share:+.0%})"
    old, new = effect.old, effect.new
    for mark in (" of ", " ("):
        if mark in old and old.partition(mark)[2] == new.partition(mark)[2]:
            old = old.partition(mark)[0]
    return f"{old} -> {new}{share}"


def figure(trial: Trial) -> str:
    """What the reading of a test may be; empty where the answer is yes or no."""
    if trial.unit == YES:
        return ""
    low, high = (None if n is None else _number(n) for n in (trial.low, trial.high))
    if high is not None:
        between = f"{low} to {high}" if low else f"at most {high}"
        return f"{high if low == high else between} {trial.unit}"
    if low is not None:
        return f"at least {low} {trial.unit}"
    known = trial.expected is not None and trial.expected != inf
    return f"about {trial.expected:.3g} {trial.unit}" if known else ""


def _number(value: float) -> str:
    return f"{value:.4g}" if abs(value) < 10_000 else f"{value:.0f}"


def tests(comparison: Comparison) -> Iterator[tuple[str, list[Due]]]:
    """The tests due, those to make again before those that are new, under their headings."""
    for title, fresh in ((AGAIN, False), ("Tests that are new", True)):
        due = [due for due in comparison.found.due if due.fresh is fresh]
        if due:
            yield title, due


def kind_of(due: Due) -> str:
    """What kind of test it is, in short."""
    return re.split("[,:]", due.step)[0]


def changing(comparisons: Sequence[Comparison]) -> tuple[list[Comparison], str]:
    """The comparisons in which anything changes, and a line on the stages in which nothing does.

    Where nothing changes at all, the last one stands for all.
    """
    some = [comparison for comparison in comparisons if comparison.changes]
    if not some:
        return list(comparisons[-1:]), ""
    same = [stage for c in comparisons if not c.changes for stage in c.stages]
    word = "stage" if len(same) == 1 else "stages"
    return some, f"No change in {word} {', '.join(same)}." if same else ""


def verdicts(some: Sequence[Comparison]) -> list[str]:
    """Where there are several comparisons, the verdict of each, to stand before all of them."""
    if len(some) < 2:
        return []
    return [f"{c.old.rig.stage} -> {', '.join(c.stages)}: {c.verdict}" for c in some]
