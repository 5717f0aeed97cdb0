"""``ferrule draw``: all sheets and tables of one stage, written whole or not at all."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping
from pathlib import Path

from ...checks.run import check_rigs
from ...checks.tracing.trace import analyse
from ...dsl.model import Rig
from ...render.cover import facts_of
from ...render.draw import DOCUMENTS, LEGEND, draw, stem, tables
from ...render.frame import PAPERS
from ...render.labels import STOCKS
from ...render.writing import FORMATS, differences, pack, sums, write
from .. import files, lazy
from ..errors import CLEAN, FOUND, Unusable
from ..parsers import is_fleet, of_fleet
from ..progress import Progress
from ..refusal import refuse

SYMBOLS = {"iec": "iec60617", "ieee": "ieee315"}
NAMES = (*DOCUMENTS, LEGEND)
DRAWN = {"svg", "pdf", "png"}
USUAL = ["svg", "pdf", "csv"]


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this subcommand takes."""
    add = parser.add_argument
    add("files", nargs="+", metavar="FILE", help="a .rig file; or a folder of them, or several")
    add("-o", dest="out", metavar="DIR", help="folder to write to (default: FILE-sheets)")
    add("--stage", metavar="S", help="the stage to draw (default: the last)")
    add("--only", metavar="NAMES", type=words, default=[], help=f"of {' '.join(NAMES)}")
    add(
        "--format",
        metavar="FORMATS",
        type=words,
        default=USUAL,
        help=f"of {' '.join(FORMATS)}, separated by commas (default: {','.join(USUAL)})",
    )
    add("--symbols", choices=SYMBOLS, help="IEC 60617 or IEEE 315 (default: the rule book's)")
    add("--paper", choices=list(PAPERS), help="(default: what goes with the symbols)")
    add(
        "--labels",
        metavar="STOCKS",
        type=words,
        default=[],
        help="label stock of markers and of device labels, in mm, of " + " ".join(STOCKS),
    )
    says = "write nothing; exit code 1 where the folder holds other drawings than the text gives"
    add("--check", action="store_true", help=says)
    of_fleet(add)


def words(text: str) -> list[str]:
    """Names separated by commas."""
    return [word for word in text.split(",") if word]


def run(args: argparse.Namespace) -> int:
    """Draw the stage and say what was written."""
    known("sheet", args.only, NAMES)
    known("format", args.format, FORMATS)
    known("label stock", args.labels, tuple(STOCKS))
    if is_fleet(args, args.files) or len(args.files) > 1:
        done: int = lazy.fleet("drawn").run(args)
        return done
    (name,) = args.files
    folder = usable(Path(args.out or f"{Path(name).stem}-sheets"))
    reading = files.load(name)
    if reading.problems:
        return refuse(files.Outcome.unread(name, reading))
    rig = files.stages(reading.rigs, args.stage)[-1]
    with Progress() as progress:
        made = documents(rig, args, progress)
        if args.check:
            return told(differences(sums(made), folder, stem(rig)))
        written = write(made, folder, stem(rig))
    warn(rig)
    print("".join(f"{path}\n" for path in written), end="")
    return CLEAN


def usable(folder: Path) -> Path:
    """A folder that can be written to; raises ``Unusable`` for a file."""
    if folder.exists() and not folder.is_dir():
        raise Unusable(f"{folder}: is a file", "name a folder with -o")
    return folder


def told(found: Mapping[Path, str]) -> int:
    """Name every drawing that is not what the text gives; returns the exit code."""
    print("".join(f"{path}: {what}\n" for path, what in found.items()), end="")
    return FOUND if found else CLEAN


def documents(rig: Rig, args: argparse.Namespace, progress: Progress) -> dict[str, bytes]:
    """Every file asked for, by name, in memory."""
    stage = analyse(rig)
    wanted = DRAWN & set(args.format)
    symbols = SYMBOLS.get(args.symbols, "")
    sheets = (
        draw(stage, args.only, symbols, args.paper or "", tuple(args.labels)) if wanted else []
    )
    texts = tables(stage, args.only)
    title = f"{rig.label}, {rig.stage_label or rig.stage}"
    return pack(sheets, texts, stem(rig), args.format, title, progress.step, facts_of(rig))


def known(what: str, asked: list[str], names: tuple[str, ...]) -> None:
    """Raises ``Unusable`` for a name that is none of them."""
    for word in asked:
        if word not in names:
            raise files.unknown(what, word, names)
    if what == "format" and not asked:
        raise Unusable("no format is named", "formats: " + " ".join(names))


def warn(rig: Rig) -> None:
    """A drawing of a rig that does not pass the check says so beside it."""
    if check_rigs([rig]).failed:
        caution(rig.file, rig.stage)


def caution(file: str, stage: str) -> None:
    """Says that the drawings of a stage are none to wire from."""
    print(
        f"ferrule: {file}, stage {stage}, does not pass `ferrule check`: "
        "do not wire from these sheets",
        file=sys.stderr,
    )
