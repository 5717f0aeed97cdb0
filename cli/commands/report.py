"""``ferrule report``: one page with every sheet, table and finding, complete in itself."""

from __future__ import annotations

import argparse
from pathlib import Path

from ...render.draw import stem
from ...render.report import whole
from ...render.writing import write
from .. import files
from ..errors import CLEAN
from ..progress import Progress
from ..refusal import refuse
from ..reporting import report
from .draw import usable, warn


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this subcommand takes."""
    parser.add_argument("file", metavar="FILE", help="a .rig file")
    parser.add_argument(
        "-o", dest="out", metavar="DIR", help="folder to write to (default: FILE-sheets)"
    )
    parser.add_argument("--stage", metavar="S", help="the stage to show (default: the last)")


def run(args: argparse.Namespace) -> int:
    """Write the page and say where it is."""
    folder = usable(Path(args.out or f"{Path(args.file).stem}-sheets"))
    reading = files.load(args.file)
    if reading.problems:
        return refuse(files.Outcome.unread(args.file, reading))
    rig = files.stages(reading.rigs, args.stage)[-1]
    with Progress() as progress:
        made = whole(report(reading.rigs, rig, progress.step))
        name = stem(rig)
        written = write({f"{name}.html": made.encode()}, folder, name)
    warn(rig)
    print("".join(f"{path}\n" for path in written), end="")
    return CLEAN
