"""What a finding says to do cures it: fixes that name their conductors, carried out in a stage."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from ferrule.checks.run import check_rigs
from ferrule.checks.tracing.trace import analyse
from ferrule.dsl.model import Conductor, Rig
from ferrule.dsl.reader import read, read_text

FAULTS = sorted((Path(__file__).parent / "faults").glob("*.rig"))
CORES = re.compile(r"^exchange (\S+) and (\S+?)(?: at (\S+))?$")
LEADS = re.compile(r"^exchange the leads at (\S+)$")
THERE = re.compile(r"^move (\S+) from (\S+) to (\w+\.\S+)$")
TO = re.compile(r"^move (\S+) from (\S+) to .*?\b(earth|neutral|minus)\b")
ON = re.compile(r"^land (\S+), which runs from (\S+) to \S+, on the (neutral|minus|line|plus)$")
EARTH = re.compile(r"^land (\S+) on (\S+), not on the negative$")
ROLES = {"earth": "PE", "neutral": "N", "minus": "-", "plus": "+", "line": "L"}
OUT = re.compile(r"\btake ([A-Z]\w*(?:/\d)?) out(?!, and)")


def _end(conductor: Conductor, device: str) -> str:
    return next(end.name for end in (conductor.a, conductor.b) if end.device == device)


def _shared(one: Conductor, two: Conductor) -> Iterator[str]:
    for end in (one.a, one.b):
        if end.device in (two.a.device, two.b.device):
            yield end.device


def _moves(rig: Rig, fix: str) -> list[str]:
    """The statements that carry a fix out; [] where it leaves a choice."""
    if found := CORES.match(fix):
        one, two = rig.conductors[found[1]], rig.conductors[found[2]]
        device = found[3] or next(_shared(one, two), "")
        if not device:  # both ends at bars of their own: exchanged where each comes from
            return _swapped(one.name, one.a.name, two.name, two.a.name)
        return _swapped(one.name, _end(one, device), two.name, _end(two, device))
    if found := LEADS.match(fix):
        ends = [
            (c.name, end.name)
            for c in rig.conductors.values()
            for end in (c.a, c.b)
            if end.device == found[1] and end.terminal in ("+", "-", "in+", "in-", "out+", "out-")
        ]
        pairs = {name.rsplit(".", 1)[1] for _, name in ends}
        return _swapped(*ends[0], *ends[1]) if len(ends) == len(pairs) == 2 else []
    if found := THERE.match(fix):
        return [f"move {found[1]} {found[2]} -> {found[3]}"]
    if (found := TO.match(fix)) or (found := ON.match(fix)):
        free = next(_free(rig, found[2], ROLES[found[3]]), "")
        return [f"move {found[1]} {found[2]} -> {free}"] if free else []
    if found := EARTH.match(fix):
        conductor = rig.conductors[found[1]]
        free = next(_open_ends(rig, found[2]))
        return [f"move {found[1]} {conductor.b.name} -> {free}"]
    if (found := OUT.search(fix)) and found[1] in rig.conductors:
        return [f"remove {found[1]}"] if rig.conductors[found[1]].cable is None else []
    return []


def _open_ends(rig: Rig, device: str) -> Iterator[str]:
    """The terminals of a device on which nothing lands."""
    taken = {end.name for c in rig.conductors.values() for end in (c.a, c.b)}
    names = (f"{device}.{terminal.name}" for terminal in rig.devices[device].terminals)
    return (name for name in names if name not in taken)


def _free(rig: Rig, astray: str, role: str) -> Iterator[str]:
    """Free positions of the bars of that role, other than the one something lies astray on."""
    view = analyse(rig).modes[0]
    for device in rig.devices.values():
        roles = {view.role(device.name, terminal.name) for terminal in device.terminals}
        if device.kind == "bus" and roles == {role} and device.name != astray.split(".")[0]:
            yield from _open_ends(rig, device.name)


def _swapped(one: str, here: str, two: str, there: str) -> list[str]:
    return [f"move {one} {here} -> {there}", f"move {two} {there} -> {here}"]


CASES = [
    (path, moves)
    for path in FAULTS
    for rig in read(path).rigs[-1:]
    for finding in check_rigs(read(path).rigs).findings
    if (moves := _moves(rig, finding.fix))
]


def test_there_are_such_fixes() -> None:
    assert len(CASES) >= 25


@pytest.mark.parametrize(("path", "moves"), CASES, ids=lambda value: getattr(value, "stem", ""))
def test_a_fix_carried_out_leaves_nothing_to_say(path: Path, moves: list[str]) -> None:
    mended = "\n".join(["", "stage MENDED {", *(f"  {move}" for move in moves), "}", ""])
    reading = read_text(path.read_text(encoding="utf-8") + mended)
    assert not reading.problems, [problem.message for problem in reading.problems]
    found = check_rigs(reading.rigs[-1:]).findings
    left = [(f.rule, f.on, f.message) for f in found if f.rule != "D11"]  # a stud of no use now
    assert left == []
