"""Operators on landings and conductors: each seeds one fault in a text, or None where it cannot.

An operator takes the statements and a source of chance, and alters the statements.  Whether what
comes out is faulty is not for it to say: a landing exchanged for its equal is none.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from random import Random

from .statements import Text, Thing, Wire

Operator = Callable[[Text, Random], bool]
OPERATORS: dict[str, Operator] = {}
SHARED = ("bus",)


def operator(function: Operator) -> Operator:
    """Enters an operator under its name."""
    OPERATORS[function.__name__.replace("_", "-")] = function
    return function


def _pick(random: Random, choices: list) -> object:
    return random.choice(choices) if choices else None


def _device(end: str) -> str:
    return end.split(".", 1)[0]


def _terminal(end: str) -> str:
    return end.split(".", 1)[1]


def _bars(text: Text) -> list[tuple[int, Thing]]:
    return [(i, t) for i, t in text.things("bus")]


def _some_wire(text: Text, random: Random, *kinds: str) -> tuple[int, Wire] | None:
    return _pick(random, [(i, w) for i, w in text.wires() if not kinds or w.head[0] in kinds])


@operator
def swap_landings(text: Text, random: Random) -> bool:
    """Two ends on one device change places."""
    devices = [t.name for _, t in text.things()]
    random.shuffle(devices)
    for device in devices:
        ends = text.ends(device)
        if len({e[3] for e in ends}) < 2:
            continue
        one, two = random.sample(ends, 2)
        if one[3] == two[3]:
            continue
        text.land(*one[:3], two[3])
        text.land(*two[:3], one[3])
        return True
    return False


def _swap_terminals(text: Text, random: Random, one: str, two: str) -> bool:
    """All that lands on two terminals of a device changes places."""
    devices = [t.name for _, t in text.things()]
    random.shuffle(devices)
    for device in devices:
        ends = text.ends(device)
        if {one, two} <= {_terminal(e[3]) for e in ends}:
            swapped = {one: two, two: one}
            for index, side, core, end in ends:
                to = swapped.get(_terminal(end), _terminal(end))
                text.land(index, side, core, f"{device}.{to}")
            return True
    return False


@operator
def swap_line_and_neutral(text: Text, random: Random) -> bool:
    return _swap_terminals(text, random, "L", "N")


@operator
def swap_line_and_earth(text: Text, random: Random) -> bool:
    return _swap_terminals(text, random, "L", "PE")


@operator
def swap_neutral_and_earth(text: Text, random: Random) -> bool:
    return _swap_terminals(text, random, "N", "PE")


@operator
def swap_plus_and_minus(text: Text, random: Random) -> bool:
    return _swap_terminals(text, random, "+", "-")


@operator
def swap_output_of_converter(text: Text, random: Random) -> bool:
    return _swap_terminals(text, random, "out-L", "out-N") or _swap_terminals(
        text, random, "out+", "out-"
    )


@operator
def swap_input_and_output(text: Text, random: Random) -> bool:
    pairs = [("in-L", "out-L"), ("in+", "out+"), ("a-L", "out-L"), ("a-N", "b-N")]
    random.shuffle(pairs)
    return any(_swap_terminals(text, random, *pair) for pair in pairs)


@operator
def reverse_device(text: Text, random: Random) -> bool:
    return _swap_terminals(text, random, "1", "2")


@operator
def cross_residual_poles(text: Text, random: Random) -> bool:
    return _swap_terminals(text, random, "N1", "N2")


@operator
def line_through_neutral_pole(text: Text, random: Random) -> bool:
    return _swap_terminals(text, random, "1", "N1")


@operator
def drop_conductor(text: Text, random: Random) -> bool:
    wire = _some_wire(text, random)
    if wire:
        del text.all[wire[0]]
    return bool(wire)


def _drop_core(text: Text, random: Random, *terminals: str) -> bool:
    found = [
        (i, core)
        for i, w in text.wires()
        if w.head[0] == "cable" and len(w.a) > 1
        for _, core, end in w.landings()
        if _terminal(end) in terminals
    ]
    if not found:
        return False
    index, core = random.choice(found)
    text.all[index] = text.all[index].without(core)
    return True


@operator
def break_earth(text: Text, random: Random) -> bool:
    return _drop_core(text, random, "PE")


@operator
def break_neutral(text: Text, random: Random) -> bool:
    return _drop_core(text, random, "N", "out-N", "N2")


@operator
def break_minus(text: Text, random: Random) -> bool:
    return _drop_core(text, random, "-", "in-", "out-")


@operator
def move_to_another_bar(text: Text, random: Random) -> bool:
    """An end leaves its bar for another one, be it line, neutral or earth."""
    bars = dict(_bars(text))
    names = {bar.name: index for index, bar in bars.items()}
    ends = [(i, *e) for i, w in text.wires() for e in w.landings() if _device(e[2]) in names]
    if not ends or len(names) < 2:
        return False
    index, side, core, end = random.choice(ends)
    other = random.choice([n for n in names if n != _device(end)])
    text.land(index, side, core, text.free(names[other]))
    return True


def _earth_bars(text: Text) -> dict[str, int]:
    """Bars that a PE terminal is wired to."""
    names = {bar.name: i for i, bar in _bars(text)}
    found = {}
    for _, wire in text.wires():
        for a, b in zip(wire.a, wire.b, strict=False):
            for end, other in ((a, b), (b, a)):
                if _terminal(end) == "PE" and _device(other) in names:
                    found[_device(other)] = names[_device(other)]
    return found


@operator
def earth_on_another_bar(text: Text, random: Random) -> bool:
    """A protective earth lands on a bar that is no earth bar."""
    earth = _earth_bars(text)
    others = [i for i, bar in _bars(text) if bar.name not in earth]
    ends = [(i, *e) for i, w in text.wires() for e in w.landings() if _device(e[2]) in earth]
    if not others or not ends:
        return False
    text.land(*random.choice(ends)[:3], text.free(random.choice(others)))
    return True


def _join(text: Text, head: str, one: str, two: str) -> None:
    text.add(f"{head} {one} -> {two}")


@operator
def join_bars(text: Text, random: Random) -> bool:
    """A wire between two bars: neutrals, poles, or neutral and earth joined."""
    bars = _bars(text)
    if len(bars) < 2:
        return False
    one, two = random.sample(bars, 2)
    _join(text, "wire ZZ 6AWG 0.3m", text.free(one[0]), text.free(two[0]))
    return True


@operator
def add_bond(text: Text, random: Random) -> bool:
    """A bond between an earth bar and any other."""
    earth = _earth_bars(text)
    others = [i for i, bar in _bars(text) if bar.name not in earth]
    if not earth or not others:
        return False
    one = text.free(random.choice(list(earth.values())))
    _join(text, "bond ZZ 6AWG 0.3m", text.free(random.choice(others)), one)
    return True


@operator
def drop_bond(text: Text, random: Random) -> bool:
    bonds = [i for i, w in text.wires() if w.head[0] == "bond"]
    flags = [(i, word) for i, t in text.things() for word in ("bonded", "bonds") if word in t.words]
    if not bonds and not flags:
        return False
    if bonds and (not flags or random.random() < 0.5):
        del text.all[random.choice(bonds)]
        return True
    index, word = random.choice(flags)
    text.all[index] = text.all[index].without(word)
    return True


@operator
def wire_for_bond(text: Text, random: Random) -> bool:
    """A plain wire does what only a declared bond may."""
    found = _some_wire(text, random, "bond")
    if found:
        index, wire = found
        text.all[index] = Wire(("wire", *wire.head[1:]), wire.a, wire.b, wire.rest)
    return bool(found)


@operator
def second_chassis_tie(text: Text, random: Random) -> bool:
    earths = text.things("earth")
    bars = _bars(text)
    if not earths or not bars:
        return False
    one, two = text.free(random.choice(bars)[0]), text.free(random.choice(earths)[0])
    _join(text, "wire ZZ 2AWG 0.5m", one, two)
    return True


@operator
def drop_chassis_tie(text: Text, random: Random) -> bool:
    earths = {t.name for _, t in text.things("earth")}
    ties = [
        i for i, w in text.wires() if len(w.a) == 1 and {_device(e) for e in (*w.a, *w.b)} & earths
    ]
    if ties:
        del text.all[random.choice(ties)]
    return bool(ties)


@operator
def jumper_in_device(text: Text, random: Random) -> bool:
    """A link between two terminals of one device."""
    devices = [t for _, t in text.things() if t.kind not in (*SHARED, "earth", "joint")]
    random.shuffle(devices)
    for device in devices:
        ends = sorted({e[3] for e in text.ends(device.name)})
        if len(ends) > 1:
            one, two = random.sample(ends, 2)
            index = next(i for i, t in text.things() if t == device)
            text.all[index] = device.with_value("holds", "4")
            _join(text, "link ZZ", one, two)
            return True
    return False


def _insert(text: Text, random: Random, device: str, terminals: tuple[str, ...]) -> bool:
    """A one-pole device into a conductor that lands on one of the terminals."""
    found = [
        (i, w, core)
        for i, w in text.wires()
        if w.head[0] in ("wire", "cable")
        for _, core, end in w.landings()
        if _terminal(end) in terminals
    ]
    if not found:
        return False
    index, wire, core = random.choice(found)
    size = re.sub(r"^\d+x", "", wire.head[2])
    old = wire.b[core]
    text.land(index, "b", core, "QZ.1")
    text.add(device, f"wire ZZ {size} 0.2m QZ.2 -> {old}", at=index)
    return True


@operator
def switch_in_earth(text: Text, random: Random) -> bool:
    return _insert(text, random, "switch QZ 200A", ("PE",))


@operator
def fuse_in_neutral(text: Text, random: Random) -> bool:
    return _insert(text, random, "fuse QZ 20A 600V ac dc class=T breaks=20kA", ("N", "out-N"))


@operator
def switch_in_minus(text: Text, random: Random) -> bool:
    return _insert(text, random, "switch QZ 300A dc", ("-", "out-"))


@operator
def two_under_one_screw(text: Text, random: Random) -> bool:
    """An end moves to a position of the same bar that is taken."""
    for _ in range(20):
        found = _pick(random, _bars(text))
        ends = text.ends(found[1].name) if found else []
        if len({e[3] for e in ends}) > 1:
            one, two = random.sample(ends, 2)
            if one[3] != two[3]:
                text.land(*one[:3], two[3])
                return True
    return False


@operator
def end_in_the_air(text: Text, random: Random) -> bool:
    """An end that nobody landed: on a splice from which nothing goes on."""
    found = _some_wire(text, random)
    if not found:
        return False
    index, wire = found
    side, core, _ = random.choice(list(wire.landings()))
    text.land(index, side, core, "JZ.a")
    text.add('joint JZ "Open end"', at=index)
    return True


@operator
def thin_conductor(text: Text, random: Random) -> bool:
    """A conductor four sizes or so thinner."""
    found = _some_wire(text, random, "wire", "cable")
    if not found:
        return False
    index, wire = found
    cores, _, size = wire.head[2].rpartition("x")
    thin = _thinner(size)
    if thin == size:
        return False
    size = f"{cores}x{thin}" if cores else thin
    text.all[index] = Wire((*wire.head[:2], size, *wire.head[3:]), wire.a, wire.b, wire.rest)
    return True


def _thinner(size: str) -> str:
    """The size of about a third of the section."""
    order = [
        "4/0AWG", "3/0AWG", "2/0AWG", "1/0AWG", "1AWG", "2AWG", "4AWG", "6AWG", "8AWG", "10AWG",
        "12AWG", "14AWG", "16AWG", "18AWG",
    ]  # fmt: skip
    metric = [95, 70, 50, 35, 25, 16, 10, 6, 4, 2.5, 1.5, 1, 0.75]
    if size in order:
        return order[min(order.index(size) + 4, len(order) - 1)]
    number = float(size.removesuffix("mm2"))
    place = next(i for i, mm2 in enumerate(metric) if mm2 <= number)
    return f"{metric[min(place + 3, len(metric) - 1)]}mm2"


@operator
def lengthen(text: Text, random: Random) -> bool:
    """A conductor ten or fifty times as long."""
    found = [(i, w) for i, w in text.wires() if re.fullmatch(r"[\d.]+m", w.head[-1])]
    if not found:
        return False
    index, wire = random.choice(found)
    length = float(wire.head[-1][:-1]) * random.choice((10, 50))
    text.all[index] = Wire((*wire.head[:-1], f"{length:g}m"), wire.a, wire.b, wire.rest)
    return True


@operator
def bypass_with_wire(text: Text, random: Random) -> bool:
    """A wire round a device, from what feeds it to what it feeds."""
    devices = [t for _, t in text.things("breaker", "fuse", "switch", "rcd", "contactor")]
    random.shuffle(devices)
    for device in devices:
        ends = {e[3] for e in text.ends(device.name)}
        if {f"{device.name}.1", f"{device.name}.2"} <= ends:
            index = next(i for i, t in text.things() if t == device)
            text.all[index] = device.with_value("holds", "2")
            _join(text, "wire ZZ 6AWG 0.3m", f"{device.name}.1", f"{device.name}.2")
            return True
    return False
