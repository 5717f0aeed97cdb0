"""Writes ``table.py``, the form of ``bands.toml`` that Python loads without reading TOML.

Run ``python -m ferrule.checks.bands.make`` after a change to the bands; until then the change has
no effect, and a test fails.
"""

from __future__ import annotations

import pprint
import tomllib
from pathlib import Path

SOURCE = Path(__file__).parent / "bands.toml"
TARGET = Path(__file__).parent / "table.py"


def text() -> str:
    """The module that ``bands.toml`` makes."""
    raw = tomllib.loads(SOURCE.read_text(encoding="utf-8"))
    table = pprint.pformat(raw, width=99, sort_dicts=False, compact=True)
    return (
        '"""Made from bands.toml by make.py; change that file, not this table."""\n\n'
        "# fmt: off\n"
        "from typing import Any\n\n"
        f"TABLE: dict[str, Any] = {table}\n"
    )


if __name__ == "__main__":
    TARGET.write_text(text(), encoding="utf-8")
