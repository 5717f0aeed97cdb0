"""Changes to a text that seed no fault: whatever the checker says of one is a false alarm."""

from __future__ import annotations

import re
from random import Random

from .operators import Operator
from .statements import Text, Thing, Wire

HARMLESS: dict[str, Operator] = {}


def harmless(function: Operator) -> Operator:
    HARMLESS[function.__name__.replace("_", "-")] = function
    return function


@harmless
def other_order(text: Text, random: Random) -> bool:
    """Devices and conductors in another order; parts, modes and stages stay where they are."""
    places = [i for i, s in enumerate(text.all) if isinstance(s, Wire | Thing)]
    if any(isinstance(s, str) and s.startswith("stage") for s in text.all):
        return False
    shuffled = [text.all[i] for i in places]
    random.shuffle(shuffled)
    for place, statement in zip(places, shuffled, strict=True):
        text.all[place] = statement
    return True


@harmless
def turned_round(text: Text, random: Random) -> bool:
    """Conductors written from the other end."""
    for index, wire in text.wires():
        one_sided = any(re.match(r"(ends|lug)=", word) for word in wire.rest)
        if not one_sided and random.random() < 0.5:
            text.all[index] = Wire(wire.head, wire.b, wire.a, wire.rest)
    return True


@harmless
def other_position(text: Text, random: Random) -> bool:
    """An end on a further position of its own bar."""
    bars = {t.name: i for i, t in text.things("bus")}
    ends = [(i, *e) for i, w in text.wires() for e in w.landings() if e[2].split(".")[0] in bars]
    moved = any(isinstance(s, str) and s.startswith(("move", "remove")) for s in text.all)
    if not ends or moved:
        return False
    index, side, core, end = random.choice(ends)
    text.land(index, side, core, text.free(bars[end.split(".")[0]]))
    return True


@harmless
def other_names(text: Text, random: Random) -> bool:
    """Every device under another name, everywhere in the text."""
    names = [t.name for _, t in text.things()]
    new = {name: f"Y{number}" for number, name in enumerate(names)}
    taken = {w.name for _, w in text.wires()} | {t.kind for _, t in text.things()}
    if any(isinstance(s, str) and s.startswith(("stage", "panel", "accept")) for s in text.all):
        return False
    if taken & {*names, *new.values()}:
        return False
    for index, statement in enumerate(text.all):
        if isinstance(statement, Wire):
            a, b = (tuple(_renamed(e, new) for e in ends) for ends in (statement.a, statement.b))
            text.all[index] = Wire(statement.head, a, b, statement.rest)
        elif isinstance(statement, Thing):
            words = statement.words
            text.all[index] = Thing((words[0], new[words[1]], *words[2:]))
        elif statement.startswith("mode"):
            text.all[index] = re.sub(r"([\w-]+)=", lambda m: new.get(m[1], m[1]) + "=", statement)
    return True


def _renamed(end: str, new: dict[str, str]) -> str:
    device, terminal = end.split(".", 1)
    return f"{new.get(device, device)}.{terminal}"


@harmless
def spliced(text: Text, random: Random) -> bool:
    """A conductor of its own, cut and spliced within its length."""
    found = [
        (i, w)
        for i, w in text.wires()
        if w.head[0] == "wire" and re.fullmatch(r"[\d.]+m", w.head[-1]) and not w.rest
    ]
    # A splice of no panel would lead out of one, past its entries; what a stage does to the
    # conductor, it would do to the first half alone.
    stop = ("move", "remove", "change", "entry")
    if not found or any(isinstance(s, str) and s.startswith(stop) for s in text.all):
        return False
    index, wire = random.choice(found)
    half = f"{float(wire.head[-1][:-1]) / 2:g}m"
    text.all[index] = Wire((*wire.head[:-1], half), wire.a, ("JZ.a",), ())
    text.add('joint JZ "Splice"', f"wire ZZ {wire.head[2]} {half} JZ.b -> {wire.b[0]}", at=index)
    return True
