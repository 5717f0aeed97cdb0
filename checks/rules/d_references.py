"""D: names and statements that refer to nothing."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Conductor, End
from ..findings import WARNING, Related
from ..registry import Hit, rule
from ..tracing.across import names_on
from ..tracing.bonding import listed
from ..tracing.trace import Stage

Landing = tuple[Conductor, End]
FAR = ("load", "outlet", "converter", "source", "earth", "protective", "switching", "residual")


@rule("D10", "accept-without-finding", WARNING, clauses={"": "the language: what `accept` says"})
def accept_without_finding(stage: Stage) -> Iterator[Hit]:
    """An `accept` that matches no finding.

    Why: a responsibility taken for something that is not there hides the next fault of that kind,
    and tells the reader of the text something untrue.
    Breaks it: `accept P02 on W1 because "…"` where P02 finds nothing on W1.
    Does not: an accept whose rule and name a finding has.
    """
    return iter(())  # the runner compares accepts with the findings of all stages


@rule("D01", "end-unlanded", clauses={"": "common practice, no published source"})
def end_unlanded(stage: Stage) -> Iterator[Hit]:
    """A conductor's end on a device that is not there (any more).

    All ends on one such device are one finding.

    Why: an end left in the air can touch anything, and can still be live from its other end.
    Breaks it: a stage says `remove U0` and leaves the conductor that lands on U0.
    Does not: the stage removes that conductor too, or moves its end to another terminal.
    """
    gone: dict[str, list[Landing]] = {}
    for conductor, end in stage.wiring.unlanded:
        gone.setdefault(end.device, []).append((conductor, end))
    for device, found in gone.items():
        yield _gone(stage, device, found)


def _gone(stage: Stage, device: str, found: list[Landing]) -> Hit:
    names = [conductor.name for conductor, _ in found]
    ends = listed(end.name for _, end in found)
    whole = list(dict.fromkeys(conductor.statement for conductor, _ in found))
    far = (conductor.other(end).device for conductor, end in found)
    dead = (n for n in far if n in stage.rig.devices and stage.wiring.kinds[n].acts in FAR)
    return Hit(
        on=tuple(dict.fromkeys((*names, device, *dead))),
        span=found[0][1].span,
        message=f"{listed(names)} {'end' if len(names) > 1 else 'ends'} on {ends}, and {device} "
        "is not there",
        fix=f"remove {listed(whole)} too, or move what ended on {device} to another terminal",
        related=tuple(Related(end.span, "ends on it too") for _, end in found[1:]),
        upsets=_cut_off(stage, found),
    )


def _cut_off(stage: Stage, found: list[Landing]) -> frozenset[str]:
    """All that hangs on the other ends, where nothing live and no earth reaches it in any mode."""
    ends = (conductor.other(end) for conductor, end in found)
    nodes = [n for end in ends if (n := stage.wiring.find(end.device, end.terminal)) is not None]
    names: set[str] = set()
    for node in nodes:
        nets = [(view, view.net[node]) for view in stage.modes]
        if not any(net in view.roles or net in view.earth_nets for view, net in nets):
            names.update(*(names_on(view, [node]) for view in stage.modes))
    return frozenset(names)
