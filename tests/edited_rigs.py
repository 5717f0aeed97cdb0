"""A random rig's text and the same after some edits, for laws that hold between any two rigs."""

from __future__ import annotations

import random
import re

from hypothesis import strategies as st
from wiring_rigs import random_rig

EDITS = (
    (r"^wire (\S+) ", r"wire \1x "),  # another name
    (r"^(wire \S+) \S+ (\S+m)", r"\1 35mm2 \2"),
    (r"^(wire \S+ \S+) \S+m ", r"\1 12.5m "),
    (r"^(wire \S+ \S+ \S+) (\S+) -> (\S+)", r"\1 \3 -> \2"),  # the other way round
    (r"^(wire \S+ \S+ \S+) (\S+) -> (\S+)", r"\1 GRID.L -> \3"),
    (r"^(wire \S+ \S+ \S+) (\S+) -> (\S+)", r"\1 \3 -> GRID.N"),
    (r"^(cable \S+ \S+ \S+) (\S+) (\S+) -> (\S+) (\S+)", r"\1 \4 \5 -> \2 \3"),
    (r"^(cable \S+ \S+ \S+) (\S+) (\S+) -> (\S+) (\S+)", r"\1 \2 \3 -> \5 \4"),
    (r"^(cable \S+ \S+ \S+) (\S+) (\S+) -> (\S+) (\S+)", r"\1 \4 GRID.L -> \2 \5"),
    (r"^wire .*$", ""),
    (r"^cable .*$", ""),
    (r"^link .*$", ""),
    (r" via=DUCT$", " status=planned"),
    (r'^(\w+ D\d+) "Thing', r'\1 "Item'),
    (r"^lamp ", "load "),
    (r"^load (.*) at=\w+$", r"heater \1"),
    (r" 15A ", " 25A "),
    (r" at=BOX$", " at=REAR"),
    (r"^rules \S+", "rules nfpa70"),
    (r"ways=12 at=FRONT", "ways=13 metal"),
    (r"^place VOID .*$", "place VOID ambient=50degC"),
    (r"^(place VOID .*)$", r"\1\nmode a { GRID=off }\nmode b { }"),
    (r"^(place VOID .*)$", r'\1\nmode a "A" { GRID=on D1=open }\naccept P02 on D1 because "so"'),
    (r"^(place VOID .*)$", r"\1\nwire NEW 2.5mm2 1m GRID.L -> GRID.N ends=ring,fork"),
    (r"\bD3\b", "OTHER"),
    (r"\bD5\b", "D77"),
)


@st.composite
def edited(draw: st.DrawFn) -> tuple[str, str]:
    """A rig's text, and the same after some edits, its statements shuffled."""
    text = random_rig(draw(st.integers(0, 10_000)), devices=9, wires=14)
    text = text[: text.index("stage LATER")]
    chance = random.Random(draw(st.integers(0, 10_000)))
    new = text
    for pattern, put in draw(st.lists(st.sampled_from(EDITS), max_size=6)):
        rows = list(re.finditer(pattern, new, re.M))
        if pattern.startswith(r"\b"):
            new = re.sub(pattern, put, new)
        elif rows:
            row = chance.choice(rows)
            new = new[: row.start()] + row.expand(put) + new[row.end() :]
    lines = new.splitlines()
    if draw(st.booleans()):
        chance.shuffle(lines)
    return text, "\n".join(lines) + "\n"
