"""The parsers of the command line, and the help they print."""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from types import ModuleType
from typing import NoReturn

from ..dsl import VERSION
from .terminal import width

CAUTION = (
    "A drawing is no proof that the rig was built to it. The tool knows only what the\n"
    "text says; local codes and a licensed person decide."
)

READING = (
    *("capacity", "check", "diff", "draw", "editor", "enter", "figures", "merge", "report"),
    *("rework", "trace", "watch"),
)
"""The subcommands that read a rig with the files it names."""


def without_command(commands: Mapping[str, str], argv: Sequence[str]) -> NoReturn:
    """A command line without a subcommand: explains, tells the version, or refuses."""
    widest = max(map(len, commands))
    listed = "\n".join(f"  {name:<{widest}}  {words}" for name, words in commands.items())
    parser = argparse.ArgumentParser(
        prog="ferrule",
        usage="ferrule [--version] [--help] COMMAND ...",
        description="Turns a text description of a mobile rig's electrical system into "
        f"checked drawings.\n\ncommands:\n{listed}",
        epilog=CAUTION,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"ferrule {VERSION}")
    parser.parse_args(argv)
    parser.error("a COMMAND is needed: " + " ".join(commands))


def of_fleet(add: Callable[..., object]) -> None:
    """Add what a subcommand takes that works on folders of rigs."""
    add("--jobs", metavar="N", type=count, help="processes for folders (default: one a core)")
    add("--shard", metavar="K/N", type=shard, default=(1, 1), help="the K-th of N shares of them")
    add("--cache", metavar="DIR", help="where results of folders are kept (default: the user's)")
    add("--no-cache", action="store_true", help="look at every rig anew, and keep nothing")


def is_fleet(args: argparse.Namespace, named: Sequence[str]) -> bool:
    """Whether a command line asks for many rigs: a folder, or a word that only they need."""
    asked = args.jobs or args.cache or args.shard != (1, 1)
    return bool(asked) or any(map(os.path.isdir, named))


def count(text: str) -> int:
    """A whole number from 1 on."""
    if not text.isascii() or not text.isdecimal() or not 0 < int(text[:6]) < 100_000:
        raise argparse.ArgumentTypeError(f"`{text}` is no number from 1 on")
    return int(text)


def shard(text: str) -> tuple[int, int]:
    """``2/3``: the second of three shares."""
    number, slash, total = text.partition("/")
    if not slash or count(number) > count(total):
        raise argparse.ArgumentTypeError(f"`{text}` is no share such as 2/3")
    return int(number), int(total)


def of_command(name: str, summary: str, command: ModuleType) -> argparse.ArgumentParser:
    """The parser of one subcommand; the others stay unloaded."""
    parser = argparse.ArgumentParser(
        prog=f"ferrule {name}",
        description=f"{summary[0].upper()}{summary[1:]}.",
        epilog=CAUTION.replace("\n", " "),
        allow_abbrev=False,
        # Told the width, argparse does not import shutil to find it out.
        formatter_class=partial(argparse.HelpFormatter, width=width() - 2),
    )
    command.arguments(parser)
    if name in READING:
        says = "let a rig name files outside its folder and the shared ones: only if you trust it"
        parser.add_argument("--allow-outside", action="store_true", help=says)
    return parser
