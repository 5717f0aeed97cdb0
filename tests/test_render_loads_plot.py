"""Supply against load on sheets: parts as wide as they count, and nothing on top of anything."""

from __future__ import annotations

from pathlib import Path

import pytest
from ferrule.checks.capacity.limits import capacity
from ferrule.checks.tracing.trace import Stage, analyse
from ferrule.dsl.reader import read, read_text
from ferrule.render.audit import audit, missing_glyphs
from ferrule.render.canvas import Close, Open, Poly, Sheet, Text
from ferrule.render.draw import draw
from ferrule.render.frame import PAPERS
from ferrule.render.loads_plot import BEYOND
from ferrule.render.svg import svg

ROOT = Path(__file__).parents[1]
EXAMPLES = sorted((ROOT / "examples").glob("*.rig"))


def stage(path: Path) -> Stage:
    return analyse(read(path).rigs[-1])


def many(loads: int, modes: int) -> Stage:
    """A rig of many loads on many circuits, in many modes."""
    text = ['rig "Many"', "rules iec60364", "supply SUP 230V 50Hz 63A bonded",
            f"bus LB positions={loads + 2}", f"bus NB positions={loads + 2}",
            "wire WL 16mm2 1m SUP.L -> LB.1", "wire WN 16mm2 1m SUP.N -> NB.1"]  # fmt: skip
    for k in range(2, loads + 2):
        text += [
            f'load E{k} "A load with a rather long name, number {k}" 230V {40 * k}W class2',
            f"wire L{k} 4mm2 1m LB.{k} -> E{k}.L",
            f"wire N{k} 4mm2 1m NB.{k} -> E{k}.N",
        ]
    text += [f"mode m{k} {{ E{2 + k % loads}=off }}" for k in range(modes)]
    return analyse(read_text("\n".join(text) + "\n").rigs[-1])


def groups(sheet: Sheet) -> dict[str, list[object]]:
    """What is drawn for each limit, by the group's name."""
    found: dict[str, list[object]] = {}
    inside = ""
    for item in sheet.items:
        if isinstance(item, Open):
            inside = item.id
        elif isinstance(item, Close):
            inside = ""
        elif inside.startswith("limit-"):
            found.setdefault(inside, []).append(item)
    return found


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
@pytest.mark.parametrize("paper", PAPERS)
def test_nothing_overlaps(path: Path, paper: str) -> None:
    sheets = draw(stage(path), only=("loads",), paper=paper)
    assert sheets
    for sheet in sheets:
        assert [str(fault) for fault in audit(sheet)] == []
        assert missing_glyphs(sheet) == ""


@pytest.mark.parametrize(("loads", "modes"), [(1, 1), (3, 30), (60, 9)])
def test_nothing_overlaps_in_a_rig_of_many(loads: int, modes: int) -> None:
    for sheet in draw(many(loads, modes), only=("loads",)):
        assert [str(fault) for fault in audit(sheet)] == []


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_limit_of_every_mode_is_there_once(path: Path) -> None:
    traced = stage(path)
    drawn = [name for sheet in draw(traced, only=("loads",)) for name in groups(sheet)]
    wanted = [
        f"limit-{view.name}-{row.point.name}" for view in traced.modes
        for row in capacity(view).telling
    ]  # fmt: skip
    assert len(drawn) == len(set(drawn))
    assert sorted(drawn) == sorted(wanted)


def test_a_bar_is_as_long_as_what_counts_and_red_beyond_its_limit() -> None:
    """1000 and 1500 W on 10 A at 125 V: 8 and 12 A, so the limit lies at half of the bar."""
    text = """
rig "Bar"
rules iec60364
supply SUP 125V 50Hz 10A bonded
bus LB positions=3
bus NB positions=3
wire WL 16mm2 1m SUP.L -> LB.1
wire WN 16mm2 1m SUP.N -> NB.1
load E1 125V 1000W class2
wire L1 4mm2 1m LB.2 -> E1.L
wire N1 4mm2 1m NB.2 -> E1.N
load E2 125V 1500W class2
wire L2 4mm2 1m LB.3 -> E2.L
wire N2 4mm2 1m NB.3 -> E2.N
"""
    (sheet,) = draw(analyse(read_text(text).rigs[-1]), only=("loads",))
    marks = groups(sheet)["limit-all-SUP"]
    outlines = [mark for mark in marks if isinstance(mark, Poly) and mark.pen]
    spans = [(m.points[0][0], m.points[1][0]) for m in outlines]
    lengths = [right - left for left, right in spans]
    assert lengths[0] / lengths[1] == pytest.approx(1.5)  # the greater stands first
    red = sum(
        m.points[1][0] - m.points[0][0] for m in marks if isinstance(m, Poly) and m.fill == BEYOND
    )
    assert red == pytest.approx(sum(lengths) / 2)
    assert "20 of 10 A, 200 %" in {m.text for m in marks if isinstance(m, Text)}


def test_a_rig_without_loads_together_has_no_such_sheet() -> None:
    assert draw(stage(ROOT / "cli" / "starter.rig"), only=("loads",)) == []


def test_same_text_same_bytes() -> None:
    one, two = (draw(stage(EXAMPLES[0]), only=("loads",)) for _ in range(2))
    assert [svg(sheet) for sheet in one] == [svg(sheet) for sheet in two]
