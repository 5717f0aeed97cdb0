"""The parsers of the command line, and the help they print."""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from functools import partial
from types import ModuleType
from typing import NoReturn

from ..dsl import VERSION
from .terminal import width

CAUTION = (
    "A drawing is no proof that the rig was built to it. The tool knows only what the\n"
    "text says; local codes and a licensed person decide."
)


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
    return parser
