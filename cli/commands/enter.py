"""``ferrule enter``: what the readings of a commissioning sheet come to."""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator, Sequence
from math import isinf

from ...checks.commissioning import Trial, commissioning
from ...checks.commissioning.entered import FAILING, GONE, GOOD, OPEN, Entry, Written, entered
from ...checks.figures.probes import trials as probe_trials
from ...checks.tracing.trace import Stage, analyse
from .. import files, readings_file
from ..errors import CLEAN, FOUND, Unusable
from ..refusal import refuse

CAUTION = (
    "Readings say what was found where they were taken. They are no proof of the rest;\n"
    "local codes and a licensed person decide."
)
PROBES = "V-"
"""How the tests of the probe table begin."""
SHORT = 60


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this subcommand takes."""
    add = parser.add_argument
    add("file", metavar="FILE", help="a .rig file")
    add("readings", metavar="READINGS.csv", help="as `draw` wrote it, its readings filled in")
    add("--stage", metavar="S", help="the stage that was tested (default: the last)")
    add("--so-far", action="store_true", help="what is not done yet is no finding")
    add("--format", choices=("text", "json"), default="text", help="(default: text)")


def run(args: argparse.Namespace) -> int:
    """Print what is out of bounds, due again, not understood and not done."""
    reading = files.load(args.file)
    if reading.problems:
        return refuse(files.Outcome.unread(args.file, reading))
    written = readings_file.rows(args.readings)
    stage = analyse(files.stages(reading.rigs, args.stage)[-1])
    entries = entered(stage, wanted(stage, written, args.readings), written)
    writer = _json if args.format == "json" else _text
    print(writer(args, stage, entries), end="")
    failing = FAILING if args.so_far else (*FAILING, *OPEN)
    return FOUND if any(entry.state in failing for entry in entries) else CLEAN


def wanted(stage: Stage, written: Sequence[Written], name: str) -> list[Trial]:
    """The tests of the sheet, of the probe table, or of both, as the file has them."""
    probes = any(row.test.startswith(PROBES) for row in written)
    sheet = any(not row.test.startswith(PROBES) for row in written)
    found = [t for step in commissioning(stage) for t in step.trials] if sheet else []
    found += probe_trials(stage) if probes else []
    if not {trial.id for trial in found} & {row.test for row in written}:
        hint = f"tests are named as in {found[0].id}" if found else readings_file.MADE
        raise Unusable(f"{name}: names no test of stage {stage.rig.stage}", hint)
    return found


def _text(args: argparse.Namespace, stage: Stage, entries: Sequence[Entry]) -> str:
    rig = stage.rig
    blocks = [f"{rig.label}, stage {rig.stage}: {len(entries)} tests"]
    for state in (*FAILING, *OPEN, GONE):
        found = [entry for entry in entries if entry.state == state]
        if found and (state not in OPEN or not args.so_far):
            lines = _listed(found) if state in OPEN else [_line(args, entry) for entry in found]
            blocks.append("\n".join((f"{state}: {len(found)}", *lines)))
    good = sum(entry.state == GOOD for entry in entries)
    undone = sum(entry.state in OPEN for entry in entries)
    blocks.append(f"{good} within bounds, {undone} not done")
    return "\n\n".join((*blocks, CAUTION)) + "\n"


def _line(args: argparse.Namespace, entry: Entry) -> str:
    where = f"{args.readings}:{entry.line}"
    said = f"  {shown(entry.test)}  `{shown(entry.reading)}`: {shown(entry.why, 200)}"
    return f"{said}\n    {where}{_what(entry)}"


def _what(entry: Entry) -> str:
    trial = entry.trial
    if trial is None:
        return ""
    basis = f" ({trial.basis})" if trial.basis else ""
    return f"  {trial.where}, {trial.task}{basis}"


def _listed(found: Sequence[Entry]) -> Iterator[str]:
    """Names by the line, as many as fit."""
    line = " "
    for entry in found:
        if len(line) + len(entry.test) > 90:
            yield line
            line = " "
        line += f" {shown(entry.test)}"
    yield line


def shown(text: str, most: int = SHORT) -> str:
    """A text from a file, fit for a terminal: nothing in it moves the cursor."""
    safe = "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in text)
    return safe if len(safe) <= most else f"{safe[:most]}…"


def _json(args: argparse.Namespace, stage: Stage, entries: Sequence[Entry]) -> str:
    whole = {
        "file": args.file,
        "readings": args.readings,
        "stage": stage.rig.stage,
        "entries": [_document(entry) for entry in entries],
        "caution": CAUTION.replace("\n", " "),
    }
    return json.dumps(whole, indent=2, allow_nan=False) + "\n"


def _document(entry: Entry) -> dict[str, object]:
    trial = entry.trial
    found: dict[str, object] = {
        "test": entry.test,
        "state": entry.state,
        "line": entry.line or None,
        "reading": entry.reading,
        "why": entry.why,
    }
    if trial is not None:
        found |= {
            "mode": trial.mode,
            "where": trial.where,
            "task": trial.task,
            "unit": trial.unit,
            "expected": _figure(trial.expected),
            "low": _figure(trial.low),
            "high": _figure(trial.high),
            "basis": trial.basis,
            "names": list(trial.names),
        }
    return found


def _figure(value: float | None) -> float | str | None:
    return "OL" if value is not None and isinf(value) else value
