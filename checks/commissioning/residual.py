"""Trip times of residual-current devices, by type, from every source that they serve."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from ...dsl.model import Device
from ..bands import residual_time
from ..bands.table import TABLE as BANDS
from ..tracing.network import carries
from ..tracing.trace import ModeView, Stage
from .circuits import every_way, owners
from .data import clause, said, tables
from .trial import Trial

SMALL = 0.010
"""Up to this rated residual current, A, direct current is tested at twice, above at 1.4 times."""
MILLI = 1000


def residual(stage: Stage) -> Iterator[Trial]:
    """Every residual-current device: no trip at half, trip times, waveforms, the button."""
    for device in stage.rig.devices.values():
        rated = device.number("rcd") or device.number("gfci")
        served = list(_served(stage, device.name)) if rated and carries(device) else []
        if rated and served:
            yield from _device(stage, device, rated, served)


def _served(stage: Stage, name: str) -> Iterator[tuple[ModeView, str, tuple[str, ...]]]:
    """(mode, source, names) of the first mode in which each source feeds through a device."""
    told: set[str] = set()
    for view in stage.modes:
        for way in every_way(view):
            behind = way.behind(name)
            if behind and way.source.name not in told:
                told.add(way.source.name)
                names = dict.fromkeys(n for b in behind for n in owners(view, way.came, b))
                yield view, way.source.name, tuple(names)


def _device(
    stage: Stage, device: Device, rated: float, served: list[tuple[ModeView, str, tuple[str, ...]]]
) -> Iterator[Trial]:
    view, _, names = served[0]
    own = f"RCD-{device.name}"
    by = clause("residual", stage.book.name)
    half = f"{MILLI * rated / 2:g} mA, 0 and 180 deg: does not trip"
    yield Trial(f"{own}-half", "residual", view.name, device.name, half, basis=by, names=names)
    for view, source, names in served:
        for multiple in (1, 5):
            yield from _time(device, rated, multiple, view, source, names, len(served) > 1)
    view, _, names = served[0]
    for row in tables()["residual"][1:]:
        if device.text("type") in row["types"]:
            yield _wave(device, rated, row, view, names)
    yield Trial(
        f"{own}-button", "residual", view.name, device.name, "Test button trips it", basis=by,
        names=names,
    )  # fmt: skip


def _time(
    device: Device, rated: float, multiple: int, view: ModeView, source: str,
    names: tuple[str, ...], several: bool,
) -> Iterator[Trial]:  # fmt: skip
    """The time it trips in at a multiple of its rated current, ms."""
    figure = residual_time(device, multiple * rated)
    if figure is None:
        return
    key = f"RCD-{device.name}-{multiple}x" + (f"-{source}" if several else "")
    yield Trial(
        key, "residual", view.name, device.name,
        f"{MILLI * multiple * rated:g} mA{_sort(device)}, fed by {source}: trips", "ms", None,
        _soonest(device, multiple), MILLI * figure.value, said(_row(figure.clause, figure.status)),
        names,
    )  # fmt: skip


def _row(clause: str, status: str) -> dict[str, str]:
    return {"clause": clause, "status": status}


def _soonest(device: Device, multiple: int) -> float | None:
    """The time, ms, that a delayed device holds on for; None: it may trip at once."""
    if not device.flag("delayed") or "gfci" in device.attrs:
        return None
    times = BANDS["residual"]["delayed"]["times"]
    reached = [gate for gate in times if multiple >= gate[0]]
    return MILLI * float(reached[-1][1])


def _sort(device: Device) -> str:
    sort = device.text("type")
    return f", type {sort}" if sort else ""


def _wave(
    device: Device, rated: float, row: Mapping[str, Any], view: ModeView, names: tuple[str, ...]
) -> Trial:
    """The time at the waveform that its type must see."""
    times = row["up_to_10ma"] if rated <= SMALL else row["above_10ma"]
    key = row["wave"].split()[0]
    return Trial(
        f"RCD-{device.name}-{key}", "residual", view.name, device.name,
        f"{MILLI * times * rated:g} mA {row['wave']}: trips", "ms", None, None,
        MILLI * row["longest"], said(row), names,
    )  # fmt: skip
