"""The device schedule: settings of the protective devices, what each protects, coordination."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import inf

from ..checks.books.book import Missing
from ..checks.tracing.standing import Ahead, Least, Standing, overloads, standings
from ..checks.tracing.trace import Stage
from ..dsl.model import Device, Rig
from .schedule import RIGHT, Column, Row, Schedule, Section
from .schedule_loads import figure
from .units import poles_text, spaced
from .wiring import size_text, where

DOC = "Device schedule"
COLUMNS = (
    Column("Device", bold=True),
    Column("What it is"),
    Column("Where"),
    Column("Rating", "A", RIGHT),
    Column("Poles"),
    Column("Curve", "or class"),
    Column("Residual", "current"),
    Column("Protects", "conductor"),
    Column("Size"),
    Column("Iz", "A", RIGHT),
    Column("Load", "A", RIGHT),
    Column("Load", "in mode"),
    Column("Breaks", "kA", RIGHT),
    Column("Fault", "most, kA", RIGHT),
    Column("in mode"),
    Column("Fault", "least, A", RIGHT),
    Column("at", "(mode)"),
    Column("Opens", "s", RIGHT),
    Column("asked", "s", RIGHT),
    Column("Ahead"),
    Column("Selective", "to A", RIGHT),
    Column("RCD ahead"),
    Column("RCD behind"),
)
REMARKS = (
    "Iz: ampacity of the weakest conductor it is nearest to, as it lies. Load: all loads on, the "
    "mode with the most; overload, in bold: more than its rating in the modes named, so not all "
    "loads may run there at once.",
    "Fault, most: where it stands, conductors cold; least: to earth (DC: + to -) at the end of "
    "what it protects, conductors hot. Opens: at the latest at the least fault, by its standard's "
    "band; RCD: the residual-current device opens it.",
    "Selective to: the current up to which it has opened before the device ahead may, by the bands "
    "of the standards; makers' tables may go farther. n.k.: not known, the text or the standard "
    "does not say.",
)
UNKNOWN = "n.k."


def schedule(stage: Stage) -> Schedule:
    """Every overcurrent and residual-current device."""
    rows = tuple(_row(stage, standing) for standing in standings(stage))
    return Schedule(
        "Protective devices and their coordination", DOC, COLUMNS, (Section("", rows),), REMARKS
    )


def _row(stage: Stage, s: Standing) -> Row:
    """One device; bold where more than its rating flows through it in some mode."""
    over = [mode for _, mode in overloads(stage, s.device)]
    return Row(tuple(_cells(stage, s, over)), f"dev-{s.device.name}", strong=bool(over))


def _cells(stage: Stage, s: Standing, over: Sequence[str]) -> Iterator[str]:
    device = s.device
    yield from (device.name, device.label, where(stage.rig, device))
    yield figure(device.number("rating"))
    poles = device.text("poles")
    yield poles_text(poles) if poles else ""
    yield device.text("curve") or device.text("class")
    sees = device.text("rcd") or device.text("gfci")
    kind = f", type {device.text('type')}" if "type" in device.attrs else ""
    yield f"{spaced(sees)}{kind}" if sees else ""
    yield from _guarded(s)
    yield figure(s.load[0]) if s.load else ""
    yield overload(over) if over else s.load[1] if s.load else ""
    breaks = device.number("breaks")
    yield "" if breaks is None else figure(breaks / 1000)
    yield from (kiloamps(s.most[0].amps), s.most[1]) if s.most else (UNKNOWN, "")
    yield from _least(s.least)
    yield ", ".join(each.device for each in s.ahead)
    yield ", ".join(_selective(s, each) for each in s.ahead)
    yield from (", ".join(names) for names in (s.before, s.after))


def overload(modes: Sequence[str]) -> str:
    """The modes in which a device carries more than its rating, in words."""
    return f"{', '.join(modes)}: overload"


def overload_words(rig: Rig, device: Device, over: Sequence[tuple[float, str]]) -> str:
    """What a device carries in some modes and cannot for long, as a sentence."""
    modes = "; ".join(rig.modes[mode].label or mode for _, mode in over)
    most, rating = figure(over[0][0]), spaced(device.text("rating"))
    return (
        f"Overload: with all loads on, {device.name} carries {most} A ({modes}), more than its "
        f"{rating}."
    )


def kiloamps(amps: float) -> str:
    """A fault current in kA, to 10 A; below 100 A to 1 A."""
    return f"{amps / 1000:.2f}" if amps >= 100 else f"{amps / 1000:.3f}"


def _guarded(s: Standing) -> tuple[str, str, str]:
    if s.guarded is None:
        return "", "", ""
    conductor, ampacity = s.guarded
    known = UNKNOWN if isinstance(ampacity, Missing) else figure(ampacity.value)
    return conductor.name, size_text(conductor), known


def _least(least: Least | None) -> tuple[str, str, str, str]:
    if least is None:
        return "", "", "", ""
    asked = figure(least.limit.value) if least.limit else ""
    return figure(least.fault.amps), f"{least.user} ({least.mode})", _opens(least), asked


def _opens(least: Least) -> str:
    """The latest it opens at the least fault; who else does where it may not."""
    if isinstance(least.seconds, Missing):
        return UNKNOWN if not least.residual else f"{least.residual[-1]}, RCD"
    late = least.limit is not None and least.seconds > least.limit.value
    if least.residual and (late or least.seconds == inf):
        return f"{least.residual[-1]}, RCD"
    return "does not" if least.seconds == inf else figure(least.seconds)


def _selective(s: Standing, ahead: Ahead) -> str:
    """In full where it holds to more than the greatest fault."""
    if isinstance(ahead.selective, Missing):
        return UNKNOWN
    if ahead.selective == inf or (s.most and ahead.selective >= s.most[0].amps):
        return "in full"
    return figure(ahead.selective)
