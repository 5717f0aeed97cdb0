"""Reading a book's ampacity tables: which cell is a conductor's own, which device it takes.

At 30 degC and not grouped; corrections are factors on top of what is found here.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from ..dsl.model import Conductor, Quantity, Rig, Value
from .book_data import Cell, Data, LimitRule, Table
from .book_figures import Figure, Missing
from .sizes import NEAR, area_mm2, same_size, spoken

THREE_PHASE = ("three", "3", "3N")
"""Variants of devices on whose conductors three lines carry load."""


@dataclass(frozen=True, slots=True)
class Lay:
    """What the ampacity of a conductor hangs on: the tables are entered with this."""

    size: str
    mm2: float
    form: str
    loaded: int
    celsius: float
    method: str


@dataclass(frozen=True, slots=True)
class Hit:
    """A cell that fits: its table, row, insulation temperature (degC) and current (A)."""

    table: Table
    row: str
    celsius: float
    amperes: float


def said(conductor: Conductor, rig: Rig, key: str) -> Value | None:
    """An attribute of a conductor, or of the cable it is a core of."""
    cable = rig.cables.get(conductor.cable or "")
    return conductor.attrs.get(key, cable.attrs.get(key) if cable else None)


def loaded_conductors(conductor: Conductor, rig: Rig) -> int:
    """How many conductors carry load in its cable, or beside it: 2 or 3, from the text alone.

    Three where an end is on a three-phase device, and in a cable of four cores or more, unless
    an end is on a split-phase device, whose neutral carries only the difference
    (NFPA 70 310.15(E), 400.5(A)).  Whoever has traced the roles can tell better.
    """
    cable = rig.cables.get(conductor.cable or "")
    cores = [rig.conductors[c] for c in cable.cores if c in rig.conductors] if cable else []
    ends = {end.device for c in (*cores, conductor) for end in (c.a, c.b)}
    variants = [rig.devices[name].variant for name in ends if name in rig.devices]
    if any(v in THREE_PHASE for v in variants):
        return 3
    if any(v.startswith("split") for v in variants):
        return 2
    return 3 if len(cores) > 3 else 2


def lay_of(data: Data, conductor: Conductor, rig: Rig, loaded: int | None) -> Lay | Missing:
    """What the book's tables are entered with for a conductor."""
    if conductor.size is None:
        return Missing(f"{conductor.name} has no size")
    cord = said(conductor, rig, "cord") is True
    form = "cord" if cord else "multi" if conductor.cable else "single"
    insulation = said(conductor, rig, "insulation")
    method = said(conductor, rig, "method")
    usual = data.use.insulation[form]
    return Lay(
        size=conductor.size.text,
        mm2=conductor.size.mm2,
        form=form,
        loaded=loaded or loaded_conductors(conductor, rig),
        celsius=insulation.value if isinstance(insulation, Quantity) else usual,
        method=data.use.method[form] if method is None else str(method),
    )


@cache
def ampacity(data: Data, lay: Lay) -> Figure | Missing:
    """Allowable current, A, as the terminals allow."""
    hit = find(data, lay)
    if isinstance(hit, Missing):
        return hit
    origin = hit.table.origin
    return Figure(hit.amperes, "A", origin.clause, _steps(data, lay, hit), origin.status)


@cache
def limit(data: Data, lay: Lay) -> Figure | Missing:
    """The largest rating, A, of an overcurrent device that may protect the conductor."""
    hit, carries = find(data, lay), ampacity(data, lay)
    if isinstance(hit, Missing):
        return hit
    if isinstance(carries, Missing):
        return carries
    rule = next(r for r in data.limits.values() if lay.form in r.forms)
    value, step = _rounded(data, rule, carries.value)
    figure = Figure(value, "A", rule.origin.clause, (*carries.steps, step), carries.status)
    return _capped(data.tables.get(rule.small), hit.row, figure)


def find(data: Data, lay: Lay) -> Hit | Missing:
    """The cell that holds: of the nearest size not above, the hottest column allowed."""
    tables = [t for t in data.tables.values() if lay.form in t.forms]
    hits = [hit for table in tables for hit in _hits(table, lay)]
    top = min(lay.celsius, data.use.terminal_celsius(lay.mm2) or lay.celsius)
    fit = [hit for hit in hits if hit.celsius <= top]
    if not fit:
        return _of_small_sizes(data, lay, hits, tables[0].origin.clause)
    best = max(fit, key=lambda hit: (area_mm2(hit.row), hit.celsius))
    if lay.mm2 > NEAR * best.table.largest:
        return Missing(f"{spoken(lay.size)} is beyond the table", best.table.origin.clause)
    return best


def _hits(table: Table, lay: Lay) -> list[Hit]:
    """The cells of a table that fit the conductor, whatever their insulation temperature."""
    row = table.floor(lay.mm2)
    if row is None:
        return []
    wanted: dict[str, Cell] = {"loaded": lay.loaded, "method": lay.method}
    hits = []
    for column, cell in zip(table.columns, table.rows[row], strict=True):
        keys = {**table.fixed, table.axis: column}
        if cell and all(keys.get(key, value) == value for key, value in wanted.items()):
            hits.append(Hit(table, row, float(keys["celsius"]), float(cell)))
    return hits


def _of_small_sizes(data: Data, lay: Lay, hits: list[Hit], clause: str) -> Hit | Missing:
    """Sizes printed only for insulation hotter than their terminals stand: their device's limit."""
    table = data.tables.get(data.use.small)
    for hit in hits:
        if table and hit.row in table.rows and hit.celsius <= lay.celsius:
            return Hit(table, hit.row, hit.celsius, float(table.rows[hit.row][0]))
    how = f"{lay.form} conductors, {lay.celsius:g} degC insulation, {lay.loaded} loaded"
    how += f", method {lay.method}" if lay.method else ""
    return Missing(f"no figure for {spoken(lay.size)} ({how})", clause)


def _steps(data: Data, lay: Lay, hit: Hit) -> tuple[str, ...]:
    entry = f"{spoken(lay.size)} copper, {lay.celsius:g} degC insulation"
    terminals = data.use.terminal_celsius(lay.mm2)
    if terminals is not None and lay.form != "cord":
        entry += f"; its terminals stand {terminals:g} degC ({data.use.origin.clause})"
    steps = [entry]
    if not same_size(area_mm2(hit.row), lay.mm2):
        smaller = spoken(hit.row)
        steps.append(f"{spoken(lay.size)} is not in the table; the next smaller is {smaller}")
    if "loaded" in (*hit.table.fixed, hit.table.axis):
        steps.append(f"{lay.loaded} loaded conductors")
    if hit.table.axis == "method":
        steps.append(f"installation method {lay.method}")
    where = f"{hit.table.origin.clause}, {spoken(hit.row)}, {hit.celsius:g} degC"
    return (*steps, f"{where}: {hit.amperes:g} A at 30 degC, not grouped")


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


def _capped(small: Table | None, row: str, figure: Figure) -> Figure:
    """The figure, or the limit that the book sets for its size where that is lower."""
    if small is None or row not in small.rows or float(small.rows[row][0]) >= figure.value:
        return figure
    most = float(small.rows[row][0])
    step = f"{small.origin.clause}: {spoken(row)} on at most {most:g} A"
    return Figure(most, "A", small.origin.clause, (*figure.steps, step), figure.status)
