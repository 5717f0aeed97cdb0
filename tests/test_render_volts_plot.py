"""Voltage plots: what is drawn lies where the figures say, and nothing on anything else."""

from __future__ import annotations

import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest
from ferrule.checks.figures.profile import Profile, worst
from ferrule.checks.tracing.trace import Stage, analyse
from ferrule.dsl.reader import read, read_text
from ferrule.render import volts_plot
from ferrule.render.audit import audit, missing_glyphs
from ferrule.render.canvas import Open, Poly, Sheet, Text
from ferrule.render.draw import DOCUMENTS, draw
from ferrule.render.frame import PAPERS
from ferrule.render.marks import AMBER, BLUE, RED, Point

ROOT = Path(__file__).parents[1]
EXAMPLES = sorted((ROOT / "examples").glob("*.rig"))
RIGS = [
    *EXAMPLES,
    *sorted((ROOT / "tests" / "rigs").glob("*.rig")),
    ROOT / "cli" / "starter.rig",
]
KITCHEN = ROOT / "examples" / "field_kitchen.rig"


@cache
def stages(path: Path) -> tuple[Stage, ...]:
    return tuple(analyse(rig) for rig in read(path).rigs)


def stage(path: Path) -> Stage:
    return stages(path)[-1]


def plots(path: Path, paper: str = "") -> list[Sheet]:
    sheets = draw(stage(path), only=("volts",), paper=paper)
    return [sheet for sheet in sheets if sheet.doc == volts_plot.DOC]


@pytest.mark.parametrize("path", RIGS, ids=lambda path: path.stem)
def test_nothing_overlaps_and_nothing_is_missing(path: Path) -> None:
    assert plots(path)
    for sheet in plots(path):
        assert [str(fault) for fault in audit(sheet)] == [], sheet.title
        assert missing_glyphs(sheet) == ""


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_it_fits_every_paper(path: Path, paper: str) -> None:
    for each in stages(path):
        for sheet in draw(each, only=("volts",), paper=paper):
            assert [str(fault) for fault in audit(sheet)] == [], sheet.title


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_a_few_sheets_for_an_example(path: Path) -> None:
    assert 0 < len(plots(path)) <= 4


def ways(sheet: Sheet) -> list[list[object]]:
    """The marks of each way on a sheet."""
    starts = [i for i, m in enumerate(sheet.items) if isinstance(m, Open) and m.cls == "way"]
    return [sheet.items[a:b] for a, b in zip(starts, [*starts[1:], None], strict=True)]


def lines(marks: list[object], colour: str) -> list[tuple[Point, ...]]:
    """The lines of one colour that are more than a tick."""
    polys = [m for m in marks if isinstance(m, Poly) and m.pen and not m.closed]
    return [m.points for m in polys if m.pen and m.pen.colour == colour and m.pen.width > 0.3]


def window(marks: list[object]) -> tuple[float, float, float, float]:
    frame = next(m for m in marks if isinstance(m, Poly) and m.closed and m.fill is None)
    (left, top), _, (right, bottom), _ = frame.points
    return left, top, right, bottom


def pairs(path: Path) -> list[tuple[Profile, list[object]]]:
    marks = [group for sheet in plots(path) for group in ways(sheet)]
    return list(zip(worst(stage(path)), marks, strict=True))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_lines_stand_at_their_volts_and_metres(path: Path) -> None:
    """Measured on the sheet, with the window's upper edge as nominal and the limit's line."""
    for way, marks in pairs(path):
        left, top, right, _ = window(marks)
        assert way.limit is not None
        ((_, limit), _) = lines(marks, RED)[0]
        per_cent = (limit - top) / way.limit.value
        (running,) = lines(marks, BLUE)
        for (x, y), point in zip(running, way.points, strict=True):
            share = point.metres / way.points[-1].metres
            assert x == pytest.approx(left + share * (right - left))
            lost = 100 * (1 - point.volts / way.drop.nominal)
            assert (y - top) / per_cent == pytest.approx(lost, abs=1e-6)
        starting = lines(marks, AMBER)
        assert len(starting) == (way.sag is not None)
        for line in starting:
            assert way.sag is not None
            assert (line[-1][1] - top) / per_cent == pytest.approx(way.sag.percent, abs=1e-6)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_table_tells_every_device_and_who_must_meet_the_limit(path: Path) -> None:
    who = {"nfpa70": "Recommended", "iec60364": "Advice", "abyc-e11": "Required"}
    for way, marks in pairs(path):
        texts = [m.text for m in marks if isinstance(m, Text)]
        for point in way.points:
            assert any(text.startswith(point.terminal) for text in texts)
        assert any(who[stage(path).book.name] in text for text in texts)


def test_no_sheet_where_nothing_is_fed() -> None:
    text = "rules abyc-e11\nbattery GB 12V 100Ah fault=2kA\nfuse F1 60A dc class=ANL\n"
    text += "wire W1 6AWG 0.1m GB.+ -> F1.1\n"
    whole = analyse(read_text(text).rigs[0])
    assert DOCUMENTS["volts"](whole, volts_plot.Options()) == []


def test_same_text_same_bytes(tmp_path: Path) -> None:
    """Two processes with other orders of hashes write the same files."""
    written = []
    for seed in ("0", "7"):
        out = tmp_path / seed
        argv = ["draw", str(KITCHEN), "--only", "volts", "--format", "svg,pdf", "-o", str(out)]
        code = f"import sys; from ferrule.cli.main import main; sys.exit(main({argv!r}))"
        env = {"PYTHONHASHSEED": seed, "PATH": "", "HOME": str(tmp_path)}
        ran = subprocess.run([sys.executable, "-c", code], capture_output=True, env=env, text=True)
        assert ran.returncode == 0, ran.stderr
        written.append({file.name: file.read_bytes() for file in sorted(out.iterdir())})
    assert written[0] == written[1] and len(written[0]) > 1
