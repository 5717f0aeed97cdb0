"""S: batteries that stand together, and an alternator that stands alone."""

from __future__ import annotations

from collections.abc import Iterator

from ..findings import WARNING, Related
from ..registry import Hit, rule
from ..tracing.across import island
from ..tracing.bonding import listed
from ..tracing.network import Groups, carries
from ..tracing.trace import ModeView, Source, Stage
from .s_banks import batteries


@rule(
    "S22",
    "bank-tapped-at-one-end",
    WARNING,
    clauses={"": "common practice, no published source"},
    yields_to=("S09", "S13", "P24"),
)
def bank_tapped_at_one_end(stage: Stage) -> Iterator[Hit]:
    """Batteries in parallel whose plus and minus are both taken from the same end of the row.

    Why: the current of the far batteries runs through more links than that of the near one, which
    gives and takes the most by far and is worn out first.  Four batteries of 4 mohm on links of
    0.3 mohm share 200 A as 72, 52, 41 and 36 A; taken diagonally, as 54, 47, 47 and 54 A.
    Breaks it: links from post to post, and both leads of the rig on the first battery.
    Does not: the plus from the first battery, the minus from the last; each battery on the bars
    by leads of its own.
    """
    devices = stage.rig.devices.values()
    cells = [d.name for d in devices if d.kind == "battery" and carries(d)]
    rows = _rows(stage, cells) if len(cells) > 1 else {}
    for row in dict.fromkeys(rows.values()):
        taken = [set[str](), set[str]()]
        for name in row:
            for sort, pole in enumerate("+-"):
                for conductor, end in stage.landings.get((name, pole), ()):
                    if carries(conductor) and conductor.other(end).device not in row:
                        taken[sort].add(name)
        if taken[0] == taken[1] and len(taken[0]) == 1:
            yield _one_sided(stage, row, taken[0].pop())


def _rows(stage: Stage, cells: list[str]) -> dict[str, frozenset[str]]:
    """For each battery the row that it stands in: posts of both poles joined from post to post."""
    index = {name: n for n, name in enumerate(cells)}
    groups = {pole: Groups(len(index)) for pole in "+-"}
    for conductor in stage.rig.conductors.values():
        a, b = conductor.a, conductor.b
        between = a.device in index and b.device in index and a.terminal == b.terminal
        if between and carries(conductor):
            groups[a.terminal].join(index[a.device], index[b.device])
    found: dict[tuple[int, int], set[str]] = {}
    for name, n in index.items():
        found.setdefault((groups["+"].find(n), groups["-"].find(n)), set()).add(name)
    return {name: frozenset(row) for row in found.values() if len(row) > 1 for name in row}


def _one_sided(stage: Stage, row: frozenset[str], near: str) -> Hit:
    devices = stage.rig.devices
    names = [name for name in devices if name in row]
    far = next(name for name in reversed(names) if name != near)
    return Hit(
        on=(near, *(name for name in names if name != near)),
        span=devices[near].span,
        message=f"plus and minus of the bank {listed(names)} are both taken from {near}",
        fix=f"take the minus from {far}, at the other end of the row, or bring each battery to the "
        "bars by leads of one length",
        related=tuple(Related(devices[name].span, "in the row") for name in names if name != near),
    )


@rule(
    "S23",
    "batteries-unlike",
    WARNING,
    clauses={"": "common practice, no published source"},
    yields_to=("S09", "S13"),
)
def batteries_unlike(stage: Stage) -> Iterator[Hit]:
    """Batteries of different chemistry in one bank, or of different capacity in series.

    Why: each chemistry is charged to a voltage of its own, so one is always under- and the other
    overcharged.  In series the same current passes all: the smallest is driven empty and turned.
    Breaks it: a lead battery beside a lithium one on the same bars; 100 Ah in series with 80 Ah.
    Does not: two banks with a converter or a switch that is open between them; batteries that do
    not say their `chemistry=`; different capacities in parallel.
    """
    for view in stage.modes:
        for first, second, how in _together(view):
            words = _unlike(first, second, how)
            if words:
                yield Hit(
                    on=(second.name, first.name),
                    span=second.device.span,
                    mode=view.name,
                    message=f"{first.name} and {second.name} {words}",
                    fix="batteries alike in chemistry, capacity and age in one bank; what is "
                    "unlike on a converter of its own",
                    related=(Related(first.device.span, "the other battery"),),
                    cause=_bank(view, first),
                )


def _together(view: ModeView) -> Iterator[tuple[Source, Source, str]]:
    """Pairs of batteries that are joined: the first in parallel with each, or in series."""
    first: dict[tuple[int, int], Source] = {}
    below: dict[int, Source] = {}
    for cell in batteries(view):
        plus, minus = (view.net[cell.nodes[role]] for role in "+-")
        if (plus, minus) in first:
            yield first[plus, minus], cell, "parallel"
        first.setdefault((plus, minus), cell)
        below.setdefault(plus, cell)
    for cell in first.values():
        under = below.get(view.net[cell.nodes["-"]])
        if under is not None:
            yield under, cell, "series"


def _bank(view: ModeView, cell: Source) -> str:
    """The first battery of the system that one stands in."""
    systems = island(view)
    own = systems[view.net[cell.nodes["+"]]]
    return next(c.name for c in batteries(view) if systems[view.net[c.nodes["+"]]] == own)


def _unlike(first: Source, second: Source, how: str) -> str:
    """What two batteries differ in; "" where they do not, or do not say."""
    one, two = (str(s.device.attrs.get("chemistry", "")) for s in (first, second))
    if one and two and _family(one) != _family(two):
        return f"stand in {how}: {one} and {two}"
    ah = [s.device.number("capacity") for s in (first, second)]
    if how == "series" and ah[0] and ah[1] and ah[0] != ah[1]:
        return f"stand in series: {ah[0]:g} Ah and {ah[1]:g} Ah"
    return ""


def _family(chemistry: str) -> str:
    """Lead in all its forms is one family."""
    word = chemistry.lower()
    return "lead" if word in ("lead", "agm", "gel", "flooded", "lead-acid") else word


@rule(
    "S24",
    "alternator-without-battery",
    WARNING,
    clauses={
        "abyc-e11": "ABYC E-13: alarm before a battery is cut off (from memory)",
        "": "common practice, no published source",
    },
    yields_to=("S09", "S13", "D13", "P24"),
)
def alternator_without_battery(stage: Stage) -> Iterator[Hit]:
    """A mode in which an alternator runs and no battery is joined to it.

    Why: the battery is what holds its voltage.  Cut off under load, the alternator throws some
    hundred volts into everything that is on for a tenth of a second: its diodes and every
    electronic on the bar are gone.
    Breaks it: the battery switch, or a battery's own disconnect, open while the engine runs.
    Does not: the alternator on the battery's side of the switch; an alternator that is off.
    """
    for view in stage.modes:
        cells = {cell.name for cell in batteries(view)}
        for source in view.live.values():
            net = view.net[source.nodes["+"]] if source.dc else -1
            if source.device.kind == "alternator" and not cells & dict(view.roles[net]).keys():
                opened = [n for n, state in view.network.states.items() if state == "open"]
                yield Hit(
                    on=(source.name, *opened),
                    span=source.device.span,
                    mode=view.name,
                    message=f"{source.name} runs and no battery is joined to it",
                    fix=f"bring {source.name} to the battery's side of what is open, or turn it "
                    "off in this mode",
                    why=tuple(f"{name} is open" for name in opened),
                )
