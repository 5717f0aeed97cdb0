"""How an end of a conductor is prepared for the terminal it lands on (``ends.toml``)."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from ..checks.sizes import NEAR
from ..dsl.model import Conductor, Device, Quantity, Size, Terminal

NONE = "—"
POSTS = ("battery", "earth")


@dataclass(frozen=True, slots=True)
class Preparation:
    """What is done to one end.

    ``fitting`` is ferrule, lug, bare, rigid or not landed; ``size`` is the ferrule's section or
    the lug's ("stud-section"); ``colour`` the ferrule's collar; ``strip_mm`` what comes off the
    insulation (None: as the terminal or the lug says).
    """

    fitting: str
    size: str = ""
    colour: str = ""
    strip_mm: float | None = None

    @property
    def short(self) -> str:
        """In a few letters, for a narrow column: ``F 2.5-8``, ``M8-70``, ``bare``."""
        return {"ferrule": f"F {self.size}", "lug": self.size}.get(self.fitting, self.fitting)

    def __str__(self) -> str:
        words = " ".join(filter(None, (self.fitting, self.size, self.colour)))
        return words if self.strip_mm is None else f"{words}, strip {self.strip_mm:g}mm"


@dataclass(frozen=True, slots=True)
class Ferrule:
    """One size of insulated ferrule: section in mm2, sleeve lengths and strip allowance in mm."""

    mm2: float
    awg: str
    colour: str
    sleeves: tuple[int, ...]
    usual: int
    over: int


@cache
def _table() -> Mapping[str, Any]:
    with (Path(__file__).parent / "ends.toml").open("rb") as file:
        return tomllib.load(file)


@cache
def ferrules() -> tuple[Ferrule, ...]:
    """The ferrules of DIN 46228-4, rising."""
    rows = _table()["ferrules"]["rows"]
    return tuple(Ferrule(**{**row, "sleeves": tuple(row["sleeves"])}) for row in rows)


def ferrule_for(size: Size) -> Ferrule | None:
    """The ferrule printed for this gauge, else the smallest that takes the area; None: none made.

    An area outside the table (below 0.34 mm2, above 50 mm2) has no ferrule of the series.
    """
    by_gauge = next((f for f in ferrules() if f.awg == size.text), None)
    if by_gauge or size.mm2 < ferrules()[0].mm2 / 1.5:
        return by_gauge
    return next((f for f in ferrules() if size.mm2 <= f.mm2 * NEAR), None)


def _lug_section(size: Size) -> str:
    """A lug's section as bought: the conductor's own gauge, or the next metric section made."""
    if size.text.endswith("AWG"):
        return size.text
    rows = _table()["lugs"]["rows"]
    return next((f"{r['mm2']:g}" for r in rows if size.mm2 <= r["mm2"] * NEAR), size.text)


def _ferrule(size: Size, terminal: Terminal, told_mm: float | None) -> Preparation:
    found = ferrule_for(size)
    if found is None and terminal.clamp is None and size.mm2 > ferrules()[-1].mm2:
        return _lug(size, terminal, told_mm)
    if found is None:
        return Preparation("bare", strip_mm=told_mm)
    fits = [s for s in found.sleeves if told_mm is not None and s <= told_mm]
    sleeve = max(fits, default=found.usual)
    return Preparation("ferrule", f"{found.mm2:g}-{sleeve}", found.colour, sleeve + found.over)


def _lug(size: Size, terminal: Terminal, told_mm: float | None) -> Preparation:
    return Preparation("lug", f"{terminal.stud or 'M?'}-{_lug_section(size)}", strip_mm=told_mm)


def _is_stud(device: Device, terminal: Terminal) -> bool:
    """Posts and chassis points take lugs where the text says nothing else of them."""
    return device.kind in POSTS and terminal.clamp is None and terminal.grip == "clamp"


def preparation(conductor: Conductor, device: Device | None, terminal: str) -> Preparation:
    """The preparation of the end of ``conductor`` on a terminal of ``device``.

    A ferrule is given as section and sleeve ("2.5-8" is 2.5 mm2, 8 mm), with the colour of its
    collar and the strip length in mm.  A terminal's own strip length, where the text gives one,
    chooses the sleeve and is the strip length of a bare end.
    """
    landing = device.terminal(terminal) if device else None
    if device is None or landing is None:
        return Preparation("not landed")
    size = conductor.size
    if size is None:
        return Preparation("rigid")
    strip = device.attrs.get("strip")
    told_mm = round(strip.value * 1000, 1) if isinstance(strip, Quantity) else None
    grip = "stud" if landing.stud or _is_stud(device, landing) else landing.grip
    fitting = _table()["grips"][grip]["solid" if conductor.flag("solid") else "strands"]
    if fitting == "ferrule":
        return _ferrule(size, landing, told_mm)
    if fitting == "lug":
        return _lug(size, landing, told_mm)
    return Preparation("bare", strip_mm=told_mm)
