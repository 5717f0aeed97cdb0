"""What a book asks of a circuit: voltage drop, disconnection, residual current, voltage factors."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from ...dsl.model import Device, Rig
from .data import Data
from .figures import Figure
from .table import origin_of

MILLI = 1000


def value(data: Data, key: str) -> Figure | None:
    """A single figure of the book in its own unit; not for sizes."""
    row = data.values.get(key)
    return None if row is None else figure(row, said(row))


def said(row: Any) -> str:
    """A single figure's value as people write it: ``3 %``, ``1.1``."""
    unit = "" if row["unit"] == "1" else f" {row['unit']}"
    words: str = row.get("text", f"{row['value']:g}{unit}")
    return words


def figure(row: Any, words: str, value: float | None = None, unit: str = "") -> Figure:
    """A block of the book as a figure, told in ``words``; its note is the last step."""
    origin = origin_of(row)
    steps = (f"{origin.clause}: {words}", *filter(None, (origin.note,)))
    number = float(row["value"]) if value is None else value
    return Figure(number, unit or row["unit"], origin.clause, steps, origin.status)


def drop_limit(data: Data, lighting: bool, critical: bool, public: bool) -> Figure | None:
    """The largest voltage drop from the source to a load, %, and in its steps who must meet it."""
    use = "lighting" if lighting else "other"
    keys = ["drop-critical"] if critical else []
    keys += [f"drop-{use}-public"] if public else []
    keys += [f"drop-{use}", "drop-total", "drop-branch"]
    return next((found for key in keys if (found := value(data, key))), None)


def disconnect_time(
    data: Data, volts_to_earth: float, dc: bool, final: bool, rated_a: float, system: str
) -> Figure | None:
    """The longest time, s, in which a fault to earth must be disconnected; None: not asked."""
    table = data.tables.get("disconnection" if system == "TN" else "disconnection-tt")
    none_below = data.values.get("extra-low-dc" if dc else "extra-low-ac")
    if table is None or (none_below and volts_to_earth <= none_below["value"]):
        return None
    most = data.values["disconnect-socket" if final and rated_a > 32 else "disconnect-final"]
    row = table.ceiling(volts_to_earth)
    seconds = float(table.cell(row, "DC" if dc else "AC")) if row else 0.0
    if not final or rated_a > most["value"] or not seconds:
        return value(data, f"disconnect-rest-{system}")
    origin = table.origin_at(str(row))
    step = f"{origin.clause}, {system}, {volts_to_earth:g} V {'DC' if dc else 'AC'}: {seconds:g} s"
    return Figure(seconds, "s", origin.clause, (step,), origin.status)


def residual_required(
    data: Data, device: Device, rig: Rig, volts_to_earth: float | None
) -> Figure | None:
    """The residual current, A, of the device that must protect this one; None: none asked for."""
    place = rig.places.get(rig.place_of(device) or "")
    for row in data.residuals.values():
        if device.kind not in row["on"]:
            continue
        rated = device.number("rating")
        if rated is not None and rated > row.get("rated_up_to", rated):
            continue
        if volts_to_earth is not None and volts_to_earth > row.get("volts_up_to", volts_to_earth):
            continue
        flags: Iterable[str] = row.get("places", ())
        if flags and not (place and any(place.flag(flag) for flag in flags)):
            continue
        where = f"{device.kind} in a place that is {' or '.join(flags)}" if flags else device.kind
        return figure(row, f"{where}: at most {MILLI * row['value']:g} mA", unit="A")
    return None


def voltage_factor(data: Data, case: str) -> Figure:
    """c of IEC 60909-0 for the largest (``max``) or smallest (``min``) fault current."""
    found = value(data, f"voltage-factor-{case}")
    return found or Figure(1.0, "1", data.title, ("voltage factor 1: not used by this book",))


def loop_max(data: Data, volts_to_earth: float, trip_a: float) -> Figure:
    """The largest earth-fault loop impedance, ohm: Zs Ia <= c U0; see ``Book.loop_max``."""
    c = voltage_factor(data, "min")
    ohms = c.value * volts_to_earth / trip_a
    step = f"Zs <= {c.value:g} x {volts_to_earth:g} V / {trip_a:g} A = {ohms:.3g} ohm"
    return Figure(ohms, "ohm", c.clause, (*c.steps, step), c.status)
