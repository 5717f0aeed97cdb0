"""Rigs of random wiring, to try layouts on: any terminal to any terminal, sense or not."""

from __future__ import annotations

import random

KINDS = (
    ("breaker", "15A poles=1", ("1", "2")),
    ("breaker", "16A poles=2", ("1", "2", "3", "4")),
    ("fuse", "30A", ("1", "2")),
    ("switch", "40A poles=1N", ("1", "2", "N1", "N2")),
    ("load", "120V 200W", ("L", "N", "PE")),
    ("lamp", "dc 12V 10W", ("+", "-")),
    ("socket", "15A", ("L", "N", "PE")),
    ("bus", "100A positions=9", tuple(map(str, range(1, 10)))),
    ("block", "30A positions=5", tuple(map(str, range(1, 6)))),
    ("selector", "30A", ("a-L", "a-N", "b-L", "b-N", "out-L", "out-N")),
    ("inverter", "120V 1000W limit=20A transfer=30A",
     ("+", "-", "out-L", "out-N", "PE", "in-L", "in-N")),
    ("battery", "12V 100Ah", ("+", "-")),
    ("earth", "positions=4", ("1", "2", "3", "4")),
    ("joint", "20A", ("a", "b", "c")),
)  # fmt: skip
PLACES = ("FRONT", "REAR", "LOFT")
SIZES = ("14AWG", "2.5mm2", "2/0AWG", "0.5mm2", "10AWG", "70mm2")
ITEMS = ("", " colours=red", " status=planned", " solid", " via=DUCT", " colours=blue-red")
LETTERS = ("W", "J", "Qj_", "gp-")
BOOKS = ("nfpa70", "abyc-e11", "iec60364")


def random_rig(seed: int, devices: int = 24, wires: int = 50, places: int = 3) -> str:
    """A rig's text: random devices in places and a panel, random wires and cables, a removal."""
    chance = random.Random(seed)
    lines = [f'rig "Trial {seed}"', f"rules {chance.choice(BOOKS)}"]
    lines += [f'place {place} "{place.title()} locker"' for place in PLACES[:places]]
    lines += ['place VOID "Nothing in it"', 'route DUCT "Duct"']
    lines.append('supply GRID "Grid" 120V 60Hz 30A fault=1kA bonded')
    lines.append(f'panel BOX "Box" ways=12 at={PLACES[0]}')
    ends = [f"GRID.{terminal}" for terminal in ("L", "N", "PE")]
    for number in range(devices):
        kind, items, terminals = chance.choice(KINDS)
        where = chance.choice((*PLACES[:places], "BOX", ""))
        at = f" at={where}" if where else ""
        lines.append(f'{kind} D{number} "Thing {number}" {items}{at}')
        ends += [f"D{number}.{terminal}" for terminal in terminals]
    for number in range(wires):
        size, item = chance.choice(SIZES), chance.choice(ITEMS)
        a, b, c, d = (chance.choice(ends) for _ in range(4))
        length = f"{chance.randint(1, 90) / 10}m"
        if chance.random() < 0.2 and "colours" not in item:
            lines.append(f"cable C{number} 2x{size} {length} {a} {b} -> {c} {d}{item}")
        else:
            lines.append(f"wire {chance.choice(LETTERS)}{number} {size} {length} {a} -> {b}{item}")
    lines.append(f"link K1 {chance.choice(ends)} -> {chance.choice(ends)}")
    lines += ['stage LATER "One thing less" {', f"  remove D{chance.randrange(devices)}", "}"]
    return "\n".join(lines) + "\n"
