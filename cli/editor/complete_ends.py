"""Completions of names of things and of terminals, the free ones first."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator

from ...dsl.model import Device, Rig, Terminal
from .offers import FIRST, LAST, NAME, TERMINAL, THEN, Offer, Offers
from .words_at import Writing

_END = re.compile(r"([A-Za-z][\w-]*)\.(?:\(([^()]*)\)?|([\w+-]*))$")
Landed = dict[str, list[str]]


def landed(rig: Rig, here: Writing) -> Landed:
    """What lands on each terminal, the statement that is being written counted in."""
    found: Landed = {}
    for conductor in rig.conductors.values():
        for end in (conductor.a, conductor.b):
            found.setdefault(end.name, []).append(conductor.name)
    own = here.words[1] if len(here.words) > 1 else ""
    for word in here.said:
        match = _END.match(word)
        for name in (match[2] or match[3] or "").split() if match else ():
            found.setdefault(f"{match[1] if match else ''}.{name}", []).append(own)
    return found


def things(rig: Rig) -> list[Offer]:
    """Devices and conductors by name."""
    devices = [Offer(d.name, NAME, f"{d.kind} {d.label}".strip()) for d in rig.devices.values()]
    runs = dict.fromkeys(c.statement for c in rig.conductors.values())
    return [*devices, *(Offer(name, NAME, "conductor") for name in runs)]


def ends(rig: Rig, here: Writing) -> Offers:
    """Devices to land on, or the terminals of the one whose point is written."""
    there = landed(rig, here)
    name, point, rest = here.word.partition(".")
    device = rig.devices.get(name)
    if point:
        inside = rest.startswith("(")
        begun = here.begun + len(name) + 1
        if inside:
            begun = here.begun + max(here.word.rfind("("), here.word.rfind(" ")) + 1
            said = Counter(rest[1:].split()[: -1 if rest[-1] not in "( " else None])
        else:
            said = Counter()
        offers = list(_terminals(device, there, said)) if device else []
        return Offers(begun, offers)
    return Offers(here.begun, [*_whole(rig, there, name), *_devices(rig, there)])


def _devices(rig: Rig, there: Landed) -> Iterator[Offer]:
    for device in rig.devices.values():
        if not device.terminals and device.kind != "joint":
            continue
        free = sum(is_free(device, terminal, there) for terminal in device.terminals)
        detail = f"{device.kind} {device.label}".strip() + f", {free} free"
        rank = THEN if free or device.kind == "joint" else LAST
        yield Offer(device.name, NAME, detail, f"{device.name}.", rank)


def _whole(rig: Rig, there: Landed, begun: str) -> Iterator[Offer]:
    """Terminals with their device's name, of the devices whose name is begun."""
    for device in rig.devices.values() if begun else ():
        if device.name.casefold().startswith(begun.casefold()):
            for offer in _terminals(device, there, Counter()):
                yield Offer(f"{device.name}.{offer.label}", TERMINAL, offer.detail, "", offer.rank)


def _terminals(device: Device, there: Landed, said: Counter[str]) -> Iterator[Offer]:
    for terminal in device.terminals:
        lands = dict.fromkeys(there.get(f"{device.name}.{terminal.name}", ()))
        free = is_free(device, terminal, there) and terminal.name not in said
        detail = ", ".join((*(["free"] if free else []), *(f"{name} lands here" for name in lands)))
        yield Offer(terminal.name, TERMINAL, detail, rank=FIRST if free else LAST)


def is_free(device: Device, terminal: Terminal, there: Landed) -> bool:
    """Whether a terminal takes one more conductor."""
    count = len(there.get(f"{device.name}.{terminal.name}", ()))
    return terminal.holds is None or count < terminal.holds


def landing(rig: Rig, name: str) -> list[Offer]:
    """The terminals that a conductor, or a cable's cores, end on."""
    cores = rig.cables[name].cores if name in rig.cables else (name,)
    found = [rig.conductors[core] for core in cores if core in rig.conductors]
    ends = dict.fromkeys(end.name for c in found for end in (c.a, c.b))
    return [Offer(end, TERMINAL, f"{name} ends here", rank=FIRST) for end in ends]
