"""How an end of a conductor is prepared for the terminal it lands on.

What the text says of it, else what the terminal's grip asks for (``ends.toml``).  Ferrules and
lugs come from ``checks/fittings.py``.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from ..checks.trade.ends import end_on, ferrule_said, grip_of, said, told_grip
from ..checks.trade.fittings import FERRULES, LUGS, ferrule_mm2
from ..checks.trade.sizes import NEAR
from ..dsl.model import Conductor, Device, Quantity, Size, Terminal
from ..dsl.records import record, replace

NONE = "—"
ASSUMED = (
    "An end in brackets is assumed: the text does not say how that terminal holds a conductor; see "
    "it before you make the end."
)
READY = "ready made"
"""A cord's end with its plug or its appliance on it: nothing to be done."""
LUGGED = ("lug", "ring", "fork", "pin")


@record
class Preparation:
    """What is done to one end; ``assumed``: the text does not say how the terminal holds it.

    ``fitting`` is ferrule, lug, ring, fork, pin, bare, soldered, rigid, ready made or not landed;
    ``size`` is the ferrule's section or the lug's ("stud-section"); ``colour`` the ferrule's
    collar; ``strip_mm`` what comes off the insulation (None: as the terminal or the lug says).
    """

    fitting: str
    size: str = ""
    colour: str = ""
    strip_mm: float | None = None
    assumed: bool = False

    @property
    def short(self) -> str:
        """In a few letters, for a narrow column: ``F 2.5-8``, ``M8-70``, ``bare``."""
        if self.fitting in LUGGED[1:]:
            return self.marked(f"{self.fitting} {self.size}")
        short = {"ferrule": f"F {self.size}", "lug": self.size, READY: "ready"}
        return self.marked(short.get(self.fitting, self.fitting))

    def marked(self, words: str) -> str:
        """Words about the end, in brackets where it is assumed."""
        return f"({words})" if self.assumed and words else words

    def __str__(self) -> str:
        words = " ".join(filter(None, (self.fitting, self.size, self.colour)))
        strip = "" if self.strip_mm is None else f", strip {self.strip_mm:g} mm"
        return self.marked(words + strip)


@record
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
    return tuple(Ferrule(*row) for row in FERRULES)


def ferrule_for(size: Size) -> Ferrule | None:
    """The ferrule printed for this gauge, else the smallest that takes the area; None: none made.

    An area outside the table (below 0.34 mm2, above 50 mm2) has no ferrule of the series.
    """
    return next((f for f in ferrules() if f.mm2 == ferrule_mm2(size)), None)


def _lug_section(size: Size) -> str:
    """A lug's section as bought: the conductor's own gauge, or the next metric section made."""
    if size.text.endswith("AWG"):
        return size.text
    return next((f"{mm2:g}" for mm2, _, _ in LUGS if size.mm2 <= mm2 * NEAR), size.text)


def _ferrule(size: Size, terminal: Terminal, told_mm: float | None) -> Preparation:
    found = ferrule_for(size)
    if found is None and terminal.clamp is None and size.mm2 > ferrules()[-1].mm2:
        return _lug(size, terminal.stud, told_mm)
    if found is None:
        return Preparation("bare", strip_mm=told_mm)
    fits = [s for s in found.sleeves if told_mm is not None and s <= told_mm]
    sleeve = max(fits, default=found.usual)
    return Preparation("ferrule", f"{found.mm2:g}-{sleeve}", found.colour, sleeve + found.over)


def _lug(size: Size, stud: str | None, told_mm: float | None, fitting: str = "lug") -> Preparation:
    hole = f"{stud or 'M?'}-" if fitting != "pin" else ""
    return Preparation(fitting, f"{hole}{_lug_section(size)}", strip_mm=told_mm)


def preparation(conductor: Conductor, device: Device | None, terminal: str) -> Preparation:
    """The preparation of the end of ``conductor`` on a terminal of ``device``.

    What ``ends=``, ``lug=`` and ``ferrule=`` say comes first; else the terminal's grip decides.
    A ferrule is given as section and sleeve ("2.5-8" is 2.5 mm2, 8 mm), with the colour of its
    collar and the strip length in mm.  A terminal's own strip length, where the text gives one,
    chooses the sleeve and is the strip length of a bare end.  Where neither the text of the
    conductor nor that of the terminal tells how it is held, the preparation is ``assumed``.
    """
    landing = device.terminal(terminal) if device else None
    if device is None or landing is None:
        return Preparation("not landed")
    if conductor.size is None:
        return Preparation("rigid")
    if is_ready(conductor, device):
        return Preparation(READY)
    made = _made(conductor, device, landing)
    return made if _told(conductor, device, landing) else replace(made, assumed=True)


def is_ready(conductor: Conductor, device: Device) -> bool:
    """Whether this end comes made: a cord with a plug, or one where a supply is plugged in."""
    outside = device.kind in ("supply", "inlet") and conductor.flag("cord")
    return conductor.flag("plug") or outside


def _told(conductor: Conductor, device: Device, terminal: Terminal) -> bool:
    """Whether the text says how this end is made, or how its terminal holds it."""
    end = end_on(conductor, device.name, terminal.name)
    own = said(conductor, "ends", end) or said(conductor, "lug", end) or ferrule_said(conductor)
    return bool(own or told_grip(device, terminal))


def _made(conductor: Conductor, device: Device, landing: Terminal) -> Preparation:
    size = conductor.size
    assert size is not None
    strip = device.attrs.get("strip")
    told_mm = round(strip.value * 1000, 1) if isinstance(strip, Quantity) else None
    end = end_on(conductor, device.name, landing.name)
    strands = _table()["grips"][grip_of(device, landing)]
    usual = strands["solid" if conductor.flag("solid") else "strands"]
    lugged = said(conductor, "lug", end) and told_grip(device, landing) in ("", "stud", "loop")
    fitting = said(conductor, "ends", end) or ("lug" if lugged else usual)
    if fitting == "ferrule":
        return _ferrule(ferrule_said(conductor) or size, landing, told_mm)
    if fitting in LUGGED:
        return _lug(size, said(conductor, "lug", end) or landing.stud, told_mm, fitting)
    return Preparation(fitting, strip_mm=told_mm)
