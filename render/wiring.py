"""What the wiring documents share: natural order, landings, and how things are named in them."""

from __future__ import annotations

import re
from collections.abc import Callable, Container, Mapping
from functools import cache

from ..dsl.model import Conductor, Device, End, Rig
from ..dsl.records import record
from .units import poles_text, spaced, spaced_size

NO_PLACE = ""
"""The place of a device that the text gives none."""
PLACELESS = "no place given"
CAUTION = (
    "A drawing is no proof that the rig was built to it; the tool knows only what the text says; "
    "local codes and a licensed person decide."
)


@cache
def natural(name: str) -> tuple[tuple[int, int, str], ...]:
    """A key that sorts W2 before W10, and C1/2 between C1/1 and C1/10.

    >>> sorted(["W10", "C1/10", "W2", "C1/2"], key=natural)
    ['C1/2', 'C1/10', 'W2', 'W10']
    """
    pieces = re.findall(r"[0-9]+|[^0-9]+", name)
    return tuple((0, int(p), "") if p.isdecimal() else (1, 0, p) for p in pieces)


@record
class Landing:
    """One end of a conductor where it lands; ``far`` is its other end."""

    conductor: Conductor
    here: End
    far: End

    @property
    def parts(self) -> tuple[Conductor, End, End]:
        return self.conductor, self.here, self.far


def conductor_id(name: str, end: str = "") -> str:
    """The id of a conductor's group on a sheet: ``con-C1.2``, at an end ``con-C1.2.a``."""
    return ".".join(filter(None, (f"con-{name.replace('/', '.')}", end)))


def landed(rig: Rig, end: End) -> bool:
    """Whether the terminal that an end names is there in this stage."""
    device = rig.devices.get(end.device)
    return device is not None and device.terminal(end.terminal) is not None


def landings(rig: Rig) -> Mapping[tuple[str, str], tuple[Landing, ...]]:
    """By device and terminal, the ends that name it: every conductor twice, in natural order."""
    found: dict[tuple[str, str], list[Landing]] = {}
    for conductor in sorted(rig.conductors.values(), key=lambda c: natural(c.name)):
        for here, far in ((conductor.a, conductor.b), (conductor.b, conductor.a)):
            found.setdefault((here.device, here.terminal), []).append(
                Landing(conductor, here, far)
            )
    return {at: tuple(ends) for at, ends in found.items()}


@record
class Ref:
    """A place on the sheets of the set, printed as in IEC 61082: sheet and zone, ``2/C4``."""

    sheet: int
    zone: str

    def __str__(self) -> str:
        return f"{self.sheet}/{self.zone}"


def place_name(rig: Rig, device: str) -> str:
    """The place a device stands in; "" where the text gives none."""
    found = rig.devices.get(device)
    return NO_PLACE if found is None else rig.place_of(found) or NO_PLACE


def place_heading(rig: Rig, place: str) -> str:
    """A place's name and label, as they stand over what is in it."""
    if place == NO_PLACE:
        return PLACELESS.capitalize()
    label = rig.places[place].label if place in rig.places else ""
    return f"{place}  {label}".strip()


def named(device: Device) -> str:
    """A device's name and label."""
    return f"{device.name}  {device.label}".strip()


def where(rig: Rig, device: Device) -> str:
    """Where a device is found: its ways in its panel, and the place; "" where neither is said.

    Ways as the text has them: ``MB.7-8, BOARD``.
    """
    spot = device.panel or ""
    if device.panel and device.ways:
        ways = device.ways
        spot += f".{ways[0]}" if len(ways) == 1 else f".{ways[0]}-{ways[-1]}"
    return ", ".join(dict.fromkeys(filter(None, (spot, place_name(rig, device.name)))))


def size_text(conductor: Conductor) -> str:
    """A conductor's size; a link has none."""
    return spaced_size(conductor.size.text) if conductor.size else "—"


_WORDS: Mapping[str, Callable[[str], str]] = {
    "poles": poles_text,
    "class": "class {}".format,
    "rcd": lambda text: f"RCD {spaced(text)}",
    "gfci": lambda text: f"GFCI {spaced(text)}",
    "breaks": lambda text: f"breaks {spaced(text)}",
}
_FIGURES = (
    "voltage", "rating", "poles", "curve", "class", "rcd", "gfci", "power", "apparent", "current",
    "capacity", "breaks",
)  # fmt: skip


def rating_text(device: Device, without: Container[str] = ()) -> str:
    """A device's figures in the order its kind's table prints them: ``15 A 2P C breaks 10 kA``."""
    given = [(key, device.text(key)) for key in _FIGURES if device.text(key) and key not in without]
    return " ".join(_WORDS.get(key, spaced)(text) for key, text in given)
