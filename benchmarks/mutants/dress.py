"""What a text may say besides, and means nothing new: harmless changes of their own, and in rigs.

Each is true of any rig that it applies to, so whatever is said of one is a false alarm.
"""

from __future__ import annotations

import re
from random import Random

from .harmless import harmless
from .operators import Operator
from .statements import Text, Thing, Wire

DRESSES: dict[str, Operator] = {}
GRIPS = ("plate", "spring", "screw", "loop")
OPENERS = ("breaker", "fuse", "switch", "contactor", "rcd")
ON_BOARD = (*OPENERS, "socket", "load", "lamp", "motor", "heater", "bus", "inverter", "charger")


def dress(function: Operator) -> Operator:
    """Enters a change, among the harmless ones too."""
    DRESSES[function.__name__.replace("_", "-")] = function
    return harmless(function)


def _stages(text: Text) -> bool:
    return any(isinstance(s, str) and s.startswith("stage") for s in text.all)


def _book(text: Text) -> str:
    return next((s.split()[1] for s in text.all if isinstance(s, str) and s[:6] == "rules "), "")


@dress
def free_words(text: Text, random: Random) -> bool:
    """Free text for the parts list, a revision of the drawing, what is so anyway."""
    said = ("maker=own", "order=W-3", "stranded", "type=house", "status=installed")
    words = ("maker=own", "order=A-17", 'maker="Own works"', "enclosure=steel")
    for index, thing in text.things(*ON_BOARD):
        word = random.choice(words)
        if random.random() < 0.3 and not thing.value(word.split("=")[0]):
            text.all[index] = thing.with_word(word)
    for index, wire in text.wires():
        if wire.head[0] in ("wire", "cable") and random.random() < 0.3:
            more = random.choice(said)
            bare = not {"tinned", "fine", "solid"} & {*wire.rest}
            if bare and more.split("=")[0] not in str(wire):
                text.all[index] = Wire(wire.head, wire.a, wire.b, (*wire.rest, more))
    if not any(str(s).startswith("revision") for s in text.all):
        text.add('revision Z9 "First issue" date=2025-01-02 drawn=own')
    return True


@dress
def in_parts(text: Text, random: Random) -> bool:
    """What a device says, said by a part that it names."""
    found = [
        (i, t)
        for i, t in text.things(*OPENERS, "bus")
        if len(t.words) > 4 and t.words[2].startswith('"')
    ]
    if not found or any(isinstance(s, str) and s.startswith("part") for s in text.all):
        return False
    index, thing = random.choice(found)
    own = tuple(w for w in thing.words[3:] if w.startswith("at="))
    shared = tuple(w for w in thing.words[3:] if not w.startswith("at="))
    name = f"pz{thing.name.lower()}"
    text.all[index] = Thing((*thing.words[:3], name, *own))
    text.all.insert(2, " ".join(("part", name, thing.kind, *shared)))
    return True


UNITS = (
    (r"([\d.]+)m", 100, "cm"), (r"([\d.]+)kA", 1000, "A"), (r"([\d.]+)W", 0.001, "kW"),
    (r"([\d.]+)VA", 0.001, "kVA"), (r"([\d.]+)V", 1000, "mV"), (r"([\d.]+)A", 0.001, "kA"),
)  # fmt: skip


@dress
def other_units(text: Text, random: Random) -> bool:
    """The same quantities in other units."""

    def said(word: str) -> str:
        key, equals, value = word.rpartition("=")
        for pattern, factor, unit in UNITS:
            match = re.fullmatch(pattern, value)
            if match and random.random() < 0.5:
                return f"{key}{equals}{round(float(match[1]) * factor, 9):.10g}{unit}"
        return word

    for index, statement in enumerate(text.all):
        if isinstance(statement, Thing):
            text.all[index] = Thing(tuple(said(w) for w in statement.words))
        elif isinstance(statement, Wire):
            head = tuple(said(w) for w in statement.head)
            text.all[index] = Wire(head, statement.a, statement.b, statement.rest)
    return True


@dress
def nothing_there(text: Text, random: Random) -> bool:
    """A circuit that is planned, was removed or is disabled: it carries nothing."""
    bars = text.things("bus")
    places = {t.value("at") for _, t in text.things(*ON_BOARD)} - {""}
    place = next((p for p in sorted(places) if "." not in p), None)
    taken = any(t.name in ("QP", "EP") for _, t in text.things())
    # There a planned device asks for more than to be planned.
    asks = any(re.match(r"entry|place.*(petrol|gas)\b", str(s)) for s in text.all)
    if not bars or place is None or taken or asks:
        return False
    status = f"status={random.choice(('planned', 'removed', 'disabled'))}"
    end = text.free(random.choice(bars)[0])
    size = "4mm2" if _book(text) == "iec60364" else "10AWG"
    text.add(
        f'breaker QP "Circuit that is not" 10A poles=1 {status} at={place}',
        f'lamp EP "Lamp that is not" 120V 40W {status} at={place}',
        f"wire WP1 {size} 0.2m {end} -> QP.1 {status}",
        f"wire WP2 {size} 3m QP.2 -> EP.L {status}",
        at=bars[-1][0],
    )
    return True


@dress
def in_steps(text: Text, random: Random) -> bool:
    """A further stage that moves an end along its bar, says more of a device, takes a lamp out."""
    bars = {t.name: i for i, t in text.things("bus")}
    ends = [e for _, w in text.wires() for *_, e in w.landings() if e.split(".")[0] in bars]
    if not ends or _stages(text):
        return False
    end = random.choice(ends)
    wire = next(w for _, w in text.wires() if end in (*w.a, *w.b))
    free = text.free(bars[end.split(".")[0]])
    device = random.choice([t.name for _, t in text.things(*ON_BOARD)])
    text.all.append('lamp EY "Lamp for a while" 120V 40W status=planned')
    text.all += ["stage LATER \"A step later\" {", "remove EY", f"change {device} maker=own"]
    text.all += [f"move {wire.name} {end} -> {free}", "}"]
    return True


@dress
def along_a_route(text: Text, random: Random) -> bool:
    """A cable alone through a cool duct of its own, shorter than the cable."""
    found = [
        (i, w)
        for i, w in text.wires()
        if w.head[0] == "cable" and re.fullmatch(r"[\d.]+m", w.head[-1]) and "via=" not in str(w)
    ]
    found = [(i, w) for i, w in found if float(w.head[-1][:-1]) >= 1]
    if not found or any(str(s).startswith("route RZ") for s in text.all):
        return False
    index, wire = random.choice(found)
    lies = random.choice(("bunched", "wall", "ceiling", "tray", "ladder", "spaced"))
    more = random.choice(("", "length=0.5m", "inside=80mm", "divided"))
    text.all[index] = Wire(wire.head, wire.a, wire.b, (*wire.rest, "via=RZ"))
    text.all.insert(2, f'route RZ "Duct of its own" ambient=25degC laid={lies} {more}')
    return True


@dress
def other_strands(text: Text, random: Random) -> bool:
    """Conductors tinned, or finely stranded in ferrules."""
    for index, wire in text.wires():
        plain = not {"stranded", "tinned", "fine", "solid"} & {*wire.rest}
        if wire.head[0] in ("wire", "cable") and plain and random.random() < 0.4:
            ends = "ends=" in str(wire)
            word = ("tinned",) if ends or random.random() < 0.6 else ("fine",)
            text.all[index] = Wire(wire.head, wire.a, wire.b, (*wire.rest, *word))
    return True


@dress
def better_housed(text: Text, random: Random) -> bool:
    """Housings, torques and clamps said that are good for anything."""
    words = (
        *("ip=IP67", "ignition-protected", "torque=2.5Nm", "clamp=0.5..120mm2", "plate", "spring"),
        *("screw", "strip=12mm"),
    )
    for index, thing in text.things(*ON_BOARD):
        held = {*GRIPS} & {*thing.words}
        if random.random() < 0.4 and "stud" not in str(thing):
            word = random.choice(words)
            said = word in thing.words or thing.value(word.split("=")[0])
            # Under a plate two conductors have to be of one size.
            grips = word in GRIPS and (held or thing.value("holds"))
            if not said and not grips:
                text.all[index] = thing.with_word(word)
    return True


@dress
def on_no_rail(text: Text, random: Random) -> bool:
    """Modules of what stands on no rail, voltages of bars."""
    places = [s.split()[1] for s in text.all if str(s).startswith("panel")]
    for index, thing in text.things("bus", "block", "fuse", "switch", "contactor"):
        apart = not any(f"at={name}" in str(thing) for name in places)
        word = random.choice(("modules=2", "ways=2" if apart else "", "1000V"))
        fits = word != "1000V" or (thing.kind in ("bus", "block") and not thing.bare("V"))
        if apart and word and fits and not thing.value(word.split("=")[0]):
            text.all[index] = thing.with_word(word)
    return True


@dress
def on_loops(text: Text, random: Random) -> bool:
    """A device whose conductors go round screws, in forks or rings."""
    found = []
    if any(re.search(r"stud=| stud\b", str(s)) for s in text.all):
        return False
    for index, thing in text.things("breaker", "switch", "fuse"):
        ends = text.ends(thing.name)
        wires = [text.all[i] for i, *_ in ends]
        single = all(w.head[0] == "wire" and "ends=" not in str(w) for w in wires)
        if ends and single and not {"screw", "loop", "plate", "spring"} & {*thing.words}:
            found.append((index, thing, ends))
    if not found:
        return False
    index, thing, ends = random.choice(found)
    text.all[index] = thing.with_word("loop")
    for number, side, _, _ in ends:
        wire = text.all[number]
        assert isinstance(wire, Wire)
        word = random.choice(("fork", "ring"))
        both = f"{word},ferrule" if side == "a" else f"ferrule,{word}"
        text.all[number] = Wire(wire.head, wire.a, wire.b, (*wire.rest, f"ends={both}"))
    return True


@dress
def laid_so(text: Text, random: Random) -> bool:
    """A method, a drum, a pin or a temperature of insulation for thick cables of small circuits."""
    warm = "insulation=105degC" if _book(text) == "abyc-e11" else "insulation=90degC"
    studs = any("stud" in str(statement) for statement in text.all)
    for index, wire in text.wires():
        core = wire.head[2].split("x")[-1] if wire.head[0] == "cable" else ""
        small = core in ("2.5mm2", "14AWG", "12AWG")
        if not small or {"cord", "plug"} & {*wire.rest} or random.random() < 0.5:
            continue
        metric = [f"method={m}" for m in ("A1", "A2", "B1", "B2", "C", "E")]
        words = [warm] if studs else [warm, "ends=pin"]  # no pin goes on a stud
        words += [*metric, "drum=1", "drum=radial"] if _book(text) == "iec60364" else []
        word = random.choice(words)
        if word.split("=")[0] not in str(wire):
            text.all[index] = Wire(wire.head, wire.a, wire.b, (*wire.rest, word))
    return True
