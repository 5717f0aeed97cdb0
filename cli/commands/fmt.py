"""``ferrule fmt``: the canonical layout, in place, all files or none."""

from __future__ import annotations

import argparse
from pathlib import Path

from ...dsl.writer import Unreadable, format_text
from ...render.unfinished import replace
from .. import files
from ..errors import CLEAN, FOUND, UNUSABLE
from ..refusal import refuse


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this subcommand takes."""
    parser.add_argument("files", nargs="+", metavar="FILE", help="a .rig file")
    parser.add_argument(
        "--check", action="store_true", help="write nothing; exit code 1 where a file would change"
    )


def run(args: argparse.Namespace) -> int:
    """Lay out the files; where one cannot be read, none is written."""
    changed: list[tuple[str, str]] = []
    usable = True
    for name in args.files:
        text = files.text(name)
        try:
            laid_out = format_text(text, name)
        except Unreadable as error:
            refuse(files.Outcome(name, {name: text}, tuple(error.problems)))
            usable = False
            continue
        if laid_out != text:
            changed.append((name, laid_out))
    if not usable:
        return UNUSABLE
    for name, laid_out in changed:
        if not args.check:
            replace(Path(name), laid_out.encode())
        print(f"{name}: {'would change' if args.check else 'laid out'}")
    return FOUND if args.check and changed else CLEAN
