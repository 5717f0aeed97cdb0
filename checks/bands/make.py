"""Writes ``table.py``, the form of ``bands.toml`` that Python loads without reading TOML.

Run ``python -m ferrule.checks.bands.make`` after a change to the bands.  Until it is run they are
read from the TOML itself: right, only some milliseconds later.
"""

from __future__ import annotations

import pprint
import tomllib
import zlib
from pathlib import Path

SOURCE = Path(__file__).parent / "bands.toml"
TARGET = Path(__file__).parent / "table.py"


def text() -> str:
    """The module that ``bands.toml`` makes."""
    raw = SOURCE.read_bytes()
    table = pprint.pformat(tomllib.loads(raw.decode()), width=99, sort_dicts=False, compact=True)
    return (
        '"""Made from bands.toml by make.py; change that file, not this table."""\n\n'
        "# fmt: off\n"
        "from typing import Any\n\n"
        f"CRC = {zlib.crc32(raw)}\n"
        f"TABLE: dict[str, Any] = {table}\n"
    )


if __name__ == "__main__":
    TARGET.write_text(text(), encoding="utf-8")
