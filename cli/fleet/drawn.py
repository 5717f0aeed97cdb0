"""``ferrule draw`` of a fleet: each rig in a folder of its own, drawn where that is not current."""

from __future__ import annotations

import argparse
import io
import os
import re
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from ...checks.run import check_rigs
from ...dsl.reader import Reading
from ...render.draw import stem
from ...render.writing import STALE, differences, sums, write
from .. import files
from ..commands import draw
from ..commands.check import code
from ..errors import CLEAN, Unusable
from ..progress import Progress
from ..refusal import refuse
from . import documents, found, keys, one, work
from .checked import opened
from .summary import kept

# What the command line says about the run, not about the drawings.
OF_THE_RUN = ("files", "out", "check", "jobs", "shard", "cache", "no_cache")
_SHEET = re.compile(r"(.+)-[0-9]{2,}-[a-z0-9-]+\.(?:svg|png)")


@dataclass(frozen=True, slots=True)
class Drawn:
    """The drawings of one stage: the beginning of their names, and the sum of each file.

    ``stems`` are the beginnings for all stages of the rig.
    """

    stage: str
    stem: str
    stems: tuple[str, ...]
    sums: Mapping[str, str]
    failed: bool
    fresh: bool = False


def run(args: argparse.Namespace) -> int:
    """Draw every rig whose drawings are not there; or only say which those are."""
    names = found.rigs(args.files, args.shard)
    out = draw.usable(Path(args.out or _usual_out(args.files)))
    folders = targets(args.files, out, found.rigs(args.files))
    store = opened(args)
    results = _each(names, args, folders, store)
    store.trim()
    refused = [result for result in results.values() if isinstance(result, files.Outcome)]
    drawn = {name: result for name, result in results.items() if isinstance(result, Drawn)}
    worst = _differ(drawn, folders, args, out) if args.check else _tell(drawn, folders)
    for outcome in refused:
        refuse(outcome)
    fresh = len(refused) + sum(result.fresh for result in drawn.values())
    sys.stderr.write(kept(len(names), fresh, store.trouble))
    return max([worst, *map(code, refused)])


def _usual_out(named: list[str]) -> str:
    if len(named) > 1 or not os.path.isdir(named[0]):
        raise Unusable("it is not said where the drawings go", "name a folder with -o")
    return f"{Path(named[0]).resolve().name}-sheets"


def targets(named: list[str], out: Path, names: list[str]) -> dict[str, Path]:
    """The folder of each rig's drawings: below ``out`` as the rig lies below the folder named.

    Raises ``Unusable`` where two rigs would share one.
    """
    roots = [os.path.normpath(name) for name in named if os.path.isdir(name)]
    folders: dict[str, Path] = {}
    taken: dict[Path, str] = {}
    for name in names:
        under = [root for root in roots if root == "." or name.startswith(root + os.sep)]
        inner = os.path.relpath(name, max(under, key=len)) if under else os.path.basename(name)
        folder = folders[name] = out / os.path.splitext(inner)[0]
        other = taken.setdefault(folder, name)
        if other != name:
            raise Unusable(f"{other} and {name} would both be drawn in {folder}", "one at a time")
    return folders


def _each(
    names: list[str], args: argparse.Namespace, folders: Mapping[str, Path], store: Any
) -> dict[str, Drawn | files.Outcome]:
    """What became of every rig, in order; those whose drawings are there are not drawn again."""
    asked = {key: value for key, value in vars(args).items() if key not in OF_THE_RUN}
    wanted = {name: keys.key("draw", name, asked) for name in names}
    known: dict[str, Drawn | files.Outcome] = {}
    for name, key in wanted.items():
        for drawn in _earlier(store.get(key)):
            if args.check or not differences(drawn.sums, folders[name], drawn.stem):
                known[name] = drawn
    missing = [name for name in names if name not in known]
    make = partial(made, args=args, folders={name: folders[name] for name in missing})
    with Progress() as progress:
        results = work.each(make, missing, args.jobs or work.cores(), few=1)
        for index, (name, result) in enumerate(zip(missing, results, strict=True)):
            progress.step(index, len(missing), name)
            known[name] = _result(result.result)
            if result.inputs:
                store.put(wanted[name], {"inputs": result.inputs, **result.result})
    return {name: known[name] for name in names}


def _earlier(entry: dict[str, Any] | None) -> Iterator[Drawn]:
    """What an earlier run drew, where all that it follows from is as it was."""
    if entry is None or not keys.same(entry.get("inputs")):
        return
    match entry:
        case {
            "stage": str(stage),
            "stem": str(start),
            "stems": list(stems),
            "sums": dict(made),
            "failed": bool(failed),
        }:
            yield Drawn(stage, start, tuple(map(str, stems)), made, failed)


def _result(result: dict[str, Any]) -> Drawn | files.Outcome:
    if "document" in result:
        return documents.outcome(result["document"])
    return Drawn(
        result["stage"],
        result["stem"],
        tuple(result["stems"]),
        result["sums"],
        result["failed"],
        fresh=True,
    )


def made(name: str, args: argparse.Namespace, folders: Mapping[str, Path]) -> one.Made:
    """Draw one rig, in a process at work; write its files unless only their sums are asked for."""

    def drawing(reading: Reading) -> dict[str, Any]:
        rig = files.stages(reading.rigs, args.stage)[-1]
        data = draw.documents(rig, args, Progress(io.StringIO()))
        if not args.check:
            write(data, folders[name], stem(rig))
        return {
            "stage": rig.stage,
            "stem": stem(rig),
            "stems": [stem(each) for each in reading.rigs],
            "sums": sums(data),
            "failed": check_rigs([rig]).failed,
        }

    return one.made(name, drawing)


def _tell(drawn: Mapping[str, Drawn], folders: Mapping[str, Path]) -> int:
    """Say what was written; warn of every rig that does not pass its check."""
    for name, result in drawn.items():
        if result.fresh:
            print(f"{folders[name]}: {len(result.sums)} files")
        if result.failed:
            draw.caution(name, result.stage)
    sys.stdout.flush()
    return CLEAN


def _differ(
    drawn: Mapping[str, Drawn], folders: Mapping[str, Path], args: argparse.Namespace, out: Path
) -> int:
    """Name every drawing that is not what the texts give."""
    every: dict[Path, str] = {}
    for name, result in drawn.items():
        every |= differences(result.sums, folders[name], result.stem)
    stems = {folders[name]: result.stems for name, result in drawn.items()}
    whole = args.shard == (1, 1)
    unread = set(folders.values()) - stems.keys()
    for path in _left_over(out, stems):
        if path.parent in stems or (whole and path.parent not in unread):
            every[path] = STALE
    worst = draw.told(dict(sorted(every.items())))
    sys.stdout.flush()
    return worst


def _left_over(out: Path, stems: Mapping[Path, tuple[str, ...]]) -> Iterator[Path]:
    """Sheets below ``out`` that belong to no stage of the rig whose folder they lie in.

    The rig has gone, or it or its stage has another name now.
    """
    for place, _, names in os.walk(out):
        for name in names:
            sheet = _SHEET.fullmatch(name)
            if sheet and not sheet[1].startswith(stems.get(Path(place), ())):
                yield Path(place) / name
