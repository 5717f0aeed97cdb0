"""``ferrule capacity``: what may run together, how long batteries last and charge, by mode."""

from __future__ import annotations

import argparse
import csv
import io
import json
from textwrap import fill

from ...checks.capacity.limits import Capacity, capacity
from ...checks.tracing.trace import analyse
from ...dsl.model import Rig
from ...dsl.units import Bad, quantity
from ...render import texts
from .. import capacity_data, capacity_words, files
from ..errors import CLEAN, Unusable
from ..refusal import refuse
from .trace import modes

GIVERS = ("supply", "generator", "alternator", "solar")
FORMATS = ("text", "json", "csv", "markdown")
WIDE = 96
CAUTION = (
    "Sums of what the text says: no proof that the rig was built to it, nor that devices hold "
    "their ratings in the heat of their place. Local codes and a licensed person decide."
)


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this subcommand takes."""
    parser.add_argument("file", metavar="FILE", help="a .rig file")
    parser.add_argument("--stage", metavar="S", help="the stage to look at (default: the last)")
    parser.add_argument("--mode", metavar="M", help="one mode only (default: all of them)")
    parser.add_argument(
        "--gives",
        metavar="SOURCE=A",
        action="append",
        default=[],
        help="a source that gives less or more than the text says, as in SHORE=15A",
    )
    parser.add_argument("--format", choices=FORMATS, default="text", help="(default: text)")


def run(args: argparse.Namespace) -> int:
    """Print the capacity of every mode asked for."""
    reading = files.load(args.file)
    if reading.problems:
        return refuse(files.Outcome.unread(args.file, reading))
    rig = files.stages(reading.rigs, args.stage)[-1]
    gives = dict(given(word, rig) for word in args.gives)
    found = [capacity(view, gives) for view in modes(analyse(rig), args.mode)]
    print({"json": _json, "csv": _csv}.get(args.format, _words)(args, rig, found), end="")
    return CLEAN


def given(word: str, rig: Rig) -> tuple[str, float]:
    """A source and what it gives, A; raises ``Unusable`` for what is neither."""
    name, _, amount = word.partition("=")
    sources = [d.name for d in rig.devices.values() if d.kind in GIVERS]
    if name not in sources:
        raise files.unknown("source", name, sources, f"stage {rig.stage}")
    try:
        return name, quantity(amount, "A").value
    except Bad as error:
        raise Unusable(f"--gives {word}: {error.message}", error.expected) from None


def _words(args: argparse.Namespace, rig: Rig, found: list[Capacity]) -> str:
    marked = args.format == "markdown"
    layout = capacity_words.markdown if marked else capacity_words.text
    blocks = []
    for each in found:
        label = f" ({each.label})" if each.label else ""
        label += "".join(f", {word.replace('=', ' at ')}" for word in args.gives)
        title = f"{rig.label}, stage {rig.stage}, mode {each.mode}{label}"
        parts = list(capacity_words.sections(each, rig))
        head = f"## {texts.plain(title)}" if marked else title
        blocks.append(f"{head}\n\n{capacity_words.joined(parts, layout)}")
    notes = [*capacity_words.ASSUMED, CAUTION]
    end = "\n".join(f"- {note}" if marked else fill(note, WIDE) for note in notes)
    return "\n\n\n".join(blocks) + f"\n\n{end}\n"


def _json(args: argparse.Namespace, rig: Rig, found: list[Capacity]) -> str:
    whole = {
        "file": args.file,
        "stage": rig.stage,
        "gives": dict(given(word, rig) for word in args.gives),
        "modes": [capacity_data.document(each) for each in found],
        "assumed": list(capacity_words.ASSUMED),
        "caution": CAUTION,
    }
    return json.dumps(whole, indent=2) + "\n"


def _csv(args: argparse.Namespace, rig: Rig, found: list[Capacity]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(capacity_data.HEAD)
    for each in found:
        writer.writerows(capacity_data.rows(rig.stage, each))
    return out.getvalue()
