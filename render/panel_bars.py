"""Bars and blocks of a panel, position by position, with what lands on each."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from ..dsl.model import Device
from .canvas import Sheet
from .marks import PALE, THIN, Box, Pen
from .metrics import T18, width, wrap
from .panel_parts import GAP, Strip, lines
from .panel_plan import Bar, Face, Pole
from .wiring import rating_text

STEP, HIGH, HEAD = 8.0, 6.0, 4.2
"""Width and height of a position, mm on the sheet (no true size), and room for the bar's name."""


def parts(face: Face, room: float) -> list[Strip]:
    """The bars, each in as many pieces as the room asks for."""
    return [part for bar in face.bars for part in _parts(bar, room)]


def others(face: Face, room: float) -> Iterator[Strip]:
    """What else stands in the panel, by name."""
    for device in face.others:
        yield from lines(f"Also in it: {_named(device)}", room)


def _named(device: Device) -> str:
    return " ".join(filter(None, (device.name, device.label, rating_text(device))))


def _parts(bar: Bar, room: float) -> Iterator[Strip]:
    """A bar in pieces that fit the room; each says the bar's name."""
    most = max(1, int(room // STEP))
    for start in range(0, len(bar.positions), most):
        piece = bar.positions[start : start + most]
        title = wrap(_named(bar.device), T18, max(len(piece) * STEP, 40.0), True)
        names = max((width(_landed(pole), T18) for pole in piece), default=0.0)
        height = HEAD * len(title) * 0.75 + 1.5 + HIGH + names + GAP
        wide = max([len(piece) * STEP, *(width(line, T18, True) for line in title)])
        yield Strip(min(wide, room), height, partial(_draw, bar.device, piece, title))


def _landed(pole: Pole) -> str:
    return ", ".join(pole.conductors)


def _draw(
    device: Device, positions: tuple[Pole, ...], title: list[str], sheet: Sheet, x: float, y: float
) -> None:
    with sheet.group(f"dev-{device.name}", f"device {device.kind}", device.name):
        block = sheet.block()
        for index, text in enumerate(title):
            down = y + T18 + 0.5 + index * HEAD * 0.75
            sheet.text(x, down, text, T18, bold=True, cell=True, block=block)
        top = y + HEAD * len(title) * 0.75 + 1.5
        for index, pole in enumerate(positions):
            box = Box(x + index * STEP, top, x + (index + 1) * STEP, top + HIGH)
            sheet.rect(box, Pen(THIN), PALE if pole.conductors else "#ffffff")
            middle, half = box.centre
            sheet.text(middle, half, pole.terminal, T18, anchor="middle", level="middle", cell=True)
            sheet.text(
                middle + T18 / 2, box.bottom + 1.2, _landed(pole), T18, rotate=90, anchor="end",
                cell=True,
            )  # fmt: skip
