"""The figures of ``figures.toml``, and how a clause is told."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping
from functools import cache
from typing import Any

FILE = os.path.join(os.path.dirname(__file__), "figures.toml")
MEMORY = ("from-memory", "partly")


@cache
def tables() -> Mapping[str, Any]:
    """The whole file."""
    with open(FILE, "rb") as file:
        return tomllib.load(file)


def limit(key: str) -> float:
    """A single figure of ``limits`` in its unit."""
    return float(tables()["limits"][key]["value"])


def basis(*keys: str) -> str:
    """Where figures of ``limits`` come from."""
    return "; ".join(said(tables()["limits"][key]) for key in keys)


def said(row: Mapping[str, Any]) -> str:
    """A row's clause and, where it is not confirmed, how sure it is.

    >>> said({"clause": "IEC 60038", "status": "from-memory"})
    'IEC 60038 (from memory)'
    """
    unsure = {"from-memory": " (from memory)", "partly": " (partly from memory)"}
    return f"{row['clause']}{unsure.get(row['status'], '')}"


def clause(step: str, book: str) -> str:
    """The clause a step goes by in a rule book."""
    row = tables()["steps"][step]
    return said({"clause": row["clause"][book], "status": row["status"]})


def band(book: str, dc: bool) -> tuple[float, float]:
    """The shares below and above nominal that a live terminal may be at."""
    below, above = tables()["volts"][book]["dc" if dc else "ac"]
    return below, above


def insulation(volts: float) -> tuple[float, float]:
    """Test voltage, V DC, and least insulation resistance, MOhm, of a circuit of that voltage.

    IEC 60364-6 Table 6.1; KeyError above 1000 V, which no rig here has.

    >>> insulation(24), insulation(230)
    ((250.0, 0.5), (500.0, 1.0))
    """
    for most, test, least in tables()["insulation"]["rows"]:
        if volts <= most:
            return float(test), float(least)
    raise KeyError(volts)
