"""``ferrule gather``: the findings of several runs, as if one run had made them."""

from __future__ import annotations

import argparse

from ...dsl.records import replace
from .. import files
from ..errors import Unusable
from ..fleet.checked import write
from ..fleet.documents import Unfit, loads, outcome
from .check import FORMATS

SHOWN = (".rig", ".book")


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this subcommand takes."""
    add = parser.add_argument
    add("files", nargs="+", metavar="FILE", help="what `ferrule check --format json` wrote")
    add("--format", choices=FORMATS, default="text", help="how to write findings (default: text)")


def run(args: argparse.Namespace) -> int:
    """Write the findings of all files by the names of the rigs; the worst decides the exit code."""
    gathered: dict[str, files.Outcome] = {}
    for name in args.files:
        for found in read(name):
            known = gathered.setdefault(found.file, found)
            if known != found:
                hint = "were both made from the same text, by the same ferrule?"
                raise Unusable(f"{name}: {found.file} was told of otherwise before", hint)
    return write([gathered[name] for name in sorted(gathered)], args.format)


def read(name: str) -> list[files.Outcome]:
    """The outcomes in one file; raises ``Unusable`` where it holds something else."""
    try:
        documents = loads(files.text(name))
        every = documents if isinstance(documents, list) else [documents]
        return [_own(outcome(document)) for document in every]
    except (Unfit, ValueError, RecursionError) as error:
        hint = "`ferrule check --format json` writes such a file"
        raise Unusable(f"{name}: no findings in JSON: {error}", hint) from None


def _own(found: files.Outcome) -> files.Outcome:
    """Findings with lines of rigs and books only: a file from elsewhere may name any other."""
    shown = {name: text for name, text in found.sources.items() if name.endswith(SHOWN)}
    return replace(found, sources=shown)
