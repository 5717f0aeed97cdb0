"""A shed with one panel, small enough to be reckoned by hand, for tests of the papers; and the
generated rigs with all their devices in one panel."""

from __future__ import annotations

import re
import sys
from pathlib import Path

from ferrule.checks.tracing.trace import Stage, analyse
from ferrule.dsl.reader import read_text

sys.path.insert(0, str(Path(__file__).parent.parent / "benchmarks"))
from generate import generate

SHED = """\
rig "Shed" revision=A date=2025-07-01
rules iec60364
place SHED "Garden shed"
supply S   "House"      230V 50Hz 20A fault=1kA bonded
panel  P   "Shed panel" ways=8 at=SHED
entry  G1  "Gland"      hole=25mm at=P
breaker QM "Main"       16A poles=2 curve=C breaks=6kA standard=IEC60898 torque=2.0Nm at=P.1-2
rcd    F1  "Sockets and lamp" 25A 30mA type=A breaks=6kA ways=2 torque=2.0Nm at=P.3-4
breaker Q1 "Bench"      10A poles=2 curve=B breaks=6kA standard=IEC60898 torque=2.0Nm at=P.6-7
bus    EB  "Earth bar"  80A positions=6 torque=1.8Nm at=P
heater E1  "Kiln"       230V 1150W uses=2h demand=50% holds=2 at=SHED
lamp   E2  "Lamp"       230V 23W continuous uses=10h holds=2 at=SHED
motor  M1  "Lathe"      230V 460W inrush=12A at=SHED
cable C1 3x2.5mm2 10m S.(L N PE) -> QM.(1 3) EB.1 entries=G1
wire  W1 4mm2 0.2m QM.2 -> F1.1
wire  W2 4mm2 0.2m QM.4 -> F1.N1
wire  W3 4mm2 0.2m F1.2 -> Q1.1
wire  W4 4mm2 0.2m F1.N2 -> Q1.3
cable C2 3x1.5mm2 4m Q1.(2 4) EB.2 -> E1.(L N PE) entries=G1
cable C3 3x1.5mm2 2m E1.(L N PE) -> E2.(L N PE)
cable C4 3x1.5mm2 3m E2.(L N PE) -> M1.(L N PE)
mode on "In use" { S=on }
mode off "Unplugged" { S=off }
"""

TWO_POLES = ("poles=2", "poles=1N")


def shed(**swap: str) -> Stage:
    """The shed, with texts of it replaced (``shed(Kiln="=1+1")``)."""
    text = SHED
    for old, new in swap.items():
        assert old in text
        text = text.replace(f'"{old}"', f'"{new}"')
    reading = read_text(text)
    assert not reading.problems, reading.problems
    return analyse(reading.rigs[-1])


def panelled(topology: str, circuits: int, seed: int = 1) -> str:
    """A generated rig whose service box is a panel, its devices way by way on the rail."""
    lines, way = [], 1
    for line in generate(topology, circuits, seed).splitlines():
        if line.startswith("place BOX"):
            line = 'place ROOM "Service room"\npanel BOX "Service panel" ways=%WAYS at=ROOM'
        if re.match(r"(breaker|rcd|selector|fuse) .*at=BOX", line):
            wide = 3 if "poles=3" in line else 1
            if line.startswith(("rcd", "selector")) or any(word in line for word in TWO_POLES):
                wide = 2
            ways = str(way) if wide == 1 else f"{way}-{way + wide - 1}"
            line = line.replace(" at=BOX", f" ways={wide} at=BOX.{ways}")
            way += wide
        lines.append(line)
    return "\n".join(lines).replace("%WAYS", str(way + 3)) + "\n"


def generated(topology: str, circuits: int, seed: int = 1) -> Stage:
    """That rig, traced."""
    reading = read_text(panelled(topology, circuits, seed))
    assert not reading.problems, reading.problems
    return analyse(reading.rigs[-1])
