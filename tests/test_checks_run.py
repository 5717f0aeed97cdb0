"""The runner: crashing rules, accepts, order, and no crash on any broken rig."""

from __future__ import annotations

import re
from pathlib import Path
from random import Random

import pytest
from ferrule.checks import registry
from ferrule.checks.findings import Finding
from ferrule.checks.run import check_rigs, check_stage
from ferrule.checks.tracing.trace import analyse
from ferrule.dsl.reader import read_text
from ferrule.dsl.records import replace

HERE = Path(__file__).parent
RIGS = sorted((HERE / "faults").glob("*.rig")) + sorted((HERE.parent / "examples").glob("*.rig"))
FAULT = (HERE / "faults" / "p02_breaker_above_conductor.rig").read_text(encoding="utf-8")


def findings(text: str) -> tuple[Finding, ...]:
    reading = read_text(text)
    assert not reading.problems, reading.problems
    return check_rigs(reading.rigs).findings


def test_a_crashing_rule_becomes_a_finding() -> None:
    def bad(stage: object) -> list[registry.Hit]:
        raise KeyError("boom")

    rule = replace(registry.rules()[0], check=bad)
    stage = analyse(read_text(FAULT).rigs[0])
    (found,) = check_stage(stage, [rule])
    assert found.rule == "X01" and "boom" in found.message and rule.code in found.message


def test_an_accept_takes_one_finding_and_leaves_it_listed() -> None:
    text = FAULT + 'accept P02 on C1 because "fused cord"\n'
    (found,) = findings(text)
    assert (found.rule, found.accepted) == ("P02", "fused cord")
    reading = read_text(text)
    assert not check_rigs(reading.rigs).failed
    assert check_rigs(read_text(FAULT).rigs).failed


def test_an_accept_may_name_the_rule_by_its_readable_name() -> None:
    (found,) = findings(FAULT + 'accept conductor-undersized on C1 because "fused cord"\n')
    assert found.accepted == "fused cord"


def test_an_accept_that_matches_nothing_is_itself_a_finding() -> None:
    rules = [f.rule for f in findings(FAULT + 'accept P02 on C2 because "no"\n')]
    assert sorted(rules) == ["D10", "P02"]


def test_an_accept_of_no_rule_at_all_is_an_error() -> None:
    found = [f for f in findings(FAULT + 'accept Q99 on C2 because "no"\n') if f.rule == "D10"]
    assert [f.severity for f in found] == ["error"]


@pytest.mark.parametrize("path", RIGS, ids=lambda p: p.stem)
def test_order_of_declarations_does_not_matter(path: Path) -> None:
    """The same statements in another order give the same findings (outside stages)."""
    text = path.read_text(encoding="utf-8")
    if "stage " in text or "\\\n" in text:
        pytest.skip("a stage's statements follow its order")
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    head = [line for line in lines if re.match(r"rig |rules |ambient |use |part ", line)]
    body = [line for line in lines if line not in head]

    def said(source: str) -> list[tuple[object, ...]]:
        # Of two that are equally at fault (two neutrals swapped) the later one is named.
        found = findings(source)
        return sorted((f.rule, sorted(f.modes), f.value or 0, f.limit or 0) for f in found)

    Random(path.stem).shuffle(body)
    assert said("\n".join([*head, *body]) + "\n") == said(text)


@pytest.mark.parametrize("path", RIGS, ids=lambda p: p.stem)
def test_no_rule_crashes_on_a_broken_rig(path: Path) -> None:
    """Whatever is dropped, swapped or doubled, no rule falls over (X01)."""
    random = Random(path.stem)
    lines = path.read_text(encoding="utf-8").splitlines()
    for _ in range(12):
        broken = "\n".join(mutated(lines, random)) + "\n"
        reading = read_text(broken)
        if reading.rigs:
            crashed = [f.message for f in check_rigs(reading.rigs).findings if f.rule == "X01"]
            assert not crashed, broken


def mutated(lines: list[str], random: Random) -> list[str]:
    """A few random damages: a line gone, two words swapped, a number changed, a line doubled."""
    out = list(lines)
    for _ in range(random.randint(1, 3)):
        k = random.randrange(len(out))
        words = out[k].split()
        act = random.randrange(4)
        if act == 0:
            del out[k]
        elif act == 1 and len(words) > 2:
            i, j = random.sample(range(len(words)), 2)
            words[i], words[j] = words[j], words[i]
            out[k] = " ".join(words)
        elif act == 2:
            out[k] = re.sub(
                r"\d+", lambda m: str(random.choice((0, 1, 2, 3, 50, 999))), out[k], count=1
            )
        else:
            name = words[1] if len(words) > 1 else ""
            out.append(out[k].replace(f" {name} ", f" {name}z ", 1))
    return out


def test_no_two_rules_wait_for_each_other() -> None:
    waits = {rule.code: set(rule.yields_to) for rule in registry.rules()}
    assert [(a, b) for a in waits for b in waits[a] if a in waits[b]] == []


def test_one_cause_in_two_modes_is_one_finding_with_the_names_of_both() -> None:
    path = HERE / "clean" / "s02_supply_without_inlet.rig"
    text = path.read_text(encoding="utf-8").replace("W5 14AWG", "W5 18AWG")
    (found,) = findings(text)
    assert (found.rule, found.on[0], found.modes) == ("P02", "W5", ("depot", "road"))
    assert {"QS", "QG"} <= set(found.on)
