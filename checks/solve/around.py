"""What stands near enough to a terminal for a fault to reach it past its own way back.

With single-core wiring the way back is not beside the line.  What slips off a fuse falls on
whatever is near: the negative bar of the board, the battery's own post, a chassis stud.  So the
greatest fault current is that to the best of these in the same place.  Where the text says no
place, all that no cord parts counts as one: too large a current errs to the safe side.
"""

from __future__ import annotations

from functools import lru_cache

from ...dsl.model import Conductor, Device
from ..tracing.network import Groups, Wiring
from .circuit import Circuit
from .nodal import GROUND

MOST = 3
"""So many are tried, those of the least impedance to their source first: the greatest current goes
to the first of them wherever line and return have nothing but the source in common."""
USERS = ("load", "outlet", "converter")


class Spots:
    """The bars, posts and studs of a rig with where they stand; ``spot`` is that of a device."""

    def __init__(self, wiring: Wiring) -> None:
        self.wiring = wiring
        rig = wiring.rig
        numbers = {name: number for number, name in enumerate(rig.devices)}
        groups = Groups(len(numbers))
        for conductor in rig.conductors.values():
            ends = [end.device for end in (conductor.a, conductor.b) if end.device in numbers]
            if len(ends) == 2 and not self._parts(conductor):
                groups.join(*(numbers[name] for name in ends))
        self.spot = {
            name: (rig.place_of(device), groups.find(numbers[name]))
            for name, device in rig.devices.items()
        }
        self.nodes = [node for device in rig.devices.values() for node in self._ends(device)]

    def _parts(self, conductor: Conductor) -> bool:
        """Whether a conductor leads elsewhere: a cord, or from a supply outside the rig."""
        kinds = self.wiring.kinds
        outside = (kinds[e.device].name == "supply" for e in (conductor.a, conductor.b))
        return conductor.flag("cord") or conductor.flag("plug") or any(outside)

    def _ends(self, device: Device) -> list[int]:
        """The terminals of a device that a fault nearby may reach: one of a bar is all of it."""
        kind, variant = self.wiring.kinds[device.name], self.wiring.variants[device.name]
        if variant.numbered in ("all", "free"):
            return [self.wiring.node(device.name, t.name) for t in device.terminals[:1]]
        if kind.acts != "source" or kind.name == "supply":
            return []
        return [self.wiring.node(device.name, name) for name in variant.terminals]

    def beside(self, node: int) -> list[int]:
        """Those that may stand beside a terminal; none that are known to stand elsewhere.

        What uses current has its way back at its own terminals; it counts only what is said to
        stand in its place.
        """
        name = self.wiring.names[node][0]
        place, region = self.spot[name]
        told_only = self.wiring.kinds[name].acts in USERS
        found = []
        for other in self.nodes:
            there, its_region = self.spot[self.wiring.names[other][0]]
            untold = there is None or place is None
            if (its_region == region and not told_only) if untold else there == place:
                found.append(other)
        return found


@lru_cache(maxsize=16)
def spots(wiring: Wiring) -> Spots:
    """Where things stand, worked out once a stage."""
    return Spots(wiring)


def nearest_to_source(circuit: Circuit, nodes: list[int], case: str) -> list[int]:
    """Of some terminals the few of the least impedance to the pole their circuit is pinned at."""
    if len(nodes) <= MOST:
        return nodes
    factor = circuit.factor(case)
    return sorted(nodes, key=lambda node: abs(factor.seen(circuit.index[node], GROUND)))[:MOST]
