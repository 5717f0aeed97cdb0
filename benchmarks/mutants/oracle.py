"""Whether a mutant is really faulty: brute force over the raw statements, nothing of ``checks``.

Each function decides one class and yields a line for every fault it is sure of; what it is not sure
of it leaves out, so no fault found means *undecided*, not *correct*.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import combinations

from ferrule.dsl.model import Conductor, Device, Rig

from . import figures, further, leads, poles
from .net import LINES, ON_OFF, OPENING, STATES, Net, Source

USERS = ("load", "lamp", "motor", "heater", "socket", "charger")


def faults(rigs: tuple[Rig, ...]) -> dict[str, str]:
    """Class of fault -> the first of it, over all stages and modes."""
    found: dict[str, str] = {}
    for rig in rigs:
        nets = [Net(rig, mode) for mode in rig.modes.values()]
        for name, of_rig in OF_A_RIG.items():
            for line in of_rig(rig, nets):
                found.setdefault(name, line)
        for name, of_mode in OF_A_MODE.items():
            for net in nets:
                for line in of_mode(net):
                    found.setdefault(name, f"{net.mode.name}: {line}")
    return found


def _in_the_air(rig: Rig, nets: list[Net]) -> Iterator[str]:
    landed: Counter[str] = Counter()
    for wire in rig.conductors.values():
        for end in (wire.a, wire.b):
            device = rig.devices.get(end.device)
            if device is None:
                yield f"{wire.name} ends on {end.device}, which is not there"
            elif device.kind == "joint":
                landed[end.device] += 1
            elif device.kind == "block":
                landed[end.name] += 1
    yield from (f"{name}: one conductor alone" for name, count in landed.items() if count == 1)


def _overfull(rig: Rig, nets: list[Net]) -> Iterator[str]:
    landed: Counter[str] = Counter()
    for net in nets[:1]:
        for wire in net.wires.values():
            if wire.kind != "link":  # links under one screw are one comb
                ends = (net.end(wire, 0), net.end(wire, 1))
                landed.update(e.rstrip("!") for e in ends if e.count("!") == 0 or e[-1] == "!")
    for name, count in landed.items():
        device, terminal = name.split(".", 1)
        place = rig.devices[device].terminal(terminal)
        if place and place.holds and count > place.holds:
            yield f"{name}: {count} conductors, holds {place.holds}"


def _unknown_state(rig: Rig, nets: list[Net]) -> Iterator[str]:
    for net in nets:
        for name, state in net.said.items():
            device = rig.devices.get(name)
            if device and state not in STATES.get(device.kind, ON_OFF):
                yield f"{name}={state}"


def _never_live(rig: Rig, nets: list[Net]) -> Iterator[str]:
    if any(d.status != "installed" for d in rig.devices.values()):
        return
    live = {
        node
        for net in nets
        for s in net.sources
        for n in s.lines().values()
        for node in net.reach(n)
    }
    for device in _users(rig):
        lines = [t.name for t in device.terminals if t.name in LINES]
        if device.kind == "charger":
            lines = ["L"]
        for line in lines:
            if f"{device.name}.{line}" not in live:
                yield f"{device.name}.{line} is never live"


def _users(rig: Rig) -> Iterator[Device]:
    return (d for d in rig.devices.values() if d.kind in USERS and d.status == "installed")


def _shorted(net: Net) -> Iterator[str]:
    for source in net.sources:
        parts = {role: net.reach(node) for role, node in source.nodes.items() if role != "PE"}
        for (one, a), (two, b) in combinations(parts.items(), 2):
            if a & b:
                yield f"{source.name}: {one} on {two}"
        earth = _earth(net)
        for role, nodes in parts.items():
            if role in LINES and nodes & earth:
                yield f"{source.name}: {role} on earth"


def _earth(net: Net) -> set[str]:
    """Everything that the chassis, electrodes and the sources' earth terminals are joined to."""
    starts = [
        f"{d.name}.{t.name}" for d in net.devices.values() for t in d.terminals if d.kind == "earth"
    ]
    starts += [s.nodes["PE"] for s in net.sources if "PE" in s.nodes]
    return {node for start in starts for node in net.reach(start)}


def _return_on_earth(net: Net) -> Iterator[str]:
    earth = _earth(net)
    for source in net.sources:
        if source.back() and earth & net.reach(source.back()):
            yield f"{source.name}: its return is joined to earth by no bond"


def _bonds(net: Net) -> Iterator[str]:
    for source in net.sources:
        device = net.devices[source.name]
        if not source.ac or device.flag("separated") or device.flag("floating"):
            continue
        back = net.reach(source.nodes["N"])
        closed = [d.name for d in net.devices.values() if _bonded(net, d) in back]
        closed += [w.name for w in net.bonds if _closes(net, w, back)]
        said = device.flag("bonded") or device.kind != "supply"
        if len(closed) > 1 or (not closed and said):
            yield f"{source.name}: {len(closed)} bonds {closed}"


def _closes(net: Net, bond: Conductor, back: set[str]) -> bool:
    """Whether a bond reaches a return; one that a relay opens does not."""
    ends = net.end(bond, 0), net.end(bond, 1)
    for one, other in (ends, ends[::-1]):
        relay = net.devices[other.split(".")[0]].kind in OPENING
        if one in back and not (relay and len(net.reach(other)) == 1):
            return True
    return False


def _bonded(net: Net, device: Device) -> str:
    """The neutral terminal that a device itself joins to earth in this mode."""
    if device.kind in ("supply", "generator") and device.flag("bonded"):
        return f"{device.name}.N"
    if device.kind == "inverter" and device.flag("bonds") and net.state(device) == "invert":
        return f"{device.name}.out-N"
    if device.kind in ("inverter", "transformer") and device.flag("bonded"):
        return f"{device.name}.out-N"
    return ""


def _together(net: Net) -> Iterator[str]:
    """Two live sources of alternating current: on one line, or on one neutral alone."""
    for one, two in combinations([s for s in net.sources if s.ac], 2):
        lines = [{n for start in s.lines().values() for n in net.reach(start)} for s in (one, two)]
        if lines[0] & lines[1]:
            yield f"{one.name} and {two.name} on one line"
        elif net.reach(one.nodes["N"]) & net.reach(two.nodes["N"]):
            yield f"{one.name} and {two.name} share a neutral"


def _volts_apart(net: Net) -> Iterator[str]:
    for one, two in combinations(net.sources, 2):
        if not (one.lines() and two.lines()) or (one.ac and two.ac):
            continue
        for a in one.lines().values():
            nodes = net.reach(a)
            if nodes & {n for b in two.lines().values() for n in net.reach(b)}:
                low, high = sorted((one.volts, two.volts))
                if one.ac != two.ac or (
                    low
                    and high > 1.4 * low
                    and "solar" not in {net.devices[one.name].kind, net.devices[two.name].kind}
                ):
                    yield f"{one.name} ({one.volts} V) and {two.name} ({two.volts} V) joined"


def _roles(net: Net) -> tuple[dict[str, list[tuple[Source, str]]], dict[str, list[Source]]]:
    """Node -> the sources' lines that reach it; node -> the sources whose return reaches it."""
    live: dict[str, list[tuple[Source, str]]] = {}
    back: dict[str, list[Source]] = {}
    for source in net.sources:
        for role, start in source.lines().items():
            for node in net.reach(start):
                live.setdefault(node, []).append((source, role))
        if source.back():
            for node in net.reach(source.back()):
                back.setdefault(node, []).append(source)
    return live, back


def _crossed(net: Net) -> Iterator[str]:
    live, back = _roles(net)
    for device in net.devices.values():
        if device.kind not in (*USERS, "inlet", "dcdc", "inverter", "transformer"):
            continue
        for terminal in device.terminals:
            node, role = f"{device.name}.{terminal.name}", terminal.name.split("-")[-1]
            if terminal.name.endswith("-"):
                role = "-"
            elif terminal.name.endswith("+"):
                role = "+"
            if role in LINES and node in back and node not in live:
                yield f"{node} on the return of {back[node][0].name}"
            if role in ("N", "-") and node in live and node not in back and not _between(net, node):
                yield f"{node} on {live[node][0][1]} of {live[node][0][0].name}"


def _between(net: Net, node: str) -> bool:
    """Whether a load's N is meant to lie on a second line."""
    return any(len(s.lines()) > 1 for s in net.sources)


def _return_lost(net: Net) -> Iterator[str]:
    live, back = _roles(net)
    for device in _users(net.rig):
        names = {t.name for t in device.terminals}
        for line, other in (("L", "N"), ("+", "-")):
            if {line, other} > names or not {line, other} <= names or device.kind == "charger":
                continue
            sources = {s.name for s, _ in live.get(f"{device.name}.{line}", ())}
            node = f"{device.name}.{other}"
            returns = {s.name for s in back.get(node, ())}
            if sources and not sources & returns and node not in live:
                yield f"{device.name}: line from {sorted(sources)}, return to {sorted(returns)}"


def _earth_missing(net: Net) -> Iterator[str]:
    live, _ = _roles(net)
    for device in _users(net.rig):
        node = f"{device.name}.PE"
        if device.flag("class2") or device.terminal("PE") is None:
            continue
        lines = [t.name for t in device.terminals if t.name in LINES and t.name != "+"]
        feeds = {s.name: s for n in lines for s, _ in live.get(f"{device.name}.{n}", ())}
        own = net.reach(node)
        for source in feeds.values():
            if net.devices[source.name].flag("separated"):
                continue
            if not own & set(_earth_ends(net, source)):
                yield f"{node} does not reach the bond of {source.name}"


def _earth_ends(net: Net, source: Source) -> Iterator[str]:
    """Where the bonds of a source's neutral lie on earth, and its own earth terminal."""
    if "PE" in source.nodes:
        yield source.nodes["PE"]
    back = net.reach(source.back())
    for bond in net.bonds:
        ends = net.end(bond, 0), net.end(bond, 1)
        if back & set(ends):
            yield from ends


def _earth_opens(net: Net) -> Iterator[str]:
    earth = _earth(net)
    bonding = {net.end(bond, which) for bond in net.bonds for which in (0, 1)}
    for device in net.devices.values():
        if device.kind in (*OPENING, "selector"):
            ends = {f"{device.name}.{t.name}" for t in device.terminals}
            if ends & bonding:
                continue  # a relay in a bond
            if ends & earth:
                yield f"{device.name} in earth"


def _return_opens_alone(net: Net) -> Iterator[str]:
    live, back = _roles(net)
    for device in net.devices.values():
        if device.kind not in OPENING or net.state(device) != "closed":
            continue
        ends = {f"{device.name}.{t.name}" for t in device.terminals} & net.near.keys()
        if ends and ends <= back.keys() and not ends & live.keys():
            yield f"{device.name} opens a return alone"


def _residual(net: Net) -> Iterator[str]:
    """The residual-current devices without which a load's line, or its neutral, is dead."""
    kinds = [
        d.name
        for d in net.devices.values()
        if d.kind == "rcd" or d.number("gfci") or d.number("rcd")
    ]
    for device in _users(net.rig):
        line, neutral = f"{device.name}.L", f"{device.name}.N"
        for source in net.sources:
            if not source.ac or set(source.lines()) != {"L"}:
                continue
            if not (
                line in net.reach(source.nodes["L"]) and neutral in net.reach(source.nodes["N"])
            ):
                continue
            for name in kinds:
                on = [
                    node in net.reach(source.nodes[r], without=(name,))
                    for node, r in ((line, "L"), (neutral, "N"))
                ]
                if on[0] != on[1]:
                    yield f"{name} sees only one side of {device.name}"


def _state_of_current(net: Net) -> Iterator[str]:
    live, _ = _roles(net)
    for device in net.devices.values():
        if device.kind not in ("breaker", "fuse"):
            continue
        sources = [s for t in device.terminals for s, _ in live.get(f"{device.name}.{t.name}", ())]
        kinds = {s.ac for s in sources}
        if kinds == {False} and not device.flag("dc") and not device.flag("ac"):
            yield f"{device.name}: not made for direct current"
        if kinds == {True} and device.flag("dc") and not device.flag("ac"):
            yield f"{device.name}: made for direct current"


OF_A_RIG = {
    "end in the air": _in_the_air,
    "terminal overfull": _overfull,
    "unknown state": _unknown_state,
    "load never live": _never_live,
    "conductor too thin": figures.too_thin,
    **further.OF_A_RIG,
    **poles.OF_A_RIG,
    **leads.OF_A_RIG,
}
OF_A_MODE = {
    "short circuit": _shorted,
    "return joined to earth": _return_on_earth,
    "count of bonds": _bonds,
    "sources together": _together,
    "voltages joined": _volts_apart,
    "line and return crossed": _crossed,
    "return lost": _return_lost,
    "earth missing": _earth_missing,
    "device in earth": _earth_opens,
    "device in return alone": _return_opens_alone,
    "residual device on one side": _residual,
    "kind of current": _state_of_current,
    "unprotected": figures.unprotected,
    "wrong voltage": figures.wrong_voltage,
    "interrupts too little": figures.breaks_too_little,
    "load above its device": figures.load_above,
    "voltage lost": figures.drop,
    "supply side reversed": figures.reversed_device,
    **further.OF_A_MODE,
    **poles.OF_A_MODE,
    **leads.OF_A_MODE,
}
