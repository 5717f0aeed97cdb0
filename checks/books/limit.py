"""The largest overcurrent device a book lets protect a conductor."""

from __future__ import annotations

from functools import cache

from ..trade.sizes import NEAR, spoken
from .ampacity import ampacity
from .data import Data, LimitRule
from .figures import Figure, Missing
from .lay import Lay
from .table import Table


@cache
def limit(data: Data, lay: Lay) -> Figure | Missing:
    """The largest rating, A, of an overcurrent device that may protect the conductor."""
    carries = ampacity(data, lay)
    if isinstance(carries, Missing):
        return carries
    if not carries.value:
        return carries
    rule = next(r for r in data.limits.values() if lay.form in r.forms)
    value, step = _rounded(data, rule, carries.value)
    figure = Figure(value, "A", rule.origin.clause, (*carries.steps, step), carries.status)
    small = data.tables.get(rule.small)
    return figure if small is None else _capped(small, small.floor(lay.mm2), lay, figure)


def _rounded(data: Data, rule: LimitRule, amperes: float) -> tuple[float, str]:
    """The largest device for an ampacity by the rule, and the line that says why."""
    clause = rule.origin.clause
    if not rule.rounds_up:
        return amperes, f"{clause}: device at most the ampacity, {amperes:g} A"
    if amperes in data.ratings:
        standard = f"{amperes:g} A is a standard rating ({data.ratings_origin.clause})"
        return amperes, f"{standard}, so {clause} gives no larger one"
    up = next((r for r in data.ratings if r > amperes), rule.cap(amperes) + 1)
    if up > rule.cap(amperes):
        return amperes, f"{clause}: no standard rating is near enough above {amperes:g} A"
    return up, f"{clause}: {amperes:g} A is no standard rating; the next is {up:g} A"


def _capped(small: Table, row: str | None, lay: Lay, figure: Figure) -> Figure:
    """The figure, or the limit that the book sets for its size where that is lower."""
    if row is None or lay.mm2 > small.largest * NEAR or float(small.rows[row][0]) >= figure.value:
        return figure
    most = float(small.rows[row][0])
    clause = small.origin_at(row).clause
    step = f"{clause}: {spoken(row)} on at most {most:g} A"
    return Figure(most, "A", clause, (*figure.steps, step), figure.status)
