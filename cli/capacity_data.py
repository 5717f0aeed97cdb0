"""The capacity of a mode as data: one JSON object, or long rows for CSV."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from ..checks.capacity.battery import Charge, Life
from ..checks.capacity.limits import Capacity, Row
from ..checks.capacity.together import Group

HEAD = ("stage", "mode", "kind", "name", "line", "quantity", "value", "unit")


def document(found: Capacity) -> dict[str, Any]:
    """One mode as JSON takes it; units stand beside the figures."""
    told: dict[str, Any] = _to_twelve_digits(_document(found))
    return told


def _to_twelve_digits(told: Any) -> Any:
    """The last digits of a sum are not the same in every version of Python."""
    if isinstance(told, dict):
        return {key: _to_twelve_digits(value) for key, value in told.items()}
    if isinstance(told, list):
        return [_to_twelve_digits(value) for value in told]
    return float(f"{told:.12g}") if isinstance(told, float) else told


def _document(found: Capacity) -> dict[str, Any]:
    return {
        "mode": found.mode,
        "label": found.label,
        "limits": [_limit(row, found) for row in found.rows],
        "together": {
            "free": list(found.together.free),
            "never": list(found.together.never),
            "groups": [_group(group, found) for group in found.together.groups],
        },
        "batteries": [_life(life) for life in found.lives],
        "not_counted": [device.name for device in found.unknown],
    }


def _limit(row: Row, found: Capacity) -> dict[str, Any]:
    point = row.point
    return {
        "name": point.name,
        "devices": list(point.devices),
        "line": point.role,
        "unit": point.unit,
        "gives": point.gives,
        "connected": row.connected,
        "counted": row.counted,
        "within": row.within,
        "loads": {
            name: {"full": amount, "counted": found.demand.counted(point, name)}
            for name, amount in point.draws.items()
        },
    }


def _group(group: Group, found: Capacity) -> dict[str, Any]:
    return {
        "limits": [found.limits[index].point.name for index in group.limits],
        "alike": [list(names) for names in group.alike],
        "sets": [list(counts) for counts in group.sets],
        "forbidden": [list(counts) for counts in group.forbidden],
        "whole": group.whole,
    }


def _life(life: Life) -> dict[str, Any]:
    return {
        "batteries": [battery.name for battery in life.bank.batteries],
        "volts": life.bank.volts,
        "amp_hours": life.bank.amp_hours,
        "usable_wh": life.usable_wh,
        "everything_on_w": life.all_w,
        "everything_on_h": life.all_hours,
        "use_wh_per_day": life.use_wh,
        "use_days": life.days,
        "balance_wh_per_day": life.balance_wh,
        "without_hours": list(life.silent),
        "charging": [_charge(charge) for charge in life.charges],
    }


def _charge(charge: Charge) -> dict[str, Any]:
    return {
        "name": charge.name,
        "amps": charge.amps,
        "hours": charge.hours,
        "hours_per_day": charge.day_hours,
        "wh_per_day": charge.day_wh,
    }


def rows(stage: str, found: Capacity) -> Iterator[tuple[str, ...]]:
    """One figure a row, under ``HEAD``."""
    for row in found.rows:
        point = row.point
        for quantity, value in (
            ("gives", point.gives), ("connected", row.connected), ("counted", row.counted),
        ):  # fmt: skip
            yield (stage, found.mode, "limit", point.name, point.role, quantity,
                   f"{value:.6g}", point.unit)  # fmt: skip
    for group in found.together.groups:
        for kind, sets in (("set", group.sets), ("forbidden", group.forbidden)):
            for counts in sets:
                for names, count in zip(group.alike, counts, strict=True):
                    yield (stage, found.mode, kind, " ".join(names), "", "of them",
                           str(count), "1")  # fmt: skip
    for life in found.lives:
        yield from _battery_rows(stage, found.mode, life)


def _battery_rows(stage: str, mode: str, life: Life) -> Iterator[tuple[str, ...]]:
    figures = {
        ("usable", "Wh"): life.usable_wh,
        ("everything on", "W"): life.all_w,
        ("lasts with everything on", "h"): life.all_hours,
        ("stated use a day", "Wh"): life.use_wh,
        ("lasts with the stated use", "days"): life.days,
        ("a day leaves", "Wh"): life.balance_wh,
    }
    for (quantity, unit), value in figures.items():
        if value is not None:
            yield stage, mode, "battery", life.bank.name, "+", quantity, f"{value:.6g}", unit
    for charge in life.charges:
        for quantity, value, unit in (
            ("current", charge.amps, "A"), ("time", charge.hours, "h"),
            ("a day brings", charge.day_wh, "Wh"),
        ):  # fmt: skip
            if value is not None:
                yield (stage, mode, "charging", f"{life.bank.name} by {charge.name or 'all'}", "+",
                       quantity, f"{value:.6g}", unit)  # fmt: skip
