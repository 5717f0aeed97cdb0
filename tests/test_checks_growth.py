"""Four times the rig is four times the work: no rule looks through everything for each thing."""

from __future__ import annotations

import gc
import sys
from pathlib import Path

import pytest
from ferrule.checks.run import check_rigs
from ferrule.dsl.reader import read_text

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "benchmarks"))

from generate import TOPOLOGIES, generate, too_thin  # noqa: E402

FEW, TIMES = 32, 4
ROOM = 1.02  # a heap is deeper; what is done once makes up for it


def calls(text: str) -> int:
    """How many calls reading and checking a text takes: the same on every machine."""
    count = 0

    def counted(frame: object, event: str, argument: object) -> None:
        nonlocal count
        count += event in ("call", "c_call")

    gc.collect()  # what is torn down meanwhile is not counted
    sys.setprofile(counted)
    try:
        reading = read_text(text)
        assert not reading.problems
        check_rigs(reading.rigs)
    finally:
        sys.setprofile(None)
    return count


def growth(few: str, many: str) -> float:
    calls(few)  # tables and modules are loaded once
    return calls(many) / calls(few)


@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_work_grows_as_the_rig_does(topology: str) -> None:
    few, many = (generate(topology, circuits, 1) for circuits in (FEW, FEW * TIMES))
    assert growth(few, many) < TIMES * ROOM


def test_work_grows_as_the_findings_do() -> None:
    assert growth(too_thin(FEW), too_thin(FEW * TIMES)) < TIMES * ROOM
