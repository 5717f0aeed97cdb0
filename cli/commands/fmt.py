"""``ferrule fmt``: the canonical layout, in place, all files or none."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from ...dsl.writer import Unreadable, format_text
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
            replace(Path(name), laid_out)
        print(f"{name}: {'would change' if args.check else 'laid out'}")
    return FOUND if args.check and changed else CLEAN


def replace(path: Path, text: str) -> None:
    """Put the text in the file's place in one step, so that an interrupted run leaves it whole."""
    target = path.resolve()
    beside = target.with_name(f".{target.name}.{os.getpid()}")
    try:
        with beside.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
        beside.chmod(target.stat().st_mode & 0o7777)
        beside.replace(target)
    finally:
        beside.unlink(missing_ok=True)
