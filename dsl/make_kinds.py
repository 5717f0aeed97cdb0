"""Writes ``kinds_table.py``, the form of ``kinds.toml`` that Python loads without reading TOML.

Run ``python -m ferrule.dsl.make_kinds`` after a change to ``kinds.toml``.  Until it is run the
table is read from the TOML itself: right, only some milliseconds later.
"""

from __future__ import annotations

import pprint
import tomllib
import zlib
from pathlib import Path

SOURCE = Path(__file__).parent / "kinds.toml"
TARGET = Path(__file__).parent / "kinds_table.py"


def text() -> str:
    """The module that ``kinds.toml`` makes."""
    raw = SOURCE.read_bytes()
    table = pprint.pformat(tomllib.loads(raw.decode()), width=99, sort_dicts=False, compact=True)
    return (
        '"""Made from kinds.toml by make_kinds.py; change that table, not this one."""\n\n'
        "from typing import Any\n\n"
        f"CRC = {zlib.crc32(raw)}\n"
        f"TABLE: dict[str, Any] = {table}\n"
    )


if __name__ == "__main__":
    TARGET.write_text(text(), encoding="utf-8")
