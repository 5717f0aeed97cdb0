"""Continuity of protective and bonding conductors, with everything unplugged and switched off."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from functools import cached_property
from math import inf

from ...dsl.model import Conductor
from ..books.book import Missing
from ..solve.nodal import Factor
from ..tracing.network import BAR, WIRE, Groups, carries
from ..tracing.trace import EARTH, Stage
from .data import basis, clause, limit
from .trial import Trial

COLD = 20.0
"""The temperature, degC, at which a continuity is expected (IEC 60228 prints it)."""
TIE = 1e-9 + 0j
"""Each group hangs in the air: a tie of so many S to the reference makes its equations solvable."""


class Earths:
    """The protective conductors with everything unplugged and switched off, as resistors.

    Bars and links join; a group is what conductors and bars join, ``reference`` the terminal of
    each that all is measured from: on the bar most conductors land on, else on the chassis.
    """

    def __init__(self, stage: Stage) -> None:
        self.stage = stage
        self.wiring = wiring = stage.wiring
        self.points = [
            wiring.node(device.name, terminal)
            for device in stage.rig.devices.values()
            if carries(device) and wiring.kinds[device.name].acts != "source"
            for terminal in wiring.variants[device.name].pe
        ]
        self.points += [
            wiring.node(device.name, device.terminals[0].name)
            for device in stage.rig.devices.values()
            if wiring.kinds[device.name].acts == "earth" and carries(device) and device.terminals
        ]
        self.groups = {wiring.joined[node] for node in self.points}
        self.merged = Groups(len(wiring.names))
        self.resistors: list[tuple[int, int, str, float]] = []
        self._read()
        self.landed = {node for a, b, _, _ in self.resistors for node in (a, b)}

    def _read(self) -> None:
        for edge in self.wiring.edges:
            if self.wiring.joined[edge.a] not in self.groups:
                continue
            ohms = None if edge.kind == BAR else ohms_of(self.stage, edge.owner)
            if ohms is None:
                self.merged.join(edge.a, edge.b)
            else:
                self.resistors.append((edge.a, edge.b, edge.owner, ohms))

    def reference(self, group: int) -> int | None:
        """The terminal that a group's continuity is measured from; None: a lone terminal."""
        count: Counter[str] = Counter()
        first: dict[str, int] = {}
        for a, b, _, _ in self.resistors:
            for node in (a, b):
                device = self.wiring.names[node][0]
                if self.wiring.joined[node] == group:
                    rank = {"distribution": 1000, "earth": 1}
                    count[device] += rank.get(self.wiring.kinds[device].acts, 0)
                    first.setdefault(device, node)
        best = max(count, key=lambda name: count[name], default="")
        return first.get(best)

    def main(self) -> int | None:
        """The reference of the group with most exposed parts."""
        count = Counter(self.wiring.joined[node] for node in self.points if node in self.landed)
        return self.reference(count.most_common(1)[0][0]) if count else None

    def plugged(self, a: int, b: int) -> bool:
        """Whether two terminals are of one group once all plugs are in."""
        return self._whole.find(a) == self._whole.find(b)

    @cached_property
    def _whole(self) -> Groups:
        groups = Groups(len(self.wiring.names), self.wiring.joined)
        for key, outside in self.wiring.outer.items():
            groups.join(outside, self.wiring.nodes[key])
        return groups

    def ohms(self, a: int, b: int) -> float:
        """Resistance between two terminals of one group, every parallel way with it."""
        find = self.merged.find
        if find(a) == find(b):
            return 0.0
        numbers, factor = self._network
        return factor.seen(numbers[find(a)], numbers[find(b)]).real

    @cached_property
    def _network(self) -> tuple[dict[int, int], Factor]:
        """The number of each joined terminal, and the equations of all groups."""
        find = self.merged.find
        numbers: dict[int, int] = {}
        for one, other, _, _ in self.resistors:
            for node in (one, other):
                numbers.setdefault(find(node), len(numbers))
        branches = [
            (numbers[find(one)], numbers[find(other)], complex(1 / ohms))
            for one, other, _, ohms in self.resistors
        ]
        ties = [(index, -1, TIE) for index in numbers.values()]
        return numbers, Factor(len(numbers), [*branches, *ties])


def ohms_of(stage: Stage, name: str) -> float | None:
    """Resistance of a conductor from end to end at 20 degC, ohm; None: as good as nothing."""
    found = stage.book.resistance(stage.rig.conductors[name], stage.rig, COLD)
    return None if isinstance(found, Missing) or not found.value else found.value


def most_ohms(expected: float) -> float:
    """The most an ohmmeter may show where so much is expected."""
    return expected * (1 + limit("instrument")) + limit("contact")


def earth(stage: Stage) -> Iterator[Trial]:
    """Each exposed part to the main earth bar, each cord by itself, each bond by itself."""
    earths = Earths(stage)
    main = earths.main()
    if main is not None:
        by = f"{clause('earth', stage.book.name)}; {basis('instrument', 'contact')}"
        for node in earths.points:
            yield from _point(stage, earths, main, node, by)
        for conductor in _by_themselves(stage):
            yield _alone(conductor, ohms_of(stage, conductor.name) or 0.0, by)


def _point(stage: Stage, earths: Earths, main: int, node: int, by: str) -> Iterator[Trial]:
    wiring = stage.wiring
    device = wiring.names[node][0]
    if device == wiring.names[main][0] or node not in earths.landed:
        return
    where = f"{wiring.say(main)} to {wiring.say(node)}"
    if wiring.joined[node] == wiring.joined[main]:
        expected = earths.ohms(main, node)
        yield Trial(
            f"PE-{device}", "earth", "", where, "Continuity", "ohm", expected, None,
            most_ohms(expected), by, (device, *_way(stage, main, node)),
        )  # fmt: skip
    elif not earths.plugged(node, main):
        yield Trial(
            f"PE-{device}", "earth", "", where, "No continuity: this earth is kept apart", "ohm",
            inf, limit("apart"), None, basis("apart"), (device,),
        )  # fmt: skip


def _way(stage: Stage, main: int, node: int) -> Iterator[str]:
    """The conductors and bars on the shortest way, by number of conductors."""
    wiring = stage.wiring
    at: dict[int, list[tuple[int, str]]] = {}
    for edge in wiring.edges:
        if wiring.joined[edge.a] == wiring.joined[node]:
            at.setdefault(edge.a, []).append((edge.b, edge.owner))
            at.setdefault(edge.b, []).append((edge.a, edge.owner))
    came: dict[int, tuple[int, str]] = {main: (main, "")}
    queue = [main]
    for here in queue:
        for far, owner in at.get(here, ()):
            if far not in came:
                came[far] = (here, owner)
                queue.append(far)
    while node != main:
        node, owner = came[node]
        yield owner


def _by_themselves(stage: Stage) -> Iterator[Conductor]:
    """What is no part of the dead network: bonds, and the earth cores of cords with a plug."""
    outer = set(stage.wiring.outer.values())
    cords = {e.owner for e in stage.wiring.edges if e.kind == WIRE and {e.a, e.b} & outer}
    for conductor in stage.rig.conductors.values():
        if carries(conductor) and conductor.size is not None:
            earths = conductor.name in cords and stage.conductor_role(conductor.name) == EARTH
            if earths or conductor.kind == "bond":
                yield conductor


def _alone(conductor: Conductor, expected: float, by: str) -> Trial:
    what = "Bond, from end to end" if conductor.kind == "bond" else "Earth core, end to end"
    return Trial(
        f"PE-{conductor.name}", "earth", "", f"{conductor.a.name} to {conductor.b.name}", what,
        "ohm", expected, None, most_ohms(expected), by, (conductor.name,),
    )  # fmt: skip
