"""Whether what a project's own book says is of the kind that the printed book has there."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import isfinite
from typing import Any

from ...dsl.problems import listed
from ..trade.sizes import area_mm2

MOST = 1e9
MOST_ROWS = 500
LONGEST = 400


def kind_of(text: str) -> str:
    """What a text is: a conductor ``size``, a ``number``, or a ``name``."""
    if len(text) > LONGEST:
        return "name"
    try:
        return "size" if isfinite(area_mm2(text)) and area_mm2(text) > 0 else "name"
    except (ValueError, OverflowError):
        pass
    try:
        return "number" if isfinite(float(text)) and 0 < float(text) < MOST else "name"
    except ValueError:
        return "name"


def rank(row: str) -> float:
    """What a row of sizes or of numbers is ordered by."""
    return area_mm2(row) if kind_of(row) == "size" else float(row)


def expected(value: Any, model: Any, none: bool = False) -> str:
    """What should have stood there, in words; "" where ``value`` is of its model's kind.

    ``none``: 0 is right too, a cell that is not printed.
    """
    if isinstance(model, Mapping):
        return _keys(value, model)
    if isinstance(model, list):
        return _list(value, model)
    if isinstance(model, bool):
        return "" if isinstance(value, bool) else "true or false"
    if isinstance(model, int | float):
        number = isinstance(value, int | float) and not isinstance(value, bool)
        good = number and value <= MOST and (value > 0 or (none and value == 0))
        return "" if good and isfinite(value) else "a number above 0"
    return _text(value, str(model))


def _keys(value: Any, model: Mapping[str, Any]) -> str:
    if not isinstance(value, dict) or not value or not value.keys() <= model.keys():
        return "keys and values, of: " + listed(model)
    return _first(expected(part, model[key]) for key, part in value.items())


def _list(value: Any, model: list[Any]) -> str:
    mixed = len({type(part) for part in model}) > 1 and isinstance(model[0], str)
    if not isinstance(value, list) or not value or len(value) > MOST_ROWS:
        return f"a list like [{listed(map(str, model), 3)}]"
    if mixed and len(value) != len(model):
        return f"{len(model)} values, like {model}"
    models = model if mixed else [model[0]] * len(value)
    return _first(expected(part, like) for part, like in zip(value, models, strict=True))


def _text(value: Any, model: str) -> str:
    if not isinstance(value, str) or not value or len(value) > LONGEST:
        return f"text of at most {LONGEST} letters"
    if kind_of(model) == "size" and kind_of(value) != "size":
        return "a conductor size, like 8AWG or 2.5mm2"
    return ""


def _first(words: Iterable[str]) -> str:
    return next(filter(None, words), "")
