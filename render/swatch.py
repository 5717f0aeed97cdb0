"""A conductor's colour as a bar: filled, striped where it has several colours, with a dark edge."""

from __future__ import annotations

from ..checks.trade.colours import Colour
from .canvas import Sheet
from .colours import swatches
from .marks import BLACK, GREY, HAIR, Box, Pen

HEIGHT = 1.6
STRIPE = 1.5

STATUS_DASH = {"planned": "short", "disabled": "dotted", "removed": "chain"}
"""Line type (ISO 128-2) of what carries nothing."""


def swatch(sheet: Sheet, left: float, right: float, y: float, shown: Colour, status: str) -> None:
    """A bar from ``left`` to ``right`` round the height ``y``, all in mm.

    A conductor without a colour is an empty bar with a dashed edge; one that carries nothing
    yet, or no longer, has the dash of its status.
    """
    box = Box(left, y - HEIGHT / 2, right, y + HEIGHT / 2)
    fills = swatches(shown)
    if status in STATUS_DASH or not fills:
        dash = STATUS_DASH.get(status, "short")
        sheet.rect(box, Pen(HAIR, BLACK if fills else GREY, dash), fills[0] if fills else None)
        return
    sheet.rect(box, None, fills[0])
    for fill in fills[1:]:
        x = left + STRIPE
        while x < right:
            sheet.rect(Box(x, box.top, min(x + STRIPE, right), box.bottom), None, fill)
            x += 2 * STRIPE
    sheet.rect(box, Pen(HAIR))
