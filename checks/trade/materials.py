"""What copper does: resistance at a temperature, reactance at a frequency, heat in a short circuit.

The constants and tables are the book's; a size that it does not print goes by its area.
"""

from __future__ import annotations

from functools import cache
from math import log, sqrt

from ...dsl.model import Conductor, Rig
from ..books.data import Data
from ..books.figures import Figure, Missing
from ..books.lay import celsius_of, form_of, said
from ..books.table import Origin, Table
from .sizes import area_mm2, same_size, spoken

FOOT = 0.3048
METRES = {"ohm/kft": 1000 * FOOT, "ohm/km": 1000.0}
"""Length in m that a table's resistance is for, by its unit."""


def resistance(data: Data, conductor: Conductor, rig: Rig, celsius: float) -> Figure | Missing:
    """Resistance, ohm, of the whole conductor at its own temperature, degC."""
    if conductor.size is None:
        return Missing(f"{conductor.name} has no size")
    size, make = conductor.size, make_of(conductor, rig)
    found = _resistance(data, size.text, size.mm2, make, float(celsius))
    if isinstance(found, Missing):
        return found
    per_m, factor, origin, steps = found
    ohms = per_m * conductor.length_m * factor
    steps = (*steps, f"{conductor.length_m:g} m: {ohms:.4g} ohm")
    return Figure(ohms, "ohm", origin.clause, steps, origin.status)


def make_of(conductor: Conductor, rig: Rig) -> str:
    """How it is made: ``solid``, ``stranded`` or ``fine``, and `` tinned`` after that."""
    cable = rig.cables.get(conductor.cable or "")
    words = {**cable.attrs, **conductor.attrs} if cable else conductor.attrs
    fine = words.get("fine") is True or words.get("cord") is True
    make = "solid" if words.get("solid") is True else "fine" if fine else "stranded"
    return make + " tinned" * (words.get("tinned") is True)


@cache
def _resistance(
    data: Data, size: str, mm2: float, make: str, celsius: float
) -> tuple[float, float, Origin, tuple[str, ...]] | Missing:
    """ohm per metre at the table's temperature, times what at its own, whose, and the steps."""
    block = data.resistance
    table = data.tables[block["table"]]
    row = _nearest(table, mm2)
    per_m, words = _per_metre(data, table, row, make)
    origin = table.origin_at(row)
    steps = [f"{origin.clause}, {spoken(row)}{words} at {block['celsius']:g} degC"]
    if not same_size(area_mm2(row), mm2):
        per_m *= area_mm2(row) / mm2
        steps.append(f"{spoken(size)} is not in the table: in proportion to the areas")
    factor = 1 + block["coefficient"] * (celsius - block["celsius"])
    if factor <= 0:
        return Missing(f"no resistance at {celsius:g} degC", block["clause"])
    if celsius != block["celsius"]:
        rise = f"{block['coefficient']:g} ({celsius:g} - {block['celsius']:g})"
        steps.append(f"at {celsius:g} degC: x (1 + {rise}) = {factor:.4g} ({block['clause']})")
    return per_m, factor, origin, tuple(steps)


def _nearest(table: Table, mm2: float) -> str:
    """The row of a size, or of the next smaller (the smallest where there is none)."""
    return table.floor(mm2) or min(table.rows, key=area_mm2)


def _per_metre(data: Data, table: Table, row: str, make: str) -> tuple[float, str]:
    """ohm per metre of a row at the table's temperature, and the words that tell it."""
    constant = data.resistance.get("constant")
    if constant:
        mils = float(table.rows[row][0])
        words = f", {mils:g} CM: {constant:g} ohm CM/ft / {mils:g} CM"
        return constant / mils / FOOT, words
    name, _, tinned = make.partition(" ")
    names = data.resistance["columns"]
    suffix = names["tinned"] if tinned else ""
    cell = float(table.cell(row, names[name] + suffix))
    column = names[name] + suffix
    if not cell:
        column = names["stranded"] + suffix
        cell = float(table.cell(row, column))
    return cell / METRES[table.unit], f", {column}: {cell:g} {table.unit}"


def reactance(data: Data, conductor: Conductor, hertz: float) -> Figure | Missing:
    """Reactance, ohm, of the whole conductor at a frequency, Hz; 0 for direct current."""
    if conductor.size is None:
        return Missing(f"{conductor.name} has no size")
    return _reactance(data, conductor.size.mm2, conductor.length_m, float(hertz))


@cache
def _reactance(data: Data, mm2: float, length: float, hertz: float) -> Figure:
    block = data.reactance
    clause, status = block["clause"], block["status"]
    if hertz == 0:
        return Figure(0.0, "ohm", clause, ("direct current: no reactance",), status)
    if "table" in block:
        table = data.tables[block["table"]]
        row = _nearest(table, mm2)
        cell = float(table.cell(row, block["column"]))
        per_m = cell / METRES[table.unit]
        words = f"{table.origin_at(row).clause}, {spoken(row)}: {cell:g} {table.unit}"
    else:
        per_m = block["ohm_per_m"]
        words = f"{clause}: {1000 * per_m:g} mohm/m"
    ohms = per_m * length * hertz / block["hertz"]
    steps = [f"{words} at {block['hertz']:g} Hz"]
    if hertz != block["hertz"]:
        steps.append(f"at {hertz:g} Hz: x {hertz:g} / {block['hertz']:g}")
    return Figure(ohms, "ohm", clause, (*steps, f"{length:g} m: {ohms:.4g} ohm"), status)


def withstand(
    data: Data, conductor: Conductor, rig: Rig, initial: float | None = None
) -> Figure | Missing:
    """k, A sqrt(s)/mm2: it stands a short circuit (0.1 to 5 s) while I^2 t <= (k S)^2.

    ``initial``: its temperature before, degC; None: as hot as its insulation allows.
    """
    block = data.withstand
    celsius = celsius_of(data, conductor, rig)
    word = str(said(conductor, rig, "type") or "").upper()
    types = block.get("types", {})
    material: str = next((types[t] for t in types if word.startswith(t)), "")
    if not material:
        hot = celsius >= block.get("thermosetting_from", float("inf"))
        material = "thermosetting" if hot else block["material"][form_of(conductor, rig)]
    return _withstand(data, material, celsius if initial is None else initial)


@cache
def _withstand(data: Data, material: str, initial: float) -> Figure | Missing:
    block = data.withstand
    table = data.tables[block["table"]]
    row = table.ceiling(initial)
    final = float(table.cell(row, material)) if row else 0.0
    if final <= initial:
        what = f"{material} insulation that is {initial:g} degC hot before a short circuit"
        return Missing(f"no withstand of {what}", block["clause"])
    origin = table.origin_at(str(row))
    zero, factor = block["zero_celsius"], block["factor"]
    k = factor * sqrt(log((final + zero) / (initial + zero)))
    return Figure(
        k,
        "A sqrt(s)/mm2",
        block["clause"],
        (
            f"{origin.clause}: copper, {material} insulation, {initial:g} degC before, "
            f"{final:g} degC at the end",
            f"k = {factor:g} sqrt(ln(({final:g} + {zero:g}) / ({initial:g} + {zero:g}))) = {k:.1f}",
        ),
        origin.status,
    )
