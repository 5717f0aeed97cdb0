"""What each conductor is for, as far as a one-line view needs it: power, neutral, earth.

The tracing of the checks decides.  A conductor that nothing live reaches takes the role that
the names of the terminals round it suggest, so that a rig half built still draws.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Mapping
from itertools import pairwise

from ..dsl.kinds import kinds
from ..dsl.model import Device, Rig

NEUTRAL, EARTH, NEGATIVE = "N", "PE", "-"
GROUNDED = (NEUTRAL, EARTH, NEGATIVE)
_BY_NAME = ("PE", "N", "-", "L1", "L2", "L3", "L", "+")  # the order in which hints claim


def joined(device: Device) -> Iterator[tuple[str, str]]:
    """Pairs of terminals that a device joins in any of its states."""
    kind = kinds()[device.kind]
    variant = kind.variant(device.variant)
    known = {t.name for t in device.terminals}
    pairs = [*variant.poles, *(p for rows in variant.joins.values() for p in rows)]
    yield from (p for p in pairs if p[0] in known and p[1] in known)
    if variant.numbered in ("all", "free"):
        names = [t.name for t in device.terminals]
        yield from pairwise(names)


def hint(device: Device, terminal: str) -> str:
    """The role a terminal's own name suggests; empty for numbers."""
    if device.kind == "earth":
        return EARTH
    tail = terminal.removeprefix("in").removeprefix("out").removeprefix("-") or terminal
    tail = {"+": "+", "in-": NEGATIVE, "out-": NEGATIVE}.get(terminal, tail)
    for word in ("a-", "b-"):
        tail = tail.removeprefix(word)
    tail = tail or NEGATIVE
    if len(tail) == 2 and tail[0] == "N" and tail[1].isdigit():
        return NEUTRAL
    return tail if tail in _BY_NAME else ""


def guessed(rig: Rig) -> Mapping[str, str]:
    """Each conductor's role by a flood from the terminals whose names give one."""
    links = _links(rig)
    found: dict[tuple[str, str], str] = {}
    for role in _BY_NAME:
        starts = [
            (d.name, t.name) for d in rig.devices.values() for t in d.terminals
            if hint(d, t.name) == role
        ]
        _flood(role, starts, links, found)
    return {
        c.name: found.get((c.a.device, c.a.terminal), found.get((c.b.device, c.b.terminal), ""))
        for c in rig.conductors.values()
    }


def _links(rig: Rig) -> dict[tuple[str, str], list[tuple[str, str]]]:
    links: dict[tuple[str, str], list[tuple[str, str]]] = {}

    def link(a: tuple[str, str], b: tuple[str, str]) -> None:
        links.setdefault(a, []).append(b)
        links.setdefault(b, []).append(a)

    for c in rig.conductors.values():
        link((c.a.device, c.a.terminal), (c.b.device, c.b.terminal))
    for d in rig.devices.values():
        for a, b in joined(d):
            link((d.name, a), (d.name, b))
    return links


def _flood(
    role: str,
    starts: list[tuple[str, str]],
    links: Mapping[tuple[str, str], list[tuple[str, str]]],
    found: dict[tuple[str, str], str],
) -> None:
    queue = deque(s for s in starts if s not in found)
    found.update(dict.fromkeys(queue, role))
    while queue:
        for near in links.get(queue.popleft(), ()):
            if near not in found:
                found[near] = role
                queue.append(near)


def roles(rig: Rig, traced: Callable[[str], str]) -> Mapping[str, str]:
    """The role of every conductor: as traced, or as guessed where nothing live reaches it."""
    guess = guessed(rig)
    return {name: traced(name) or guess[name] for name in rig.conductors}
