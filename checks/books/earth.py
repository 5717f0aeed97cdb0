"""Protective and bonding conductors: the least size a book asks for."""

from __future__ import annotations

from ...dsl.model import Size
from ..trade.sizes import NEAR, area_mm2, spoken
from .data import Data
from .figures import Figure, Missing
from .table import Cell, Table


def earth_min(
    data: Data, rating_a: float, line: Size, dc: bool, separate: bool, enlarged: float
) -> Figure | Missing:
    """The least area, mm2, of the protective conductor of a line; see ``Book.earth_min``."""
    rule = data.earth
    table = data.tables[rule.table]
    by_rating = rule.by == "rating"
    row = _row(table, rating_a if by_rating else line.mm2)
    if row is None:
        return Missing("beyond the table of protective conductors", table.origin.clause)
    area, words = _size(table.rows[row][int(rating_a > rule.smaller_above[dc])], line)
    origin = table.origin_at(row)
    given = f"device {rating_a:g} A" if by_rating else f"line {spoken(line.text)}"
    steps = [f"{origin.clause}: {given}, protective conductor at least {words}"]
    if by_rating and enlarged > NEAR:
        area *= enlarged
        steps.append(f"{rule.enlarged_clause}: enlarged as the line, x {enlarged:.3g}")
    if by_rating and area > line.mm2 * NEAR:
        area = line.mm2
        steps.append(f"never larger than the circuit's own, {spoken(line.text)}")
    if separate and rule.separate_min and area < area_mm2(rule.separate_min):
        area = area_mm2(rule.separate_min)
        steps.append(f"{rule.separate_clause}: at least {spoken(rule.separate_min)}")
    return Figure(area, "mm2", origin.clause, tuple(steps), origin.status)


def _row(table: Table, value: float) -> str | None:
    by_size = any(row.endswith(("AWG", "mm2")) for row in table.rows)
    return table.floor(value) if by_size else table.ceiling(value)


def _size(cell: Cell, line: Size) -> tuple[float, str]:
    """A cell of an earth table as area in mm2 and words: a size, ``S`` or ``S/2``."""
    if cell == "S":
        return line.mm2, f"as the line, {spoken(line.text)}"
    if cell == "S/2":
        return line.mm2 / 2, f"half the line, {line.mm2 / 2:g} mm2"
    return area_mm2(str(cell)), spoken(str(cell))


def bonding_min(data: Data, protective_mm2: float) -> Figure | None:
    """The least area, mm2, of a main bonding conductor; see ``Book.bonding_min``."""
    least = data.values.get("main-bonding-min", data.values.get("bonding-min"))
    most = data.values.get("main-bonding-max")
    if least is None:
        return None
    area = area_mm2(least["value"])
    steps = [f"{least['clause']}: at least {spoken(least['value'])}"]
    if most is not None and protective_mm2 / 2 > area:
        area = min(protective_mm2 / 2, area_mm2(most["value"]))
        half = f"half the main protective conductor, {protective_mm2 / 2:g} mm2"
        steps.append(f"{half}, not above {spoken(most['value'])}: {area:g} mm2")
    return Figure(area, "mm2", least["clause"], tuple(steps), least["status"])
