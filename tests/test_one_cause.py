"""One cause, one finding; two causes, two: seeds in clean rigs, alone and in pairs.

A seed is a change to the text of a clean rig that makes one fault.  Alone it gives exactly the
finding named beside it; two seeds in different parts of the rig give both of theirs, so that no
finding is left out for the sake of another that has another cause.
"""

from __future__ import annotations

import re
from itertools import combinations
from pathlib import Path

import pytest
from ferrule.checks.findings import Finding
from ferrule.checks.run import check_rigs
from ferrule.dsl.reader import read_text

RIGS = Path(__file__).parent / "rigs"

# Rig: (what, pattern in one line of its text, what takes its place, the rule, the culprit).
SEEDS: dict[str, list[tuple[str, str, str, str, str]]] = {
    "bus_split_50A": [
        ("thin branch", r"(cable C2 +3x)12AWG", r"\g<1>14AWG", "P02", "C2/1"),
        ("breaker too large", r"(breaker Q4 .*)b15", r"\1b40x", "P02", "C4/1"),
        ("polarity", r"(cable C3 .*)X2\.\(L N PE\)", r"\1X2.(N L PE)", "S08", "X2"),
        ("no earth", r"C1 +4x8AWG (.*) EB\.2 (.*) PE\)", r"C1 3x8AWG \1 \2)", "B10", "E1"),
        ("second bond", r"(wire +W13.*)", r"\1\nbond B9 8AWG 0.5m NB.9 -> EB.8", "B02", "B9"),
        ("lamp of another voltage", r"(lamp +E2 .*)dc 24V", r"\1dc 12V", "S04", "E2"),
        ("small bar", r"(bus +NG .*)150A", r"\g<1>30A", "P41", "NG"),
        ("fuse for other current", r"(fuse +F2 .*)32V dc", r"\g<1>32V", "P07", "F2"),
        ("battery fuse too far", r"(wire +D1 +6AWG +)0.3m", r"\g<1>2m", "P03", "D1"),
    ],
    "van_230V_16A": [
        ("thin branch", r"(cable C1 3x)1.5mm2 3m", r"\g<1>0.5mm2 3m", "T01", "C1/3"),
        ("residual device of type AC", r"type=A ", "type=AC ", "P30", "QM"),
        ("interrupts too little", r"(breaker QM .*)breaks=6kA", r"\1breaks=300A", "P11", "QM"),
        ("charger reversed", r"U1\.\+$", "U1.-!", "S09", "U1"),
        ("bond forgotten", r"bond +B1.*\n", "", "B15", "GB"),
        ("socket below breaker", r"(socket +X2 .*)16A", r"\g<1>6A", "P14", "X2"),
        ("wire nobody landed", r"cable D7.*\n", "", "D11", "E1"),
    ],
    "boat_24V": [
        ("thin negative", r"(wire +D4 +)2AWG ", r"\g<1>10AWG ", "P17", "D4"),
        ("long lights", r"(cable +D16 +2x14AWG +)6m", r"\g<1>300m", "V01", "E1"),
        ("breaker without DC", r"(part +dc10 .*)dc ", r"\1", "P07", "Q2"),
        ("alternator fuse too small", r"(part +t100 +fuse +)100A", r"\g<1>50A", "P40", "ALT"),
        ("joined twice", r"(bond +B1.*)", r"\1\nbond B9 4AWG 1m DN.8 -> HB.2", "B15", "B9"),
    ],
}  # fmt: skip


def text(rig: str) -> str:
    return (RIGS / f"{rig}.rig").read_text(encoding="utf-8")


def seeded(source: str, seed: tuple[str, str, str, str, str]) -> str:
    what, pattern, instead, *_ = seed
    if what == "charger reversed":
        return re.sub(
            r"U1\.([+-])\s*$", lambda m: "U1." + "-+"["+-".index(m[1])], source, flags=re.M
        )
    if what == "breaker too large":
        source = source.replace(
            "part bar ", "part b40x breaker 40A breaks=10kA standard=UL489\npart bar "
        )
        source = re.sub(r"part b15.*\n", "", source)
    changed = re.sub(pattern, instead, source, count=1, flags=re.M)
    assert changed != source, what
    return changed


def findings(source: str) -> tuple[Finding, ...]:
    reading = read_text(source)
    assert not reading.problems, [problem.message for problem in reading.problems]
    return check_rigs(reading.rigs).findings


ALONE = [(rig, seed) for rig, seeds in SEEDS.items() for seed in seeds]
PAIRS = [(rig, *pair) for rig, seeds in SEEDS.items() for pair in combinations(seeds, 2)]


def said(found: tuple[Finding, ...]) -> list[tuple[str, tuple[str, ...], str]]:
    return [(f.rule, f.on, f.message) for f in found]


@pytest.mark.parametrize(
    ("rig", "seed"), ALONE, ids=lambda value: value if isinstance(value, str) else value[0]
)
def test_one_cause_one_finding(rig: str, seed: tuple[str, str, str, str, str]) -> None:
    found = findings(seeded(text(rig), seed))
    assert [f.rule for f in found] == [seed[3]], said(found)
    assert seed[4] in found[0].on, said(found)


@pytest.mark.parametrize(
    ("rig", "one", "two"), PAIRS, ids=lambda value: value if isinstance(value, str) else value[0]
)
def test_two_causes_hide_nothing(
    rig: str, one: tuple[str, str, str, str, str], two: tuple[str, str, str, str, str]
) -> None:
    found = findings(seeded(seeded(text(rig), one), two))
    for *_, rule, culprit in (one, two):
        assert any(f.rule == rule and culprit in f.on for f in found), said(found)
