"""``ferrule diff``: what changes from one version of a rig to another, and what follows from it.

Exit codes: 0 nothing changes in meaning, 1 something does, 2 a version cannot be used.  Called by
git (``--git``, ``--listing``) it is 0 for whatever the files hold: git stops at anything else.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from contextlib import ExitStack
from pathlib import Path

from .. import files, lazy
from ..diff import driver
from ..diff.comparison import Comparison, Pair, Side, across, compared, in_turn, named, sides
from ..diff.versions import checked, version
from ..errors import CLEAN, FOUND, Unusable
from ..git_setup import SETUP
from ..refusal import refuse
from ..terminal import colours

FORMATS = ("text", "markdown", "json", "svg", "pdf", "html")
DRAWN = FORMATS[3:]


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this subcommand takes."""
    add = parser.add_argument
    add("versions", nargs="*", metavar="VERSION", help="a .rig file, or FILE@REVISION of git")
    stages = "the stages to compare (default: with one version each against the one before it)"
    add("--stages", nargs="+", metavar="S", help=stages)
    add("--format", choices=FORMATS, default="text", help="(default: text)")
    add("-o", dest="out", metavar="DIR", help="folder for svg, pdf and html: old and new drawn")
    as_git = parser.add_mutually_exclusive_group()
    setup = "print how to let git compare rigs by ferrule"
    as_git.add_argument("--git-setup", action="store_true", help=setup)
    called = "for git to call: two texts in place of versions"
    as_git.add_argument("--git", action="store_true", help=called)
    lines = "for git to call: a file with a statement a line, in an order of their own"
    as_git.add_argument("--listing", action="store_true", help=lines)


def run(args: argparse.Namespace) -> int:
    """Compare and tell."""
    if args.git_setup:
        print(SETUP, end="")
        return CLEAN
    if args.git:
        return driver.run(args.versions)
    if args.listing:
        if len(args.versions) != 1:
            raise Unusable("--listing takes one file")
        sys.stdout.write(driver.listed(files.usable(args.versions[0])))
        return CLEAN
    return compare(args)


def compare(args: argparse.Namespace) -> int:
    """Compare the versions asked for and tell it in the format asked for."""
    if not 1 <= len(args.versions) <= 2:
        hint = "one file for its stages, or two versions: OLD NEW"
        raise Unusable(f"{len(args.versions)} versions to compare", hint)
    if args.stages and len(args.stages) > 2:
        raise Unusable(f"{len(args.stages)} stages to compare", "--stages OLD NEW")
    versions = [version(word) for word in args.versions]
    with ExitStack() as stack:
        ready = [checked(each, stack) for each in versions]
        broken = [each for each, _ in ready if each.reading.problems]
        if broken:
            return max(refuse(files.Outcome.unread(v.name, v.reading)) for v in broken)
        found = compared(pairs([sides(each, rigs) for each, rigs in ready], args.stages))
        if args.format in DRAWN:
            _draw(args, found)
        else:
            sys.stdout.write(lazy.told(args.format).write(found, colours(sys.stdout)))
    return FOUND if any(comparison.changes for comparison in found) else CLEAN


def _draw(args: argparse.Namespace, found: list[Comparison]) -> None:
    """Write what is drawn into the folder asked for, and name the files."""
    if not args.out:
        raise Unusable(f"--format {args.format} writes files", "name a folder with -o")
    folder = Path(args.out)
    try:
        for path in lazy.told("sheets").write_sheets(found, args.format, folder):
            print(path)
    except OSError as error:
        raise Unusable(f"{folder}: {error.strerror or error}", "nothing was written") from error


def pairs(every: Sequence[list[Side]], stages: Sequence[str] | None) -> list[Pair]:
    """What is compared with what, of one version or of two."""
    if stages:
        return named(every[0], every[-1], stages)
    return across(*every) if len(every) == 2 else in_turn(every[0])
