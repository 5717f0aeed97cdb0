"""The one-line view of a rig: its power path as nodes and the cables that join them.

Terminal by terminal wiring is reduced to devices (nodes) and bundles of ungrounded conductors
between two of them (runs).  Neutral, negative and earth are left to ``single_line_earth``.  All
modes count at once: whatever a state can join is joined.  Runs point the way power flows, from
the nearest source; nothing here fails on a rig that is broken or not fed.
"""

from __future__ import annotations

import heapq
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from ..dsl.kinds import kinds
from ..dsl.model import Conductor, Device, Rig
from ..dsl.records import record, replace
from .single_line_roles import GROUNDED

CROWD = 8
LINES = ("L1", "L2", "L3")
_BAR_COST, _JOINT_COST, _STEP = 1000, 100, 1  # of passing through: a bar feeds, it is not passed
_PORTS = {  # terminal prefix -> port, by kind; a device that is not here has one port
    "selector": (("a", "a"), ("b", "b"), ("out", "out")),
    "inverter": (("in", "in"), ("out", "out"), ("", "dc")),
    "charger": (("+", "out"), ("-", "out"), ("", "in")),
    "dcdc": (("in", "in"), ("out", "out")),
    "transformer": (("in", "in"), ("out", "out")),
}
_WAY = {"a": "in", "b": "in", "in": "in", "dc": "in", "out": "out"}  # what a port insists on


@record
class Node:
    """A device of the power path, a position of a block, or bars that make one system."""

    key: str
    devices: tuple[str, ...]
    kind: str
    position: str = ""

    @property
    def bar(self) -> bool:
        return self.kind == "bus"


@record
class Run:
    """Conductors joining two nodes; ``a`` is the end power comes from."""

    a: str
    a_port: str
    b: str
    b_port: str
    conductors: tuple[str, ...]
    statements: tuple[str, ...]

    @property
    def key(self) -> str:
        return "+".join(self.statements) + f":{self.a}:{self.b}"

    def turned(self) -> Run:
        return replace(self, a=self.b, a_port=self.b_port, b=self.a, b_port=self.a_port)


@dataclass(frozen=True, slots=True)
class OneLine:
    """Nodes and runs in the order of the text; ``reached`` are the nodes some source feeds.

    ``roles`` gives every conductor's role, ``apart`` the devices that are not in the power path.
    """

    rig: Rig
    roles: Mapping[str, str]
    nodes: Mapping[str, Node]
    runs: tuple[Run, ...]
    reached: frozenset[str]
    apart: tuple[str, ...]
    ins: Mapping[str, tuple[Run, ...]] = field(repr=False)
    outs: Mapping[str, tuple[Run, ...]] = field(repr=False)


def port(device: Device, terminal: str) -> str:
    """Which side of a device a terminal is on."""
    for prefix, name in _PORTS.get(device.kind, ()):
        if terminal.startswith(prefix):
            return name
    if kinds()[device.kind].acts in ("protective", "residual", "switching"):
        return "2" if terminal.lstrip("N").isdigit() and int(terminal.lstrip("N")) % 2 == 0 else "1"
    return ""


def in_power_path(rig: Rig, conductor: Conductor, role: str) -> bool:
    """Whether the one-line view shows a conductor: an ungrounded one with both ends in place."""
    ends = [rig.devices.get(e.device) for e in (conductor.a, conductor.b)]
    if None in ends or conductor.a.device == conductor.b.device:
        return False
    if role not in GROUNDED:
        return True
    batteries = all(d is not None and d.kind in ("battery", "solar") for d in ends)
    return batteries and {conductor.a.terminal, conductor.b.terminal} == {"+", "-"}


def one_line(rig: Rig, roles: Mapping[str, str]) -> OneLine:
    """Reduces a rig to its one-line view."""
    power = [c for c in rig.conductors.values() if in_power_path(rig, c, roles[c.name])]
    names = _node_names(rig, power, roles)
    nodes = _nodes(rig, power, names)
    bundles = _bundles(rig, power, names)
    nodes = _crowded(nodes, bundles)
    runs, reached = _directed(rig, nodes, bundles)
    shown = {name for node in nodes.values() for name in node.devices}
    apart = tuple(n for n, d in rig.devices.items() if n not in shown and d.kind != "entry")
    ins: dict[str, list[Run]] = {key: [] for key in nodes}
    outs: dict[str, list[Run]] = {key: [] for key in nodes}
    for run in runs:
        outs[run.a].append(run)
        ins[run.b].append(run)
    return OneLine(
        rig, roles, nodes, runs, reached, apart,
        {k: tuple(v) for k, v in ins.items()}, {k: tuple(v) for k, v in outs.items()},
    )


def _crowded(nodes: dict[str, Node], runs: Iterable[Run]) -> dict[str, Node]:
    """A joint of many conductors is drawn as what it is in effect: a bar."""
    degree = Counter(key for run in runs for key in (run.a, run.b))
    return {
        key: replace(node, kind="bus") if node.kind == "joint" and degree[key] > CROWD else node
        for key, node in nodes.items()
    }


def _end_name(rig: Rig, name: str, terminal: str) -> str:
    return f"{name}.{terminal}" if rig.devices[name].kind == "block" else name


def _node_names(rig: Rig, power: Iterable[Conductor], roles: Mapping[str, str]) -> dict[str, str]:
    """Bars of one system stand for one node: the first of them in the text names it.

    Two bars are one system where the same side of a device joins both, on different lines.
    """
    touch: dict[tuple[str, str], list[tuple[str, str]]] = {}
    for c in power:
        for end, other in ((c.a, c.b), (c.b, c.a)):
            if rig.devices[end.device].kind == "bus" and roles[c.name] in LINES:
                device = rig.devices[other.device]
                if device.kind != "bus":
                    key = (device.name, port(device, other.terminal))
                    touch.setdefault(key, []).append((end.device, roles[c.name]))
    names = {name: name for name, d in rig.devices.items() if d.kind == "bus"}
    order = {name: i for i, name in enumerate(rig.devices)}
    for bars in touch.values():
        if len({role for _, role in bars}) == len({bar for bar, _ in bars}) > 1:
            merged = {names[bar] for bar, _ in bars}
            first = min(merged, key=order.__getitem__)
            names.update({bar: first for bar, head in names.items() if head in merged})
    return names


def _nodes(
    rig: Rig, power: Iterable[Conductor], names: Mapping[str, str]
) -> dict[str, Node]:
    used: dict[str, set[str]] = {}
    for c in power:
        for end in (c.a, c.b):
            used.setdefault(end.device, set()).add(end.terminal)
    nodes: dict[str, Node] = {}
    for device in rig.devices.values():
        if device.name not in used:
            continue
        if device.kind == "block":
            for t in device.terminals:
                if t.name in used[device.name]:
                    key = f"{device.name}.{t.name}"
                    nodes[key] = Node(key, (device.name,), "block", t.name)
            continue
        key = names.get(device.name, device.name)
        before = nodes[key].devices if key in nodes else ()
        nodes[key] = Node(key, (*before, device.name), device.kind)
    return nodes


def _bundles(rig: Rig, power: Iterable[Conductor], names: Mapping[str, str]) -> list[Run]:
    """Conductors between the same sides of the same two nodes, in the order of the text."""
    groups: dict[tuple[tuple[str, str], tuple[str, str]], list[Conductor]] = {}
    for c in power:
        ends = []
        for e in (c.a, c.b):
            name = _end_name(rig, e.device, e.terminal)
            ends.append((names.get(name, name), port(rig.devices[e.device], e.terminal)))
        a, b = ends
        if a[0] == b[0]:
            continue
        pair = (b, a) if (b, a) in groups else (a, b)
        groups.setdefault(pair, []).append(c)
    return [
        Run(a[0], a[1], b[0], b[1], tuple(c.name for c in cs),
            tuple(dict.fromkeys(c.statement for c in cs)))
        for (a, b), cs in groups.items()
    ]


def _origin_ports(node: Node) -> tuple[str, ...]:
    acts = kinds()[node.kind].acts
    return ("",) if acts == "source" else ("out",) if acts == "converter" else ()


def _directed(
    rig: Rig, nodes: Mapping[str, Node], runs: list[Run]
) -> tuple[tuple[Run, ...], frozenset[str]]:
    """Points every run away from its nearest source; a port that insists on a way gets it."""
    at: dict[str, list[Run]] = {key: [] for key in nodes}
    for run in runs:
        at[run.a].append(run)
        at[run.b].append(run.turned())
    cost = {key: _passing(nodes[key], len(at[key])) for key in nodes}
    far = _distances(nodes, at, cost)
    order = {key: i for i, key in enumerate(nodes)}
    return tuple(_oriented(run, nodes, far, cost, order) for run in runs), frozenset(far)


def _start(node: Node) -> int:
    """A battery counts as a source last: what charges it stands above it."""
    return _BAR_COST // 2 if node.kind == "battery" else 0


def _passing(node: Node, degree: int) -> int:
    acts = kinds()[node.kind].acts
    if node.bar:
        return _BAR_COST
    return _JOINT_COST if degree > 2 or acts in ("source", "load") else _STEP


def _distances(
    nodes: Mapping[str, Node], at: Mapping[str, list[Run]], cost: Mapping[str, int]
) -> dict[str, int]:
    """How far each node is from the nearest source, bars counting most."""
    far: dict[str, int] = {}
    order = {key: i for i, key in enumerate(nodes)}
    heap = [(_start(n), order[k], k) for k, n in nodes.items() if _origin_ports(n)]
    heapq.heapify(heap)
    while heap:
        steps, _, key = heapq.heappop(heap)
        if key in far:
            continue
        far[key] = steps
        for run in at[key]:
            if _WAY.get(run.a_port) != "in" and _WAY.get(run.b_port) != "out":
                after = steps + (cost[key] if steps else _STEP)
                heapq.heappush(heap, (after, order[run.b], run.b))
    return far


def _oriented(
    run: Run,
    nodes: Mapping[str, Node],
    far: Mapping[str, int],
    cost: Mapping[str, int],
    order: Mapping[str, int],
) -> Run:
    def weight(run: Run) -> tuple[int, int, int]:
        wrong = (_WAY.get(run.a_port) == "in") + (_WAY.get(run.b_port) == "out")
        b = nodes[run.b].kind
        source = kinds()[b].acts == "source" and b != "battery"
        load = kinds()[nodes[run.a].kind].acts == "load"
        start = far.get(run.a, 10**9)
        return (2 * wrong + source + load, start + (cost[run.a] if start else 0), order[run.a])

    return min(run, run.turned(), key=weight)
