"""What the terminal can show: colours, and how wide it is."""

from __future__ import annotations

import os
import sys
from typing import TextIO


def colours(stream: TextIO) -> bool:
    """Whether to colour: on a terminal only, and never where ``NO_COLOR`` is set."""
    if os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb":
        return False
    return stream.isatty()


def width() -> int:
    """Columns of the terminal: what ``COLUMNS`` says, or the terminal itself; 80 without one."""
    told = os.environ.get("COLUMNS", "")
    if told.isdecimal() and int(told[:5]):
        return int(told[:5])
    try:
        return os.get_terminal_size(sys.stdout.fileno()).columns or 80
    except (OSError, ValueError):
        return 80


def printable(text: str) -> str:
    """The text with what a terminal would act on shown by its code.

    >>> printable("a\x1b[2J")
    'a\\x1b[2J'
    """
    return "".join(c if c.isprintable() or c in "\n\t" else f"\\x{ord(c):02x}" for c in text)
