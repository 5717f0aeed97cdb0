"""Ferrules, ring lugs, threads, cable diameters: tables of the trade, each with its source."""

from __future__ import annotations

import math

from ...dsl.model import Size
from ..books.book import book
from ..books.table import Table
from .sizes import NEAR, area_mm2

FERRULE_SOURCE = "DIN 46228-4; colours of 35 and 50 mm2 and all sleeve lengths from memory"
# Section in mm2, the gauge printed beside it, colour of the collar (IEC 60757), sleeve lengths made
# in mm, the usual one, and what comes on top of it to the strip length in mm (from memory above 6).
FERRULES: tuple[tuple[float, str, str, tuple[int, ...], int, int], ...] = (
    (0.5, "20AWG", "WH", (6, 8, 10), 8, 2),
    (0.75, "18AWG", "GY", (6, 8, 10, 12), 8, 2),
    (1.0, "17AWG", "RD", (6, 8, 10, 12), 8, 2),
    (1.5, "16AWG", "BK", (8, 10, 12, 18), 8, 2),
    (2.5, "14AWG", "BU", (8, 12, 18), 8, 2),
    (4.0, "12AWG", "GY", (10, 12, 18), 10, 2),
    (6.0, "10AWG", "YE", (12, 18), 12, 2),
    (10.0, "8AWG", "RD", (12, 18), 12, 3),
    (16.0, "6AWG", "BU", (12, 18), 12, 3),
    (25.0, "4AWG", "YE", (16, 18, 22), 16, 3),
    (35.0, "2AWG", "RD", (16, 18, 25), 16, 3),
    (50.0, "1AWG", "BU", (20, 25), 20, 3),
)

LUG_SOURCE = "DIN 46234 (from memory)"
# Section a lug is made for in mm2, the smallest and the largest stud (M, mm) it is made for.
LUGS: tuple[tuple[float, float, float], ...] = (
    (1.0, 2, 8),
    (2.5, 3, 12),
    (6.0, 4, 12),
    (10.0, 5, 12),
    (16.0, 5, 12),
    (25.0, 5, 16),
    (35.0, 6, 16),
    (50.0, 6, 16),
    (70.0, 8, 16),
    (95.0, 8, 20),
    (120.0, 8, 20),
    (150.0, 10, 20),
    (185.0, 10, 20),
    (240.0, 10, 20),
)

THREAD_SOURCE = "ISO 261; ASME B1.1 for inch and number threads"
# Outside diameter in mm of the threads whose name is no diameter in mm.
# Lugs for inch and metric studs of like size are one in the trade (1/4 in and M6, 3/8 in and M10);
# neighbours of one series differ by a fifth and more.  Common practice, no published source.
THREAD_NEAR = 1.06
THREADS = {"No8": 4.166, "No10": 4.826, "No12": 5.486}

MODULE_MM = 18.0
MODULE_SOURCE = "DIN 43880: 17.5 mm and half a millimetre, 18 mm on the rail"

METRIC_WIRE_SOURCE = "flexible single cores of EN 50525-2-31, middle of the range (from memory)"
# Section in mm2 and outside diameter in mm.
WIRE_MM: tuple[tuple[float, float], ...] = (
    (0.5, 2.2),
    (0.75, 2.4),
    (1.0, 2.6),
    (1.5, 3.0),
    (2.5, 3.6),
    (4.0, 4.2),
    (6.0, 4.8),
    (10.0, 6.2),
    (16.0, 7.4),
    (25.0, 9.2),
    (35.0, 10.6),
    (50.0, 12.5),
    (70.0, 14.4),
    (95.0, 16.6),
    (120.0, 18.4),
)
PACKING_SOURCE = "equal circles in the smallest circle around them (geometry)"
# Diameter of the circle round so many circles of diameter 1; more: sqrt(n / 0.7).
PACKING = {1: 1.0, 2: 2.0, 3: 2.1547, 4: 2.4142, 5: 2.7013, 6: 3.0, 7: 3.0}
SHEATH_SOURCE = "common practice, no published source"
SHEATH_SHARE, SHEATH_LEAST_MM = 0.12, 0.8

FILL_SOURCE = "NFPA 70 Chapter 9 Table 1"
NIPPLE_M, NIPPLE_FILL = 0.61, 0.60
"""A raceway of at most 24 in may be filled so far (note 4 of that table)."""
BOX_SOURCE = "NFPA 70 314.16(B)"
CM3_PER_IN3 = 16.387064
NM_PER_LBIN = 0.1129848290276167


def printed(name: str, key: str) -> Table:
    """A table of a rule book that serves as the yardstick whatever book the rig is judged by."""
    return book(name).tables[key]


def thread_mm(text: str) -> float | None:
    """Outside diameter in mm of a thread (``M8``, ``5/16in``, ``No10``); None: an unknown one."""
    if text in THREADS:
        return THREADS[text]
    try:
        if text[:1] in "Mm":
            return float(text[1:])
        whole, _, part = text.removesuffix("in").partition("/")
        return 25.4 * float(whole) / float(part or 1)
    except (ValueError, ZeroDivisionError):
        return None


def lug_studs(mm2: float) -> tuple[float, float] | None:
    """The smallest and the largest stud (mm) that lugs for a section are made for (DIN 46234)."""
    return next(((low, high) for made, low, high in LUGS if mm2 <= made * NEAR), None)


def ferrule_mm2(size: Size) -> float | None:
    """The section of the usual ferrule of a conductor (DIN 46228-4); None: none is made.

    The one printed for its gauge, else the smallest that takes its area.
    """
    row = next((f for f in FERRULES if f[1] == size.text), None)
    if row is None and size.mm2 >= FERRULES[0][0] / 1.5:
        row = next((f for f in FERRULES if size.mm2 <= f[0] * NEAR), None)
    return row[0] if row else None


def shortest_sleeve_mm(mm2: float) -> int | None:
    """The shortest sleeve (mm) made for a ferrule of a section; None: no such ferrule."""
    return next((f[3][0] for f in FERRULES if f[0] / NEAR <= mm2 <= f[0] * NEAR), None)


def wire_mm(size: Size) -> float:
    """Usual diameter in mm over the insulation of a single conductor.

    In AWG: NFPA 70 Chapter 9 Table 5, THHN; in mm2 ``METRIC_WIRE_SOURCE``.
    """
    areas = printed("nfpa70", "conductor-area").rows
    if size.text in areas:
        return 25.4 * math.sqrt(4 * float(areas[size.text][0]) / math.pi)
    return next((mm for mm2, mm in WIRE_MM if size.mm2 <= mm2 * NEAR), 1.7 * math.sqrt(size.mm2))


def cable_mm(size: Size, cores: int) -> float:
    """Usual diameter in mm of a round sheathed cable: its cores packed, and a sheath round them."""
    around = wire_mm(size) * PACKING.get(cores, math.sqrt(cores / 0.7))
    return around + 2 * max(SHEATH_LEAST_MM, SHEATH_SHARE * around)


def fill_limit(count: int, length_m: float | None = None) -> float:
    """Share of a conduit's inside that so many cables may fill (``FILL_SOURCE``)."""
    if length_m is not None and length_m <= NIPPLE_M:
        return NIPPLE_FILL
    table = printed("nfpa70", "fill")
    row = table.ceiling(count)
    return float(table.rows[row][0]) / 100 if row else 0.0


def box_cm3(sizes: list[Size], earths: list[Size], yoke: bool) -> float:
    """Least volume in cm3 of a box (``BOX_SOURCE``), internal clamps not counted.

    ``sizes``: conductors that carry current; ``earths`` count as one of the largest, and a quarter
    more for each beyond four; ``yoke``: a socket or a switch, which counts as two of the largest.
    """
    takes = [_in3(size) for size in sizes]
    grounds = [_in3(size) for size in earths]
    total = sum(takes)
    if grounds:
        total += max(grounds) * (1 + max(0, len(grounds) - 4) / 4)
    if yoke:
        total += 2 * max((*takes, *grounds), default=0.0)
    return total * CM3_PER_IN3


def _in3(size: Size) -> float:
    """What one conductor takes; a metric one as the next gauge up, beyond the table 0."""
    rows = printed("nfpa70", "box").rows
    if size.text in rows:
        return float(rows[size.text][0])
    fits = (float(row[0]) for gauge, row in rows.items() if size.mm2 <= area_mm2(gauge) * NEAR)
    return next(fits, 0.0)


def usual_torque(size: Size | None, stud: str | None) -> tuple[float, str] | None:
    """Nm where a maker gives none, and whose figure it is: of a stud, or of a slotted screw."""
    if stud is not None:
        table = printed("iec60364", "stud-torque")
        row = table.rows.get(stud)
        return None if row is None else (float(row[0]), table.origin.clause)
    table = printed("nfpa70", "torque")
    for gauge in table.rows:
        if size is not None and size.mm2 <= area_mm2(gauge) * NEAR:
            narrow = float(table.cell(gauge, "slot small"))
            nm = round(narrow * NM_PER_LBIN, 1)
            return (nm, f"{table.origin.clause}, narrow slot") if nm else None
    return None
