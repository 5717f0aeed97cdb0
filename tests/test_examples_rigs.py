"""The example rigs: complete, in the canonical layout, clean, and not clean by accident."""

from __future__ import annotations

from pathlib import Path

import pytest
from ferrule.checks.run import check_rigs
from ferrule.checks.tracing.trace import analyse
from ferrule.dsl.reader import read, read_text
from ferrule.dsl.writer import format_text

ROOT = Path(__file__).parents[1]
EXAMPLES = sorted((ROOT / "examples").glob("*.rig"))
CLEAN = [*EXAMPLES, *sorted((ROOT / "tests" / "rigs").glob("*.rig"))]
BOOKS = {"mobile_clinic": "nfpa70", "field_kitchen": "iec60364", "survey_launch": "abyc-e11"}
USERS = ("load", "lamp", "motor", "heater", "socket", "charger")


def named(path: Path) -> str:
    return path.stem


@pytest.mark.parametrize("path", CLEAN, ids=named)
def test_clean(path: Path) -> None:
    reading = read(path)
    assert reading.problems == ()
    report = check_rigs(reading.rigs)
    assert [f"{f.rule} {f.on}: {f.message}" for f in report.findings] == []


@pytest.mark.parametrize("path", CLEAN, ids=named)
def test_laid_out(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert format_text(text, path.name) == text


@pytest.mark.parametrize("path", EXAMPLES, ids=named)
def test_complete_rig(path: Path) -> None:
    rigs = read(path).rigs
    last = rigs[-1]
    assert last.book == BOOKS[path.stem]
    assert len(rigs) >= 2
    assert len(last.modes) >= 3
    assert len(last.devices) >= 30
    assert all(device.label or device.kind == "panel" for device in last.devices.values())


@pytest.mark.parametrize("path", CLEAN, ids=named)
def test_everything_is_live_in_some_mode(path: Path) -> None:
    """Every conductor has a role, and every load and outlet a live line and return."""
    for rig in read(path).rigs:
        stage = analyse(rig)
        assert [c for c in rig.conductors if not stage.conductor_role(c)] == []
        for device in rig.devices.values():
            if device.kind in USERS:
                roles = [
                    {mode.role(device.name, t.name) for t in device.terminals}
                    for mode in stage.modes
                ]
                assert any(found & {"L", "L1", "L2", "L3", "+"} for found in roles), device.name
                assert any(found & {"N", "-"} for found in roles), device.name


SPOILT = [
    # the neutral of the examination sockets stays behind on the shore panel
    ("mobile_clinic", "move C3  Q3.N2  -> Q13.N2", "", "D01", "C3/2"),
    # a battery fuse the main leads cannot bear: 70 mm2, B1, 192 A (IEC 60364-5-52 Table B.52.2);
    # behind it they end within 3 m in fuses of 180 A together (IEC 60364-4-43 433.2.2)
    ("field_kitchen", "fuse    160A 80V", "fuse    250A 80V", "P01", "D1"),
    # the battery fuse half a metre from the post, 7 in allowed (ABYC E-11 11.10.1.1.1)
    ("survey_launch", "0.15m GB.+    -> F1.1", "0.50m GB.+    -> F1.1", "P03", "D1"),
]


@pytest.mark.parametrize(("name", "old", "new", "rule", "on"), SPOILT)
def test_one_change_spoils_it(name: str, old: str, new: str, rule: str, on: str) -> None:
    path = ROOT / "examples" / f"{name}.rig"
    text = path.read_text(encoding="utf-8")
    assert text.count(old) == 1
    report = check_rigs(read_text(text.replace(old, new), path.name).rigs)
    assert (rule, on) in {(f.rule, f.on[0]) for f in report.findings}
