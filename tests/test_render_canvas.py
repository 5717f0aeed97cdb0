"""The display list: extents, turned and mirrored symbols, groups."""

from __future__ import annotations

import math

import pytest
from ferrule.render.canvas import Arc, Box, Close, Open, Pen, Placement, Poly, Sheet, Stencil, Text
from ferrule.render.metrics import T18, width

ARROW = Stencil(
    "arrow",
    (Poly(((0, 0), (0, 10))), Poly(((0, 10), (2, 8))), Text(3, 5.9, "A", T18, anchor="middle")),
    {"top": (0.0, 0.0), "bottom": (0.0, 10.0), "side": (3.0, 4.0)},
    Box(-0.2, -0.2, 4, 10.2),
)


@pytest.mark.parametrize(
    ("turn", "mirror", "side"),
    [
        (0, False, (103, 54)),
        (0, True, (97, 54)),
        (90, False, (104, 47)),  # counter-clockwise: what was right points up
        (180, False, (97, 46)),
        (270, False, (96, 53)),
        (90, True, (104, 53)),
    ],
)
def test_anchors_follow_turn_and_mirror(turn: int, mirror: bool, side: tuple[float, float]) -> None:
    sheet = Sheet(420, 297)
    placed = sheet.put(ARROW, 100, 50, turn, mirror)
    assert placed["side"] == pytest.approx(side)
    assert placed["top"] == (100, 50)
    assert placed.box.holds(Box(*placed["side"], *placed["side"]))


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_letters_stay_upright_and_keep_their_middle(turn: int) -> None:
    sheet = Sheet(420, 297)
    sheet.put(ARROW, 100, 50, turn)
    letter = next(item for item in sheet.items if isinstance(item, Text))
    assert letter.rotate == 0
    middle = Placement(100, 50, turn).point((3, 5))
    assert letter.box.centre == pytest.approx(middle, abs=0.02)


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
@pytest.mark.parametrize("mirror", [False, True])
def test_an_arc_turns_as_the_points_on_it_do(turn: int, mirror: bool) -> None:
    arc, where = Arc(1, 2, 3, 2, 20, 130), Placement(10, 20, turn, mirror)
    moved = where.mark(arc)
    assert isinstance(moved, Arc)
    ours = {(round(x, 6), round(y, 6)) for x, y in moved.flat()}
    assert ours == {(round(x, 6), round(y, 6)) for x, y in map(where.point, arc.flat())}


def test_angles_run_counter_clockwise_and_y_downwards() -> None:
    assert Arc(0, 0, 1, 1).point(90) == pytest.approx((0, -1))


@pytest.mark.parametrize(("anchor", "left"), [("start", 50), ("middle", None), ("end", None)])
def test_text_stands_where_its_anchor_says(anchor: str, left: float | None) -> None:
    sheet = Sheet(420, 297)
    text = sheet.text(50, 60, "Hx", T18, anchor=anchor)
    assert text is not None
    wide = width("Hx", T18)
    assert text.box.left == pytest.approx(
        {"start": 50, "middle": 50 - wide / 2, "end": 50 - wide}[anchor]
    )
    assert text.box.bottom == pytest.approx(60)
    assert text.box.height == pytest.approx(1.8, abs=0.01)


def test_rotated_text_reads_from_below() -> None:
    text = Sheet(420, 297).text(50, 60, "HH", T18, rotate=90)
    assert text is not None
    assert text.box.bottom == pytest.approx(60)
    assert text.box.right == pytest.approx(50)
    assert text.box.height == pytest.approx(width("HH", T18))


@pytest.mark.parametrize("rotate", [0, 90])
def test_level_middle_centres_the_capitals(rotate: int) -> None:
    text = Sheet(420, 297).text(50, 60, "H", 3.5, anchor="middle", level="middle", rotate=rotate)
    assert text is not None
    assert text.box.centre == pytest.approx((50, 60), abs=0.01)


def test_groups_nest_and_a_repeated_id_stays_unique() -> None:
    sheet = Sheet(420, 297)
    with sheet.group("a"), sheet.group("dev-Q1"):
        pass
    with sheet.group("dev-Q1", href="#x"):
        sheet.line([(0, 0), (1, 1)])
    opened = [item.id for item in sheet.items if isinstance(item, Open)]
    assert opened == ["a", "dev-Q1", "dev-Q1-2"]
    assert [i.link for i in sheet.items if isinstance(i, Close)] == [False, False, True]


def test_dashes_grow_with_the_line() -> None:
    """ISO 128-2: a dash is twelve, a gap three widths long."""
    assert Pen(0.5, dash="dashed").dashes() == pytest.approx((6, 1.5))


def test_flat_arc_stays_close_to_the_curve() -> None:
    arc = Arc(0, 0, 5, 5, 0, 360)
    chords = zip(arc.flat(), arc.flat()[1:], strict=False)
    sag = max(5 - math.hypot((ax + bx) / 2, (ay + by) / 2) for (ax, ay), (bx, by) in chords)
    assert sag < 0.05
