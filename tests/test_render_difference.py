"""Old and new over each other: everything is there, told apart by line and by colour."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from ferrule.cli.main import main
from ferrule.dsl.compare import compare
from ferrule.dsl.model import Rig
from ferrule.dsl.reader import read, read_text
from ferrule.render.audit import audit
from ferrule.render.difference import PENS, difference, over
from ferrule.render.marks import Close, Open, Poly
from ferrule.render.svg import svg

EXAMPLES = Path(__file__).parent.parent / "examples"
PAIRS = [("field_kitchen", 0), ("field_kitchen", 1), ("mobile_clinic", 0), ("survey_launch", 1)]


def stages(name: str, index: int) -> tuple[Rig, Rig]:
    rigs = read(EXAMPLES / f"{name}.rig").rigs
    return rigs[index], rigs[index + 1]


@pytest.mark.parametrize(("name", "index"), PAIRS)
def test_nothing_overlaps(name: str, index: int) -> None:
    for sheet in difference(*stages(name, index)):
        assert audit(sheet) == [], sheet.title


@pytest.mark.parametrize(("name", "index"), PAIRS)
def test_both_rigs_are_in_it(name: str, index: int) -> None:
    old, new = stages(name, index)
    both, marks = over(old, new, compare(old, new))
    assert both.devices.keys() >= new.devices.keys() | old.devices.keys()
    assert both.conductors.keys() >= new.conductors.keys()
    for name in old.devices.keys() - new.devices.keys():
        assert both.devices[name].status == "removed" and marks[name] == "removed"
    for name in new.devices.keys() - old.devices.keys():
        assert marks[name] == "added"


def test_a_rig_beside_itself_has_no_mark() -> None:
    _, new = stages("field_kitchen", 0)
    both, marks = over(new, new, compare(new, new))
    assert marks == {} and both.conductors.keys() == new.conductors.keys()


def test_the_three_differ_in_line_and_in_colour() -> None:
    assert len({pen.colour for pen in PENS.values()}) == 3
    assert len({pen.dash for pen in PENS.values()} | {"solid"}) == 4


def test_marks_are_drawn_in_their_pens() -> None:
    old, new = stages("field_kitchen", 0)
    found: dict[str, set[str]] = {}
    for sheet in difference(old, new, ("overview",)):
        inside: list[str] = []
        for item in sheet.items:
            if isinstance(item, Open):
                inside.append(item.about or item.id)
            elif isinstance(item, Close):
                inside.pop()
            elif isinstance(item, Poly) and item.pen and inside:
                found.setdefault(inside[-1].partition(".")[0], set()).add(item.pen.dash)
    assert found["con-W34"] == {PENS["added"].dash}
    assert found["con-W3"] == {PENS["changed"].dash}
    assert found["con-W5"] == {"solid"}


LANDED = """rig "R" revision=A
rules abyc-e11
battery GB "Bank" 12V 100Ah fault=2kA holds=3
fuse F1 "Lamp" 10A class=ATO dc breaks=2kA
fuse F2 "Spare" 10A class=ATO dc breaks=2kA
lamp E1 "<b>Lamp</b> & more" 12V 24W dc
wire W1 14AWG 0.10m GB.+ -> F1.1
wire W2 14AWG 2.5m {} -> E1.+
wire W3 14AWG 2.5m E1.- -> GB.-
"""


def test_an_end_landed_elsewhere_is_drawn_at_both_terminals(tmp_path: Path) -> None:
    old, new = (read_text(LANDED.format(at)).rigs[0] for at in ("F1.2", "F2.2"))
    both, marks = over(old, new, compare(old, new))
    assert both.conductors["W2"].a.name == "F2.2"
    assert both.conductors["W2-was"].a.name == "F1.2"
    assert marks == {"W2": "changed", "W2-was": "removed"}
    texts = "".join(map(svg, difference(old, new)))
    assert "&lt;b&gt;Lamp" in texts and "<b>Lamp" not in texts


class Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))


@pytest.mark.parametrize("form", ["svg", "pdf", "html"])
def test_diff_writes_files(form: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = str(EXAMPLES / "field_kitchen.rig")
    words = ["diff", file, "--stages", "base", "GENSET", "--format", form]
    assert main([*words, "-o", str(tmp_path)]) == 1
    paths = [Path(line) for line in capsys.readouterr().out.split()]
    assert paths and all(p.is_file() and p.suffix == f".{form}" for p in paths)
    assert main(words) == 2
    assert "name a folder with -o" in capsys.readouterr().err


def test_the_page_asks_nothing_of_a_network(tmp_path: Path) -> None:
    file = str(EXAMPLES / "field_kitchen.rig")
    main(["diff", file, "--stages", "base", "GENSET", "--format", "html", "-o", str(tmp_path)])
    text = next(tmp_path.glob("*.html")).read_text(encoding="utf-8")
    tags = Tags()
    tags.feed(text)
    pictures = [attrs for tag, attrs in tags.found if tag == "img"]
    assert len(pictures) > 3 and all(p["alt"] for p in pictures)
    assert all(str(p["src"]).startswith("data:image/svg+xml;base64,") for p in pictures)
    assert not re.search(r"<script|<link|href=", text)
    assert "no text and no drawing is proof" in text
