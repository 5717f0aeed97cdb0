"""D: poles that only one conductor lands on."""

from __future__ import annotations

from collections.abc import Container, Iterator

from ...dsl.model import Device
from ..findings import WARNING
from ..registry import Hit, rule
from ..tracing.network import carries
from ..tracing.trace import Stage

OPENING = ("protective", "residual", "switching")
# A conductor that went astray leaves its pole half landed: then the finding on it says enough.
CAUSES: tuple[str, ...] = (
    *("D01", "D02", "D03", "D04", "D13"),
    *("B04", "B06", "B07", "B08", "B12", "B19", "B22"),
    *("P01", "P03", "P06", "P20", "P24"),
    *("S06", "S08", "S09", "S11", "S12", "S13", "S15", "S16"),
)


@rule(
    "D14",
    "pole-half-landed",
    WARNING,
    clauses={"": "common practice, no published source"},
    yields_to=CAUSES,
)
def pole_half_landed(stage: Stage) -> Iterator[Hit]:
    """A pole that is live at one end, or would be, while nothing lands on the other.

    Why: the device looks as if it opened the circuit and opens nothing: its conductor lies on the
    bar beside it, or was forgotten.
    Breaks it: the shore's line landed on the line bar in place of terminal 1 of the main; a
    two-pole main with the neutral through one pole and the line round the other.
    Does not: a spare breaker on its bar, live at 1 with nothing on 2; a pole without conductors.
    """
    conductors = stage.rig.conductors.values()
    landed = {(end.device, end.terminal) for c in conductors for end in (c.a, c.b)}
    sources = (source for view in stage.modes for source in view.live.values())
    if any(stage.wiring.names[s.nodes[role]] not in landed for s in sources for role in s.lines):
        return  # a source with a line that nothing lands on: D13 says so
    for device in stage.rig.devices.values():
        acts = stage.wiring.kinds[device.name].acts
        if acts not in OPENING or not carries(device):
            continue
        pairs = _pairs(stage, device, landed)
        counts = [[(device.name, t) in landed for t in pair] for pair in pairs]
        used = acts == "switching" or any(all(count) for count in counts)
        told: set[str] = set()
        for (first, second), count in zip(pairs, counts, strict=True):
            if sum(count) != 1 or not (used or count[1]) or second in told:
                continue
            told |= {second} if device.kind == "selector" else set()
            here, bare = (first, second) if count[0] else (second, first)
            lives = any(view.role(device.name, here) for view in stage.modes)
            if lives or _others_live(stage, device, here):
                yield _half(stage, device, here, bare, lives)


Landed = Container[tuple[str, str]]


def _pairs(stage: Stage, device: Device, landed: Landed = ()) -> list[tuple[str, str]]:
    """The poles of a device; of a changeover the ways of each position that is wired at all."""
    variant = stage.wiring.variants[device.name]
    if variant.poles:
        return list(variant.poles)
    ways = [sorted(pairs) for pairs in variant.joins.values()]
    return [
        pair
        for pairs in ways
        if not landed or any((device.name, into) in landed for into, _ in pairs)
        for pair in pairs
    ]


def _others_live(stage: Stage, device: Device, here: str) -> bool:
    """Whether all other poles of a device are live: one conductor of several was forgotten."""
    pairs = [p for p in stage.wiring.variants[device.name].poles if here not in p]
    return bool(pairs) and all(
        any(view.role(device.name, end) for view in stage.modes for end in pair) for pair in pairs
    )


def _beside(stage: Stage, device: Device) -> Iterator[str]:
    """All cores of the cables that land on a device, and the devices at their far ends."""
    wires = stage.rig.conductors.values()
    here = [c for c in wires if device.name in (c.a.device, c.b.device)]
    cables = {c.cable for c in here if c.cable}
    for conductor in wires:
        if conductor in here or conductor.cable in cables:
            yield from (conductor.name, conductor.a.device, conductor.b.device)


def _behind(stage: Stage, device: Device, bare: str) -> Iterator[str]:
    """What is fed through the other poles, on the side where this one is bare."""
    wiring, network = stage.wiring, stage.modes[0].network
    pairs = _pairs(stage, device)
    side = next(pair.index(bare) for pair in pairs if bare in pair)
    starts = [wiring.node(device.name, pair[side]) for pair in pairs if bare not in pair]
    for node in network.walk(starts, lambda edge: edge.owner != device.name) if starts else ():
        name = wiring.names[node][0]
        if wiring.kinds[name].acts in ("load", "outlet", "converter"):
            yield name


def _half(stage: Stage, device: Device, here: str, bare: str, lives: bool) -> Hit:
    behind = _behind(stage, device, bare)
    return Hit(
        on=tuple(dict.fromkeys((device.name, *_beside(stage, device), *behind))),
        span=device.span,
        message=f"{device.name}.{here} is live and nothing lands on {device.name}.{bare}: this "
        "pole opens nothing"
        if lives
        else f"nothing lands on {device.name}.{bare}, so {device.name}.{here} is never live; its "
        "other poles are",
        fix=f"land on {device.name}.{bare} what it is to open, or take the conductor off "
        f"{device.name}.{here}",
    )
