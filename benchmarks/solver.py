"""The electrical solution's share of a check, and what it was weighed against.

    python benchmarks/solver.py

Prints, as a table in Markdown, what the solution takes of the rules' time in one process (rules of
every family on, reading left out), then what importing numpy and scipy would cost instead.
"""

from __future__ import annotations

import gc
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from ferrule.checks.run import check_rigs
from ferrule.checks.solve import Solution
from ferrule.dsl.model import Rig
from ferrule.dsl.reader import read, read_text
from sized import rig_of

ROOT = Path(__file__).parents[1]
ASKED = ("drop", "inrush_sag", "fault", "volts", "between", "amps", "pole_amps", "source_amps")
# A check imports these in any case; what comes on top of them is counted.
ANYWAY = "import ferrule.checks.capacity.draws, ferrule.checks.tracing.cut, heapq"
MODULES = ("numpy", "scipy.sparse", "scipy.sparse.linalg", "ferrule.checks.solve")


class Clock:
    """Seconds spent inside the solution, however its answers call each other."""

    def __init__(self) -> None:
        self.seconds, self.calls, self._depth = 0.0, 0, 0

    def timed(self, function: Callable[..., Any]) -> Callable[..., Any]:
        def run(*args: Any) -> Any:
            self._depth += 1
            start = time.perf_counter()
            try:
                return function(*args)
            finally:
                self._depth -= 1
                if not self._depth:
                    self.seconds += time.perf_counter() - start
                    self.calls += 1

        return run


def share(rigs: tuple[Rig, ...], rounds: int) -> tuple[float, float, int]:
    """Median seconds of a check and of the solution in it, and how often it is asked."""
    whole, solved, calls = [], [], 0
    originals = {name: getattr(Solution, name) for name in ASKED}
    for _ in range(rounds):
        clock = Clock()
        for name, function in originals.items():
            setattr(Solution, name, clock.timed(function))
        gc.disable()  # as the command line does
        start = time.perf_counter()
        check_rigs(rigs)
        whole.append(time.perf_counter() - start)
        gc.enable()
        solved.append(clock.seconds)
        calls = clock.calls
    for name, function in originals.items():
        setattr(Solution, name, function)
    return statistics.median(whole), statistics.median(solved), calls


def import_ms(module: str, rounds: int = 7) -> float:
    """What a module takes to import, in a process of its own, ms."""

    def once(code: str) -> float:
        start = time.perf_counter()
        subprocess.run([sys.executable, "-c", code], check=True)
        return time.perf_counter() - start

    pairs = [(once(f"{ANYWAY}, {module}"), once(ANYWAY)) for _ in range(rounds)]
    return 1000 * statistics.median(long - short for long, short in pairs)


def main() -> None:
    """Measure and print."""
    print("| check of | all rules | the solution in them | share | asked |")
    print("|---|--:|--:|--:|--:|")
    texts = {path.name: read(path).rigs for path in sorted((ROOT / "examples").glob("*.rig"))}
    for size in (1_000, 10_000):
        texts[f"{size:,} conductors"] = read_text(rig_of(size)).rigs
    for name, rigs in texts.items():
        whole, solved, calls = share(rigs, 3 if name.startswith("10") else 9)
        times = f"{1000 * whole:.0f} ms | {1000 * solved:.1f} ms | {solved / whole:.0%}"
        print(f"| {name} | {times} | {calls:,} |")
    print("\n| import | takes |\n|---|--:|")
    for module in MODULES:
        print(f"| {module} | {import_ms(module):.0f} ms |")


if __name__ == "__main__":
    main()
