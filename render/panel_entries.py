"""Entries of a panel with the cables through them, in true size."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import partial
from itertools import combinations

from .canvas import Sheet
from .marks import BLACK, PALE, THICK, THIN, Pen
from .metrics import T18, pitch, width, wrap
from .panel_parts import GAP, Strip, lines
from .panel_plan import Face, Hole, Through

Circle = tuple[float, float, float]
TOUCH = 1e-6
UNKNOWN_MM = 20.0
"""An entry that does not say its hole is drawn with this, dashed."""


def parts(face: Face) -> list[Strip]:
    """The entries, at 1:1 whatever the scale of the panel."""
    return [_part(hole) for hole in face.holes if hole.device is not None]


def unsaid(face: Face, room: float) -> Iterator[Strip]:
    """The cables that name no entry."""
    for hole in face.holes:
        if hole.device is None:
            names = ", ".join(each.name for each in hole.cables)
            yield from lines(f"Cables in, entry not said: {names}", room)


def _part(hole: Hole) -> Strip:
    cables = packed([each.mm for each in hole.cables])
    around = max((2 * (math.hypot(x, y) + r) for x, y, r in cables), default=0.0)
    across = max(hole.hole_mm or UNKNOWN_MM, around)
    words = _words(hole)
    wide = max([across, *(width(line, T18, bold) for line, bold in words)])
    height = across + 3 + pitch(T18) * len(words) + GAP
    return Strip(wide, height, partial(_draw, hole, cables, words, across, wide))


def _words(hole: Hole) -> list[tuple[str, bool]]:
    """What stands below an entry: its name, and a line a cable."""
    device = hole.device
    assert device is not None
    size = f"hole {hole.hole_mm:g} mm" if hole.hole_mm else "hole not said"
    found = [(device.name, True), *((line, False) for line in wrap(device.label, T18, 36.0))]
    found.append((size, False))
    found += [(said(each), False) for each in hole.cables]
    if not hole.cables:
        found.append(("blocked" if device.flag("blocked") else "free", False))
    return found


def said(each: Through) -> str:
    """A cable with its size and diameter; about so where the text does not say it."""
    sign = "ø" if each.told else "ø≈"
    return f"{each.name} {each.size} {sign}{each.mm:.1f}"


def _draw(
    hole: Hole, cables: Sequence[Circle], words: Sequence[tuple[str, bool]], across: float,
    wide: float, sheet: Sheet, x: float, y: float,
) -> None:  # fmt: skip
    device = hole.device
    assert device is not None
    middle, level = x + wide / 2, y + 1 + across / 2
    with sheet.group(f"dev-{device.name}", "device entry", " ".join(text for text, _ in words)):
        dash = "solid" if hole.hole_mm else "short"
        sheet.circle(middle, level, (hole.hole_mm or UNKNOWN_MM) / 2, Pen(THICK, dash=dash))
        for (dx, dy, radius), each in zip(cables, hole.cables, strict=True):
            with sheet.group(f"con-{each.name}", "cable", said(each)):
                sheet.circle(middle + dx, level + dy, radius, Pen(THIN, BLACK), PALE)
        block, down = sheet.block(), y + across + 3 + T18
        for index, (text, bold) in enumerate(words):
            sheet.text(
                middle, down + index * pitch(T18), text, T18, bold=bold, anchor="middle",
                block=block,
            )  # fmt: skip


def packed(diameters: Sequence[float]) -> list[Circle]:
    """Circles side by side round a common middle, in the order given: (x, y, radius).

    The thickest first; each where it touches two that lie there, as near to the middle as can be.
    """
    order = sorted(range(len(diameters)), key=lambda i: -diameters[i])
    placed: list[Circle] = []
    at: dict[int, Circle] = {}
    for index in order:
        circle = _next(placed, diameters[index] / 2)
        placed.append(circle)
        at[index] = circle
    if not placed:
        return []
    x, y = _middle(placed)
    return [(cx - x, cy - y, r) for cx, cy, r in (at[i] for i in range(len(diameters)))]


def _next(placed: Sequence[Circle], radius: float) -> Circle:
    """Where the next circle lies."""
    if not placed:
        return 0.0, 0.0, radius
    if len(placed) == 1:
        x, y, r = placed[0]
        return x + r + radius, y, radius
    x, y = _middle(placed)
    spots = [
        spot
        for one, two in combinations(placed, 2)
        for spot in _touching(one, two, radius)
        if all(math.dist(spot, (cx, cy)) >= r + radius - TOUCH for cx, cy, r in placed)
    ]
    best = min(spots, key=lambda spot: (round(math.dist(spot, (x, y)), 6), spot))
    return *best, radius


def _touching(one: Circle, two: Circle, radius: float) -> Iterator[tuple[float, float]]:
    """The middles of circles of a radius that touch two others."""
    (ax, ay, ar), (bx, by, br) = one, two
    apart, a, b = math.dist((ax, ay), (bx, by)), ar + radius, br + radius
    if apart > a + b or apart < TOUCH:
        return
    along = (a * a - b * b + apart * apart) / (2 * apart)
    aside = math.sqrt(max(a * a - along * along, 0.0))
    ux, uy = (bx - ax) / apart, (by - ay) / apart
    for sign in (1, -1):
        yield ax + along * ux - sign * aside * uy, ay + along * uy + sign * aside * ux


def _middle(placed: Sequence[Circle]) -> tuple[float, float]:
    """The middle of the areas."""
    total = sum(r * r for _, _, r in placed) or 1.0
    return (
        sum(x * r * r for x, _, r in placed) / total,
        sum(y * r * r for _, y, r in placed) / total,
    )
