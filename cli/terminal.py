"""What the terminal can show: colours, its width, and characters outside its encoding."""

from __future__ import annotations

import io
import os
import sys
from typing import TextIO


def forgiving() -> None:
    """Let no character stop the output: what the terminal cannot show is shown by its code."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def colours(stream: TextIO) -> bool:
    """Whether to colour: on a terminal only, and never where ``NO_COLOR`` is set."""
    if os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb":
        return False
    return stream.isatty()
