"""D: names and statements that refer to nothing."""

from __future__ import annotations

from collections.abc import Iterator

from ..findings import WARNING
from ..registry import Hit, rule
from ..trace import Stage


@rule("D10", "accept-without-finding", WARNING)
def accept_without_finding(stage: Stage) -> Iterator[Hit]:
    """An `accept` that matches no finding.

    Why: a responsibility taken for something that is not there hides the next fault of that kind,
    and tells the reader of the text something untrue.
    Breaks it: `accept P02 on W1 because "…"` where P02 finds nothing on W1.
    Does not: an accept whose rule and name a finding has.
    """
    return iter(())  # the runner compares accepts with the findings of all stages


@rule("D01", "end-unlanded")
def end_unlanded(stage: Stage) -> Iterator[Hit]:
    """A conductor's end on a device that is not there (any more).

    Why: an end left in the air can touch anything, and can still be live from its other end.
    Breaks it: a stage says `remove U0` and leaves the conductor that lands on U0.
    Does not: the stage removes that conductor too, or moves its end to another terminal.
    """
    for conductor, end in stage.wiring.unlanded:
        yield Hit(
            on=(conductor.name, end.device),
            span=end.span,
            message=f"{conductor.name} ends on {end.name}, and {end.device} is not there",
            fix=f"remove {conductor.statement} too, or move its end to another terminal",
        )
