"""``ferrule figures``: the figures of every conductor, terminal and load; ``--on`` derives them."""

from __future__ import annotations

import argparse
import csv
import io
import json
import textwrap
from collections.abc import Iterable, Sequence

from ...checks.figures.derivation import derivation, told
from ...checks.tracing.trace import ModeView, Stage, analyse
from ...dsl.model import Rig
from .. import figures_data, files
from ..errors import CLEAN
from ..refusal import refuse
from .trace import modes

WIDTH = 98
FORMATS = ("text", "json", "csv")
CAUTION = (
    "Currents are those of everything that the mode leaves on, at once, whatever its source is\n"
    "rated for. Figures of what the text says, no proof that the rig was built to it; measure\n"
    "before you rely on them. Local codes and a licensed person decide."
)


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this subcommand takes."""
    parser.add_argument("file", metavar="FILE", help="a .rig file")
    parser.add_argument("--stage", metavar="S", help="the stage to look at (default: the last)")
    parser.add_argument("--mode", metavar="M", help="one mode only (default: all of them)")
    on = "a conductor, cable or device: how its figures are found"
    parser.add_argument("--on", metavar="NAME", help=on)
    parser.add_argument("--format", choices=FORMATS, default="text", help="(default: text)")


def run(args: argparse.Namespace) -> int:
    """Print the figures of every mode asked for."""
    reading = files.load(args.file)
    if reading.problems:
        return refuse(files.Outcome.unread(args.file, reading))
    rig = files.stages(reading.rigs, args.stage)[-1]
    stage = analyse(rig)
    views = modes(stage, args.mode)
    if args.on:
        print(_derived(args, stage, views), end="")
    else:
        tables = [t for view in views for t in figures_data.tables(stage, view)]
        print({"json": _json, "csv": _csv}.get(args.format, _text)(args, rig, tables), end="")
    return CLEAN


def _derived(args: argparse.Namespace, stage: Stage, views: Sequence[ModeView]) -> str:
    """The derivation of one name: as text, or as sections in JSON or CSV."""
    rig = stage.rig
    if args.on not in {*rig.devices, *rig.conductors, *rig.cables}:
        known = [*rig.devices, *rig.conductors, *rig.cables]
        raise files.unknown("device, conductor or cable", args.on, known, f"stage {rig.stage}")
    sections = derivation(stage, views, args.on)
    if args.format == "json":
        found = [{"title": s.title, "mode": s.mode, "lines": list(s.lines)} for s in sections]
        whole = {"file": args.file, "stage": rig.stage, "on": args.on, "derivation": found}
        return json.dumps(whole | {"caution": CAUTION.replace("\n", " ")}, indent=2) + "\n"
    if args.format == "csv":
        rows = ((s.mode, s.title, line) for s in sections for line in s.lines)
        return _written([("mode", "section", "line"), *rows])
    lines = (part for line in told(sections) for part in _wrapped(line))
    return "\n".join((f"{rig.label}, stage {rig.stage}", "", *lines, "", CAUTION, ""))


def _wrapped(line: str) -> list[str]:
    hang = " " * (len(line) - len(line.lstrip()) + 4)
    return textwrap.wrap(line, WIDTH, subsequent_indent=hang, break_long_words=False)


def _text(args: argparse.Namespace, rig: Rig, tables: Sequence[figures_data.Table]) -> str:
    blocks = [f"{rig.label}, stage {rig.stage}"]
    for table in tables:
        lines = [list(table.head), *(list(map(figures_data.said, row)) for row in table.rows)]
        widths = [max(map(len, column)) for column in zip(*lines, strict=True)]
        aligned = (
            "  ".join(text.ljust(wide) for text, wide in zip(line, widths, strict=True)).rstrip()
            for line in lines
        )
        blocks.append("\n".join((f"mode {table.mode}: {table.title}", *aligned)))
        if table.notes:
            blocks.append("\n".join(("not worked out", *(f"  {note}" for note in table.notes))))
    return "\n\n".join((*blocks, CAUTION)) + "\n"


def _csv(args: argparse.Namespace, rig: Rig, tables: Sequence[figures_data.Table]) -> str:
    """Long form, for spreadsheets: one row a figure."""
    rows = (
        (rig.stage, table.mode, table.title, str(row[0]), heading, figures_data.said(value))
        for table in tables
        for row in table.rows
        for heading, value in zip(table.head[1:], row[1:], strict=True)
    )
    head = ("stage", "mode", "table", "name", "figure", "value")
    return _written([head, *rows])


def _written(rows: Iterable[Sequence[str]]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()


def _json(args: argparse.Namespace, rig: Rig, tables: Sequence[figures_data.Table]) -> str:
    whole = {
        "file": args.file,
        "stage": rig.stage,
        "tables": [figures_data.document(table) for table in tables],
        "caution": CAUTION.replace("\n", " "),
    }
    return json.dumps(whole, indent=2) + "\n"
