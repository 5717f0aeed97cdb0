"""The sheets of the examples in figures, held where they are: ``benchmarks/sheets.py``.

The bars lie a little over what is drawn today, so that a new line in an example may cross one more.
They are our own; no standard gives any.  Lettering: ISO 3098, 1.8 mm at least.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from functools import cache
from itertools import combinations
from pathlib import Path

import pytest
from ferrule.checks.tracing.trace import analyse
from ferrule.dsl.reader import read, read_text
from ferrule.render.canvas import Sheet
from ferrule.render.draw import draw
from ferrule.render.frame import area, blank
from ferrule.render.marks import Box, Open, Poly, Text, box_of

ROOT = Path(__file__).parent.parent
sys.path.insert(0, str(ROOT / "benchmarks"))
from sheets import Figures, figures, measured, stage_of  # noqa: E402


@dataclass(frozen=True)
class Bars:
    """At most so many sheets, crossings and bends; at least this share used, mean over sheets."""

    sheets: int
    crossings: int
    bends: int
    used: float


BARS = {
    "field_kitchen": Bars(13, 30, 120, 0.55),
    "mobile_clinic": Bars(12, 30, 140, 0.55),
    "survey_launch": Bars(13, 40, 150, 0.60),
}
"""Before what lies elsewhere was told beside each device there were 158, 131 and 160 crossings."""
DIAGRAMS = ("Single-line diagram", "Wiring overview")
DRAWN = (*DIAGRAMS, "Wiring diagram", "Wiring chart", "Legend")


@cache
def example(name: str) -> list[Figures]:
    found = measured(ROOT / "examples" / f"{name}.rig")
    return [sheet for sheet in found if sheet.title.startswith(DRAWN)]


@pytest.mark.parametrize("name", BARS)
def test_the_examples_keep_their_figures(name: str) -> None:
    found, bars = example(name), BARS[name]
    assert [f.number for f in found if f.overlaps] == []
    assert min(f.least for f in found) >= 1.8
    assert len(found) <= bars.sheets
    assert sum(f.crossings for f in found) <= bars.crossings
    assert sum(f.bends for f in found) <= bars.bends
    assert sum(f.used for f in found) / len(found) >= bars.used


MADE = {
    "radial-14": (5, 30),
    "two-source-14": (60, 95),
    "dc-14": (5, 60),
    "three-phase-14": (65, 95),
}
"""Crossings and bends of the diagrams of made rigs, a little over what is drawn today."""


@pytest.mark.parametrize("name", MADE)
def test_made_rigs_keep_their_figures(name: str) -> None:
    found = [figures(sheet) for sheet in draw(stage_of(name), only=("single-line", "overview"))]
    assert [f.number for f in found if f.overlaps] == []
    assert sum(f.crossings for f in found) <= MADE[name][0]
    assert sum(f.bends for f in found) <= MADE[name][1]


@pytest.mark.parametrize("name", BARS)
def test_no_diagram_is_a_corner_of_an_empty_sheet(name: str) -> None:
    for sheet in (f for f in example(name) if f.title.startswith(DIAGRAMS)):
        assert sheet.used > 0.25 or sheet.off < 30, sheet.title


# ---- several places on a sheet -------------------------------------------------------------------


def framed(sheet: Sheet) -> dict[str, list[Box]]:
    """The outlines of a sheet by what they are: frames of places, devices."""
    found: dict[str, list[Box]] = {"place": [], "device": []}
    waiting = ""
    for item in sheet.items:
        if isinstance(item, Open):
            waiting = item.cls if item.cls in found else ""
        elif isinstance(item, Poly) and item.closed and waiting:
            found[waiting].append(box_of(item))
            waiting = ""
    return found


@pytest.mark.parametrize("name", BARS)
def test_small_places_share_a_sheet_each_in_its_frame(name: str) -> None:
    stage = analyse(read(ROOT / "examples" / f"{name}.rig").rigs[-1])
    found = [framed(sheet) for sheet in draw(stage, only=("overview",))]
    shared = [boxes for boxes in found if boxes["place"]]
    assert shared and all(len(boxes["place"]) > 1 for boxes in shared)
    for boxes in shared:
        for one, two in combinations(boxes["place"], 2):
            assert not one.grown(1).meets(two)
        for device in boxes["device"]:
            assert sum(frame.holds(device) for frame in boxes["place"]) == 1


def test_what_has_no_place_is_said_in_words() -> None:
    stage = analyse(read_text('rig "R"\nrules iec60364\nlamp E1 230V 5W\n').rigs[0])
    words = {i.text for sheet in draw(stage) for i in sheet.items if isinstance(i, Text)}
    assert "No place given" in words


# ---- the measures themselves ---------------------------------------------------------------------


def drawn(*lines: list[tuple[float, float]]) -> Sheet:
    sheet = blank("A3", "Test", "Test")
    for number, points in enumerate(lines):
        with sheet.group(f"run-W{number}", "run"):
            sheet.line(points)
    return sheet


def test_a_crossing_is_counted_and_a_joint_is_none() -> None:
    across = [(50.0, 100.0), (150.0, 100.0)]
    assert figures(drawn(across, [(100.0, 50.0), (100.0, 150.0)])).crossings == 1
    assert figures(drawn(across, [(100.0, 50.0), (100.0, 100.0)])).crossings == 0


def test_bends_are_corners() -> None:
    line = [(50.0, 50.0), (50.0, 80.0), (90.0, 80.0), (120.0, 80.0), (120.0, 60.0)]
    assert figures(drawn(line)).bends == 2


def test_share_used_and_balance() -> None:
    sheet = blank("A3", "Test", "Test")
    room = area(sheet)
    sheet.rect(room.grown(-0.5))
    full = figures(sheet)
    assert full.used == pytest.approx(1.0) and full.off < 1
    corner = drawn([(room.left, room.top + 1), (room.left + 5, room.top + 1)])
    assert figures(corner).used < 0.01
    assert figures(corner).off == pytest.approx(room.width / 2 - 2.5, abs=0.5)
