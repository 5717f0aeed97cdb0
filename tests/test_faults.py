"""One seeded fault a file: exactly that is found, and its clean twin raises nothing.

The head of a fault file says what is wrong with it and what has to be found::

    # fault: a wire joins the neutral bar to the earth bar
    # expect: B04 on W9 NBAR

A cable's name stands for any of its cores.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from ferrule.checks.findings import Finding
from ferrule.checks.registry import Rule, rules
from ferrule.checks.run import check_rigs
from ferrule.dsl.reader import read

HERE = Path(__file__).parent
FAULTS = sorted((HERE / "faults").glob("*.rig"))
EXPECT = re.compile(r"# expect: ([A-Z]\d\d) on (.+)")
# Rules whose faults cannot be seeded in a file of one fault, and why.
NO_FILE: dict[str, str] = {}


def findings(path: Path) -> tuple[Finding, ...]:
    reading = read(path)
    assert not reading.problems, [problem.message for problem in reading.problems]
    return check_rigs(reading.rigs).findings


def expected(path: Path) -> list[tuple[str, set[str]]]:
    lines = path.read_text(encoding="utf-8").splitlines()
    matches = (EXPECT.fullmatch(line) for line in lines)
    return [(match[1], set(match[2].split())) for match in matches if match]


def named(finding: Finding) -> set[str]:
    return {part for name in finding.on for part in (name, name.split("/")[0])}


@pytest.mark.parametrize("path", FAULTS, ids=lambda path: path.stem)
def test_a_fault_raises_what_it_says_and_nothing_else(path: Path) -> None:
    found = findings(path)
    wanted = expected(path)
    told = [(f.rule, f.on, f.message) for f in found]
    assert wanted, "the file has no `# expect:` line"
    assert {f.rule for f in found} == {rule for rule, _ in wanted}, told
    assert len(found) == len(wanted), told
    for rule, names in wanted:
        assert any(f.rule == rule and names <= named(f) for f in found), told


@pytest.mark.parametrize("path", FAULTS, ids=lambda path: path.stem)
def test_its_clean_twin_raises_nothing(path: Path) -> None:
    twin = HERE / "clean" / path.name
    assert [(f.rule, f.on, f.message) for f in findings(twin)] == []


@pytest.mark.parametrize("path", FAULTS, ids=lambda path: path.stem)
def test_a_fault_and_its_twin_are_not_the_same(path: Path) -> None:
    def statements(file: Path) -> list[str]:
        lines = file.read_text(encoding="utf-8").splitlines()
        return [line for line in lines if line and not line.startswith("#")]

    assert statements(path) != statements(HERE / "clean" / path.name)


@pytest.mark.parametrize("rule", rules(), ids=lambda rule: rule.code)
def test_every_rule_teaches_and_has_a_fault(rule: Rule) -> None:
    assert re.fullmatch(r"[A-Z]\d\d", rule.code)
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", rule.name)
    for word in ("Why: ", "Breaks it: ", "Does not: "):
        assert word in rule.doc, f"the docstring of {rule.code} has no {word!r}"
    seeded = {code for path in FAULTS for code, _ in expected(path)}
    assert rule.code in seeded or rule.code in NO_FILE


def test_rules_yield_to_rules_that_exist() -> None:
    codes = {rule.code for rule in rules()}
    assert {code for rule in rules() for code in rule.yields_to} <= codes
