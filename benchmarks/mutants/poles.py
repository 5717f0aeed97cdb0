"""Classes the oracle decides about poles and what lies behind them, on enumerated reach alone."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from ferrule.dsl.model import Device, Rig

from .net import LINES, OVERCURRENT, Net, Source

USERS = ("load", "lamp", "motor", "heater", "socket")
TYPES = ("AC", "A", "F", "B")


def _feeds(net: Net, node: str) -> dict[str, str]:
    """Source and role of every line that reaches a node."""
    return {
        s.name: role
        for s in net.sources
        for role, start in s.lines().items()
        if node in net.reach(start)
    }


def _needed(net: Net, source: Source, role: str, node: str, kinds: tuple[str, ...]) -> set[str]:
    """The devices of some kinds without which a source's line does not reach a node."""
    start = source.nodes[role]
    return {
        d.name
        for d in net.devices.values()
        if d.kind in kinds and node not in net.reach(start, without=(d.name,))
    }


def mixed_poles(net: Net) -> Iterator[str]:
    """A breaker of several poles, two of which are fed by different sources."""
    for device in net.devices.values():
        names = [t.name for t in device.terminals if not t.name.startswith("N")]
        if device.kind != "breaker" or len(names) < 4 or net.state(device) != "closed":
            continue
        fed = [
            _feeds(net, f"{device.name}.{a}").keys() | _feeds(net, f"{device.name}.{b}").keys()
            for a, b in zip(names[::2], names[1::2], strict=False)
        ]
        for one, two in combinations([f for f in fed if f], 2):
            if not one & two:
                yield f"{device.name}: {sorted(one)} and {sorted(two)}"


def no_common_trip(net: Net) -> Iterator[str]:
    """A load of several lines, one of which a device of one pole opens alone."""
    for device in net.devices.values():
        lines = [t.name for t in device.terminals if t.name in LINES and t.name != "+"]
        if device.kind not in USERS or device.kind == "socket" or len(lines) < 2:
            continue
        for source in net.sources:
            held = [
                _needed(net, source, role, f"{device.name}.{line}", OVERCURRENT)
                for line in lines
                for role, start in source.lines().items()
                if f"{device.name}.{line}" in net.reach(start)
            ]
            if len(held) == len(lines):
                alone = set.union(*held) - set.intersection(*held)
                single = [n for n in alone if len(net.devices[n].terminals) == 2]
                if single:
                    yield f"{device.name}: {single} opens one line alone"


def way_round(net: Net) -> Iterator[str]:
    """An overcurrent device of the mains both sides of which stay live when it opens."""
    mains = [s for s in net.sources if s.ac]
    if len(mains) != 1:
        return
    for device in net.devices.values():
        if device.kind not in OVERCURRENT or net.state(device) != "closed":
            continue
        for start in mains[0].lines().values():
            left = net.reach(start, without=(device.name,))
            ends = [f"{device.name}.{t.name}" for t in device.terminals[:2]]
            if set(ends) <= left:
                yield f"{device.name} opens nothing"


def in_series(net: Net) -> Iterator[str]:
    """Two residual-current devices of one setting, none delayed, ahead of one load, and another
    load behind the one of them alone."""
    fine = {d.name: d for d in net.devices.values() if _residual(d) and not d.flag("site")}
    if len(fine) < 2:
        return
    for source in net.sources:
        if not source.ac:
            continue
        ahead = {
            device.name: _needed(net, source, role, f"{device.name}.{role}", ("breaker", "rcd"))
            & fine.keys()
            for device in net.devices.values()
            for role in source.lines()
            if device.kind in USERS and f"{device.name}.{role}" in net.reach(source.nodes[role])
        }
        for user, on in ahead.items():
            for one, two in combinations(sorted(on), 2):
                same = _residual(fine[one]) == _residual(fine[two])
                slow = any(fine[n].flag("delayed") for n in (one, two))
                if same and not slow and any(len({one, two} & o) == 1 for o in ahead.values()):
                    yield f"{one} and {two} ahead of {user}"


def _residual(device: Device) -> float:
    return device.number("rcd") or device.number("gfci") or 0.0


def blind_type(net: Net) -> Iterator[str]:
    """A load that asks for a type of residual-current device and hangs behind a simpler one."""
    for device in net.devices.values():
        asked = device.text("needs")
        if not asked:
            continue
        for source in net.sources:
            for role, start in source.lines().items():
                node = f"{device.name}.{role}"
                if not source.ac or node not in net.reach(start):
                    continue
                for name in _needed(net, source, role, node, ("breaker", "rcd")):
                    has = net.devices[name].text("type")
                    if has and TYPES.index(has) < TYPES.index(asked):
                        yield f"{device.name} asks for {asked}, {name} is {has}"


def apart_in_cables(rig: Rig, nets: list[Net]) -> Iterator[str]:
    """A load whose line comes in one cable and whose neutral in another."""
    net = nets[0]
    if any(d.kind in ("joint", "block") for d in net.devices.values()):
        return  # a splice beside the load may bring a cable's cores together again
    for device in net.devices.values():
        if device.kind not in USERS or device.terminal("N") is None:
            continue
        cables: dict[str, set[str]] = {}
        for wire in net.wires.values():
            for end in (wire.a, wire.b):
                if end.device == device.name:
                    cables.setdefault(end.terminal, set()).add(wire.cable or "")
        line = cables.get("L", set())
        if "" in line | cables.get("N", set()) or not line or "N" not in cables:
            continue
        fed = any(_feeds(m, f"{device.name}.L") for m in nets)
        if fed and not line & cables["N"]:
            yield f"{device.name}: L in {sorted(line)}, N in {sorted(cables['N'])}"


def joined_behind(net: Net) -> Iterator[str]:
    """Two devices, each opening a neutral, whose neutrals are joined behind both."""
    mains = [s for s in net.sources if s.ac]
    poles = [
        d
        for d in net.devices.values()
        if d.kind in ("breaker", "rcd") and d.terminal("N2") and net.state(d) == "closed"
    ]
    for source in mains:
        for one, two in combinations(poles, 2):
            ends = [_behind(net, source, d) for d in (one, two)]
            if None in ends:
                continue
            apart = (one.name, two.name)
            if ends[1] in net.reach(ends[0], without=apart):
                yield f"{one.name} and {two.name}: their neutrals are one"


def _behind(net: Net, source: Source, device: Device) -> str | None:
    """The neutral terminal on a device's far side; None where neither or both are."""
    near = net.reach(source.back(), without=(device.name,))
    ends = [f"{device.name}.{n}" for n in ("N1", "N2")]
    far = [e for e in ends if e not in near]
    return far[0] if len(far) == 1 and ends != far else None


def phase_order(net: Net) -> Iterator[str]:
    """A motor or socket for three lines that gets them in the reverse order."""
    for device in net.devices.values():
        if device.kind not in ("motor", "socket") or device.terminal("L3") is None:
            continue
        order = []
        for line in ("L1", "L2", "L3"):
            roles = set(_feeds(net, f"{device.name}.{line}").values())
            order.append(roles.pop() if len(roles) == 1 else "")
        turned = "".join(order).replace("L", "") * 2
        if sorted(order) == ["L1", "L2", "L3"] and "123" not in turned:
            yield f"{device.name}: {order}"


OF_A_RIG = {"neutral in another cable": apart_in_cables}
OF_A_MODE = {
    "poles of two sources": mixed_poles,
    "no common trip": no_common_trip,
    "way round a device": way_round,
    "residual devices in series": in_series,
    "residual device blind": blind_type,
    "neutrals joined behind": joined_behind,
    "order of lines reversed": phase_order,
}
