"""The command ``ferrule``: finds the subcommand, runs it, and turns every refusal into exit code 2.

Exit codes: 0 clean, 1 a finding stands (or ``fmt --check`` would change a file), 2 unusable input.
"""

from __future__ import annotations

import argparse
import gc
import os
import sys
from collections.abc import Sequence
from contextlib import suppress

from ..dsl import VERSION
from . import lazy
from .errors import UNUSABLE, Unusable
from .terminal import forgiving

COMMANDS = {
    "check": "say what is wrong with a rig",
    "draw": "draw a rig: single-line diagram, wiring charts and diagrams",
    "fmt": "lay out a rig file the canonical way",
    "trace": "what a meter should find on a terminal, and what protects it",
    "explain": "what a rule means and why it matters",
    "rules": "list the rules",
    "new": "write a small rig to start from",
}
CAUTION = (
    "A drawing is no proof that the rig was built to it. The tool knows only what the\n"
    "text says; local codes and a licensed person decide."
)


def top() -> argparse.ArgumentParser:
    """The parser of a command line without a subcommand: it explains, or tells the version."""
    width = max(map(len, COMMANDS))
    listed = "\n".join(f"  {name:<{width}}  {words}" for name, words in COMMANDS.items())
    parser = argparse.ArgumentParser(
        prog="ferrule",
        usage="ferrule [--version] [--help] COMMAND ...",
        description="Turns a text description of a mobile rig's electrical system into "
        f"checked drawings.\n\ncommands:\n{listed}",
        epilog=CAUTION,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"ferrule {VERSION}")
    return parser


def sub(name: str) -> argparse.ArgumentParser:
    """The parser of one subcommand; the others stay unloaded."""
    summary = COMMANDS[name]
    parser = argparse.ArgumentParser(
        prog=f"ferrule {name}",
        description=f"{summary[0].upper()}{summary[1:]}.",
        epilog=CAUTION.replace("\n", " "),
        allow_abbrev=False,
    )
    lazy.command(name).arguments(parser)
    return parser


def dispatch(argv: Sequence[str]) -> int:
    """Run one command line; returns the exit code."""
    name, *rest = argv or [""]
    if not name or name.startswith("-"):
        parser = top()
        parser.parse_args(argv)
        parser.error("a COMMAND is needed: " + " ".join(COMMANDS))
    if name not in COMMANDS:
        hint = lazy.did_you_mean(name, COMMANDS) or "commands: " + " ".join(COMMANDS)
        raise Unusable(f"there is no command `{name}`", hint)
    code: int = lazy.command(name).run(sub(name).parse_args(rest))
    sys.stdout.flush()
    return code


def refuse(message: str) -> int:
    """Say on standard error why nothing was done."""
    print(f"ferrule: {message}", file=sys.stderr)
    return UNUSABLE


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command line in this process: never a traceback, whatever is asked for."""
    forgiving()
    try:
        return dispatch(sys.argv[1:] if argv is None else argv)
    except Unusable as error:
        return refuse(str(error))
    except BrokenPipeError:
        # Whatever is still buffered has nowhere to go; the interpreter would complain at its exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return refuse("the reader of the output went away before all of it was written")
    except KeyboardInterrupt:
        return refuse("interrupted; what was not finished was not written")
    except RecursionError:
        return refuse("the text is nested too deeply to be read")
    except MemoryError:
        return refuse("the rig does not fit into memory")
    except OSError as error:
        return refuse(f"{error.filename or 'input or output'}: {error.strerror or error}")
    except Exception as error:
        if sys.flags.dev_mode:  # `python -X dev -m ferrule.cli.main …` shows where it happened
            raise
        return refuse(
            f"a defect of ferrule, not of your text: {type(error).__name__}: {error}\n"
            "  please report it with the file that shows it"
        )


def process() -> None:
    """Entry point of a process of its own; does not return.

    It is short, and what it makes lives to its end: looking for dead objects while it runs and
    taking all apart at its exit is a tenth of the time of a check.  So it leaves as soon as all
    that it has to say is said; files are closed where they are written, and nothing waits for exit.
    """
    gc.disable()
    try:
        code = main()
    except SystemExit as end:  # argparse: help, version, or a command line it cannot read
        code = end.code if isinstance(end.code, int) else UNUSABLE
    for stream in (sys.stdout, sys.stderr):
        with suppress(OSError):  # what could not be written has been told
            stream.flush()
    os._exit(code)


if __name__ == "__main__":
    process()
