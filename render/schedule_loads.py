"""The load schedule: what each load takes and what feeds it in every mode; outlets and converters.

What it comes to at each limit, mode by mode, is ``schedule_limits``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..checks.capacity.load_list import Listed, load_list
from ..checks.tracing.feeds import Feed
from ..checks.tracing.trace import Stage
from .schedule import RIGHT, Column, Row, Schedule, Section
from .wiring import place_name

DOC = "Load schedule"
TITLES = {"load": "Loads", "converter": "Converters", "outlet": "Outlets"}
COLUMNS = (
    Column("Load", bold=True),
    Column("What it is"),
    Column("Place"),
    Column("Voltage", "V", RIGHT),
    Column("Power", "W", RIGHT),
    Column("Apparent", "VA", RIGHT),
    Column("Current", "A", RIGHT),
    Column("Start", "A", RIGHT),
    Column("Use", "h/day", RIGHT),
    Column("Energy", "Wh/day", RIGHT),
    Column("Demand", "%", RIGHT),
    Column("Runs"),
    Column("Bar"),
)
REMARKS = (
    "Under each mode: the device nearest ahead, of several lines which, and the source; a dash "
    "where it is dead or switched off. Nominal currents, no voltage drop. What is plugged into an "
    "outlet counts where the text has it as a load.",
    "Power of a converter is what it takes for its own output (a charger); what hangs on an "
    "inverter is listed itself. Energy is power times use.",
)


def schedule(stage: Stage) -> Schedule:
    """All that takes power, by what it is, with a column for each mode."""
    found = list(load_list(stage))
    modes = [Column(view.name, "fed by") for view in stage.modes]
    sections = []
    for acts, title in TITLES.items():
        listed = [each for each in found if each.acts == acts]
        total = [_total(listed, len(stage.modes))] if acts == "load" and listed else []
        sections.append(Section(title, (*(_row(stage, each) for each in listed), *total)))
    kept = tuple(section for section in sections if section.rows)
    return Schedule("Loads and what feeds them", DOC, (*COLUMNS, *modes), kept, REMARKS)


def _row(stage: Stage, each: Listed) -> Row:
    device = each.device
    feeds = list(each.feeds.values())
    bars = dict.fromkeys(feed.bar for feed in feeds if feed and feed.bar)
    cells = (
        device.name, device.label, place_name(stage.rig, device.name), *_figures(each),
        ", ".join(bars), *(_fed(feed) for feed in feeds),
    )  # fmt: skip
    return Row(cells, f"dev-{device.name}")


def _total(found: Sequence[Listed], modes: int) -> Row:
    """What all loads come to: power connected, energy of a day."""
    items = [each.item for each in found if each.item]
    energy = sum(item.watts * item.share * item.hours for item in items if item.hours)
    power = (figure(sum(item.watts for item in items)), figure(sum(item.va for item in items)))
    return Row(
        ("Total", "all loads", "", "", *power, "", "", "", figure(energy), *[""] * (3 + modes)),
        strong=True,
    )


def _figures(each: Listed) -> Iterator[str]:
    """Voltage to the way it runs; what the text does not state stays empty."""
    device, item = each.device, each.item
    volts = device.number("input") if each.acts == "converter" else device.number("voltage")
    yield figure(volts)
    yield figure(item.watts if item else None)
    yield figure(item.va if item else None)
    rated = device.number("rating") if each.acts == "outlet" else None
    yield figure(each.amps) or (f"({figure(rated)})" if rated else "")
    yield figure(each.start)
    hours = item.hours if item else None
    yield figure(hours)
    yield "" if item is None or hours is None else figure(item.watts * item.share * hours)
    yield "" if item is None or item.share == 1.0 else figure(item.share * 100)
    yield "" if item is None else "charges" * item.charging or "continuous" * item.continuous


def figure(value: float | None) -> str:
    """Three figures, or all of a whole number.

    >>> figure(10.8696), figure(2500.0), figure(0.0312), figure(None)
    ('10.9', '2500', '0.0312', '')
    """
    if value is None:
        return ""
    return f"{value:.0f}" if value >= 100 else f"{value:.3g}"


def _fed(feed: Feed | None) -> str:
    if feed is None:
        return "\u2013"
    nearest = feed.devices[-1] if feed.devices else ""
    lines = " ".join(line for line in feed.lines if line not in ("L", "+"))
    return " ".join(filter(None, (nearest, lines, f"({feed.source})")))
