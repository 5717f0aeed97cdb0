"""``ferrule rework``: a change as work at the bench, in an order that is safe at every stop.

Exit codes: 0 nothing to do at the bench, 1 there is work, 2 a version cannot be used.
"""

from __future__ import annotations

import argparse
import sys
from contextlib import ExitStack
from functools import partial
from pathlib import Path

from ...checks.figures.consequences import findings
from ...checks.findings import ERROR
from ...checks.rework import Plan, rework
from ...checks.tracing.trace import analyse
from ...render.draw import bound, stem
from ...render.frame import PAPERS
from ...render.options import options
from ...render.schedule_rework import schedule
from ...render.schedule_sheet import sheets as layout
from ...render.writing import pack, write
from .. import files, lazy
from ..diff.comparison import Pair, sides
from ..diff.versions import checked, version
from ..errors import CLEAN, FOUND, Unusable
from ..refusal import refuse
from ..terminal import colours
from .diff import pairs
from .draw import usable

FORMATS = ("text", "markdown", "csv", "json")


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this subcommand takes."""
    add = parser.add_argument
    add("versions", nargs="+", metavar="VERSION", help="a .rig file, or FILE@REVISION of git")
    stages = "the stages to work from and to (default: the last, from the one before it)"
    add("--stages", nargs="+", metavar="S", help=stages)
    add("--format", choices=FORMATS, default="text", help="(default: text)")
    add("-o", dest="out", metavar="DIR", help="folder for sheets (svg, pdf) and csv, md")
    add("--paper", choices=list(PAPERS), help="(default: what goes with the rule book)")


def run(args: argparse.Namespace) -> int:
    """Work out the order and tell it, or write its sheets."""
    if len(args.versions) > 2:
        raise Unusable(f"{len(args.versions)} versions", "one file for its stages, or OLD NEW")
    if args.stages and len(args.stages) > 2:
        raise Unusable(f"{len(args.stages)} stages", "--stages OLD NEW")
    folder = usable(Path(args.out)) if args.out else None
    versions = [version(word) for word in args.versions]
    with ExitStack() as stack:
        ready = [checked(each, stack) for each in versions]
        broken = [each for each, _ in ready if each.reading.problems]
        if broken:
            return max(refuse(files.Outcome.unread(v.name, v.reading)) for v in broken)
        pair = pairs([sides(each, rigs) for each, rigs in ready], args.stages)[-1]
        plan = rework(pair.old.checked, pair.new.checked)
        warn(pair)
        if folder:
            print("".join(f"{path}\n" for path in drawn(plan, args, pair, folder)), end="")
        else:
            told = lazy.ordered(args.format).write(plan, title(pair), colours(sys.stdout))
            sys.stdout.write(told)
    return FOUND if plan.jobs else CLEAN


def title(pair: Pair) -> str:
    """From which version and stage to which."""
    old, new = pair
    return f"{old.name}, stage {old.rig.stage} -> {new.name}, stage {new.rig.stage}"


def warn(pair: Pair) -> None:
    """A change that gains errors is none to carry out yet: that is said beside it."""
    gained = findings(pair.old.checked, pair.new.checked)[0]
    errors = [f"{f.rule} on {f.on[0]}" for f in gained if f.severity == ERROR and not f.accepted]
    if errors:
        print(
            f"ferrule: {pair.new.name}, stage {pair.new.rig.stage}, has errors that the old one "
            f"has not ({', '.join(errors[:4])}): do not build this yet",
            file=sys.stderr,
        )


def drawn(plan: Plan, args: argparse.Namespace, pair: Pair, folder: Path) -> list[Path]:
    """Write the work order as sheets, CSV and Markdown; returns the paths."""
    rig = plan.new
    chosen = options(analyse(rig).book.name, "", args.paper or "", len(rig.devices))
    made = bound(layout(schedule(plan), chosen), rig)
    texts = {
        f"work-order.{end}": partial(lazy.ordered(name).write, plan, title(pair))
        for end, name in (("csv", "csv"), ("md", "markdown"))
    }
    own = f"{stem(rig)}-rework"
    return write(pack(made, texts, own, ("svg", "pdf", "csv", "md"), rig.label), folder, own)
