"""``ferrule merge``: git's merge driver for rigs, statement by statement.

git calls it as ``ferrule merge %O %A %B %P``: the common version, ours, theirs, and the path the
file has in the repository.  What comes of it is written over ours.  Exit codes: 0 put together, 1
people have to decide something, 2 unusable input.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
from pathlib import Path

from ...dsl.merge import Merged, merge
from ...dsl.merge_lines import Marks
from ...dsl.problems import Problem
from ...dsl.reader import read_text
from ...dsl.writer import Unreadable
from ...render.unfinished import replace
from .. import files
from ..errors import CLEAN, FOUND, Unusable
from ..git_setup import SETUP
from ..parsers import count
from ..refusal import refuse


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this subcommand takes."""
    add = parser.add_argument
    versions = "BASE OURS THEIRS, and the file's path in the repository, for messages"
    add("versions", nargs="*", metavar="VERSION", help=f"{versions}; OURS is written over")
    add("--marker-size", metavar="N", type=count, default=7, help="signs in a mark (default: 7)")
    add("--print", action="store_true", help="print the result, and leave our version alone")
    add("--git-setup", action="store_true", help="print how to let git merge rigs by ferrule")


def run(args: argparse.Namespace) -> int:
    """Put the versions together, say what people have to decide."""
    if args.git_setup:
        print(SETUP, end="")
        return CLEAN
    if not 3 <= len(args.versions) <= 4:
        hint = "ferrule merge BASE OURS THEIRS, as git calls it"
        raise Unusable("it takes three versions of a rig", hint)
    base, ours, theirs, name = [*args.versions, args.versions[1]][:4]
    was, mine, its = (files.text(version) for version in (base, ours, theirs))
    try:
        merged = merge(was, mine, its, Marks(args.marker_size))
    except Unreadable:
        merged = by_line((ours, base, theirs), args.marker_size, name)
    if args.print:
        sys.stdout.write(merged.text)
        sys.stdout.flush()
    else:
        ends_in_cr = "\r\n" in mine and mine.count("\r\n") == mine.count("\n")
        text = merged.text.replace("\n", "\r\n") if ends_in_cr else merged.text
        replace(Path(ours), text.encode())
    for conflict in merged.conflicts:
        print(f"ferrule: {name}: {conflict}", file=sys.stderr)
    for terminal in merged.shared:
        print(f"ferrule: {name}: {terminal}; `ferrule check` says if it holds", file=sys.stderr)
    if merged.conflicts:
        return FOUND
    return FOUND if unread(merged.text, [mine, its], name) else CLEAN


def by_line(versions: tuple[str, str, str], size: int, name: str) -> Merged:
    """Ours, base and theirs where one does not parse, so that statements say nothing: by git."""
    labels = [word for label in ("ours", "base", "theirs") for word in ("-L", label)]
    argv = ["git", "merge-file", "-p", f"--marker-size={size}", *labels, *versions]
    try:
        ran = subprocess.run(argv, capture_output=True, check=False)
    except OSError:
        what = f"{name}: a version does not parse, and there is no git to merge by line"
        raise Unusable(what) from None
    if ran.returncode > 127:
        said = ran.stderr.decode(errors="replace").strip()
        raise Unusable(f"{name}: git cannot merge it: {said}")
    print(f"ferrule: {name}: a version does not parse, so it was merged by line", file=sys.stderr)
    conflicts = (f"{ran.returncode} conflicts between its marks",) if ran.returncode else ()
    return Merged(ran.stdout.decode("utf-8"), conflicts)


def unread(text: str, sides: list[str], name: str) -> bool:
    """Whether the result has mistakes that neither side has; says which.

    Files that the rig uses may not be merged yet, so what is wrong with a side alone is no
    mistake of the merge.
    """
    known = {problem.message for side in sides for problem in _problems(side, name)}
    fresh = [p for p in _problems(text, name) if p.message not in known]
    if fresh:
        _refuse(name, text, fresh)
    return bool(fresh)


def _problems(text: str, name: str) -> tuple[Problem, ...]:
    return read_text(text, name, outside=files.outside()).problems


def _refuse(name: str, text: str, problems: list[Problem]) -> None:
    print(f"ferrule: {name}: both sides read well, but not together:", file=sys.stderr)
    refuse(files.Outcome(name, {name: text}, tuple(problems)))
