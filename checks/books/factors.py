"""The factors on a printed ampacity: ambient temperature, what runs together, a cord on its drum.

Each is told as an engineer writes it down, 1.00 included, so that nothing is left out unseen.
"""

from __future__ import annotations

from ...dsl.records import record
from ..trade.sizes import spoken
from .data import Data
from .figures import Missing
from .groups import SPACED, Together
from .lay import Lay
from .table import Cell, Table


@record
class Factor:
    """A factor, the step that tells it, and how sure we are of its table."""

    value: float
    step: str
    status: str


def factors(data: Data, lay: Lay, celsius: float) -> list[Factor] | Missing:
    """All factors for a conductor whose printed cell stands under ``celsius`` (degC)."""
    found = [_ambient(data, lay, celsius), _grouping(data, lay)]
    if lay.drum:
        found.append(_drum(data, lay))
    missing = next((f for f in found if isinstance(f, Missing)), None)
    return missing or [f for f in found if not isinstance(f, Missing)]


def _factor(
    value: float, what: str, table: Table, row: str = "", column: Cell = "", said: str = ""
) -> Factor:
    """A factor from a cell of a table, told with the table's clause and what is ``said`` of it."""
    where = table.origin_at(row).clause + (f", {said}" if said else "")
    return Factor(value, f"{what}: x {value:.2f} ({where})", table.status_at(row, column))


def _ambient(data: Data, lay: Lay, celsius: float) -> Factor | Missing:
    block = data.ambient
    ground = lay.method in ("D1", "D2")
    base = block["ground_base" if ground else "base"] if "ground" in block else block["base"]
    where = lay.where or "the whole rig"
    what = f"{'ground at ' if ground else ''}{lay.ambient:g} degC ({where})"
    if "engine" in block:
        return _engine(data, lay, celsius, where)
    names = block["ground"] if ground and "ground" in block else block["tables"]
    if lay.ambient == base:
        table = data.tables[names[0]]
        return _factor(1.0, what, table)
    rated = lay.celsius if lay.form == "cord" else celsius
    fit = [
        (float(column), table, column)
        for table in (data.tables[name] for name in names)
        for column in table.columns
        if float(column) <= rated
    ]
    if not fit:
        clause = data.tables[names[0]].origin.clause
        return Missing(f"no ambient factor for {rated:g} degC insulation", clause)
    top, table, column = max(fit, key=lambda found: found[0])
    row = table.ceiling(lay.ambient)
    cell = float(table.cell(row, column)) if row else 0.0
    said = f"{top:g} degC insulation"
    if not cell or row is None:
        return _factor(0.0, what, table, "", column, f"{said} may carry nothing there")
    return _factor(cell, what, table, row, column, said)


def _engine(data: Data, lay: Lay, celsius: float, where: str) -> Factor | Missing:
    """E-11: two ambients are printed, outside engine spaces and inside them."""
    block = data.ambient
    table = data.tables[block["tables"][0]]
    hot = block["engine"]
    if lay.ambient > hot:
        return Missing(f"no factor above {hot:g} degC ({where})", table.origin.clause)
    if not lay.engine and lay.ambient <= block["base"]:
        return _factor(1.0, f"{lay.ambient:g} degC ({where}), no engine space", table)
    column = max((c for c in table.columns if float(c) <= celsius), key=float, default=None)
    if column is None:
        return Missing(f"no engine-space factor at {celsius:g} degC", table.origin.clause)
    what = f"engine space, {hot:g} degC" if lay.engine else f"{lay.ambient:g} degC, as {hot:g}"
    said = f"{column:g} degC insulation"
    cell = float(table.cell("engine", column))
    return _factor(cell, f"{what} ({where})", table, "engine", column, said)


def _grouping(data: Data, lay: Lay) -> Factor | Missing:
    found = [_group(data, together) for together in lay.together]
    missing = next((f for f in found if isinstance(f, Missing)), None)
    known = (f for f in found if not isinstance(f, Missing))
    return missing or min(known, key=lambda factor: (factor.value, factor.step))


def _group(data: Data, together: Together) -> Factor | Missing:
    table = data.tables[data.grouping["table"]]
    circuits = data.grouping["counts"] == "circuits"
    count = together.circuits if circuits else together.conductors
    of = "circuit" if circuits else "current-carrying conductor"
    where = f"in {together.route}" if together.route else "alone"
    what = f"{count} {of}{'s' * (count != 1)} {where}"
    if together.laid == SPACED:
        return _factor(1.0, f"{what}, spaced two diameters apart", table)
    column = table.columns.index(together.laid) if together.laid in table.columns else 0
    rows = {row: float(cells[column]) for row, cells in table.rows.items() if cells[column]}
    row = min((row for row in rows if float(row) >= count), key=float, default=None)
    if row is None:
        if len(rows) == len(table.rows):
            return Missing(f"{what} are beyond the table", table.origin.clause)
        row = max(rows, key=float)  # "no further reduction" below what it prints
    laid = f", {table.columns[column]}" if together.route and len(table.columns) > 1 else ""
    return _factor(rows[row], what + laid, table, row, table.columns[column])


def _drum(data: Data, lay: Lay) -> Factor | Missing:
    table = data.tables.get("drum")
    if table is None or lay.drum not in table.rows:
        return Missing(f"{data.title} has no factor for a cord used on its drum: unwind it whole")
    layers = f"{lay.drum} layer{'s' * (lay.drum != '1')}" if lay.drum.isdigit() else lay.drum
    what = f"{spoken(lay.size)} on its drum, {layers}"
    return _factor(float(table.rows[lay.drum][0]), what, table, lay.drum, table.columns[0])
