"""The bound set: cover, bookmarks, links, labels of pages, document information."""

from __future__ import annotations

import logging
import re
from io import BytesIO
from pathlib import Path

import pypdf
import pytest
from ferrule.checks.capacity.supply import aboard, intakes, mode_rows
from ferrule.checks.tracing.trace import Stage, analyse
from ferrule.dsl.reader import read, read_text
from ferrule.render.audit import audit
from ferrule.render.canvas import Sheet
from ferrule.render.cover import CARD, DOC, facts_of
from ferrule.render.draw import draw
from ferrule.render.frame import PAPERS, zone_of
from ferrule.render.metrics import T18
from ferrule.render.pdf import pdf
from ferrule.render.references import REFERENCE, bookmark, leaves

ROOT = Path(__file__).parents[1]
EXAMPLES = sorted((ROOT / "examples").glob("*.rig"))
POINTS = 72 / 25.4
SETS = [
    *((path.stem, "") for path in EXAMPLES),
    ("field_kitchen", "A4"), ("survey_launch", "A3"), ("mobile_clinic", "A"),
    ("field_kitchen", "B"),
]  # fmt: skip
"""Every example on the paper that goes with it, and each paper that can be asked for."""
SIZES = {"A3": (420, 297), "A4": (297, 210), "B": (431.8, 279.4), "A": (279.4, 215.9)}


def stage_of(name: str) -> Stage:
    return analyse(read(ROOT / f"examples/{name}.rig").rigs[-1])


class Bound:
    """A set as sheets and as a file."""

    def __init__(self, name: str, paper: str) -> None:
        self.name, self.paper, self.stage = name, paper, stage_of(name)
        self.sheets = [sheet for sheet in draw(self.stage, paper=paper) if sheet.framed]
        self.data = pdf(self.sheets, "Title", facts_of(self.stage.rig))
        self.reader = pypdf.PdfReader(BytesIO(self.data), strict=True)

    def links(self, page: int) -> list[tuple[pypdf.generic.RectangleObject, int]]:
        """Where each link of a page is, and the page it leads to."""
        ids = {p.indirect_reference.idnum: i for i, p in enumerate(self.reader.pages)}
        notes = [note.get_object() for note in self.reader.pages[page].get("/Annots", [])]
        assert all(note["/Subtype"] == "/Link" for note in notes)
        return [(note["/Rect"], ids[note["/Dest"][0].idnum]) for note in notes]


    def words(self) -> str:
        """Of the cover, and of the supply card where small paper gives it a page of its own."""
        first = self.reader.pages[: 1 + (self.sheets[1].doc == CARD)]
        return re.sub(r"\s", "", "".join(page.extract_text() for page in first))


@pytest.fixture(scope="module", params=SETS, ids=lambda pair: "-".join(filter(None, pair)))
def bound(request: pytest.FixtureRequest) -> Bound:
    return Bound(*request.param)


def test_every_page_has_the_size_of_its_paper(bound: Bound) -> None:
    """ISO 216 A3 and A4, ANSI/ASME Y14.1 A and B, on their long side."""
    paper = bound.paper or {"field_kitchen": "A3"}.get(bound.name, "B")
    for page in bound.reader.pages:
        size = (float(page.mediabox.width) / POINTS, float(page.mediabox.height) / POINTS)
        assert size == pytest.approx(SIZES[paper], abs=0.1)


def test_the_file_is_sound(bound: Bound, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.WARNING):
        again = pypdf.PdfReader(BytesIO(bound.data), strict=True)
        assert len(again.pages) == len(bound.sheets)
    assert caplog.messages == []


def test_a_bookmark_for_each_document_and_below_it_for_each_sheet(bound: Bound) -> None:
    flat: list[tuple[str, int]] = []
    for mark in bound.reader.outline:
        for each in mark if isinstance(mark, list) else [mark]:
            page = bound.reader.get_destination_page_number(each)
            assert page is not None
            flat.append((each.title, page))
    own = [(bookmark(sheet), page) for page, sheet in enumerate(bound.sheets)]
    assert [pair for pair in flat if pair in own] == own
    chapters = {title for title, _ in flat if (title, _) not in own}
    several = {s.doc for s in bound.sheets if sum(o.doc == s.doc for o in bound.sheets) > 1}
    assert chapters == several


def test_pages_are_labelled_with_the_numbers_of_the_title_block(bound: Bound) -> None:
    assert bound.reader.page_labels == [str(sheet.number) for sheet in bound.sheets]


def test_document_information_and_no_date(bound: Bound) -> None:
    told = dict(bound.reader.metadata or {})
    assert told["/Title"] == "Title"
    assert bound.stage.rig.stage in told["/Subject"]
    assert re.search(r"[0-9a-f]{12}", told["/Keywords"])
    assert not {"/CreationDate", "/ModDate"} & told.keys()


def test_every_reference_on_a_sheet_is_a_link_to_the_page_it_names(bound: Bound) -> None:
    """From the words that can be selected to where a click on them leads."""
    followed = 0
    for page, sheet in enumerate(bound.sheets):
        wanted = sorted(
            int(found[1]) - 1
            for item in sheet.items
            if hasattr(item, "text")
            for found in REFERENCE.finditer(item.text)
            if int(found[1]) <= len(bound.sheets)
        )
        own = [goal - 1 for _, goal in sheet.links]
        assert sorted(goal for _, goal in bound.links(page)) == sorted([*wanted, *own])
        followed += len(wanted)
    assert followed > 10


def test_links_lie_within_their_page(bound: Bound) -> None:
    for page, sheet in enumerate(bound.sheets):
        for rect, _ in bound.links(page):
            left, bottom, right, top = (float(side) / POINTS for side in rect)
            assert 0 <= left < right <= sheet.width
            assert 0 <= bottom < top <= sheet.height


def test_the_cover_lists_every_document_and_each_line_leads_there(bound: Bound) -> None:
    cover = bound.sheets[0]
    assert cover.doc == DOC and cover.number == 1
    words = bound.reader.pages[0].extract_text().replace(" ", "")
    firsts: dict[str, int] = {}
    for page, sheet in enumerate(bound.sheets):
        firsts.setdefault(sheet.doc, page)
        assert sheet.doc.replace(" ", "") in words
    assert [goal for _, goal in bound.links(0)] == list(firsts.values())


def test_the_cover_says_rig_revision_and_modes(bound: Bound) -> None:
    rig = bound.stage.rig
    words = bound.words()
    assert rig.label.replace(" ", "") in words
    assert list(rig.revisions) == ["A", "B", "C"]
    for issue in rig.revisions.values():
        for said in (issue.label, issue.text("date"), issue.text("drawn")):
            assert said.replace(" ", "") in words
    for name in (*rig.modes, *rig.stages):
        assert name in words


@pytest.mark.parametrize("paper", list(PAPERS))
def test_every_paper(paper: str) -> None:
    """New sheets on ISO A4 and A3, ANSI A and B: nothing overlaps, nothing is left out."""
    stage = stage_of("survey_launch")
    only = ("cover", "commissioning", "probes")
    sheets = draw(stage, only=only, paper=paper)
    assert {(sheet.width, sheet.height) for sheet in sheets} == {PAPERS[paper]}
    for sheet in sheets:
        assert audit(sheet) == []
    reader = pypdf.PdfReader(BytesIO(pdf(sheets, "t")))
    words = "".join(page.extract_text() for page in reader.pages).replace(" ", "")
    assert "SEE-torque" in words and "dockside" in words


def test_a_reference_leads_to_the_zone_it_names() -> None:
    one, two = (Sheet(420, 297, "T", "D", number=n, of=2) for n in (1, 2))
    one.text(50, 50, "see 2/C4, not 2/Z9 nor 7/A1 nor C1/2", T18)
    found = leaves([one, two])[0].links
    assert [link.page for link in found] == [1]
    part = found[0].part
    assert part is not None
    middle = zone_of(two, (part.left + part.right) / 2, (part.top + part.bottom) / 2)
    assert middle == "C4"


def test_a_turned_reference_is_a_tall_link() -> None:
    one, two = (Sheet(420, 297, "T", "D", number=n, of=2) for n in (1, 2))
    one.text(50, 100, "to 2/B3", T18, rotate=90)
    box = leaves([one, two])[0].links[0].box
    assert box.bottom - box.top > box.right - box.left
    assert box.bottom < 100, "the words before it are below it"


def test_batteries_stand_on_the_cover_with_what_protects_them(bound: Bound) -> None:
    """12.8 V, 200 Ah, 3 kA behind a fuse of 160 A that breaks 25 kA, in the kitchen's text."""
    words = bound.words()
    batteries = [d for d in bound.stage.rig.devices.values() if d.kind == "battery"]
    assert batteries
    for battery in batteries:
        assert f"{battery.name}{battery.label}".replace(" ", "") in words
    told = {each.source: each for each in aboard(bound.stage)}
    assert {d.name for d in batteries} <= told.keys()
    if bound.stage.rig.label == "Field kitchen trailer":
        assert told["GB"] == ("GB", None, 3000, ("F10",), ("site", "gen", "night"))
        assert "F10160A(25kA)" in words


# trade: the supply box of a mobile unit lists what it tolerates of a site.
BOX = """rig "R" revision=A
rules iec60364
supply S "Site" 230V 50Hz 16A fault=1kA bonded
inlet X "Inlet" 16A
breaker Q 10A poles=2 curve=B breaks=6kA standard=IEC60898
bus EB 50A positions=6
heater E 230V 1000W
cable W1 3x2.5mm2 10m S.(L N PE) -> X.(L N PE) cord plug
cable W2 3x2.5mm2 2m X.(L N PE) -> Q.(1 3) EB.1
cable W3 3x1.5mm2 10m Q.(2 4) EB.2 -> E.(L N PE)
mode on { }
mode off { S=off X=off }
"""


def test_the_supply_card_by_hand() -> None:
    """10 A, 6 kA; B10 opens at 50 A: 0.95 x 230 / 50 = 4.37 ohm less the rig's own wiring, hot.

    2 m of 2.5 mm2 and 10 m of 1.5 mm2, there and back: IEC 60228 at 20 degC, x 1.2 at 70 degC.
    """
    reading = read_text(BOX)
    assert not reading.problems, reading.problems
    stage = analyse(reading.rigs[0])
    (intake,) = intakes(stage)
    assert intake.amps == (10, "Q")
    assert intake.fault == (6000, "Q")
    own = 2 * (2 * 7.41 + 10 * 12.1) / 1000 * 1.2
    assert intake.ohms is not None
    assert intake.ohms[0] == pytest.approx(4.37 - own, rel=0.005)
    on, off = mode_rows(stage)
    assert (on.live, on.joints, on.limits) == (("S",), ("S: S",), ("S: 16 A",))
    assert (off.live, off.joints) == ((), ())
