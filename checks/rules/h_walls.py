"""H: which entry of a panel a cable goes through."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Conductor, End
from ..findings import WARNING, Related
from ..registry import Hit, rule
from ..tracing.trace import EARTH, LINES, Stage
from ..trade.fittings import BOX_SOURCE, box_cm3
from ..trade.housing import entries_of, names, on, panel_of, statements, through
from .h_entries import ENTRY, Run

# A conductor that lies astray, or ends on nothing, goes another way than it was meant to.
TIES = ("B02", "B14", "B15")
ASTRAY = ("D01", "B04", "B06", "B07", "B08", "B12", "B19", "S08", "S09", "S12", "S13", "S15", *TIES)


@rule("H10", "entry-unsaid", WARNING, clauses=ENTRY, yields_to=(*ASTRAY, "H19"))
def entry_unsaid(stage: Stage) -> Iterator[Hit]:
    """A cable into a panel whose entries are named, through none of them.

    Why: it goes through a hole that nobody planned, or the entry meant for it stays open.
    Breaks it: a panel with `entry G1`, and a cable to a breaker in it without `entries=`.
    Does not: wires inside one panel; a panel of which no entry is named; two panels side by side,
    where a cable names the entry of either one.
    """
    entries = entries_of(stage.rig)
    if not entries:
        return
    for run in statements(stage.rig).values():
        panels = [{panel_of(stage.rig, e.device) for e in side} for side in _sides(run)]
        crossed = sorted(p for p in panels[0] ^ panels[1] if p and p in entries)
        used = run[0].attrs.get("entries")
        used = used if isinstance(used, tuple) else ()
        mine = {entry.name for panel in crossed for entry in entries[panel]}
        if crossed and not mine & set(used):
            panel = crossed[0]
            yield Hit(
                on=(*names(run), panel),
                span=run[0].span,
                message=f"{on(run)} goes into {panel} through none of its entries",
                fix=f"write entries= of {on(run)}: {', '.join(sorted(mine))}",
                related=tuple(Related(e.span, "an entry of it") for e in entries[panel]),
            )


def _sides(run: Run) -> tuple[list[End], list[End]]:
    return [conductor.a for conductor in run], [conductor.b for conductor in run]


@rule("H19", "entry-astray", clauses=ENTRY, yields_to=ASTRAY)
def entry_astray(stage: Stage) -> Iterator[Hit]:
    """A cable through an entry of a panel in which none of its ends lies, or one taken out.

    Why: the entry is another's, or one end is landed in the wrong panel.
    Breaks it: `entries=G5` on a cable between two sockets.
    Does not: an entry of the panel at either end; an entry that stands in no panel.
    """
    for run, entries in through(stage.rig):
        panels = {panel_of(stage.rig, e.device) for side in _sides(run) for e in side}
        for name in entries:
            entry = stage.rig.devices.get(name)
            if entry is not None and (not entry.panel or entry.panel in panels):
                continue
            there = f"an entry of {entry.panel}, and has no end there" if entry else "which is gone"
            yield Hit(
                on=(*names(run), name),
                span=run[0].span_of("entries"),
                message=f"{on(run)} names {name}, {there}",
                fix=f"name the entry that {on(run)} goes through",
                related=(Related(entry.span, "the entry"),) if entry else (),
                cause=name if entry is None else "",
            )


@rule(
    "H18",
    "line-and-neutral-apart",
    WARNING,
    clauses={
        "nfpa70": "NFPA 70 300.20 (from memory)",
        "iec60364": "IEC 60364-5-52 521.5 (from memory)",
    },
)
def line_and_neutral_apart(stage: Stage) -> Iterator[Hit]:
    """Wires of an AC circuit that go through different holes of a metal panel.

    Why: a single conductor makes the ring of steel round it hot; go and return in one hole cancel.
    Breaks it: the line through G1 and the neutral through G2 of a panel that is `metal`.
    Does not: both through one hole; a cable; direct current; a plastic panel.
    """
    holes: dict[str, dict[str, dict[str, Conductor]]] = {}
    for run, entries in through(stage.rig):
        role = stage.conductor_role(run[0].name)
        if run[0].cable is not None or not (role in LINES or role == "N"):
            continue
        for name in entries:
            entry = stage.rig.devices.get(name)
            panel = entry.panel or "" if entry else ""
            if panel in stage.rig.panels and stage.rig.panels[panel].flag("metal"):
                found = holes.setdefault(panel, {}).setdefault(name, {})
                found.setdefault("N" if role == "N" else "L", run[0])
    for panel, found_in in holes.items():
        alone = {name: roles for name, roles in found_in.items() if len(roles) == 1}
        if alone:
            yield _apart(stage, panel, alone)


def _apart(stage: Stage, panel: str, alone: dict[str, dict[str, Conductor]]) -> Hit:
    """One finding for all holes of a panel that have a line or a neutral alone in them."""
    wires = {name: next(iter(roles.values())) for name, roles in alone.items()}
    first = next(iter(wires.values()))
    listed = ", ".join(f"{wire.name} through {name}" for name, wire in wires.items())
    return Hit(
        on=(*(wire.name for wire in wires.values()), *wires, panel),
        span=first.span_of("entries"),
        message=f"line and neutral go through the metal wall of {panel} apart: {listed}",
        fix="bring line and neutral of a circuit through one hole",
        related=tuple(Related(stage.rig.devices[name].span, "a hole of it") for name in wires),
    )


@rule("H21", "box-overfull", WARNING, clauses={"nfpa70": BOX_SOURCE, "": f"as {BOX_SOURCE}"})
def box_overfull(stage: Stage) -> Iterator[Hit]:
    """More conductors in a box than its volume takes.

    Each conductor counts by its size, all protective earths as one (and a quarter for each beyond
    four), a socket or switch as two of the largest; clamps inside the box are not counted.
    Why: what is pushed into a box is nicked at its edge, and keeps its heat.
    Breaks it: two cables of 12 AWG and a socket in `box=12in3`.
    Does not: the same in 18 cubic inches; a device of which no box is said.
    """
    for device in stage.rig.devices.values():
        volume = device.number("box")
        if volume is None:
            continue
        ends = [e for t in device.terminals for e in stage.landings.get((device.name, t.name), ())]
        earths = [c.size for c, e in ends if c.size and _is_earth(stage, c, e)]
        sizes = [c.size for c, e in ends if c.size and not _is_earth(stage, c, e)]
        needed = box_cm3(sizes, earths, device.kind in ("socket", "switch"))
        if needed > volume + 0.05:
            yield Hit(
                on=(device.name,),
                span=device.span_of("box"),
                message=f"the wiring of {device.name} asks for {needed:.0f} cm3, its box has "
                f"{volume:.0f} cm3",
                fix="take a deeper box",
                value=round(needed, 1),
                limit=round(volume, 1),
                unit="cm3",
                why=(f"{len(sizes)} conductors, {len(earths)} protective earths",),
            )


def _is_earth(stage: Stage, conductor: Conductor, end: End) -> bool:
    return end.terminal == EARTH or stage.conductor_role(conductor.name) == EARTH
