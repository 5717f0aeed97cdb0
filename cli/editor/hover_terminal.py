"""What an editor shows of a terminal: what lands on it, how, and what it carries in each mode."""

from __future__ import annotations

import re
from collections.abc import Iterator

from ...checks.figures.derivation import terminal_lines
from ...checks.tracing.trace import Stage
from ...dsl.model import Terminal
from .meanings import fenced

_NAME = re.compile(r"[\w+-]+")


def terminal_at(text: str, at: int) -> str:
    """The terminal named at an index of what stands behind a device's point."""
    return next((m[0] for m in _NAME.finditer(text) if m.start() <= at <= m.end()), "")


def told(stage: Stage, device: str, name: str) -> str:
    """A terminal's figures; words where the device has none of that name."""
    found = next((t for t in stage.rig.devices[device].terminals if t.name == name), None)
    of_stage = f", stage {stage.rig.stage}" if len(stage.rig.stages) > 1 else ""
    head = f"**{device}.{name}**{of_stage}"
    if found is None:
        return f"{head}\n\n{fenced([f'{device} has no terminal {name}'])}"
    return f"{head}\n\n{fenced(_rows(stage, device, found))}"


def _rows(stage: Stage, device: str, terminal: Terminal) -> Iterator[str]:
    own = stage.rig.devices[device]
    yield f"a terminal of {device}, {own.kind} {own.label}".rstrip()
    place = f"{device}.{terminal.name}"
    runs = stage.rig.conductors.values()
    landed = [c.name for c in runs if place in (c.a.name, c.b.name)]
    most = "any number" if terminal.holds is None else str(terminal.holds)
    yield f"lands here: {' '.join(landed) or 'nothing'}; holds {most}"
    grips = {"clamp": terminal.clamp, "stud": terminal.stud, "torque": terminal.torque}
    said = [f"{key} {value}" for key, value in grips.items() if value is not None]
    if said:
        yield ", ".join(said)
    for view in stage.modes:
        lines = list(terminal_lines(view, own, terminal.name)) or [f"{terminal.name}: dead"]
        yield f"mode {view.name}"
        yield from (f"  {line}" for line in lines)
