"""``ferrule editor``: answers an editor while a rig is written, over standard input and output."""

from __future__ import annotations

import argparse

from .. import lazy
from ..errors import CLEAN, FOUND, Unusable
from ..files import outside

LIBRARIES = ("pygls", "lsprotocol")
HINT = "pip install pygls, or ferrule with its extra: pip install '.[editor]' in ferrule's folder"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this subcommand takes."""
    parser.add_argument(
        "--stdio", action="store_true", help="over standard input and output, as it always is"
    )


def run(args: argparse.Namespace) -> int:
    """Serve until the editor ends it; 1 where it ended without a word (LSP 3.17, exit)."""
    try:
        server = lazy.editor()
    except ModuleNotFoundError as error:
        if (error.name or "").partition(".")[0] not in LIBRARIES:
            raise
        raise Unusable(f"editors are served by pygls, which is not here ({error})", HINT) from None
    return CLEAN if server.serve(outside()) else FOUND
