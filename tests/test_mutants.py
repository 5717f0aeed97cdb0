"""Faults seeded in correct rigs: none missed, no false alarm; and the oracle itself held to rigs.

A small run of a fixed number; ``python -m mutants`` in ``benchmarks/`` makes any number of them.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from pathlib import Path
from random import Random

import pytest
from ferrule.dsl.reader import read, read_text
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

ROOT = Path(__file__).parent.parent
sys.path.insert(0, str(ROOT / "benchmarks"))

import mutants.run  # noqa: E402
from generate import TOPOLOGIES  # noqa: E402
from mutants.classes import TOLD_BY  # noqa: E402
from mutants.cover import count  # noqa: E402
from mutants.harmless import HARMLESS  # noqa: E402
from mutants.judge import Mutant, judge, told  # noqa: E402
from mutants.operators import OPERATORS  # noqa: E402
from mutants.oracle import OF_A_MODE, OF_A_RIG, faults  # noqa: E402
from mutants.report import Tally, table  # noqa: E402
from mutants.rigs import made, written  # noqa: E402
from mutants.run import run  # noqa: E402
from mutants.shapes import SHAPES  # noqa: E402
from mutants.statements import Text  # noqa: E402

MUTANTS, SEED = 90, 11
ALL_SHAPES = (*TOPOLOGIES, *SHAPES, *["composed"] * 6)
rig_texts = st.builds(
    made, st.sampled_from(ALL_SHAPES), st.integers(1, 8), st.integers(0, 10**6)
)


def test_none_is_missed_and_nothing_is_alarmed_falsely() -> None:
    tally = Tally(run(MUTANTS, SEED))
    assert tally.bad() == []
    # The run is worth something: most operators made a fault that the oracle is sure of.
    assert len(tally.outcomes) == MUTANTS
    caught = tally.of("caught")
    assert len(caught) > MUTANTS / 3
    assert len({o.operator for o in caught}) > 25
    assert f"| **all** | {MUTANTS} |" in table(tally)


def test_a_run_is_the_same_in_two_processes_and_where_it_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(mutants.run, "CHUNK", 6)
    whole = table(Tally(run(15, SEED)))
    state = tmp_path / "state"
    run(7, SEED, state=state)
    kept = state.read_text(encoding="utf-8")
    assert table(Tally(run(15, SEED, processes=2, state=state))) == whole
    # What was done before was kept, and a line cut off half-way is done again.
    assert state.read_text(encoding="utf-8").startswith(kept)
    state.write_text(kept[:-100], encoding="utf-8")
    assert table(Tally(run(15, SEED, state=state))) == whole


def test_operators_are_as_many_as_the_table_says() -> None:
    assert len(OPERATORS) >= 69 and len(HARMLESS) >= 16
    assert TOLD_BY.keys() == {*OF_A_RIG, *OF_A_MODE}


def _imports(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            yield f"{'.' * node.level}{node.module or ''}"
        elif isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)


def test_the_oracle_shares_nothing_with_the_checker() -> None:
    for name in ("net", "oracle", "figures", "further", "poles", "leads"):
        imports = set(_imports(ROOT / "benchmarks" / "mutants" / f"{name}.py"))
        own = {i for i in imports if i.startswith("ferrule")}
        assert own <= {"ferrule.dsl.model"}, name


@pytest.mark.parametrize("name", sorted(written())[::9])
def test_the_oracle_finds_nothing_in_a_correct_rig(name: str) -> None:
    assert faults(read_text(written()[name]).rigs) == {}


# Fault files whose fault the oracle decides, and the class it has to name.
DECIDED = {
    "b04_wire_between_bars": "return joined to earth",
    "b05_common_neutral_bar": "sources together",
    "b06_neutral_past_the_device": "residual device on one side",
    "b07_neutral_left_behind": "return lost",
    "b10_two_core_cable": "earth missing",
    "b14_chassis_not_tied": "chassis untied",
    "b15_negative_joined_twice": "negative joined twice",
    "d02_splice_going_nowhere": "end in the air",
    "d03_two_neutrals_in_one_hole": "terminal overfull",
    "p09_polarised_breaker_reversed": "supply side reversed",
    "p20_one_pole_on_unpolarised_supply": "one pole only",
    "s07_state_of_no_switch": "unknown state",
    "s15_line_on_earth_bar": "short circuit",
    "v01_pump_out_of_reach": "voltage lost",
}


@pytest.mark.parametrize("name", DECIDED)
def test_the_oracle_decides_a_fault(name: str) -> None:
    found = faults(read(ROOT / "tests" / "faults" / f"{name}.rig").rigs)
    assert DECIDED[name] in found, found


@given(
    text=rig_texts,
    order=st.randoms(use_true_random=False),
    change=st.sampled_from([None, *sorted(HARMLESS)]),
)
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_a_correct_rig_is_silent_however_it_is_written(
    text: str, order: Random, change: str | None
) -> None:
    rig = Text(text)
    if change:
        HARMLESS[change](rig, order)
    reading = read_text(rig.text())
    assert reading.problems == ()
    assert told(reading.rigs, notes=True) == []
    assert faults(reading.rigs) == {}


@given(
    text=rig_texts,
    chance=st.randoms(use_true_random=False),
    name=st.sampled_from(sorted(OPERATORS)),
)
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_a_mutant_that_is_surely_faulty_is_told_of(text: str, chance: Random, name: str) -> None:
    altered = Text(text)
    assume(OPERATORS[name](altered, chance))
    outcome = judge(Mutant(0, "any", name, text, altered.text()))
    assert outcome.verdict in ("refused", "caught", "told", "silent"), outcome


@given(text=rig_texts)
@settings(max_examples=15, deadline=None)
def test_statements_read_and_written_mean_the_same(text: str) -> None:
    again = Text(text).text()
    assert Text(again).text() == again

    def ends(source: str) -> list[list[tuple[str, str, str]]]:
        rigs = read_text(source).rigs
        return [[(w.name, w.a.name, w.b.name) for w in r.conductors.values()] for r in rigs]

    assert ends(again) == ends(text)


def test_the_rigs_say_most_of_what_the_language_can_say() -> None:
    told_of = count([*list(written().values())[::3], *(made("composed", 8, s) for s in range(40))])
    never = [what for what, times in told_of.items() if not times]
    assert len(never) < len(told_of) / 4, never
    assert count([]).keys() == told_of.keys()


@pytest.mark.parametrize("name", sorted(n for n in written() if n.startswith("tests/rigs")))
def test_a_conductor_written_from_its_other_end_means_the_same(name: str) -> None:
    text = Text(written()[name])
    HARMLESS["turned-round"](text, Random(1))
    assert told(read_text(text.text()).rigs) == []
