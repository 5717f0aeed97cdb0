"""A rig in one mode, joined up from its statements: what the oracle goes by.

Nothing of ``checks`` is used.  A node is ``DEVICE.TERMINAL``; the outer side of an inlet or socket
that a plug goes into is ``DEVICE.TERMINAL!``.  Bonds are kept apart.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass

from ferrule.dsl.model import Conductor, Device, Mode, Rig

PAIRS = (("1", "2"), ("3", "4"), ("5", "6"), ("N1", "N2"))
ALL_JOINED = ("bus", "joint", "earth")
OPENING = ("breaker", "rcd", "switch", "fuse", "contactor")
OVERCURRENT = ("breaker", "fuse")
STATES = {
    **dict.fromkeys(OPENING, ("closed", "open")),
    "selector": ("a", "b", "off"),
    "inverter": ("invert", "pass", "off"),
}
ON_OFF = ("on", "off")
LINES = ("L", "L1", "L2", "L3", "+")
ABSENT = ("planned", "disabled", "removed")


@dataclass(frozen=True)
class Edge:
    """Two nodes joined by ``name``: a conductor, or a device (``pole`` where it can open)."""

    a: str
    b: str
    name: str
    pole: bool = False


@dataclass(frozen=True)
class Source:
    """What gives power in a mode: nodes by role, volts, the current it limits itself to."""

    name: str
    nodes: dict[str, str]
    volts: float
    ac: bool
    limit: float | None
    fault: float | None

    def lines(self) -> dict[str, str]:
        return {r: n for r, n in self.nodes.items() if r in LINES}

    def back(self) -> str:
        return self.nodes.get("N") or self.nodes.get("-") or ""


Walk = tuple[dict[str, Edge | None], bool]


class Net:
    """One mode of one stage."""

    def __init__(self, rig: Rig, mode: Mode) -> None:
        self.rig, self.mode = rig, mode
        self.said = {s.device: s.state for s in mode.settings}
        self.devices = {n: d for n, d in rig.devices.items() if d.status not in ABSENT}
        self.wires = {
            n: w
            for n, w in rig.conductors.items()
            if w.status not in ABSENT and {w.a.device, w.b.device} <= self.devices.keys()
        }
        self.edges = [e for d in self.devices.values() for e in self._inside(d)]
        plain = [w for w in self.wires.values() if w.kind != "bond"]
        self.edges += [Edge(self.end(w, 0), self.end(w, 1), w.name) for w in plain]
        self.bonds = [w for w in self.wires.values() if w.kind == "bond"]
        self.near: dict[str, list[tuple[str, Edge]]] = {}
        for edge in self.edges:
            self.near.setdefault(edge.a, []).append((edge.b, edge))
            self.near.setdefault(edge.b, []).append((edge.a, edge))
        self._reached: dict[tuple[str, frozenset[str], bool], set[str]] = {}
        self._walks: dict[tuple[str, frozenset[str], bool], Walk] = {}
        self.sources: list[Source] = []
        self._find_sources()
        self._stack()

    def state(self, device: Device) -> str:
        return self.said.get(device.name, STATES.get(device.kind, ON_OFF)[0])

    def _inside(self, device: Device) -> Iterator[Edge]:
        name, names, state = device.name, [t.name for t in device.terminals], self.state(device)
        pairs: list[tuple[str, str]] = []
        if device.kind in ALL_JOINED:
            pairs = [(names[0], other) for other in names[1:]]
        elif device.kind in OPENING and state == "closed":
            # Parts may rename terminals, in the kind's order.
            pairs = list(zip(names[::2], names[1::2], strict=False))
        elif device.kind == "selector" and state in ("a", "b"):
            pairs = [(n, n.replace(state, "out", 1)) for n in names if n.split("-")[0] == state]
        elif device.kind == "inverter" and state == "pass":
            pairs = [(n, "out" + n[2:]) for n in names if n.startswith("in-")]
        elif device.kind == "dcdc" and device.flag("common"):
            pairs = [("in-", "out-")]
        elif device.kind in ("inlet", "socket") and state == "on":
            pairs = [(n, f"{n}!") for n in names]
        pole = device.kind in (*OPENING, "selector", "inverter")
        for a, b in pairs:
            yield Edge(f"{name}.{a}", f"{name}.{b}", name, pole)

    def end(self, wire: Conductor, which: int) -> str:
        end, far = (wire.a, wire.b) if which == 0 else (wire.b, wire.a)
        device, other = self.rig.devices[end.device], self.rig.devices[far.device]
        plugged = device.kind in ("inlet", "socket") and wire.flag("plug")
        fed = device.kind == "inlet" and (
            wire.flag("cord") or other.kind in ("supply", "generator")
        )
        if fed and plugged and self._unplugged(device, other):
            return f"{end.name}!{wire.statement}"
        return f"{end.name}!" if plugged or fed else end.name

    def _unplugged(self, inlet: Device, source: Device) -> bool:
        """Of several cords with plugs for one inlet, one whose supply is off is not in."""
        cords = {
            w.statement
            for w in self.wires.values()
            if w.flag("plug") and inlet.name in (w.a.device, w.b.device)
        }
        return len(cords) > 1 and self.state(source) != "on"

    def reach(self, start: str, without: Collection[str] = (), poles: bool = True) -> set[str]:
        """All nodes joined to one, not through the named things; ``poles``: through devices."""
        asked = (start, frozenset(without), poles)
        if asked not in self._reached:
            self._reached[asked] = set(self._walked(*asked)[0])
        return self._reached[asked]

    def _walked(self, start: str, without: Collection[str], poles: bool = True) -> Walk:
        asked = (start, frozenset(without), poles)
        if asked not in self._walks:
            self._walks[asked] = self._walk(*asked)
        return self._walks[asked]

    def _walk(self, start: str, without: Collection[str], poles: bool) -> Walk:
        """The nodes joined to one with the edge each is come to by, and whether they are a tree."""
        came: dict[str, Edge | None] = {start: None}
        todo, steps = [start], 0
        while todo:
            for other, edge in self.near.get(todo.pop(), ()):
                if edge.name in without or (edge.pole and not poles):
                    continue
                steps += 1
                if other not in came:
                    came[other] = edge
                    todo.append(other)
        return came, steps == 2 * (len(came) - 1)

    def paths(self, start: str, goal: str, without: Collection[str] = ()) -> list[list[Edge]]:
        """Every way from one node to another that passes no node twice; fifty at most."""
        came, tree = self._walked(start, without)
        if goal not in came:
            return []
        if tree:
            return [self._back(came, goal)]
        return self._enumerated(start, goal, without)

    def _back(self, came: dict[str, Edge | None], goal: str) -> list[Edge]:
        """The one way there is in a tree."""
        way: list[Edge] = []
        node = goal
        while (edge := came[node]) is not None:
            way.append(edge)
            node = edge.a if edge.b == node else edge.b
        return way[::-1]

    def _enumerated(self, start: str, goal: str, without: Collection[str]) -> list[list[Edge]]:
        found: list[list[Edge]] = []
        stack: list[tuple[str, list[Edge], frozenset[str]]] = [(start, [], frozenset({start}))]
        while stack and len(found) < 50:
            node, way, seen = stack.pop()
            if node == goal:
                found.append(way)
                continue
            for other, edge in self.near.get(node, ()):
                if other not in seen and edge.name not in without:
                    stack.append((other, [*way, edge], seen | {other}))
        return found

    def _find_sources(self) -> None:
        waiting = list(self.devices.values())
        while True:
            new = [d for d in waiting if self._gives(d)]
            if not new:
                return
            self.sources += [self._source(d) for d in new]
            waiting = [d for d in waiting if d not in new]

    def _gives(self, device: Device) -> bool:
        kind, state = device.kind, self.state(device)
        if kind in ("supply", "generator", "battery", "solar", "alternator"):
            return state == "on"
        name = device.name
        if kind == "inverter":
            return state == "invert" and self.live(f"{name}.+")
        if kind == "transformer":
            return self.live(f"{name}.in-L")
        if kind == "charger":
            return state == "on" and self.live(f"{name}.L")
        return kind == "dcdc" and state == "on" and self.live(f"{name}.in+")

    def _stack(self) -> None:
        """Batteries in series as one source, named after the uppermost."""
        below = {}
        batteries = [s for s in self.sources if self.devices[s.name].kind == "battery"]
        for upper in batteries:
            minus = self.reach(upper.nodes["-"])
            under = [b for b in batteries if b is not upper and b.nodes["+"] in minus]
            if len(under) == 1:
                below[upper.name] = under[0]
        for top in batteries:
            if top.name not in below or any(b is top for b in below.values()):
                continue
            string = [top]
            while (last := string[-1].name) in below and below[last] not in string:
                string.append(below[last])
            faults = [b.fault for b in string if b.fault]
            whole = Source(
                top.name,
                {"+": top.nodes["+"], "-": string[-1].nodes["-"]},
                sum(b.volts for b in string),
                False,
                None,
                min(faults, default=None),
            )
            self.sources = [s for s in self.sources if s not in string] + [whole]

    def live(self, node: str) -> bool:
        return any(node in self.reach(n) for s in self.sources for n in s.lines().values())

    def _source(self, device: Device) -> Source:
        names, kind = [t.name for t in device.terminals], device.kind
        out = "out" if kind == "dcdc" else "out-"
        nodes = {n: n for n in names}
        if kind in ("inverter", "transformer", "dcdc"):
            nodes = {n.removeprefix(out): n for n in names if n.startswith(out)}
        elif kind == "charger":
            nodes = {n: n for n in "+-"}
        if "PE" in names and kind != "charger":
            nodes["PE"] = "PE"
        limits = {
            "solar": "rating",
            "alternator": "rating",
            "charger": "rating",
            "dcdc": "rating",
            "inverter": "limit",
        }
        limit = device.number(limits[kind]) if kind in limits else None
        head = device.number("rating") if kind in ("supply", "generator") else None
        return Source(
            device.name,
            {role: f"{device.name}.{n}" for role, n in nodes.items()},
            device.number("voltage") or device.number("input") or 0.0,
            "N" in nodes,
            limit if kind in limits else head,
            device.number("fault"),
        )
