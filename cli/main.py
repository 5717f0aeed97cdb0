"""The command ``ferrule``: finds the subcommand, runs it, and turns every refusal into exit code 2.

Exit codes: 0 clean, 1 a finding stands (or ``fmt --check`` would change a file), 2 unusable input.
"""

from __future__ import annotations

import gc
import io
import os
import sys
from collections.abc import Sequence

from ..dsl import VERSION
from . import lazy
from .errors import CLEAN, UNUSABLE, Unusable

COMMANDS = {
    "check": "say what is wrong with a rig",
    "gather": "the findings of several runs as one",
    "draw": "draw a rig: single-line diagram, wiring charts and diagrams",
    "enter": "what the readings of a commissioning sheet come to",
    "report": "one page with every sheet, table and finding, to look things up in",
    "watch": "serve the report on this machine and renew it at every save",
    "editor": "answer an editor while a rig is written (language server on stdio)",
    "diff": "what changes from one version of a rig to another, and what follows",
    "rework": "the change of a rig as work at the bench, in an order safe at every stop",
    "fmt": "lay out a rig file the canonical way",
    "merge": "put two versions of a rig together, as git's merge driver",
    "trace": "what a meter should find on a terminal, and what protects it",
    "figures": "currents, voltages, drops and fault currents, and how each is found",
    "capacity": "what may run together, how long batteries last and charge",
    "explain": "what a rule means and why it matters",
    "rules": "list the rules",
    "books": "the rule books: their tables, clauses, and what is from memory",
    "new": "write a small rig to start from",
}


def dispatch(argv: Sequence[str]) -> int:
    """Run one command line; returns the exit code."""
    name, *rest = argv or [""]
    if list(argv) == ["--version"]:
        code = version()
    elif not name or name.startswith("-"):
        code = lazy.parsers().without_command(COMMANDS, argv)
    elif name in COMMANDS:
        code = run(name, rest)
    else:
        hint = lazy.did_you_mean(name, COMMANDS) or "commands: " + " ".join(COMMANDS)
        raise Unusable(f"there is no command `{name}`", hint)
    sys.stdout.flush()
    return code


def run(name: str, words: Sequence[str]) -> int:
    """Run a subcommand; returns the exit code.

    One that names files and nothing else, as checks mostly do, needs no reader of options: that
    takes 4 ms.
    """
    command = lazy.command(name)
    if hasattr(command, "plain") and words and all(map(is_file_name, words)):
        code: int = command.plain(words)
    else:
        parser = lazy.parsers().of_command(name, COMMANDS[name], command)
        args = parser.parse_args(words)
        with lazy.reaching(getattr(args, "allow_outside", False)):
            code = command.run(args)
    return code


def is_file_name(word: str) -> bool:
    """Whether a word of a command line can be nothing but the name of a file."""
    return not word.startswith("-") and not os.path.isdir(word)


def version() -> int:
    """Tell the version; nothing else of ferrule is loaded for it."""
    print(f"ferrule {VERSION}")
    return CLEAN


def forgiving() -> None:
    """Let no character stop the output: what the terminal cannot show is shown by its code."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def refuse(message: str) -> int:
    """Say on standard error why nothing was done."""
    print(f"ferrule: {lazy.plain(message)}", file=sys.stderr)
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
        try:
            stream.flush()
        except OSError:  # of a command it has been told; argparse tells nothing of its help
            code = code or UNUSABLE
    os._exit(code)


if __name__ == "__main__":
    process()
