"""Stages checked side by side: the same findings as one after another, whatever befalls a copy."""

from __future__ import annotations

import os
import threading
from pathlib import Path

import pytest
from ferrule.checks.run import Report, check_rigs
from ferrule.cli.apart import each
from ferrule.dsl.reader import read_text

HERE = Path(__file__).parent
CLINIC = (HERE.parent / "examples" / "mobile_clinic.rig").read_text(encoding="utf-8")
LINES = CLINIC.splitlines(keepends=True)
WIRES = [at for at, line in enumerate(LINES) if line.lstrip().startswith(("wire ", "cable "))]
HOME = os.getpid()


def without(line: int) -> Report | None:
    """The clinic without one of its lines, in one process and in three."""
    rigs = read_text("".join((*LINES[:line], *LINES[line + 1 :]))).rigs
    if not rigs:
        return None
    alone = check_rigs(rigs)
    assert check_rigs(rigs, lambda work, things: each(work, things, cores=2)) == alone
    return alone


def test_stages_side_by_side_find_what_they_find_one_after_another() -> None:
    reports = [without(line) for line in WIRES[::4]]
    found = [finding for report in reports if report for finding in report.findings]
    assert len(found) > 10 and any("/" in name for f in found for name in f.on)
    assert any(len(report.stages) == 3 for report in reports if report)


def test_each_thing_but_the_last_is_done_in_a_copy() -> None:
    pids = [pid for found in each(lambda _: [os.getpid()], range(4), cores=2) for pid in found]
    assert pids[-1] == HOME and len(set(pids)) == 4
    assert each(lambda thing: [thing] * thing, range(3), cores=2) == [[], [1], [2, 2]]


@pytest.mark.parametrize("cores", [1, 2])
def test_one_thing_or_one_processor_needs_no_copy(cores: int) -> None:
    things = range(3) if cores == 1 else range(1)
    assert each(lambda _: [os.getpid()], things, cores) == [[HOME]] * len(things)


def test_a_process_with_threads_is_not_copied() -> None:
    done = threading.Event()
    thread = threading.Thread(target=done.wait)
    thread.start()
    try:
        assert each(lambda _: [os.getpid()], range(2), cores=2) == [[HOME], [HOME]]
    finally:
        done.set()
        thread.join()


def killed_in_a_copy(thing: int) -> list[int]:
    if os.getpid() != HOME and thing == 1:
        os.kill(os.getpid(), 9)
    return [thing]


def test_what_a_copy_did_not_finish_is_done_here() -> None:
    assert each(killed_in_a_copy, range(3), cores=2) == [[0], [1], [2]]


def test_what_goes_wrong_in_a_copy_goes_wrong_here() -> None:
    with pytest.raises(ZeroDivisionError):
        each(lambda thing: [1 // thing], range(3), cores=2)
