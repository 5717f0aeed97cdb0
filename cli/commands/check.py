"""``ferrule check``: read, check, write the findings."""

from __future__ import annotations

import argparse
import sys

from ...checks.run import check_rigs
from .. import files, lazy
from ..errors import CLEAN, FOUND, UNUSABLE
from ..refusal import refuse
from ..terminal import colours

FORMATS = ("text", "json", "sarif", "github")


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this subcommand takes."""
    parser.add_argument("files", nargs="+", metavar="FILE", help="a .rig file")
    parser.add_argument("--stage", metavar="NAME", help="one stage only (default: all of them)")
    parser.add_argument(
        "--format", choices=FORMATS, default="text", help="how to write findings (default: text)"
    )


def run(args: argparse.Namespace) -> int:
    """Check the files; the worst of them decides the exit code."""
    outcomes = [check(name, args.stage) for name in args.files]
    sys.stdout.write(lazy.writer(args.format).write(outcomes, colours(sys.stdout)))
    if args.format == "text":
        for outcome in outcomes:
            if outcome.report is None:
                refuse(outcome)
    return max(map(code, outcomes))


def check(name: str, stage: str | None) -> files.Outcome:
    """One file read and checked; mistakes in its text are part of the outcome."""
    reading = files.load(name)
    if reading.problems:
        return files.Outcome.unread(name, reading)
    report = check_rigs(files.stages(reading.rigs, stage))
    return files.Outcome(name, reading.sources, report=report)


def code(outcome: files.Outcome) -> int:
    """The exit code that one file deserves."""
    if outcome.report is None:
        return UNUSABLE
    return FOUND if outcome.report.failed else CLEAN
