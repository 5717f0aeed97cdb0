"""``ferrule check`` of a whole fleet: the first run, and the second when nothing has changed.

    python benchmarks/fleet.py [--rigs 1000] [--jobs 2]

The rigs are those of ``generate.py`` in its four shapes, each a little different, of 40 devices on
average; every 49th has breakers too large for its cables.  Every run is a process of its own, all
with one cache that is empty at first.  The median of three second runs is told, and the load of the
machine beside the times.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from ferrule.cli.fleet.work import cores
from ferrule.dsl.reader import read_text
from generate import TOPOLOGIES, generate
from run import FERRULE

# Circuits that make a rig of about 40 devices, by shape.
CIRCUITS = {"radial": 16, "two-source": 12, "dc": 13, "three-phase": 16}
FAULTY = 49  # one rig of so many
DEVICES = 40
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


def seconds(argv: list[str], folder: Path, looked_at: int) -> float:
    """How long one run takes; one that did not do what it should stops the benchmark."""
    start = time.perf_counter()
    ran = subprocess.run(argv, capture_output=True, text=True, check=False, cwd=folder)
    taken = time.perf_counter() - start
    if ran.returncode not in (0, 1) or f"ferrule: {looked_at} of " not in ran.stderr:
        sys.exit(f"{' '.join(argv)}\n{ran.stderr}")
    return taken


def measured(folder: Path, rigs: int, jobs: int) -> dict[str, float]:
    """Seconds by what was run."""
    argv = [*FERRULE, "check", "fleet", "--jobs", str(jobs), "--cache", "kept"]
    first = seconds(argv, folder, rigs)
    second = statistics.median(seconds(argv, folder, 0) for _ in range(3))
    changed = next((folder / "fleet/dc").glob("*.rig"))
    changed.write_text(changed.read_text(encoding="utf-8") + "# looked over\n", encoding="utf-8")
    return {
        "first run": first,
        "second run": second,
        "one rig changed": seconds(argv, folder, 1),
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
    print("| what | time | bar |\n|---|--:|---|")
    for what, taken in times.items():
        kept = "kept" if taken <= BARS[what] else "**missed**"
        print(f"| {what} | {taken:.1f} s | {BARS[what]:.0f} s, {kept} |")


if __name__ == "__main__":
    main()
