"""The elimination against scipy's sparse solver, and against laws of networks."""

from __future__ import annotations

import cmath
import math
import random
from pathlib import Path

import numpy as np
import pytest
import scipy.sparse
import scipy.sparse.linalg
from ferrule.checks.solve import solution
from ferrule.checks.solve.circuit import CASES, Circuit
from ferrule.checks.solve.nodal import GROUND, Branch, Factor, Winding
from ferrule.checks.solve.steady import Part
from ferrule.checks.tracing.trace import analyse
from ferrule.dsl.reader import read

ROOT = Path(__file__).parent.parent
RIGS = [*sorted((ROOT / "examples").glob("*.rig")), *sorted((ROOT / "tests/rigs").glob("*.rig"))]
CLOSE = 1e-9


def random_network(size: int, seed: int) -> tuple[list[Branch], list[Winding]]:
    """A feeder tree with some loops, from bolted joints to long cords, and some windings."""
    r = random.Random(seed)

    def ohms() -> complex:
        return complex(10 ** r.uniform(-5, 0), r.choice((0, 1)) * 10 ** r.uniform(-5, -1))

    branches = [
        (n, r.randrange(max(0, n - 9), n) if n else GROUND, 1 / ohms()) for n in range(size)
    ]
    for _ in range(size // 15):
        a = r.randrange(size)
        branches.append((a, min(size - 1, a + r.randrange(1, 6)), 1 / ohms()))
    windings = []
    for _ in range(size // 40):
        a, b, c, d = r.sample(range(size), 4)
        windings.append((((a, 2.0), (b, -2.0), (c, -1.0), (d, 1.0)), 1 / ohms()))
    return branches, windings


def matrix(size: int, branches: list[Branch], windings: list[Winding]) -> scipy.sparse.csc_matrix:
    """Y = sum of y t t^T, put together without the elimination's own code."""
    turns = [(((a, 1.0), (b, -1.0)), y) for a, b, y in branches] + list(windings)
    rows, columns, values = [], [], []
    for ends, y in turns:
        for a, one in ends:
            for b, other in ends:
                if a != GROUND and b != GROUND:
                    rows.append(a)
                    columns.append(b)
                    values.append(y * one * other)
    return scipy.sparse.csc_matrix((values, (rows, columns)), shape=(size, size), dtype=complex)


def spsolve(size: int, branches: list[Branch], windings: list[Winding], put: dict[int, complex]):
    right = np.zeros(size, dtype=complex)
    for node, amps in put.items():
        if node != GROUND:
            right[node] += amps
    return scipy.sparse.linalg.spsolve(matrix(size, branches, windings), right)


def assert_close(mine: list[complex], theirs) -> None:
    scale = max(abs(theirs), default=0.0) or 1.0
    assert max(abs(a - b) for a, b in zip(mine, theirs, strict=True)) <= CLOSE * scale


@pytest.mark.parametrize("size", [1, 2, 5, 30, 200, 1500])
@pytest.mark.parametrize("seed", [1, 2])
def test_random_networks_as_scipy(size: int, seed: int) -> None:
    branches, windings = random_network(size, seed)
    r = random.Random(seed)
    put = {r.randrange(size): cmath.rect(r.uniform(1, 90), r.uniform(-3, 3)) for _ in range(9)}
    factor = Factor(size, branches, windings)
    assert_close(factor.solve(put), spsolve(size, branches, windings, put))


@pytest.mark.parametrize("seed", [3, 4, 5])
def test_what_a_pair_sees_as_scipy(seed: int) -> None:
    size = 120
    branches, windings = random_network(size, seed)
    factor = Factor(size, branches, windings)
    r = random.Random(seed)
    for _ in range(20):
        a, b = r.randrange(size), r.choice((GROUND, r.randrange(size)))
        volts = spsolve(size, branches, windings, {a: 1, b: -1} if a != b else {})
        theirs = volts[a] - (volts[b] if b != GROUND else 0)
        assert factor.seen(a, b) == pytest.approx(theirs, rel=1e-8, abs=1e-15)


def circuits(path: Path) -> list[Circuit]:
    return [
        circuit
        for rig in read(path).rigs
        for view in analyse(rig).modes
        for circuit in solution(view).circuits
    ]


@pytest.mark.parametrize("path", RIGS, ids=lambda path: path.stem)
def test_networks_of_rigs_as_scipy(path: Path) -> None:
    for circuit in circuits(path):
        for case in CASES:
            own = [
                (circuit.index[feed.line], circuit.index[feed.back], y)
                for feed, y in circuit.source_branches(case)
            ]
            branches = [*circuit.branches(case), *own]
            windings = [(t.turns, y) for t, y in circuit.transformer_branches()]
            put = circuit.injected(case, scale=True)
            mine = circuit.factor(case).solve(put)
            assert_close(mine, spsolve(circuit.size, branches, windings, put))


@pytest.mark.parametrize("path", RIGS, ids=lambda path: path.stem)
def test_currents_into_every_node_add_up(path: Path) -> None:
    """Kirchhoff's first law at every node, and what the sources give is taken or lost as heat."""
    for rig in read(path).rigs:
        for view in analyse(rig).modes:
            steady = solution(view).steady
            watts = {name: steady.given(name).real for name in view.live}
            for part in steady.parts:
                into, gives, takes = balance(part, watts)
                largest = max((abs(part.feed_amps(f)) for f in part.circuit.feeds), default=0.0)
                assert max(map(abs, into[:-1])) <= 1e-6 * max(largest, 1.0)
                assert gives == pytest.approx(takes, rel=1e-6, abs=1e-4)


def balance(part: Part, watts: dict[str, float]) -> tuple[list[complex], float, float]:
    """By node the sum of currents into it, A (the last: all pinned ones); W given and taken."""
    circuit = part.circuit
    into = [0j] * (circuit.size + 1)
    gives = takes = 0.0

    def flow(a: int, b: int, amps: complex) -> None:
        into[a] -= amps
        into[b] += amps

    for element, amps, heat in circuit.flows("drop", part.volts):
        flow(element.a, element.b, amps)
        takes += heat
    for feed in circuit.feeds:
        amps = part.feed_amps(feed)
        flow(circuit.index[feed.back], circuit.index[feed.line], amps)
        gives += (part.feed_volts(feed) * amps.conjugate()).real
    for draw in part.draws:
        amps = part.drawn_amps(draw, watts)
        flow(draw.a, draw.b, amps)
        takes += ((part.volts[draw.a] - part.volts[draw.b]) * amps.conjugate()).real
    for transformer, _ in circuit.transformer_branches():
        _, amps = part.winding(transformer.source.name)
        for node, turn in transformer.turns:
            into[node] -= turn * amps
    return into, gives, takes


def test_a_node_that_nothing_touches_is_at_nought() -> None:
    factor = Factor(3, [(0, GROUND, 2 + 0j)])
    assert factor.solve({0: 4 + 0j}) == [2, 0, 0]


def test_fault_currents_cost_microseconds_not_solutions() -> None:
    """What a pair sees takes only the paths to the root: a feeder's, not the whole network."""
    branches = [(n, n // 2 if n else GROUND, 1 + 0j) for n in range(4000)]  # a binary tree
    factor = Factor(4000, branches)
    assert len(factor.forward({3999: 1, 3000: -1})) <= 2 * math.ceil(math.log2(4000)) + 2
