"""Operators on circuits, cables, types and figures."""

from __future__ import annotations

import re
from random import Random

from .device_operators import _change, _scaled
from .operators import _swap_terminals, _terminal, _thinner, operator
from .statements import Text, Thing, Wire

USERS = ("load", "lamp", "motor", "heater", "socket")
RESIDUAL = ("breaker", "rcd")


@operator
def lines_exchanged(text: Text, random: Random) -> bool:
    """Two of a device's lines change places: a three-phase motor turns the other way."""
    return _swap_terminals(text, random, "L1", "L2")


@operator
def neutrals_crossed(text: Text, random: Random) -> bool:
    """The neutrals of two loads change places at the loads."""
    found = [
        (i, side, core, end)
        for _, thing in text.things(*USERS)
        for i, side, core, end in text.ends(thing.name)
        if _terminal(end) == "N" and text.all[i].head[0] == "cable"
    ]
    if len(found) < 2:
        return False
    one, two = random.sample(found, 2)
    if one[3] == two[3]:
        return False
    text.land(*one[:3], two[3])
    text.land(*two[:3], one[3])
    return True


@operator
def neutrals_joined_behind(text: Text, random: Random) -> bool:
    """A wire between the neutrals of two loads."""
    found = [(i, t) for i, t in text.things(*USERS) if _lands(text, t, "N")]
    if len(found) < 2:
        return False
    for index, thing in random.sample(found, 2):
        text.all[index] = thing.with_value("holds", "3")
    one, two = (t.name for _, t in random.sample(found, 2))
    text.add(f"wire ZZ 10AWG 1m {one}.N -> {two}.N")
    return one != two


def _lands(text: Text, thing: Thing, terminal: str) -> bool:
    return any(_terminal(e[3]) == terminal for e in text.ends(thing.name))


@operator
def low_voltage_in_mains_cable(text: Text, random: Random) -> bool:
    """A conductor of direct current becomes a further core of a cable of the mains."""
    cables = [(i, w) for i, w in text.wires() if w.head[0] == "cable" and _role(w, ("L", "L1"))]
    direct = [(i, w) for i, w in text.wires() if w.head[0] == "wire" and _role(w, ("+", "in+"))]
    if not cables or not direct:
        return False
    index, cable = random.choice(cables)
    gone, wire = random.choice(direct)
    count, size = cable.head[2].split("x")
    head = (*cable.head[:2], f"{int(count) + 1}x{size}", *cable.head[3:])
    text.all[index] = Wire(head, (*cable.a, *wire.a), (*cable.b, *wire.b), cable.rest)
    text.all[gone] = ""
    return True


def _role(wire: Wire, terminals: tuple[str, ...]) -> bool:
    return any(_terminal(end) in terminals for _, _, end in wire.landings())


@operator
def type_too_simple(text: Text, random: Random) -> bool:
    """A residual-current device of type AC, and a load that asks for another."""
    devices = [(i, t) for i, t in text.things(*RESIDUAL) if t.value("type")]
    if not devices:
        return False
    for index, thing in devices:
        text.all[index] = thing.with_value("type", "AC")
    return _change(text, random, USERS[:4], lambda t: t.with_value("needs", "B"))


@operator
def residual_in_series(text: Text, random: Random) -> bool:
    """A breaker becomes one that opens on residual current as well."""

    def other(thing: Thing) -> Thing | None:
        poles = thing.value("poles")
        if thing.value("rcd") or thing.value("gfci") or "dc" in thing.words or poles in ("", "1"):
            return None
        return Thing((*thing.words, "rcd=30mA", "type=A"))

    return _change(text, random, ("breaker",), other)


@operator
def thinner_beside(text: Text, random: Random) -> bool:
    """A second, thinner wire beside one between two bars or from a bar to a device."""
    bars = {t.name: i for i, t in text.things("bus")}
    found = [
        w
        for _, w in text.wires()
        if w.head[0] == "wire" and any(e.split(".")[0] in bars for e in (*w.a, *w.b))
    ]
    if not found:
        return False
    wire = random.choice(found)
    ends = []
    for end in (wire.a[0], wire.b[0]):
        device = end.split(".")[0]
        if device in bars:
            ends.append(text.free(bars[device]))
            continue
        index = next((i for i, t in text.things() if t.name == device), None)
        if index is None:
            return False
        text.all[index] = text.all[index].with_value("holds", "3")
        ends.append(end)
    text.add(f"wire ZZ {_thinner(wire.head[2])} {wire.head[3]} {ends[0]} -> {ends[1]}")
    return True


@operator
def figure_left_out(text: Text, random: Random) -> bool:
    """A device that says nothing of what it interrupts."""

    def other(thing: Thing) -> Thing | None:
        said = f"breaks={thing.value('breaks')}"
        return thing.without(said) if said in thing.words else None

    return _change(text, random, ("breaker", "fuse"), other)


@operator
def small_switch(text: Text, random: Random) -> bool:
    kinds = ("switch", "contactor", "selector", "rcd")
    return _change(text, random, kinds, lambda t: _scaled(t, "A", 0.15))


@operator
def small_inlet(text: Text, random: Random) -> bool:
    return _change(text, random, ("inlet",), lambda t: _scaled(t, "A", 0.5))


@operator
def strong_charger(text: Text, random: Random) -> bool:
    return _change(text, random, ("alternator", "charger", "dcdc"), lambda t: _scaled(t, "A", 5))


@operator
def generator_into_socket(text: Text, random: Random) -> bool:
    """A generator's cord into one of the rig's own sockets."""
    found = [(i, t) for i, t in text.things("socket") if not {"dc", "split", "three"} & {*t.words}]
    mains = [t for _, t in text.things("supply", "generator", "inverter") if t.bare("Hz")]
    if not found or not mains:
        return False
    index, socket = random.choice(found)
    volts = "120V 60Hz" if mains[0].bare("Hz") == "60Hz" else "230V 50Hz"
    text.all[index] = socket.with_value("holds", "3")
    text.add(
        f"generator GZ {volts} 10A fault=100A bonded",
        f"cable ZZ 3x4mm2 3m GZ.(L N PE) -> {socket.name}.(L N PE) cord plug",
        at=index,
    )
    return True


@operator
def charger_on_its_inverter(text: Text, random: Random) -> bool:
    """A further charger, on the output of an inverter, for the inverter's own battery."""
    found = [
        (i, t) for i, t in text.things("inverter") if not {"split", "three"} & {*t.words}
    ]
    if not found:
        return False
    index, inverter = random.choice(found)
    volts, hertz = inverter.bare("V"), inverter.value("input")
    text.all[index] = inverter.with_value("holds", "2")
    text.add(
        f"charger UZ 2A {hertz or '24V'} input={volts} class2",
        f"cable ZZ 2x4mm2 1m {inverter.name}.(out-L out-N) -> UZ.(L N)",
        f"cable ZY 2x4mm2 1m UZ.(+ -) -> {inverter.name}.(+ -)",
        at=index,
    )
    return True


@operator
def essential_behind_a_switch(text: Text, random: Random) -> bool:
    """A load of direct current is essential, and a mode opens a switch of direct current."""
    switches = [t for _, t in text.things("switch", "contactor") if "dc" in t.words]
    loads = [(i, t) for i, t in text.things(*USERS[:4]) if "dc" in t.words]
    modes = [s for s in text.all if isinstance(s, str) and s.startswith("mode")]
    if not switches or not loads or not modes:
        return False
    index, load = random.choice(loads)
    text.all[index] = load.with_word("essential") if "essential" not in load.words else load
    switch = random.choice(switches)
    said = re.sub(rf"\b{re.escape(switch.name)}=\S+", "", random.choice(modes).split("{")[1])
    text.all.append(f"mode zz {{ {said.rstrip(' }')} {switch.name}=open }}")
    return True


@operator
def bar_fed_twice(text: Text, random: Random) -> bool:
    """A further device of the same make beside one, from what feeds it to what it feeds."""
    found = [(i, t) for i, t in text.things("breaker", "fuse") if len(text.ends(t.name)) >= 2]
    if not found:
        return False
    index, thing = random.choice(found)
    ends = {_terminal(e[3]) for e in text.ends(thing.name)}
    if not {"1", "2"} <= ends:
        return False
    text.all[index] = thing.with_value("holds", "2")
    words = [w for w in thing.words[2:] if not w.startswith(("at=", "poles=", '"'))]
    text.add(
        " ".join((thing.kind, "QZ", '"Beside"', *words)),
        f"wire ZY 6AWG 0.3m {thing.name}.1 -> QZ.1",
        f"wire ZZ 6AWG 0.3m QZ.2 -> {thing.name}.2",
        at=index,
    )
    return True
