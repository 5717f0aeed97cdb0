"""Time-current curves: what is drawn lies where the figures say, and nothing on anything else."""

from __future__ import annotations

import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest
from ferrule.checks.bands import Band
from ferrule.checks.figures.coordination import MOST, Chain, chains
from ferrule.checks.tracing.trace import Stage, analyse
from ferrule.dsl.reader import read, read_text
from ferrule.render import curves
from ferrule.render.audit import audit, missing_glyphs
from ferrule.render.canvas import Open, Poly, Sheet
from ferrule.render.draw import draw
from ferrule.render.loglog import LogLog
from ferrule.render.marks import Box
from hypothesis import given
from hypothesis import strategies as st

ROOT = Path(__file__).parents[1]
RIGS = [
    *sorted((ROOT / "examples").glob("*.rig")),
    *(
        ROOT / "tests" / "rigs" / f"{name}.rig"
        for name in ("dc48_solar", "split_50A", "three_400V")
    ),
    ROOT / "cli" / "starter.rig",
]
KITCHEN = ROOT / "examples" / "field_kitchen.rig"
BOX = Box(50.0, 20.0, 250.0, 120.0)
AXES = LogLog(BOX, (1.0, 1e4), (0.01, 1e4))


@cache
def stage(path: Path) -> Stage:
    return analyse(read(path).rigs[-1])


@cache
def drawn(path: Path) -> tuple[Sheet, ...]:
    return tuple(draw(stage(path), only=("curves",)))


def plots(path: Path) -> list[Sheet]:
    return [sheet for sheet in drawn(path) if sheet.doc == curves.DOC]


@pytest.mark.parametrize("path", RIGS, ids=lambda path: path.stem)
def test_nothing_overlaps_and_nothing_is_missing(path: Path) -> None:
    assert plots(path)
    for sheet in plots(path):
        assert [str(fault) for fault in audit(sheet)] == [], sheet.title
        assert missing_glyphs(sheet) == ""


@pytest.mark.parametrize("path", RIGS, ids=lambda path: path.stem)
def test_chains_are_few_and_no_two_are_alike(path: Path) -> None:
    found = chains(stage(path))
    assert 0 < len(found) <= MOST
    assert len({chain.alike for chain in found}) == len(found)
    assert len(plots(path)) == len(found)


def kitchen() -> Chain:
    return next(c for c in chains(stage(KITCHEN)) if c.source == "SITE")


def test_a_chain_has_its_devices_from_the_source_outwards() -> None:
    chain = kitchen()
    assert chain.links[0].device == "QM"
    assert len(chain.links) == 2
    for link in chain.links:
        assert link.most is not None and link.least is not None
        assert 0 < link.least < link.most < 3000, "below what the site states"
    assert chain.links[0].most > chain.links[1].most, "conductors lower the current"


def test_the_edge_of_a_band_stands_at_its_current() -> None:
    """C 16 of IEC 60898-1 opens at once for certain from 160 A: its latest edge falls there."""
    sheet = next(s for s in plots(KITCHEN) if s.title.startswith("SITE to E1"))
    band = kitchen().links[1].band
    assert isinstance(band, Band) and band.instantaneous == (80, 160)
    axes = frame_of_plot(sheet)
    x, top, bottom = axes.x(160), axes.y(band.longest[-1][1]), axes.y(0.1)
    falls = [
        (a, b)
        for item in sheet.items
        if isinstance(item, Poly) and not item.closed
        for a, b in zip(item.points, item.points[1:], strict=False)
        if abs(a[0] - x) < 1e-6 and abs(b[0] - x) < 1e-6
    ]
    assert any(a[1] == pytest.approx(top) and b[1] == pytest.approx(bottom) for a, b in falls)


def frame_of_plot(sheet: Sheet) -> LogLog:
    """The plot's axes again, from its frame: the largest rectangle in the group of the axes."""
    start = next(i for i, m in enumerate(sheet.items) if isinstance(m, Open) and m.id == "axes")
    boxes = [m for m in sheet.items[start:] if isinstance(m, Poly) and m.closed]
    (left, top), _, (right, bottom), _ = boxes[0].points
    return LogLog(Box(left, top, right, bottom), curves._currents(kitchen()), curves.TIMES)


def test_no_sheet_where_no_band_is_published() -> None:
    text = "rules abyc-e11\nbattery GB 12V 100Ah fault=2kA\nfuse F1 60A dc class=ANL\n"
    text += "lamp E1 dc 12V 10W\nwire W1 6AWG 0.1m GB.+ -> F1.1\nwire W2 6AWG 2m F1.2 -> E1.+\n"
    text += "wire W3 6AWG 2m E1.- -> GB.-\n"
    whole = analyse(read_text(text).rigs[0])
    assert chains(whole) == []


VALUES = st.tuples(st.floats(0.001, 1e6), st.floats(1e-4, 1e6))


@given(st.lists(VALUES, min_size=3, max_size=8))
def test_what_is_cut_stays_in_the_box(curve: list[tuple[float, float]]) -> None:
    inside = Box(BOX.left, BOX.top, BOX.right, BOX.bottom).grown(1e-6)
    points = [*AXES.area(curve), *(p for piece in AXES.pieces(curve) for p in piece)]
    assert all(
        inside.left <= x <= inside.right and inside.top <= y <= inside.bottom for x, y in points
    )


def test_decades_are_even() -> None:
    steps = [AXES.x(10.0 ** (n + 1)) - AXES.x(10.0**n) for n in range(4)]
    assert steps == pytest.approx([50.0] * 4)
    assert AXES.y(1e4) == BOX.top and AXES.y(0.01) == pytest.approx(BOX.bottom)


def test_same_text_same_bytes(tmp_path: Path) -> None:
    """Two processes with other orders of hashes write the same files."""
    written = []
    for seed in ("0", "7"):
        out = tmp_path / seed
        argv = ["draw", str(KITCHEN), "--only", "curves", "--format", "svg,pdf", "-o", str(out)]
        code = f"import sys; from ferrule.cli.main import main; sys.exit(main({argv!r}))"
        env = {"PYTHONHASHSEED": seed, "PATH": "", "HOME": str(tmp_path)}
        ran = subprocess.run([sys.executable, "-c", code], capture_output=True, env=env, text=True)
        assert ran.returncode == 0, ran.stderr
        written.append({file.name: file.read_bytes() for file in sorted(out.iterdir())})
    assert written[0] == written[1] and len(written[0]) > 1
