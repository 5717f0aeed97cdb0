"""How a conductor lies: what the ampacity tables and their correction factors are entered with."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Conductor, End, Quantity, Rig, Value
from ...dsl.records import record
from ..tracing.network import carries
from .data import Data
from .figures import Missing
from .groups import Grouping, Together

THREE_PHASE = ("three", "3", "3N")
"""Variants of devices on whose conductors three lines carry load."""


@record
class Lay:
    """What the ampacity of a conductor hangs on; ``stated``: the text gives its insulation.

    ``ambient``: degC of the hottest place or route it touches, named by ``where``; ``engine``:
    whether one of them is an engine space.  ``together``: what shares each of its routes.
    """

    size: str
    mm2: float
    form: str
    loaded: int
    celsius: float
    stated: bool
    method: str
    ambient: float
    where: str
    engine: bool
    together: tuple[Together, ...]
    drum: str


def said(conductor: Conductor, rig: Rig, key: str) -> Value | None:
    """An attribute of a conductor, or of the cable it is a core of."""
    value = conductor.attrs.get(key)
    cable = rig.cables.get(conductor.cable or "") if value is None else None
    return cable.attrs.get(key) if cable else value


def form_of(conductor: Conductor, rig: Rig) -> str:
    """``cord``, ``multi`` (a core of a cable) or ``single``."""
    if said(conductor, rig, "cord") is True:
        return "cord"
    return "multi" if conductor.cable else "single"


def celsius_of(data: Data, conductor: Conductor, rig: Rig) -> float:
    """The temperature, degC, its insulation is made for: stated, or usual for its form."""
    insulation = said(conductor, rig, "insulation")
    if isinstance(insulation, Quantity):
        return insulation.value
    return data.use.insulation[form_of(conductor, rig)]


def loaded_conductors(conductor: Conductor, rig: Rig) -> int:
    """How many conductors carry load in its cable, or beside it: 2 or 3, from the text alone.

    Three where an end is on a three-phase device, and in a cable of four cores or more, unless
    an end is on a split-phase device, whose neutral carries only the difference
    (NFPA 70 310.15(E), 400.5(A)).  Whoever has traced the roles can tell better.
    """
    cores = _cores(conductor, rig)
    ends = {end.device for c in cores for end in (c.a, c.b)}
    variants = [rig.devices[name].variant for name in ends if name in rig.devices]
    if any(v in THREE_PHASE for v in variants):
        return 3
    if any(v.startswith("split") for v in variants):
        return 2
    return 3 if len(cores) > 3 else 2


def loaded_by_text(rig: Rig) -> dict[str, int]:
    """Loaded conductors of every cable, and of every single wire that is not earth's."""
    found = {}
    for conductor in rig.conductors.values():
        if not carries(conductor):
            continue
        if conductor.cable is not None:
            if conductor.core == 1:
                found[conductor.cable] = loaded_conductors(conductor, rig)
        elif conductor.size is not None:
            found[conductor.name] = int(not (_earth(conductor.a, rig) or _earth(conductor.b, rig)))
    return found


def _earth(end: End, rig: Rig) -> bool:
    device = rig.devices.get(end.device)
    return end.terminal == "PE" or (device is not None and device.kind == "earth")


def _cores(conductor: Conductor, rig: Rig) -> list[Conductor]:
    """All conductors of its cable, or itself alone."""
    cable = rig.cables.get(conductor.cable or "")
    if cable is None:
        return [conductor]
    return [rig.conductors[name] for name in cable.cores if name in rig.conductors]


def _surroundings(conductor: Conductor, rig: Rig) -> Iterator[str | None]:
    """The places of the ends of its line of text, and its routes; None: no place is named."""
    for core in _cores(conductor, rig):
        for end in (core.a, core.b):
            device = rig.devices.get(end.device)
            if device is not None:
                yield rig.place_of(device)
    yield from conductor.via


def _hottest(conductor: Conductor, rig: Rig) -> tuple[float, str, bool]:
    """Ambient (degC) where it is hottest, that place's name, whether any is an engine space."""
    ambient, where, engine = rig.ambient_c, "", False
    warmest = (-300.0, False)
    for name in dict.fromkeys(_surroundings(conductor, rig)):
        place = rig.places.get(name or "") or rig.routes.get(name or "")
        here = (rig.ambient_of(name), place is not None and place.flag("engine"))
        if here > warmest:
            warmest, ambient, where = here, here[0], name or ""
        engine = engine or here[1]
    return ambient, where, engine


def lay_of(
    data: Data, conductor: Conductor, rig: Rig, loaded: int | None, groups: Grouping
) -> Lay | Missing:
    """What the book's tables are entered with for a conductor."""
    if conductor.size is None:
        return Missing(f"{conductor.name} has no size")
    form = form_of(conductor, rig)
    method = said(conductor, rig, "method")
    traced = groups.loaded.get(conductor.statement, 0) if conductor.cable else 0
    count = loaded or (max(traced, 2) if traced else loaded_conductors(conductor, rig))
    ambient, where, engine = _hottest(conductor, rig)
    return Lay(
        size=conductor.size.text,
        mm2=conductor.size.mm2,
        form=form,
        loaded=count,
        celsius=celsius_of(data, conductor, rig),
        stated=said(conductor, rig, "insulation") is not None,
        method=data.use.method[form] if method is None else str(method),
        ambient=ambient,
        where=where,
        engine=engine,
        # a cord's table is printed for up to three loaded conductors: they are no group
        together=groups.of(conductor, 1 if form == "cord" and count <= 3 else count),
        drum=str(said(conductor, rig, "drum") or ""),
    )
