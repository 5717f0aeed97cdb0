"""``ferrule check``: read, check, write the findings."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from typing import TYPE_CHECKING

from ...checks.findings import Report
from ...checks.run import check_rigs
from ...dsl.model import Rig
from .. import apart, files, lazy
from ..errors import CLEAN, FOUND, UNUSABLE
from ..refusal import refuse
from ..terminal import colours

if TYPE_CHECKING:
    import argparse

FORMATS = ("text", "json", "sarif", "github")


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this subcommand takes."""
    add = parser.add_argument
    add("files", nargs="+", metavar="FILE", help="a .rig file, or a folder of them")
    add("--stage", metavar="NAME", help="one stage only (default: all of them)")
    add("--format", choices=FORMATS, default="text", help="how to write findings (default: text)")
    lazy.parsers().of_fleet(add)


def run(args: argparse.Namespace) -> int:
    """Check the files; the worst of them decides the exit code."""
    if lazy.parsers().is_fleet(args, args.files):
        done: int = lazy.fleet("checked").run(args)
        return done
    return tell(args.files, args.stage, args.format)


def plain(names: Iterable[str]) -> int:
    """Check files as ``run`` does where the command line names nothing else."""
    return tell(names, None, "text")


def tell(names: Iterable[str], stage: str | None, form: str) -> int:
    """Check files and write what is found in them; returns the exit code."""
    outcomes = [check(name, stage, figures=form == "json") for name in names]
    sys.stdout.write(lazy.writer(form).write(outcomes, colours(sys.stdout)))
    if form == "text":
        for outcome in outcomes:
            if outcome.report is None:
                refuse(outcome)
    return max(map(code, outcomes))


def check(name: str, stage: str | None, figures: bool = False) -> files.Outcome:
    """One file read and checked; mistakes in its text are part of the outcome.

    ``figures``: with the few figures of each mode, which takes as long again.
    """
    reading = files.load(name)
    if reading.problems:
        return files.Outcome.unread(name, reading)
    report = check_rigs(files.stages(reading.rigs, stage), apart.each)
    found = lazy.summaries(files.stages(reading.rigs, stage)) if figures else {}
    return files.Outcome(name, reading.sources, report=report, figures=found)


def report_of(rigs: Iterable[Rig], stage: str | None) -> Report:
    """The findings of the stage asked for, or of all."""
    return check_rigs(files.stages(rigs, stage))


def code(outcome: files.Outcome) -> int:
    """The exit code that one file deserves."""
    if outcome.report is None:
        return UNUSABLE
    return FOUND if outcome.report.failed else CLEAN
