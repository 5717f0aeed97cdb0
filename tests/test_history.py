"""The history of one rig, replayed in a repository: what is told of each step, and its laws.

The files beside the texts are what people read in a review; ``write_history.py`` writes them anew.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from ferrule.checks.findings import ERROR
from ferrule.checks.rework import rework
from ferrule.checks.run import check_rigs
from ferrule.dsl.model import Rig
from ferrule.dsl.reader import read
from ferrule.dsl.writer import format_text
from test_checks_rework import hold
from write_history import NAME, TOLD, replayed, steps, told


def rig(step: Path) -> Rig:
    reading = read(step / NAME)
    assert not reading.problems
    return reading.rigs[-1]


def errors(step: Path) -> list[tuple[str, str]]:
    found = check_rigs([rig(step)]).findings
    return [(f.rule, f.on[0]) for f in found if f.severity == ERROR]


def test_each_step_is_told_as_it_was_read_and_committed(tmp_path: Path) -> None:
    count = 0
    for step, repository in replayed(tmp_path):
        count += 1
        assert repository.git("rev-list", "--count", "HEAD") == str(count)
        message = (step / "message.txt").read_text("utf-8")
        assert repository.git("log", "-1", "--format=%B") == message.strip()
        if count > 1:
            for name, text in told(repository).items():
                assert text == (step / name).read_text("utf-8"), f"{step.name}/{name}"
    assert count == len(steps()) >= 8


def test_the_mistake_stands_for_one_step_and_is_told_in_all_three_files() -> None:
    wrong = [step for step in steps() if errors(step)]
    assert [step.name for step in wrong] == ["03-heater"]
    assert errors(wrong[0]) == [("B12", "C4/2")]
    for name in TOLD:
        assert "Do not build this yet" in (wrong[0] / name).read_text("utf-8")
        repaired = (steps()[steps().index(wrong[0]) + 1] / name).read_text("utf-8")
        assert "Do not build this yet" not in repaired


@pytest.mark.parametrize("step", steps(), ids=lambda step: step.name)
def test_each_text_is_laid_out(step: Path) -> None:
    text = (step / NAME).read_text("utf-8")
    assert format_text(text) == text


@pytest.mark.parametrize("index", range(1, len(steps())), ids=lambda i: steps()[i].name)
def test_each_step_obeys_the_laws_there_and_back(index: int) -> None:
    old, new = rig(steps()[index - 1]), rig(steps()[index])
    hold(old, new)
    hold(new, old)


def test_names_alone_are_no_work() -> None:
    names = next(n for n, step in enumerate(steps()) if step.name.endswith("names"))
    plan = rework(rig(steps()[names - 1]), rig(steps()[names]))
    assert not plan.jobs and {"E9", "C13"} <= {c.name for c in plan.paper}
