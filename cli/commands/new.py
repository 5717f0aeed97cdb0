"""``ferrule new``: write the starter rig, never over a file that is there."""

from __future__ import annotations

import argparse
from pathlib import Path

from ...render.unfinished import replace
from ..errors import CLEAN, Unusable

STARTER = Path(__file__).parents[1] / "starter.rig"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this subcommand takes."""
    parser.add_argument("file", metavar="FILE", help="where to write it; must not exist")


def run(args: argparse.Namespace) -> int:
    """Write the starter and say what to do with it."""
    path = Path(args.file)
    try:
        replace(path, STARTER.read_bytes(), fresh=True)
    except FileExistsError:
        raise Unusable(f"{path}: is there already", "choose another name") from None
    print(f"{path}: written. Next: `ferrule check {path}`, then `ferrule draw {path}`")
    return CLEAN
