"""Tables as texts: cells that are words and nothing else, whatever reads them.

A label may hold anything.  In CSV a cell that a spreadsheet would take for a formula gets a quote
ahead of it; in Markdown what would be markup or HTML is escaped.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence

FORMULA = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")
NUMBER = re.compile(r"[+-]?([0-9]+([.][0-9]+)?)?")
"""A number, or a bare sign (the name of a terminal): no formula."""
MARKUP = re.compile(r"[\\`*<>\[\]|~]|(?<![A-Za-z0-9])_|_(?![A-Za-z0-9])")
LINKED = re.compile(r"(?:https?|ftp|mailto|www)(?=[:.])", re.I)
"""What Markdown makes a link of without being asked."""
JOINER = "\N{WORD JOINER}"


def inert(text: str) -> str:
    """A cell of CSV that no spreadsheet works out.

    >>> inert("=1+1"), inert("-5"), inert("+")
    ("'=1+1", '-5', '+')
    """
    return f"'{text}" if text.startswith(FORMULA) and not NUMBER.fullmatch(text) else text


def written(rows: Iterable[Sequence[str]]) -> str:
    """Rows as CSV (RFC 4180 with line feeds)."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([inert(cell) for cell in row] for row in rows)
    return out.getvalue()


def plain(text: str) -> str:
    """A text that Markdown shows as it is.

    >>> plain("a|b <i>")
    'a\\\\|b \\\\<i\\\\>'
    """
    escaped = MARKUP.sub(lambda found: "\\" + found[0], text.replace("&", "&amp;"))
    return LINKED.sub(lambda found: found[0] + JOINER, escaped)
