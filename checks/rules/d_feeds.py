"""D: devices that nothing feeds, and devices that nothing is connected to."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from itertools import chain

from ...dsl.model import Device, End
from ...dsl.records import record
from ..findings import WARNING, Related
from ..registry import Hit, rule
from ..tracing.bonding import listed
from ..tracing.network import PLUG, POLE, WIRE, Edge, Groups, carries
from ..tracing.trace import EARTH, UNGROUNDED, Stage, wanted

PRACTICE = {"": "common practice, no published source"}
SPARE = ("spare", "reserve", "unused", "not used", "free")
FED = ("protective", "switching", "residual", "distribution", "outlet", "converter")


class Dead:
    """What no source reaches in any mode, in groups of what could be live together.

    Earth is left out: it is meant to be dead.
    """

    def __init__(self, stage: Stage) -> None:
        self.stage = stage
        wiring = stage.wiring
        self.live = {
            node for view in stage.modes for node, net in enumerate(view.net) if net in view.roles
        }
        self.touched = {n for e in wiring.edges if e.kind == WIRE for n in (e.a, e.b)}
        self.earth = _earth(stage)
        self.doors = tuple(_doors(stage))
        self.ends = {name: self._dead_ends(device) for name, device in stage.rig.devices.items()}
        self.unfed = dict(self._unfed_converters())
        groups = Groups(len(wiring.names))
        for edge in chain(wiring.edges, self.doors, self._whole_devices(), self._through()):
            if self.dead(edge.a) and self.dead(edge.b):
                groups.join(edge.a, edge.b)
        self.group = groups.flat()
        self._ahead: dict[int, dict[str, None]] | None = None

    def dead(self, node: int) -> bool:
        return node not in self.live and node not in self.earth

    def _whole_devices(self) -> Iterator[Edge]:
        """A device that is dead altogether makes one group of what it joins."""
        for device in self.stage.rig.devices.values():
            if self.wholly(device):
                first, *rest = self.nodes(device)
                yield from (Edge(first, node, POLE, device.name) for node in rest)

    def _unfed_converters(self) -> Iterator[tuple[str, list[int]]]:
        """Converters none of whose inputs is live, with the dead line nodes of both their sides."""
        wiring = self.stage.wiring
        for name, kind in wiring.kinds.items():
            if kind.acts != "converter":
                continue
            variant = wiring.variants[name]
            takes = {t for names in variant.takes.values() for t in names}
            gives = {t for names in variant.gives.values() for t in names} - takes
            lines = [wiring.node(name, t) for t in sorted(takes) if wanted(t) in UNGROUNDED]
            inputs = [node for node in lines if node in self.touched]
            if inputs and not self.live.intersection(lines):
                outputs = [wiring.node(name, t) for t in sorted(gives) if wanted(t) in UNGROUNDED]
                yield name, [*inputs, *(node for node in outputs if node in self.touched)]

    def _through(self) -> Iterator[Edge]:
        """What hangs on the output of a converter is dead with what should feed it."""
        for name, (first, *rest) in self.unfed.items():
            yield from (Edge(first, node, POLE, name) for node in rest)

    def _dead_ends(self, device: Device) -> list[int]:
        found = (self.stage.wiring.node(device.name, t.name) for t in device.terminals)
        return [node for node in found if self.dead(node) and node in self.touched]

    def nodes(self, device: Device) -> list[int]:
        """The dead terminals of a device that a conductor lands on."""
        return self.ends[device.name]

    def wholly(self, device: Device) -> bool:
        """Whether it has conductors, and nothing reaches any of its terminals."""
        node = self.stage.wiring.node
        return bool(self.ends[device.name]) and self.live.isdisjoint(
            node(device.name, t.name) for t in device.terminals
        )

    def open_ahead(self, group: int) -> tuple[str, ...]:
        """The devices that keep a group from what is live, and sources in it that are off."""
        if self._ahead is None:
            self._ahead = {}
            for owner, there in chain(self._shut(), self._off()):
                self._ahead.setdefault(there, {})[owner] = None
        return tuple(self._ahead.get(group, ()))

    def _shut(self) -> Iterator[tuple[str, int]]:
        """The devices that stand between what is live and a group that is not, with the group."""
        for edge in self.doors:
            if (edge.a in self.live) != (edge.b in self.live):
                yield from ((edge.owner, self.group[node]) for node in (edge.a, edge.b))

    def _off(self) -> Iterator[tuple[str, int]]:
        """The sources and converters that could give at a dead terminal, with its group."""
        kinds = self.stage.wiring.kinds
        for device in self.stage.rig.devices.values():
            if kinds[device.name].acts in ("source", "converter"):
                yield from ((device.name, self.group[node]) for node in self._outputs(device))

    def _outputs(self, device: Device) -> list[int]:
        """The dead terminals at which a source or a converter that is not dead could give."""
        gives = self.stage.wiring.variants[device.name].gives.values()
        names = {terminal for terminals in gives for terminal in terminals}
        converter = self.stage.wiring.kinds[device.name].acts == "converter"
        if converter and (device.name in self.unfed or self.wholly(device)):
            return []
        nodes = (self.stage.wiring.node(device.name, name) for name in names)
        return [node for node in nodes if self.dead(node)]


def _earth(stage: Stage) -> set[int]:
    """The nodes of what conductors and bars join to an earth terminal."""
    wiring = stage.wiring
    groups = Groups(len(wiring.names))
    for edge in wiring.edges:
        groups.join(edge.a, edge.b)
    net = groups.flat()
    roots = {
        net[node]
        for node, (device, terminal) in enumerate(wiring.names)
        if wanted(terminal) == EARTH or wiring.kinds[device].acts == "earth"
    }
    return {node for node in range(len(net)) if net[node] in roots}


def _doors(stage: Stage) -> Iterator[Edge]:
    """What devices join in any of their states."""
    wiring = stage.wiring
    for name, variant in wiring.variants.items():
        for a, b in chain(variant.poles, *variant.joins.values()):
            yield Edge(wiring.node(name, a), wiring.node(name, b), POLE, name)
    for key, outside in wiring.outer.items():
        yield Edge(outside, wiring.nodes[key], PLUG, key[0])


@lru_cache(maxsize=8)
def dead_parts(stage: Stage) -> Dead:
    """What is dead in a stage, worked out once for all rules."""
    return Dead(stage)


@record
class Group:
    """Devices that are dead together: those to be fed, the foremost first, and their loads."""

    number: int
    devices: tuple[Device, ...]
    loads: tuple[Device, ...]


@lru_cache(maxsize=8)
def dead_groups(stage: Stage) -> tuple[Group, ...]:
    """The groups in which a device should be fed: what D04 finds."""
    return tuple(_dead_groups(stage))


def _dead_groups(stage: Stage) -> Iterator[Group]:
    dead = dead_parts(stage)
    kinds = stage.wiring.kinds
    found: dict[int, list[Device]] = {}
    loads: dict[int, list[Device]] = {}
    for device in stage.rig.devices.values():
        if not carries(device):
            continue
        acts = kinds[device.name].acts
        if acts in FED and dead.wholly(device):
            found.setdefault(dead.group[dead.nodes(device)[0]], []).append(device)
        elif acts in ("load", "outlet"):
            for node in dead.nodes(device):
                if wanted(stage.wiring.names[node][1]) in UNGROUNDED:
                    loads.setdefault(dead.group[node], []).append(device)
    for number, devices in found.items():
        devices.sort(key=lambda device: _has_free_end(stage, device), reverse=True)
        behind = dict.fromkeys(device.name for device in loads.get(number, ()))
        yield Group(number, tuple(devices), tuple(stage.rig.devices[name] for name in behind))


def _has_free_end(stage: Stage, device: Device) -> bool:
    """Whether a pole of it has a conductor at one end alone: where the feed is missing."""
    touched = dead_parts(stage).touched
    pairs = stage.wiring.variants[device.name].poles
    ends = ([stage.wiring.node(device.name, t) in touched for t in pair] for pair in pairs)
    return any(a != b for a, b in ends)


@lru_cache(maxsize=8)
def bare_ends(stage: Stage) -> tuple[tuple[str, str], ...]:
    """The line terminals that are live with nothing landed, from where a feed may be missing.

    Of a pole that is landed at its other end, and of a source or a converter.  A spare says so.
    """
    landed = {(end.device, end.terminal) for end in _ends(stage)}
    found = []
    for device in stage.rig.devices.values():
        if not any(word in device.label.lower() for word in SPARE):
            for ends in _giving(stage, device):
                bare = [t for t in ends if (device.name, t) not in landed]
                roles = {view.role(device.name, t) for view in stage.modes for t in bare}
                live = not roles.isdisjoint(UNGROUNDED)
                if live and (len(ends) == 1 or len(bare) == 1):
                    found.append((device.name, bare[0]))
    return tuple(found)


def _ends(stage: Stage) -> Iterator[End]:
    return (end for c in stage.rig.conductors.values() for end in (c.a, c.b))


def _giving(stage: Stage, device: Device) -> Iterator[tuple[str, ...]]:
    """The terminals that power leaves a device by, each with the other end of its pole."""
    variant, acts = stage.wiring.variants[device.name], stage.wiring.kinds[device.name].acts
    if acts in ("protective", "switching", "residual"):
        yield from variant.poles
    elif acts in ("source", "converter"):
        gives = {t: role for roles in variant.gives.values() for t, role in roles.items()}
        yield from ((t,) for t, role in gives.items() if role in UNGROUNDED)


def said_bare(bare: tuple[tuple[str, str], ...]) -> Iterator[str]:
    """Where a feed may be missing, in words, a line each."""
    return (f"{device}.{terminal} is live and nothing lands on it" for device, terminal in bare)


@rule(
    "D04",
    "unfed-device",
    clauses=PRACTICE,
    yields_to=("D01", "D02", "D05", "B07", "B19", "S02", "S14"),
)
def unfed_device(stage: Stage) -> Iterator[Hit]:
    """A device that conductors land on and no source reaches in any mode.

    Devices that are dead together are one finding, with the loads behind them.
    Why: either the conductor that should feed it is not in the text, or it ends elsewhere and is
    live where nobody expects it.
    Breaks it: a breaker with its circuit on terminal 2 and nothing on terminal 1.
    Does not: a device that one mode feeds; a spare breaker without conductors.
    """
    if not any(view.live for view in stage.modes):
        return  # S14 says so
    loose = _unconnected(stage, ("source",))
    for group in dead_groups(stage):
        first, *rest = (*group.devices, *group.loads)
        ahead = dead_parts(stage).open_ahead(group.number)
        bare = () if ahead else bare_ends(stage)
        behind = listed((device.name for device in rest), most=8)
        yield Hit(
            on=tuple(
                dict.fromkeys(
                    (first.name, *ahead, *loose, *(n for n, _ in bare), *(d.name for d in rest))
                )
            ),
            span=first.span,
            message=f"no source reaches {first.name} in any mode"
            + (f", nor what hangs on it: {behind}" if rest else ""),
            fix=f"let some mode close or switch on {', '.join(ahead)}"
            if ahead
            else f"land the conductor that feeds {first.name}",
            why=(
                *(f"{name} is open or off in every mode" for name in ahead),
                *(f"{name} has no conductor" for name in loose),
                *said_bare(bare),
            ),
            related=tuple(Related(device.span, "dead with it") for device in rest),
        )


def _unconnected(stage: Stage, acts: tuple[str, ...]) -> tuple[str, ...]:
    """The devices of these that should have conductors and have none."""
    landed = {end.device for end in _ends(stage)}
    return tuple(
        device.name
        for device in stage.rig.devices.values()
        if device.name not in landed
        and carries(device)
        and stage.wiring.kinds[device.name].acts in acts
    )


@rule("D11", "unconnected-device", WARNING, clauses=PRACTICE, yields_to=("D04", "B14", "B15"))
def unconnected_device(stage: Stage) -> Iterator[Hit]:
    """A device on which no conductor lands.

    Why: it is declared, drawn and bought, and does nothing: its conductors were forgotten, or it
    was meant to be taken out.
    Breaks it: `socket X9 16A` and no conductor that names X9.
    Does not: a device with `status=planned`; an enclosure.
    """
    acts = {kind.acts for kind in stage.wiring.kinds.values()} - {"enclosure"}
    for name in _unconnected(stage, tuple(acts)):
        device = stage.rig.devices[name]
        yield Hit(
            on=(device.name,),
            span=device.span,
            message=f"no conductor lands on {device.name}",
            fix=f"land its conductors, say status=planned, or take {device.name} out",
        )
