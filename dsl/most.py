"""More of something than a rig has: refused in words before it takes minutes or fills the memory.

Rules compare things with each other, and each mode of each stage is checked whole; so what counts
is how many there are of what no rig has many of, not how long a text is.
"""

from __future__ import annotations

from collections import Counter

from .kinds import kinds
from .model import Rig
from .problems import TooMany
from .source import Spoiled, Statement

SOURCES = "sources and converters"  # each is compared with every other
MOST_OF = {
    SOURCES: 200,
    "stage": 200,
    "mode": 200,
    "place": 10_000,
    "route": 10_000,
    "panel": 10_000,
    "entry": 10_000,
    "part": 10_000,
}
ENCLOSURE = "enclosure"
MOST_LOOSE = 5_000  # devices that no conductor lands on
MOST_LANDED = 1_000  # conductors on one terminal
MOST_LOOKED_AT = 1_000_000  # devices and conductors, each as often as there are modes with it


class Tally:
    """What there is of everything while a rig is read; what is too much raises ``TooMany``."""

    def __init__(self) -> None:
        self._seen: dict[str, set[str]] = {}
        self._loose = 0
        self._looked_at = 0

    def statement(self, statement: Statement | Spoiled) -> None:
        """Count a statement by its name: one that names what is there already is no more of it."""
        kind = kinds().get(statement.word)
        if kind and kind.acts != ENCLOSURE:
            self._loose += 1
        elif isinstance(statement, Spoiled):
            self._loose -= 2  # it may be a wire
        else:
            self._loose -= len(statement.ends) + len(statement.far)
        what = SOURCES if kind and kind.acts in ("source", "converter") else statement.word
        if what in MOST_OF:
            seen = self._seen.setdefault(what, set())
            seen.add(str(statement.name))
            if len(seen) > MOST_OF[what]:
                said = what if what == SOURCES else f"`{what}` statements"
                raise TooMany(f"more than {MOST_OF[what]} {said}")

    def text(self) -> None:
        """At the end of the text: whether there are ends of conductors for its devices."""
        if self._loose > MOST_LOOSE:
            raise _loose()

    def stage(self, rig: Rig) -> None:
        """Count what stands in a stage."""
        self._looked_at += len(rig.modes) * (len(rig.devices) + len(rig.conductors))
        if self._looked_at > MOST_LOOKED_AT:
            raise TooMany(
                f"more than {MOST_LOOKED_AT} devices and conductors, counted anew in each mode of "
                "each stage"
            )
        ends = [end for c in rig.conductors.values() for end in (c.a, c.b)]
        if len(ends) > MOST_LANDED:
            ((device, terminal), most), *_ = Counter(
                (end.device, end.terminal) for end in ends
            ).most_common(1)
            if most > MOST_LANDED:
                raise TooMany(f"more than {MOST_LANDED} conductors on {device}.{terminal}")
        if len(rig.devices) > MOST_LOOSE:
            landed = {end.device for end in ends}
            others = (d for d in rig.devices.values() if d.name not in landed)
            if sum(kinds()[d.kind].acts != ENCLOSURE for d in others) > MOST_LOOSE:
                raise _loose()


def _loose() -> TooMany:
    return TooMany(f"more than {MOST_LOOSE} devices that no conductor lands on")
