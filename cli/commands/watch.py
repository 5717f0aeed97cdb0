"""``ferrule watch``: the report of a file that is being written, renewed at every save."""

from __future__ import annotations

import argparse
import threading

from .. import files
from ..errors import CLEAN
from ..serving import Server
from ..watching import Builder, Picture

PORT = 8737


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this subcommand takes."""
    parser.add_argument("file", metavar="FILE", help="a .rig file")
    parser.add_argument("--stage", metavar="S", help="the stage to show (default: the last)")
    parser.add_argument(
        "--port", metavar="N", type=int, default=PORT, help=f"(default: {PORT}; 0: any free one)"
    )


def run(args: argparse.Namespace) -> int:
    """Serve the page until interrupted."""
    files.usable(args.file)
    picture = Picture()
    server = Server(args.port, picture)
    builder = Builder(args.file, args.stage, picture)
    try:
        tell(builder.build())
        threading.Thread(target=server.serve_forever, daemon=True).start()
        tell(f"watching {args.file} on {server.address}  (Ctrl-C ends)")
        builder.follow(tell)
    except KeyboardInterrupt:
        tell("ended")
    finally:
        server.server_close()
    return CLEAN


def tell(words: str) -> None:
    """A line, at once."""
    print(words, flush=True)
