"""P: places whose heat the text leaves open."""

from __future__ import annotations

from collections.abc import Iterator

from ..findings import WARNING
from ..registry import Hit, rule
from ..tracing.network import carries
from ..tracing.trace import EARTH, Stage


@rule(
    "P43",
    "engine-heat-unsaid",
    WARNING,
    clauses={
        "nfpa70": "NFPA 70 310.15(B)(1), the ambient of the place itself",
        "iec60364": "IEC 60364-5-52 523.2, the ambient of the place itself",
        "": "the book has no figure for an engine space",
    },
)
def engine_heat_unsaid(stage: Stage) -> Iterator[Hit]:
    """An engine space that gives no `ambient=`, under a book that knows no engine spaces.

    Its conductors are then reckoned at the temperature of the whole rig.  ABYC E-11 has a figure
    for engine spaces, 50 degC, and is left to it; NFPA 70 and IEC 60364 ask for the temperature
    that is there, which only the text can say.
    Why: at 50 degC, 70 degC insulation carries 71 % of what it does at 30 degC, at 60 degC half;
    a conductor that passes by the figure of a cabin is too thin beside an engine.
    Breaks it: a place marked `engine` with a pump's cable in it, and no `ambient=`.
    Does not: `engine ambient=60degC`; an engine space in which nothing ends and no route runs.
    """
    if "engine" in stage.book.data.ambient:
        return
    for place in (*stage.rig.places.values(), *stage.rig.routes.values()):
        if not place.flag("engine") or "ambient" in place.attrs:
            continue
        inside = list(dict.fromkeys(_conductors(stage, place.name)))
        if inside:
            yield Hit(
                on=(place.name,),
                span=place.span,
                message=f"{place.name} is an engine space and gives no ambient=: "
                f"{_listed(inside)} {'is' if len(inside) == 1 else 'are'} reckoned at "
                f"{stage.rig.ambient_c:g} degC there, the temperature of the whole rig",
                fix="state ambient= as it is with the engine hot (ABYC E-11 takes 50 degC)",
                value=stage.rig.ambient_c,
                unit="degC",
            )


def _conductors(stage: Stage, place: str) -> Iterator[str]:
    """The lines of text whose conductors carry current and lie or end in a place."""
    rig = stage.rig
    for conductor in rig.conductors.values():
        if conductor.size is None or not carries(conductor):
            continue
        ends = (rig.devices.get(end.device) for end in (conductor.a, conductor.b))
        touched = {rig.place_of(device) for device in ends if device} | set(conductor.via)
        if place in touched and stage.conductor_role(conductor.name) not in ("", EARTH):
            yield conductor.statement


def _listed(names: list[str]) -> str:
    most = 4
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more
