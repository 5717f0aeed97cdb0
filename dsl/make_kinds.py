"""Writes ``kinds_table.py``, the form of ``kinds.toml`` that Python loads without reading TOML.

Run ``python -m ferrule.dsl.make_kinds`` after a change to ``kinds.toml``; until then the change
has no effect, and a test fails.
"""

from __future__ import annotations

import pprint
import tomllib
from pathlib import Path

SOURCE = Path(__file__).parent / "kinds.toml"
TARGET = Path(__file__).parent / "kinds_table.py"


def text() -> str:
    """The module that ``kinds.toml`` makes."""
    raw = tomllib.loads(SOURCE.read_text(encoding="utf-8"))
    table = pprint.pformat(raw, width=99, sort_dicts=False, compact=True)
    return (
        '"""Made from kinds.toml by make_kinds.py; change that table, not this one."""\n\n'
        "from typing import Any\n\n"
        f"TABLE: dict[str, Any] = {table}\n"
    )


if __name__ == "__main__":
    TARGET.write_text(text(), encoding="utf-8")
