"""``ferrule check`` of a fleet: its findings, and a summary by rig and rule."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Iterator, Sequence
from functools import partial

from .. import files, lazy
from ..commands.check import code
from ..errors import CLEAN
from ..progress import Progress
from ..refusal import refuse
from ..terminal import colours
from . import documents, found, keys, one, work
from .cache import Cache, usual
from .summary import kept, summary


def run(args: argparse.Namespace) -> int:
    """Check every rig; the worst of them decides the exit code."""
    names = found.rigs(args.files, args.shard)
    store = opened(args)
    outcomes, fresh = look(names, args.stage, store, args.jobs)
    worst = write(outcomes, args.format)
    if args.format == "text":
        sys.stderr.write(kept(len(names), fresh, store.trouble))
    return worst


def write(outcomes: Sequence[files.Outcome], form: str) -> int:
    """Write what was found as one document; returns the exit code that the worst deserves."""
    if form == "text":
        tell(outcomes)
    elif form == "json":
        sys.stdout.write(lazy.writer("json").array(outcomes))
    else:
        sys.stdout.write(lazy.writer(form).write(outcomes))
    return max(map(code, outcomes), default=CLEAN)


def opened(args: argparse.Namespace) -> Cache:
    """The cache that the command line names, or the user's."""
    return Cache("" if args.no_cache else args.cache or usual(os.environ))


def look(
    names: Sequence[str], stage: str | None, store: Cache, jobs: int | None
) -> tuple[list[files.Outcome], int]:
    """The outcome of every rig in order, and how many were not known from an earlier run."""
    options = {"stage": stage, "outside": files.outside()}
    wanted = [(name, keys.key("check", name, options)) for name in names]
    known = {name: outcome for name, key in wanted for outcome in earlier(store, name, key)}
    missing = [(name, key) for name, key in wanted if name not in known]
    check = partial(one.checked, stage=stage)
    with Progress() as progress:
        results = work.each(check, [name for name, _ in missing], jobs or work.cores())
        for index, ((name, key), made) in enumerate(zip(missing, results, strict=True)):
            progress.step(index, len(missing), name)
            known[name] = documents.outcome(made.result["document"])
            if made.inputs:
                store.put(key, {"inputs": made.inputs, **made.result})
    store.trim()
    return [known[name] for name in names], len(missing)


def earlier(store: Cache, name: str, key: str) -> Iterator[files.Outcome]:
    """What an earlier run found, where all that it follows from is as it was."""
    entry = store.get(key)
    if entry is None or not keys.same(entry.get("inputs")):
        return
    try:
        outcome = documents.outcome(entry.get("document"))
    except documents.Unfit:
        return
    if outcome.file == name:
        yield outcome


def tell(outcomes: Sequence[files.Outcome]) -> None:
    """All findings, what could not be read, and the summary."""
    colour = colours(sys.stdout)
    told = [o for o in outcomes if o.report is not None and o.report.findings]
    blocks = lazy.writer("text").write(told, colour)
    sys.stdout.write(f"{blocks}\n" if blocks else "")
    for outcome in outcomes:
        if outcome.report is None:
            refuse(outcome)
    sys.stdout.write(summary(outcomes))
