"""The frame against ISO 5457:1999 and ISO 7200:2004, from tables that quote them."""

from __future__ import annotations

from itertools import pairwise

import pytest
from ferrule.dsl.reader import read_text
from ferrule.render import frame
from ferrule.render.audit import audit
from ferrule.render.canvas import Box, Poly, Sheet, Text
from ferrule.render.frame import PAPERS, Titles, blank, finish, zone_of

TITLES = Titles("Travelling library van", "base", "B", "2026-01-01", digest="0123456789ab")


def framed(paper: str, titles: Titles = TITLES) -> Sheet:
    sheet = blank(paper, "AC distribution", "Single-line diagram")
    sheet.number, sheet.of = 3, 12
    finish(sheet, titles)
    return sheet


def texts(sheet: Sheet) -> list[str]:
    return [item.text for item in sheet.items if isinstance(item, Text)]


def test_a_sizes_and_drawing_space() -> None:
    """ISO 5457:1999, table 1: A3 297 x 420 trimmed, drawing space 277 x 390 mm."""
    sheet = blank("A3", "", "")
    assert (sheet.width, sheet.height) == (420, 297)
    space = frame.frame_of(sheet)
    assert (space.width, space.height) == (390, 277)
    assert PAPERS["A4"] == (297, 210)


@pytest.mark.parametrize(("paper", "inches"), [("A", (11, 8.5)), ("B", (17, 11))])
def test_north_american_sizes(paper: str, inches: tuple[float, float]) -> None:
    """ASME Y14.1: size A 8.5 x 11 in, size B 11 x 17 in."""
    assert PAPERS[paper] == pytest.approx([side * 25.4 for side in inches])


@pytest.mark.parametrize("paper", PAPERS)
def test_borders(paper: str) -> None:
    """ISO 5457:1999, 4.2: 20 mm left for filing, 10 mm on the other sides; frame line 0.7 mm."""
    sheet = framed(paper)
    space = frame.frame_of(sheet)
    assert (space.left, space.top) == (20, 10)
    assert (sheet.width - space.right, sheet.height - space.bottom) == pytest.approx((10, 10))
    lines = [i for i in sheet.items if isinstance(i, Poly) and i.pen and i.pen.width == 0.7]
    assert any(Box(*i.points[0], *i.points[2]) == space for i in lines)


@pytest.mark.parametrize(("paper", "columns", "rows"), [("A3", 8, 6), ("A4", 6, 4)])
def test_zones(paper: str, columns: int, rows: int) -> None:
    """ISO 5457:1999, 4.4 and table 2: A3 eight by six, A4 six by four, 50 mm from the middle."""
    sheet = blank(paper, "", "")
    across, down = frame.columns(sheet), frame.rows(sheet)
    assert (len(across) - 1, len(down) - 1) == (columns, rows)
    assert sheet.width / 2 in across
    assert sheet.height / 2 in down
    inner = [b - a for a, b in pairwise(across[1:-1])]
    assert inner == pytest.approx([50] * len(inner))


@pytest.mark.parametrize(
    ("x", "y", "zone"),
    [(21, 11, "A1"), (209, 148, "C4"), (211, 149, "D5"), (409, 286, "F8"), (61, 49, "B2")],
)
def test_zone_of_a_point(x: float, y: float, zone: str) -> None:
    """The sheet's middle lies between C4 and D5; letters run down, numbers to the right."""
    assert zone_of(blank("A3", "", ""), x, y) == zone


def test_zone_letters_leave_out_i_and_o() -> None:
    """ISO 5457:1999, 4.4."""
    assert not {"I", "O"} & set(frame.LETTERS)


@pytest.mark.parametrize("paper", PAPERS)
def test_the_marks_on_the_border_are_the_zones(paper: str) -> None:
    sheet = framed(paper)
    middle = sheet.width / 2 + 1
    column = zone_of(sheet, middle, 50)[1:]
    marks = [i for i in sheet.items if isinstance(i, Text) and i.text == column and i.size == 3.5]
    assert marks and all(abs(mark.x - middle) < 50 for mark in marks)


@pytest.mark.parametrize("paper", PAPERS)
def test_title_block(paper: str) -> None:
    """ISO 7200:2004: at most 180 mm wide, lower right in the frame, with its mandatory fields."""
    sheet = framed(paper)
    block, space = frame.block_of(sheet), frame.frame_of(sheet)
    assert block.width <= 180
    assert (block.right, block.bottom) == (space.right, space.bottom)
    assert {"Title", "Document type", "Date", "Identification", "Sheet", "Rev."} <= set(
        texts(sheet)
    )
    assert {"Travelling library van", "Single-line diagram", "2026-01-01", "3/12"} <= set(
        texts(sheet)
    )


@pytest.mark.parametrize("paper", PAPERS)
def test_room_for_drawing_keeps_off_the_title_block(paper: str) -> None:
    sheet = blank(paper, "", "")
    for room in (frame.area(sheet), frame.notes(sheet)):
        assert frame.frame_of(sheet).holds(room)
        assert not room.meets(frame.block_of(sheet))


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", ["Van", "W" * 60, "Extraordinarily long rig name " * 4])
def test_nothing_in_the_frame_overlaps(paper: str, name: str) -> None:
    long = Titles(name, name, "AA", "2026-01-01", name, name, "0123456789ab", "w" * 40)
    assert audit(framed(paper, long)) == []


@pytest.mark.parametrize("paper", PAPERS)
def test_every_sheet_carries_the_cautions(paper: str) -> None:
    said = " ".join(texts(framed(paper)))
    for caution in frame.CAUTIONS:
        assert caution in said


def test_digest_follows_the_text_and_not_the_name_of_the_file() -> None:
    text = 'rig "A" revision=2 drawn="E. Field"\nrules nfpa70\n'

    def titles(source: str, file: str) -> Titles:
        return frame.titles_of(read_text(source, file).rigs[0])

    assert titles(text, "a.rig").digest == titles(text, "b.rig").digest
    assert titles(text, "a.rig").digest != titles(text + "# more\n", "a.rig").digest
    assert titles(text, "a.rig").revision == "2"


@pytest.mark.parametrize(
    ("own", "block"),
    [
        ("", ("B", "2025-02-01", "KL", "")),
        ("revision=A date=2024-12-01 checked=MO", ("B", "2025-02-01", "KL", "")),
        ("revision=B checked=MO", ("B", "2025-02-01", "KL", "MO")),
        ("revision=C date=2025-03-01", ("C", "2025-03-01", "", "")),
    ],
)
def test_the_title_block_tells_the_last_revision(own: str, block: tuple[str, ...]) -> None:
    """A rig that names one that is not in the list goes before it."""
    text = (
        f'rig "R" {own}\nrules nfpa70\nrevision A "First" date=2025-01-01\n'
        'revision B "Second" date=2025-02-01 drawn=KL\n'
    )
    titles = frame.titles_of(read_text(text).rigs[0])
    assert (titles.revision, titles.date, titles.drawn, titles.checked) == block
