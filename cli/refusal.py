"""Mistakes in a text, shown on standard error."""

from __future__ import annotations

import sys

from . import lazy
from .errors import UNUSABLE
from .files import Outcome
from .terminal import colours


def refuse(outcome: Outcome) -> int:
    """Show why a file could not be used; returns the exit code for it."""
    sys.stdout.flush()  # what was said before it stays before it
    sys.stderr.write(lazy.writer("text").refusal(outcome, colours(sys.stderr)))
    return UNUSABLE
