"""Reading a book's ampacity tables: which cell is a conductor's own, and what corrects it."""

from __future__ import annotations

from functools import cache
from math import prod

from ...dsl.records import record
from ..trade.sizes import NEAR, area_mm2, same_size, spoken
from .data import Data
from .factors import Factor, factors
from .figures import Figure, Missing
from .lay import Lay
from .table import CONFIRMED, STATUSES, Cell, Table


@record
class Hit:
    """A cell that fits: table, row and column, insulation temperature (degC) and current (A)."""

    table: Table
    row: str
    column: Cell
    celsius: float
    amperes: float

    @property
    def said(self) -> str:
        clause = self.table.origin_at(self.row).clause
        return f"{clause}, {spoken(self.row)}, {self.celsius:g} degC: {self.amperes:g} A"


@cache
def ampacity(data: Data, lay: Lay) -> Figure | Missing:
    """Allowable current, A: the conductor's own cell, corrected, and as its terminals allow."""
    own = find(data, lay, lay.celsius)
    if isinstance(own, Missing):
        return own
    found = factors(data, lay, own.celsius)
    if isinstance(found, Missing):
        return found
    value = round(own.amperes * prod(factor.value for factor in found), 2)
    times = "".join(f" x {factor.value:.2f}" for factor in found)
    steps = [*_entry(lay, own), f"{own.said} at {_base(data, lay):g} degC, alone"]
    steps += [factor.step for factor in found]
    steps.append(f"{own.amperes:g} A{times} = {value:g} A")
    most = _terminals(data, lay)
    if most is not None:
        value = min(value, most.amperes)
        steps.append(f"its terminals ({data.use.origin.clause}): {most.said}; so {value:g} A")
    status = _worst(own.table.status_at(own.row, own.column), found)
    if most is not None and most.amperes == value:
        status = max(status, data.use.origin.status, key=STATUSES.index)
    return Figure(value, "A", own.table.origin_at(own.row).clause, tuple(steps), status)


def _base(data: Data, lay: Lay) -> float:
    ground = lay.method in ("D1", "D2") and "ground" in data.ambient
    return float(data.ambient["ground_base" if ground else "base"])


def _worst(status: str, found: list[Factor]) -> str:
    """The least sure of a cell and those factors that change it."""
    used = [factor.status for factor in found if factor.value != 1]
    return max((status, *used), key=STATUSES.index, default=CONFIRMED)


def find(data: Data, lay: Lay, top: float) -> Hit | Missing:
    """The cell that holds: of the nearest size not above, the hottest column to ``top`` (degC)."""
    tables = data.tables.printed_for(lay.form)
    fit = [hit for table in tables for hit in _hits(table, lay) if hit.celsius <= top]
    if not fit:
        how = f"{lay.form} conductors, {lay.celsius:g} degC insulation, {lay.loaded} loaded"
        how += f", method {lay.method}" if lay.method else ""
        return Missing(f"no figure for {spoken(lay.size)} ({how})", tables[0].origin.clause)
    best = max(fit, key=lambda hit: (area_mm2(hit.row), hit.celsius, "method" in hit.table.fixed))
    if lay.mm2 > NEAR * best.table.largest:
        return Missing(f"{spoken(lay.size)} is beyond the table", best.table.origin.clause)
    return best


def _hits(table: Table, lay: Lay) -> list[Hit]:
    """The cells of a table that fit the conductor, whatever their insulation temperature."""
    row = table.floor(lay.mm2)
    if row is None:
        return []
    wanted: dict[str, Cell] = {"loaded": min(lay.loaded, 3), "method": lay.method}
    hits = []
    for column, cell in zip(table.columns, table.rows[row], strict=True):
        keys = {**table.fixed, table.axis: column}
        if cell and all(keys.get(key, value) == value for key, value in wanted.items()):
            hits.append(Hit(table, row, column, float(keys["celsius"]), float(cell)))
    return hits


def _terminals(data: Data, lay: Lay) -> Hit | None:
    """What its terminals allow, where they stand less than its insulation; None: no limit.

    Where the book prints nothing that cool (NFPA 70, 18 and 16 AWG), its limit on the device.
    """
    top = data.use.terminal_celsius(lay.mm2)
    if top is None or top >= lay.celsius or lay.form == "cord":
        return None
    for key in data.use.terminal_tables:
        table = data.tables[key]
        fit = [hit for hit in _hits(table, lay) if hit.celsius <= top]
        if fit:
            return max(fit, key=lambda hit: hit.celsius)
    table = data.tables[data.use.small]
    row = table.floor(lay.mm2)
    return Hit(table, row, table.columns[0], top, float(table.rows[row][0])) if row else None


def _entry(lay: Lay, hit: Hit) -> list[str]:
    """The lines that say what the table is entered with."""
    usual = "" if lay.stated else " (the usual: none is stated)"
    steps = [f"{spoken(lay.size)} copper, {lay.celsius:g} degC insulation{usual}"]
    if not same_size(area_mm2(hit.row), lay.mm2):
        smaller = spoken(hit.row)
        steps.append(f"{spoken(lay.size)} is not in the table; the next smaller is {smaller}")
    if "loaded" in (*hit.table.fixed, hit.table.axis):
        steps.append(f"{lay.loaded} loaded conductors")
    if hit.table.axis == "method" or "method" in hit.table.fixed:
        steps.append(f"installation method {lay.method}")
    return steps
