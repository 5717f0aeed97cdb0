"""Operators on devices and modes."""

from __future__ import annotations

import re
from random import Random

from .operators import operator
from .statements import Text, Thing

PROTECTIVE = ("breaker", "fuse")
LOADS = ("load", "lamp", "motor", "heater")


def _change(text: Text, random: Random, kinds: tuple[str, ...], change) -> bool:
    """One device of these kinds altered, the first by chance that the change applies to."""
    found = text.things(*kinds)
    random.shuffle(found)
    for index, thing in found:
        other = change(thing)
        if other is not None and other != thing:
            text.all[index] = other
            return True
    return False


def _scaled(thing: Thing, unit: str, factor: float) -> Thing | None:
    """The bare quantity of a unit made so many times as large."""
    old = thing.bare(unit)
    number = re.match(r"[\d.]+", old)
    if not number:
        return None
    return thing.exchanged(old, f"{float(number[0]) * factor:g}{old[number.end() :]}")


def _with_part(text: Text, thing: Thing, unit: str, factor: float) -> Thing | None:
    """As above; where the quantity comes with a part, it is written on the device itself."""
    own = _scaled(thing, unit, factor)
    if own:
        return own
    for line in text.all:
        words = line.split() if isinstance(line, str) else []
        if len(words) > 3 and words[0] == "part" and words[1] in thing.words:
            size = _scaled(Thing(tuple(words)), unit, factor)
            return thing.with_word(size.bare(unit)) if size else None
    return None


@operator
def raise_rating(text: Text, random: Random) -> bool:
    factor = random.choice((2, 3, 5))
    return _change(text, random, PROTECTIVE, lambda t: _with_part(text, t, "A", factor))


@operator
def drop_device(text: Text, random: Random) -> bool:
    """A device and the wires on it go; a cable's other cores too."""
    found = text.things(*PROTECTIVE, "switch", "bus", "earth", "inlet", "rcd", "supply", "battery")
    if not found:
        return False
    index, thing = random.choice(found)
    gone = {index, *(e[0] for e in text.ends(thing.name))}
    text.all = [s for i, s in enumerate(text.all) if i not in gone]
    name = re.compile(rf"\b{re.escape(thing.name)}=\S+ ?")
    text.all = [
        name.sub("", s) if isinstance(s, str) and s.startswith("mode") else s for s in text.all
    ]
    return True


@operator
def leave_device_out(text: Text, random: Random) -> bool:
    """A device's conductors are spliced through instead."""
    found = text.things(*PROTECTIVE, "rcd", "switch", "contactor")
    if not found:
        return False
    index, thing = random.choice(found)
    pairs = {"1": "a", "2": "a", "3": "b", "4": "b", "5": "c", "6": "c", "N1": "n", "N2": "n"}
    ends = text.ends(thing.name)
    if any(e[3].split(".")[1] not in pairs for e in ends):
        return False
    splices = set()
    for number, side, core, end in ends:
        terminal = end.split(".")[1]
        splice = f"JZ{pairs[terminal]}"
        splices.add(splice)
        text.land(number, side, core, f"{splice}.t{terminal}")
    text.all[index] = ""
    text.add(*(f"joint {name}" for name in sorted(splices)), at=index)
    name = re.compile(rf"\b{re.escape(thing.name)}=\S+ ?")
    text.all = [
        name.sub("", s) if isinstance(s, str) and s.startswith("mode") else s for s in text.all
    ]
    return True


@operator
def parallel_sources(text: Text, random: Random) -> bool:
    """A mode with everything switched on and closed."""
    modes = [i for i, s in enumerate(text.all) if isinstance(s, str) and s.startswith("mode")]
    random.shuffle(modes)
    for index in modes:
        line = text.all[index]
        new = re.sub(r"=pass\b", "=invert", re.sub(r"=off\b", "=on", line))
        new = re.sub(r"=open\b", "=closed", new)
        if new != line:
            text.all[index] = new
            return True
    return False


@operator
def unknown_state(text: Text, random: Random) -> bool:
    modes = [i for i, s in enumerate(text.all) if isinstance(s, str) and s.startswith("mode")]
    modes = [i for i in modes if "=" in text.all[i]]
    if modes:
        index = random.choice(modes)
        text.all[index] = re.sub(r"=(\w+)( [^=]*\}|[^=]*)$", r"=astray\2", text.all[index])
    return bool(modes)


@operator
def wrong_state(text: Text, random: Random) -> bool:
    """One setting of one mode turned over."""
    other = {"on": "off", "off": "on", "a": "b", "b": "a", "open": "closed", "closed": "open",
             "invert": "pass", "pass": "invert"}  # fmt: skip
    settings = [
        (i, m)
        for i, s in enumerate(text.all)
        if isinstance(s, str) and s.startswith("mode")
        for m in re.finditer(r"=(\w+)", s)
        if m[1] in other
    ]
    if not settings:
        return False
    index, match = random.choice(settings)
    line = text.all[index]
    text.all[index] = line[: match.start()] + "=" + other[match[1]] + line[match.end() :]
    return True


@operator
def source_on_a_bar(text: Text, random: Random) -> bool:
    """A second generator of the same voltage straight onto bars."""
    supplies = [t for _, t in text.things("supply", "generator")]
    bars = text.things("bus")
    if not supplies or len(bars) < 2:
        return False
    supply = random.choice(supplies)
    if {"split", "three", "dc"} & set(supply.words):
        return False
    one, two = random.sample(bars, 2)
    ends = text.free(one[0]), text.free(two[0])
    text.add(
        f"generator GZ {supply.bare('V')} {supply.bare('Hz')} 10A fault=100A bonded",
        f"cable ZZ 2x6mm2 1m GZ.(L N) -> {ends[0]} {ends[1]}",
    )
    return True


@operator
def residual_removed(text: Text, random: Random) -> bool:
    return _change(
        text,
        random,
        ("breaker",),
        lambda t: Thing(tuple(w for w in t.words if not re.match(r"(gfci|rcd|type)=", w))),
    )


@operator
def direct_current_unsaid(text: Text, random: Random) -> bool:
    return _change(text, random, PROTECTIVE, lambda t: t.without("dc"))


@operator
def made_for_direct_current(text: Text, random: Random) -> bool:
    return _change(
        text, random, ("breaker",), lambda t: None if "dc" in t.words else t.with_word("dc")
    )


@operator
def breaks_little(text: Text, random: Random) -> bool:
    return _change(
        text, random, PROTECTIVE, lambda t: t.with_value("breaks", "100A") if t.bare("A") else None
    )


@operator
def load_of_another_voltage(text: Text, random: Random) -> bool:
    factor = random.choice((0.5, 2, 4))
    return _change(text, random, LOADS, lambda t: _scaled(t, "V", factor))


@operator
def load_too_large(text: Text, random: Random) -> bool:
    return _change(text, random, LOADS, lambda t: _scaled(t, "W", 40))


@operator
def device_of_low_voltage(text: Text, random: Random) -> bool:
    return _change(text, random, PROTECTIVE, lambda t: _scaled(t, "V", 0.2))


@operator
def supply_of_another_voltage(text: Text, random: Random) -> bool:
    kinds = ("supply", "generator", "battery", "charger")
    return _change(text, random, kinds, lambda t: _scaled(t, "V", random.choice((0.5, 2))))


@operator
def another_frequency(text: Text, random: Random) -> bool:
    return _change(text, random, ("supply", "generator"), lambda t: _scaled(t, "Hz", 1.2))


@operator
def small_bar(text: Text, random: Random) -> bool:
    return _change(text, random, ("bus",), lambda t: _with_part(text, t, "A", 0.05))


@operator
def polarised(text: Text, random: Random) -> bool:
    """A device is of the make that has a supply side, and stands the wrong way round."""
    found = text.things("breaker")
    random.shuffle(found)
    for index, thing in found:
        ends = text.ends(thing.name)
        if {"1", "2"} == {e[3].split(".")[1] for e in ends}:
            text.all[index] = thing.with_word("polarised")
            for number, side, core, end in ends:
                other = "21"["12".index(end.split(".")[1])]
                text.land(number, side, core, f"{thing.name}.{other}")
            return True
    return False


@operator
def supplementary(text: Text, random: Random) -> bool:
    return _change(text, random, ("breaker",), lambda t: t.with_value("standard", "UL1077"))


@operator
def bonded_as_well(text: Text, random: Random) -> bool:
    """A generator, a transformer or an inverter that joins neutral and earth inside."""
    return _change(
        text,
        random,
        ("transformer", "inverter", "generator", "supply"),
        lambda t: None if "bonded" in t.words else t.with_word("bonded"),
    )


@operator
def not_bonded_any_more(text: Text, random: Random) -> bool:
    return _change(
        text,
        random,
        ("transformer", "inverter", "generator", "supply"),
        lambda t: t.exchanged("bonded", "floating"),
    )


@operator
def one_pole_for_two(text: Text, random: Random) -> bool:
    """A two-pole device becomes a one-pole one; its second conductor is spliced through."""
    found = [(i, t) for i, t in text.things("breaker", "switch") if "poles=2" in t.words]
    if not found:
        return False
    index, thing = random.choice(found)
    text.all[index] = thing.exchanged("poles=2", "poles=1")
    for number, side, core, end in text.ends(thing.name):
        if end.split(".")[1] in ("3", "4"):
            text.land(number, side, core, "JZ.t" + end.split(".")[1])
    text.add("joint JZ", at=index)
    return True


@operator
def never_wired(text: Text, random: Random) -> bool:
    """A load whose cable was forgotten."""
    found = text.things(*LOADS, "socket")
    if not found:
        return False
    _, thing = random.choice(found)
    gone = {e[0] for e in text.ends(thing.name)}
    text.all = [s for i, s in enumerate(text.all) if i not in gone]
    return bool(gone)
