"""``ferrule check`` of a whole fleet: the first run, and the second when nothing has changed.

    python benchmarks/fleet.py [--rigs 1000] [--jobs 2]

The rigs are those of ``generate.py`` in its four shapes, each a little different, of 40 devices on
average; every 49th has breakers too large for its cables.  Every run is a process of its own, all
with one cache that is empty at first.  Of three second runs the median is told.  Beside the time
stands the processors' time, which a busy machine changes little, and the load when it began.
"""

from __future__ import annotations

import argparse
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from ferrule.cli.fleet.work import cores
from ferrule.dsl.reader import read_text
from generate import TOPOLOGIES, generate
from run import FERRULE

# Circuits that make a rig of about 40 devices, by shape.
CIRCUITS = {"radial": 16, "two-source": 12, "dc": 13, "three-phase": 16}
FAULTY = 49  # one rig of so many
BARS = {"first run": 60.0, "second run": 3.0, "one rig changed": 3.0}


def texts(rigs: int) -> Iterator[tuple[str, str]]:
    """Names and texts of the fleet; the same for the same number."""
    shapes = list(TOPOLOGIES)
    for number in range(rigs):
        shape = shapes[number % len(shapes)]
        text = generate(shape, CIRCUITS[shape] + number // 4 % 3 - 1, number)
        if number % FAULTY == 0:
            text = text.replace(" 10A ", " 63A ").replace(" 15A ", " 60A ")
        yield f"{shape}/rig{number:04d}.rig", text


def lay_down(folder: Path, rigs: int) -> float:
    """Write the fleet; returns how many devices its rigs have on average."""
    devices = []
    for name, text in texts(rigs):
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        devices.append(len(read_text(text).rigs[-1].devices))
    return statistics.mean(devices)


class Times(NamedTuple):
    """Seconds by the clock, and seconds of all processors together."""

    clock: float
    processors: float


def processors_s() -> float:
    """Processor time of all processes that have ended so far."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def once(argv: list[str], folder: Path, looked_at: int) -> Times:
    """How long one run takes; one that did not do what it should stops the benchmark."""
    start, used = time.perf_counter(), processors_s()
    ran = subprocess.run(argv, capture_output=True, text=True, check=False, cwd=folder)
    taken = Times(time.perf_counter() - start, processors_s() - used)
    if ran.returncode not in (0, 1) or f"ferrule: {looked_at} of " not in ran.stderr:
        sys.exit(f"{' '.join(argv)}\n{ran.stderr}")
    return taken


def measured(folder: Path, rigs: int, jobs: int) -> dict[str, Times]:
    """Times by what was run."""
    argv = [*FERRULE, "check", "fleet", "--jobs", str(jobs), "--cache", "kept"]
    first = once(argv, folder, rigs)
    second = sorted(once(argv, folder, 0) for _ in range(3))[1]
    changed = next((folder / "fleet/dc").glob("*.rig"))
    changed.write_text(changed.read_text(encoding="utf-8") + "# looked over\n", encoding="utf-8")
    return {
        "first run": first,
        "second run": second,
        "one rig changed": once(argv, folder, 1),
    }


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--rigs", type=int, default=1000, help="how many (default 1000)")
    parser.add_argument("--jobs", type=int, default=cores(), help="processes (default: one a core)")
    args = parser.parse_args()
    load = os.getloadavg()[0]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        devices = lay_down(folder / "fleet", args.rigs)
        times = measured(folder, args.rigs, args.jobs)
    print(
        f"{args.rigs} rigs of {devices:.0f} devices on average, {args.jobs} processes on "
        f"{cores()} cores; load of the machine when it began: {load:.1f}.\n"
    )
    print("| what | time | processors | bar |\n|---|--:|--:|---|")
    for what, taken in times.items():
        kept = "kept" if taken.clock <= BARS[what] else "**missed**"
        told = f"{taken.clock:.1f} s | {taken.processors:.1f} s | {BARS[what]:.0f} s, {kept}"
        print(f"| {what} | {told} |")


if __name__ == "__main__":
    main()
