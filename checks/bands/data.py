"""The trip bands as data: ``bands.toml``, or the form of it that loads fast."""

from __future__ import annotations

import os
import zlib
from functools import cache
from typing import Any

from .table import CRC, TABLE

SOURCE = os.path.join(os.path.dirname(__file__), "bands.toml")
STATUSES = ("confirmed", "partly", "from-memory", "assumed")


@cache
def tables() -> dict[str, Any]:
    """All bands by group; from the file itself where that has changed since its table was made."""
    with open(SOURCE, "rb") as file:
        raw = file.read()
    if zlib.crc32(raw) == CRC:
        return TABLE
    import tomllib  # only where bands.toml has changed since the table was made from it

    return tomllib.loads(raw.decode())
