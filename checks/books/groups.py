"""What runs together: current-carrying conductors, and circuits, counted by the route they share.

Protective conductors never count, nor the neutral of two or three lines in one cable, which carries
only their difference (NFPA 70 310.15(E), IEC 60364-5-52 523.6.3).  Whoever has traced the roles
says how many carry current in each mode; the text alone tells less.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from ...dsl.model import Conductor, Rig
from ...dsl.records import record

BUNCHED, SPACED = "bunched", "spaced"
LINES = frozenset(("L", "L1", "L2", "L3", "+"))


@record
class Together:
    """What runs on one route: current-carrying conductors, circuits, and how they lie.

    ``route`` is "" where a conductor names none: then it counts with its own cable alone.
    """

    conductors: int
    circuits: int
    route: str
    laid: str


class Grouping:
    """The conductors and circuits on every route, and the loaded conductors of every cable.

    ``modes``: for each mode the number of conductors that carry current, by the line of text they
    belong to (a cable's cores together); where there are several, the mode with most counts.
    A conductor no longer than ``short`` (m, the book's) counts nowhere.
    """

    def __init__(self, rig: Rig, modes: Iterable[Mapping[str, int]], short: float) -> None:
        self.rig = rig
        self.short = short
        self.loaded: dict[str, int] = {}
        self.conductors: dict[str, int] = {}
        self.circuits: dict[str, int] = {}
        for carrying in modes:
            self._count(carrying)

    def _count(self, carrying: Mapping[str, int]) -> None:
        conductors: dict[str, int] = {}
        cables: dict[str, int] = {}
        wires: dict[str, int] = {}
        for name, count in carrying.items():
            cable = self.rig.cables.get(name)
            run = self.rig.conductors[cable.cores[0] if cable else name]
            if not count or run.length_m <= self.short:
                continue
            for route in dict.fromkeys(run.via):
                conductors[route] = conductors.get(route, 0) + count
                kind = wires if cable is None else cables
                kind[route] = kind.get(route, 0) + 1
        for route in conductors:  # a circuit of single conductors has two of them
            cables[route] = cables.get(route, 0) + (wires.get(route, 0) + 1) // 2
        for kept, found in (
            (self.loaded, carrying),
            (self.conductors, conductors),
            (self.circuits, cables),
        ):
            kept.update({key: max(n, kept.get(key, 0)) for key, n in found.items()})

    def of(self, conductor: Conductor, loaded: int) -> tuple[Together, ...]:
        """What runs with a conductor on each of its routes; with none, its own cable."""
        own = loaded if conductor.cable else 1
        alone = Together(own, 1, "", BUNCHED)
        if conductor.length_m <= self.short:
            return (alone,)
        routes = self.rig.routes
        found = tuple(
            Together(
                max(own, self.conductors.get(name, 0)),
                max(1, self.circuits.get(name, 0)),
                name,
                routes[name].text("laid", BUNCHED),
            )
            for name in conductor.via
            if name in routes
        )
        return found or (alone,)


def carrying(roles: Collection[str]) -> int:
    """How many of a cable's conductors count, by their traced roles ("" is dead)."""
    lines = [role for role in roles if role in LINES]
    returns = sum(role in ("N", "-") for role in roles)
    balanced = len({role for role in lines if role != "+"}) > 1
    return len(lines) + (0 if balanced else returns)
