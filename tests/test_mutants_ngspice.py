"""What a device has to interrupt, by ngspice: rigs of the mutants' generator, one device made weak.

A short circuit at a load passes every device without which that load is dead; what ngspice finds
for it, none of those may interrupt less than.  One that interrupts a little less than that has to
be told of (P11), and one that interrupts all that the sources state, never.  The wiring comes from
``spice.py``, the devices on the way from the mutants' own net; neither knows the checker's.
"""

from __future__ import annotations

import re
import shutil
import sys
import warnings
from collections.abc import Iterator
from pathlib import Path
from random import Random

import pytest
import spice
from ferrule.dsl.model import Rig
from ferrule.dsl.reader import read_text

ROOT = Path(__file__).parent.parent
sys.path.insert(0, str(ROOT / "benchmarks"))

from mutants.judge import told  # noqa: E402
from mutants.net import OVERCURRENT, Net  # noqa: E402
from mutants.rigs import made  # noqa: E402

STIFF = ("supply", "generator", "battery")
LOADS = ("load", "lamp", "motor", "heater")
RIGS = [
    *(("composed", 3, seed) for seed in range(24)),
    *((shape, 3, seed) for shape in ("radial", "two-source", "dc", "steps") for seed in range(2)),
]


def needs_ngspice() -> None:
    if shutil.which("ngspice") is None:
        text = "NGSPICE IS NOT INSTALLED: interrupting ratings were NOT compared with it"
        warnings.warn(text, stacklevel=2)
        pytest.skip(text)


def behind(rig: Rig) -> Iterator[tuple[Net, str, str, str, float]]:
    """Mode, load's two terminals, a device it hangs on alone, and the sources' stated currents."""
    for mode in rig.modes.values():
        net = Net(rig, mode)
        for load in net.devices.values():
            line, back = ("L", "N") if load.terminal("L") else ("+", "-")
            if load.kind not in LOADS or load.terminal(line) is None:
                continue
            node = f"{load.name}.{line}"
            feeds = [s for s in net.sources for n in s.lines().values() if node in net.reach(n)]
            if not feeds or not all(net.devices[s.name].kind in STIFF for s in feeds):
                continue
            for device in net.devices.values():
                alone = not any(
                    node in net.reach(n, without=(device.name,))
                    for s in feeds
                    for n in s.lines().values()
                )
                if alone and device.kind in OVERCURRENT and device.number("breaks"):
                    stated = sum(s.fault or 0.0 for s in feeds)
                    yield net, node, f"{load.name}.{back}", device.name, stated


def short(net: Net, line: str, back: str) -> float:
    """The current of a short circuit at a load's terminals, A, by ngspice."""
    plan = spice.Plan(net.rig, net.mode)
    hz = 0.0 if line.endswith("+") else next(s.hz for s in plan.sources if s.hz)
    ends = (spice.node(*line.split(".")), spice.node(*back.split(".")))
    ((answer,),) = spice.run([(spice.deck(plan, hz, "max"), hz, [ends])])
    (volts,) = answer.values()
    return abs(volts) / 1e-6


def interrupting(text: str, name: str, amps: float) -> str:
    """The text with another interrupting rating of one device."""
    pattern = rf"(?m)^(\w+ {re.escape(name)} .*?breaks=)\S+"
    new, count = re.subn(pattern, rf"\g<1>{amps:.1f}A", text)
    assert count == 1
    return new


@pytest.mark.parametrize(("shape", "circuits", "seed"), RIGS)
def test_a_device_that_interrupts_too_little_is_told_of(
    shape: str, circuits: int, seed: int
) -> None:
    needs_ngspice()
    text = made(shape, circuits, seed)
    found = [row for rig in read_text(text).rigs for row in behind(rig)]
    if not found:
        pytest.skip("nothing but sources that limit themselves, or parts")
    net, line, back, device, stated = Random(seed).choice(found)
    if f" {device} " not in text or "breaks=" not in next(
        row for row in text.splitlines() if f" {device} " in row
    ):
        pytest.skip("its figures come with a part")
    amps = short(net, line, back)
    weak = told(read_text(interrupting(text, device, 0.98 * amps)).rigs)
    assert any(row.startswith("P11 ") for row in weak), (device, amps, weak)
    strong = told(read_text(interrupting(text, device, 1.01 * stated)).rigs)
    assert not any(row.startswith("P11 ") for row in strong), (device, stated, strong)
