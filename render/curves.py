"""Time-current curves: the devices of a chain on log scales, from a source to one final circuit.

Each device's trip band is a light area between its soonest and its latest; the dashed line is what
the thinnest conductor behind the last device stands.  Under the axis, on the same scale, lie the
load's current and the prospective currents at every device.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import inf, sqrt
from typing import NamedTuple

from ..checks.bands import Band, residual_time
from ..checks.figures.coordination import Chain, Link, chains
from ..checks.tracing.trace import Stage
from ..dsl.model import Rig
from .canvas import Sheet
from .frame import area, blank
from .loglog import Curve, LogLog
from .marks import AMBER, BLACK, BLUE, GREEN, GREY, HAIR, MEDIUM, RED, THICK, THIN, Box, Pen
from .metrics import T18, T25, pitch, width, wrap
from .options import Options
from .remarks import remark

DOC = "Time-current curves"
TIMES = (0.01, 10_000.0)
NAMES, PANEL, AXIS, ROW, HEAD = 34.0, 92.0, 10.0, 4.6, 8.0
INKS = (BLUE, AMBER, GREEN, GREY)
TINTS = ("#e8ecf1", "#fdf3e1", "#e9f3ea", "#f4f6f9")
LEGEND = (
    "Bands are the standards' gates, straight between them on these scales; a maker's curve lies "
    "inside. Where a standard fixes only the latest time, one edge is drawn.",
    "Prospective currents: most at the device (cold, full source), least at the end of what it "
    "protects (hot). Dashed: what the thinnest conductor behind the last device stands, k²S²/I².",
)


class Ink(NamedTuple):
    """How one device is drawn."""

    link: Link
    line: str
    fill: str


def sheets(stage: Stage, options: Options) -> list[Sheet]:
    """A sheet for each chain worth looking at; none where no device has a published band."""
    return [_sheet(stage.rig, chain, options) for chain in chains(stage)]


def _sheet(rig: Rig, chain: Chain, options: Options) -> Sheet:
    sheet = blank(options.paper, f"{chain.source} to {chain.user}, mode {chain.mode}", DOC)
    room = area(sheet)
    strip = ROW * (len(chain.links) + 1) + 3
    plot = Box(
        room.left + NAMES, room.top + HEAD, room.right - PANEL, room.bottom - strip - AXIS - 2
    )
    axes = LogLog(plot, _currents(chain), TIMES)
    inks = [Ink(k, INKS[i % 4], TINTS[i % 4]) for i, k in enumerate(chain.links)]
    known = [(ink, ink.link.band) for ink in inks if isinstance(ink.link.band, Band)]
    _areas(sheet, axes, known)
    axes.grid(sheet, "Current, A", "Time, s")
    _edges(sheet, axes, known)
    if chain.withstand is not None:
        _stands(sheet, axes, chain.withstand)
    _names(sheet, axes, known)
    _levels(sheet, axes, chain, inks, plot.bottom + AXIS + 2)
    _panel(sheet, rig, chain, inks, Box(plot.right + 6, room.top, room.right, room.bottom))
    remark(sheet, LEGEND)
    return sheet


def _currents(chain: Chain) -> tuple[float, float]:
    """The ends of the axis of currents: all there is to show, out to 1, 2 or 5 of a decade."""
    rated = [link.band.rating for link in chain.links if isinstance(link.band, Band)]
    seen = [max(chain.load or inf, min(rated) / 40)]
    most = [100.0]
    for link in chain.links:
        most += [amps for amps in (link.most, link.least) if amps]
        if isinstance(link.band, Band):
            seen.append(link.band.rating)
            ends = link.band.instantaneous
            most.append(1.2 * ends[1] if ends else 8 * link.band.rating)
    return _step(min(seen) / 1.6, down=True), _step(max(most) * 1.3, down=False)


def _step(value: float, down: bool) -> float:
    steps = [digit * 10.0**power for power in range(-2, 7) for digit in (1, 2, 5)]
    if down:
        return max(step for step in steps if step <= value)
    return min(step for step in steps if step >= value)


def _soonest(band: Band, most: float) -> Curve:
    """The lower edge, from the top of the plot to beyond its end; empty where none is known."""
    if not band.shortest:
        return ()
    first = band.shortest[0][0]
    start = [(first, 10 * TIMES[1]), *band.shortest]
    if band.instantaneous:
        low = band.instantaneous[0]
        return (*start, (low, TIMES[0] / 10), (10 * most, TIMES[0] / 10))
    return (*start, _tail(band.shortest[-1]))


def _latest(band: Band, most: float) -> Curve:
    """The upper edge, from the top of the plot to beyond its end."""
    start = [(band.longest[0][0], 10 * TIMES[1]), *band.longest]
    if band.instantaneous:
        high = band.instantaneous[1]
        return (*start, (high, band.at_once), (10 * most, band.at_once))
    return (*start, _tail(band.longest[-1]))


def _tail(last: tuple[float, float]) -> tuple[float, float]:
    """A point of constant I2t below the plot."""
    amps, seconds = last
    below = min(TIMES[0], seconds) / 100
    return amps * sqrt(seconds / below), below


def _areas(sheet: Sheet, axes: LogLog, known: Sequence[tuple[Ink, Band]]) -> None:
    """The areas of all bands, under the grid."""
    most = axes.across[1]
    for ink, band in known:
        low, high = _soonest(band, most), _latest(band, most)
        if low:
            with sheet.group(f"band-{band.device}", "band", f"{band.device}: {band.title}"):
                sheet.poly(axes.area([*low, *reversed(high)]), None, ink.fill)


def _edges(sheet: Sheet, axes: LogLog, known: Sequence[tuple[Ink, Band]]) -> None:
    """Their edges, over it, so that none is hidden: the latest time is the thicker one."""
    most = axes.across[1]
    for ink, band in known:
        for curve, pen in (
            (_soonest(band, most), Pen(THIN, ink.line)),
            (_latest(band, most), Pen(THICK, ink.line)),
        ):
            for line in axes.pieces(curve):
                sheet.line(line, pen)


def _stands(sheet: Sheet, axes: LogLog, withstand: float) -> None:
    """The heat a conductor stands, from 5 s down (IEC 60364-4-43 434.5.2)."""
    curve = [(sqrt(withstand / seconds), seconds) for seconds in (5.0, TIMES[0])]
    for line in axes.pieces(curve):
        sheet.line(line, Pen(MEDIUM, RED, "dashed", "butt"))


def _names(sheet: Sheet, axes: LogLog, known: Sequence[tuple[Ink, Band]]) -> None:
    """Each band's device above the plot, left to right, with a line to its band's top."""
    top, free = axes.box.top, axes.box.left
    for ink, band in sorted(known, key=lambda row: row[1].trips):
        words = f"{band.device} {band.rating:g} A"
        x = axes.x(max(_at_top(band), axes.across[0]))
        left = max(free, x - width(words, T18, True) / 2)
        free = left + width(words, T18, True) + 2.5
        middle = left + width(words, T18, True) / 2
        sheet.text(left, top - 5.2, words, T18, bold=True, colour=ink.line)
        sheet.line([(middle, top - 3.6), (x, top)], Pen(HAIR, ink.line))


def _at_top(band: Band) -> float:
    """The current at which the band leaves the plot's top edge, about the middle of it."""
    low = band.shortest[0][0] if band.shortest else band.trips
    return sqrt(low * band.trips)


def _levels(sheet: Sheet, axes: LogLog, chain: Chain, inks: Sequence[Ink], top: float) -> None:
    """Under the axis: the load's current, and from least to most at every device."""
    box = axes.box
    rows: list[tuple[str, str, list[float]]] = []
    if chain.load:
        rows.append((f"{chain.user} draws", BLACK, [chain.load]))
    rows += [
        (f"faults, {ink.link.device}", ink.line, [a for a in (ink.link.least, ink.link.most) if a])
        for ink in inks
    ]
    for index, (words, colour, amps) in enumerate(rows):
        y = top + index * ROW + ROW / 2
        with sheet.group(f"levels-{index}", "levels", words):
            sheet.text(box.left - 3, y, words, T18, anchor="end", level="middle", colour=colour)
            sheet.line([(box.left, y), (box.right, y)], Pen(HAIR, "#d4d9e0", cap="butt"))
            xs = [axes.x(value) for value in amps if axes.across[0] <= value <= axes.across[1]]
            if len(xs) > 1:
                sheet.line([(min(xs), y), (max(xs), y)], Pen(THICK, colour, cap="butt"))
            for x in xs:
                sheet.line([(x, y - 1.4), (x, y + 1.4)], Pen(MEDIUM, colour, cap="butt"))
            for x in xs if index in (0, len(rows) - 1) else ():
                sheet.line([(x, box.top), (x, box.bottom)], Pen(HAIR, colour, "fine", "butt"))


def _panel(sheet: Sheet, rig: Rig, chain: Chain, inks: Sequence[Ink], box: Box) -> None:
    """Beside the plot: what every device is, where its band comes from, and the currents there."""
    y = box.top + T25
    sheet.text(box.left, y, "Devices, the source's side first", T25, bold=True)
    y += pitch(T25) + 1.5
    for ink in inks:
        y = _entry(sheet, rig, ink, box, y) + 2.4
    lines = [line for text in _ending(rig, chain) for line in wrap(text, T18, box.width)]
    sheet.paragraph(box.left, y + 1.0, lines, T18)


def _entry(sheet: Sheet, rig: Rig, ink: Ink, box: Box, y: float) -> float:
    link, swatch = ink.link, Box(box.left, y - T18 - 0.4, box.left + 5, y + 0.4)
    sheet.rect(swatch, Pen(THIN, ink.line, cap="butt"), ink.fill)
    head = f"{link.device} {rig.devices[link.device].label}".strip()
    block = sheet.block()
    for words, bold in ((head, True), *((text, False) for text in _told(link))):
        for line in wrap(words, T18, box.width - 7, bold):
            sheet.text(box.left + 7, y, line, T18, bold=bold, block=block)
            y += pitch(T18)
    return y


def _told(link: Link) -> Iterator[str]:
    band = link.band
    if isinstance(band, Band):
        yield f"{band.rating:g} A. {band.title}"
        yield f"{band.clause} ({band.status})"
        yield f"surely within 0.1 s from {_amps(band.opens_within(0.1))}"
    else:
        yield f"no band: {band.reason}"
    most = "not known" if link.most is None else _amps(link.most)
    least = "not known" if link.least is None else _amps(link.least)
    yield f"prospective: at most {most}, at least {least}"


def _ending(rig: Rig, chain: Chain) -> Iterator[str]:
    yield "Bands of the standards; the makers' own curves lie inside them."
    conductor = rig.conductors.get(chain.conductor)
    if conductor is not None and chain.withstand is not None:
        yield f"{conductor.name} ({conductor.size}) stands {chain.withstand / 1000:.4g} kA²s."
    for name in chain.residual:
        found = residual_time(rig.devices[name], 1000.0)
        if found is not None and found.value:
            yield f"{name} opens a full fault to earth within {found.value:g} s ({found.clause})."
    label = rig.devices[chain.user].label
    if chain.load is not None:
        yield f"{chain.user} {label}: {_amps(chain.load)}."


def _amps(value: float) -> str:
    return (
        "no current"
        if value == inf
        else f"{value / 1000:.3g} kA"
        if value >= 1000
        else f"{value:.3g} A"
    )
