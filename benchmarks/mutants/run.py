"""A run of so many mutants: in any number of processes the same, gone on with where it stopped.

Mutants come by number, in chunks; a chunk's outcomes depend on nothing but its numbers and the
code, and are counted in the order of the numbers.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator
from dataclasses import asdict, dataclass
from hashlib import sha256
from multiprocessing import Pool
from pathlib import Path

from .judge import Correct, Outcome, correct, judge, mutant
from .rigs import FOLDERS, ROOT

CHUNK = 64  # numbers in a chunk
CODE = (
    *("benchmarks/*.py", "benchmarks/mutants/*.py", "dsl/**/*.py", "checks/**/*.py"),
    *(f"{folder}/*.rig" for folder in FOLDERS),
)


@dataclass(frozen=True)
class Chunk:
    """Outcomes of a chunk's numbers, and of the correct rigs that they come from."""

    first: int
    outcomes: list[Outcome]
    rigs: list[Correct]


def chunk(first: int) -> Chunk:
    """The chunk that begins at a number."""
    mutants = [m for n in range(first, first + CHUNK) if (m := mutant(n)) is not None]
    rigs = {m.rig: correct(m.rig, m.before) for m in mutants}
    return Chunk(first, [judge(m) for m in mutants], list(rigs.values()))


def run(mutants: int, seed: int, processes: int = 1, state: Path | None = None) -> list[Chunk]:
    """Chunks with so many mutants in all, the last one cut; ``state`` keeps what is done."""
    done = _kept(state, seed)
    starts = range(seed * 10**7 + 1, (seed + 1) * 10**7, CHUNK)
    todo = (first for first in starts if first not in done)
    if processes == 1:
        return list(_enough(mutants, starts, done, map(chunk, todo), _keeper(state)))
    with Pool(processes) as pool:
        worked = pool.imap(chunk, _bounded(todo, mutants))
        return list(_enough(mutants, starts, done, worked, _keeper(state)))


def _bounded(todo: Iterable[int], mutants: int) -> Iterator[int]:
    """More chunks than are ever asked for: a pool takes all of them at once."""
    for _, first in zip(range(4 * mutants // CHUNK + 8), todo, strict=False):
        yield first


def _enough(
    mutants: int,
    starts: Iterable[int],
    done: dict[int, Chunk],
    worked: Iterator[Chunk],
    keep: Callable[[Chunk], None],
) -> Iterator[Chunk]:
    left = mutants
    for first in starts:
        if left <= 0:
            return
        one = done.get(first)
        if one is None:
            one = next(worked)
            keep(one)
        outcomes = one.outcomes[:left]
        left -= len(outcomes)
        names = {o.rig for o in outcomes}
        yield Chunk(one.first, outcomes, [r for r in one.rigs if r.rig in names])


def fingerprint() -> str:
    """Of the code and the rigs: what is kept of a run holds for these alone."""
    digest = sha256()
    for pattern in CODE:
        for path in sorted(ROOT.glob(pattern)):
            digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


def _kept(state: Path | None, seed: int) -> dict[int, Chunk]:
    """Chunks kept in a file; a file of another number or other code is begun anew."""
    if state is None:
        return {}
    head = json.dumps({"seed": seed, "code": fingerprint(), "chunk": CHUNK}) + "\n"
    lines = state.read_text(encoding="utf-8").splitlines(keepends=True) if state.exists() else []
    # A run that is stopped while it writes leaves half a line, the last one.
    lines = [line for line in lines if line.endswith("\n")]
    if lines[:1] != [head]:
        lines = [head]
    state.write_text("".join(lines), encoding="utf-8")
    return {one.first: one for one in map(_read, lines[1:])}


def _read(line: str) -> Chunk:
    raw = json.loads(line)
    outcomes = [Outcome(**o) for o in raw["outcomes"]]
    return Chunk(raw["first"], outcomes, [Correct(**r) for r in raw["rigs"]])


def _keeper(state: Path | None) -> Callable[[Chunk], None]:
    def keep(one: Chunk) -> None:
        if state is not None:
            with state.open("a", encoding="utf-8") as file:
                file.write(json.dumps(asdict(one)) + "\n")

    return keep
