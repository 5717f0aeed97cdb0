"""What a rework takes and what it sets free: the bills of both rigs against each other."""

from __future__ import annotations

from collections import Counter

from ..checks.rework import Plan
from ..checks.tracing.trace import Stage, analyse
from .rework_line import Line
from .schedule_bill import schedule as bill

Item = tuple[str, str, str]
"""What it is, its description and its unit."""


def materials(plan: Plan) -> tuple[list[Line], list[Line]]:
    """What the new bill has more of than the old one, and what less.

    A conductor landed elsewhere needs no new piece; ends that are made anew may need a new ferrule
    or lug each, which no bill tells.
    """
    before, after = _counts(analyse(plan.old)), _counts(analyse(plan.new))
    needed: list[Line] = []
    freed: list[Line] = []
    for item in {**after, **before}:
        more = round(after[item] - before[item], 2)
        if more:
            line = _line(item, abs(more), "get" if more > 0 else "keep or give back")
            (needed if more > 0 else freed).append(line)
    return needed, freed


def _line(item: Item, count: float, do: str) -> Line:
    kind, description, unit = item
    words = unit or ("piece" if count == 1 else "pieces")
    return Line(do, f"{kind} {description}".strip(), made=f"{count:g} {words}")


def _counts(stage: Stage) -> Counter[Item]:
    """The quantities of a bill."""
    counts: Counter[Item] = Counter()
    table = bill(stage)
    at = {column.heading: index for index, column in enumerate(table.columns)}
    for section in table.sections:
        for row in section.rows:
            item, description, unit, many = (
                row.cells[at[head]] for head in ("Item", "Description", "Unit", "Quantity")
            )
            counts[item, description, unit] += float(many)  # type: ignore[assignment]
    return counts
