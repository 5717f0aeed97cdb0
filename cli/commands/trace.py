"""``ferrule trace``: what a meter should find on a terminal, and what protects it."""

from __future__ import annotations

import argparse
from collections.abc import Iterator

from ...checks.figures.meter import Expected, Guard, Probe, Step, Way, probe
from ...checks.tracing.network import BAR, JOINT, PLUG, WIRE
from ...checks.tracing.trace import ModeView, Stage, analyse
from ...dsl.model import Rig
from .. import files
from ..errors import CLEAN, Unusable
from ..refusal import refuse

CAUTION = (
    "Nominal values from what the text says. Prove every conductor dead before you touch it:\n"
    "the drawing is no proof of how the rig was built."
)
HOW = {BAR: "bar", JOINT: "inside", PLUG: "plugged in"}


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this subcommand takes."""
    parser.add_argument("file", metavar="FILE", help="a .rig file")
    parser.add_argument("terminal", metavar="TERMINAL", help="DEVICE.TERMINAL, as in Q1.2")
    parser.add_argument("--mode", metavar="M", help="one mode only (default: all of them)")
    parser.add_argument("--stage", metavar="S", help="the stage to look at (default: the last)")


def run(args: argparse.Namespace) -> int:
    """Print the terminal in every mode asked for."""
    reading = files.load(args.file)
    if reading.problems:
        return refuse(files.Outcome.unread(args.file, reading))
    rig = files.stages(reading.rigs, args.stage)[-1]
    device, terminal = find(rig, args.terminal)
    stage = analyse(rig)
    blocks = [
        "\n".join(_probe(probe(view, device, terminal), stage)) for view in modes(stage, args.mode)
    ]
    print("\n\n".join([*blocks, CAUTION]))
    return CLEAN


def find(rig: Rig, word: str) -> tuple[str, str]:
    """The device and terminal of a name; raises ``Unusable`` where the rig has none such."""
    name, dot, terminal = word.partition(".")
    if not dot:
        hint = f"as in {name}.{rig.devices[name].terminals[0].name}" if name in rig.devices else ""
        raise Unusable(f"`{word}` is no terminal: write DEVICE.TERMINAL", hint)
    if name not in rig.devices:
        raise files.unknown("device", name, rig.devices, f"stage {rig.stage}")
    known = [t.name for t in rig.devices[name].terminals]
    if terminal not in known:
        raise files.unknown("terminal", terminal, known, name)
    return name, terminal


def modes(stage: Stage, wanted: str | None) -> tuple[ModeView, ...]:
    """The modes asked for; raises ``Unusable`` for one the stage has not."""
    if wanted not in (None, *stage.rig.modes):
        raise files.unknown("mode", str(wanted), stage.rig.modes, f"stage {stage.name}")
    return tuple(view for view in stage.modes if wanted in (None, view.name))


def _probe(found: Probe, stage: Stage) -> Iterator[str]:
    label = stage.rig.modes[found.mode].label
    mode = f"mode {found.mode}" + (f" ({label})" if label else "")
    yield f"{found.terminal}, stage {stage.name}, {mode}: {found.role or 'dead'}"
    if not found.role:
        rest = ", ".join(found.open)
        yield f"  nothing live reaches it; next to it: {rest or 'nothing'}"
    for way in found.ways:
        yield from _way(way, stage.rig, 2)
    if found.expected:
        yield "  expect"
        yield from (f"    {_expected(row)}" for row in found.expected)
    if found.role:
        bonds = ", ".join(found.bonds)
        grounded = "DC negative" if found.role in ("+", "-") else "neutral"
        yield f"  {grounded} and earth are joined by: {bonds or 'nothing'}"


def _way(way: Way, rig: Rig, indent: int) -> Iterator[str]:
    pad = " " * indent
    label = rig.devices[way.source].label
    name = f"{way.source} ({label})" if label else way.source
    yield f"{pad}back to {name}, {way.role}"
    yield from (f"{pad}  {row}" for row in _table(way.steps, rig))
    if way.guards:
        yield f"{pad}protected by {'; '.join(map(_guard, way.guards))}"
    elif way.role not in ("N", "-", "PE"):
        yield f"{pad}protected by nothing on this way"
    for feeding in way.fed_by:
        yield f"{pad}{way.source} is fed"
        yield from _way(feeding, rig, indent + 2)


def _table(steps: tuple[Step, ...], rig: Rig) -> Iterator[str]:
    rows = [(step.start, step.end, _by(step, rig)) for step in steps]
    first = max((len(row[0]) for row in rows), default=0)
    second = max((len(row[1]) for row in rows), default=0)
    yield from (f"{a:<{first}} <- {b:<{second}}  {by}".rstrip() for a, b, by in rows)


def _by(step: Step, rig: Rig) -> str:
    if step.how == WIRE:
        conductor = rig.conductors[step.by]
        size = conductor.size.text if conductor.size else conductor.kind
        length = f", {conductor.length_m:g} m" if conductor.length_m else ""
        return f"{step.by}  {size}{length}"
    device = rig.devices[step.by]
    how = HOW.get(step.how, "closed")
    return f"{step.by}  {device.text('rating')} {device.kind}, {how}".replace("   ", "  ")


def _guard(guard: Guard) -> str:
    parts = [guard.name]
    parts += [f"{guard.rating_a:g} A"] if guard.rating_a is not None else []
    parts += [f"{guard.residual_a * 1000:g} mA residual"] if guard.residual_a is not None else []
    return " ".join(parts) + (f" ({guard.words})" if guard.words else "")


def _expected(row: Expected) -> str:
    if row.volts is None:
        return f"to {row.against}: {row.note}"
    return f"to {row.against}: {round(row.volts, 0 if row.volts >= 100 else 1):g} V"
