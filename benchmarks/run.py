"""Whole-process times of ``check`` and ``draw``, beside what the interpreter itself takes.

    python benchmarks/run.py [-n ROUNDS] [--quick | --large]

Every command is a process of its own, so start-up counts; the median of the rounds is printed, as
a table in Markdown.  The rounds of all commands are interleaved: a busy moment of the machine
falls on all of them.
"""

from __future__ import annotations

import argparse
import platform
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from ferrule.dsl.reader import read
from generate import too_thin
from sized import rig_of
from solver import share

ROOT = Path(__file__).parents[1]
SCRIPT = Path(sys.executable).with_name("ferrule")
FERRULE = [str(SCRIPT)] if SCRIPT.exists() else [sys.executable, "-m", "ferrule.cli.main"]
SIZES = (100, 1_000, 10_000)
LARGE = 100_000
THIN = 5_000
DRAWN = ("`draw`", "`report`")


@dataclass(frozen=True)
class Job:
    """A command to time; ``bar`` is what it may take at most, in words and in seconds.

    ``times``: how often it is run in a round.  What others are measured by is run often, so that
    one busy moment does not flatter them.
    """

    name: str
    argv: list[str]
    bar: str = ""
    limit_s: float | None = None
    times: int = 1


def bare() -> list[Job]:
    """What is spent before any of our code runs."""
    return [
        Job("`python -c pass`", [sys.executable, "-c", "pass"], times=9),
        Job("`python -c 'import lark'`", [sys.executable, "-c", "import lark"], times=3),
        Job("`ferrule --version`", [*FERRULE, "--version"], times=3),
    ]


def examples(out: Path) -> Iterator[Job]:
    """Check, drawings and report of every example."""
    for path in sorted((ROOT / "examples").glob("*.rig")):
        name = path.name
        yield Job(f"`check` {name}", [*FERRULE, "check", str(path)], "12 × bare", times=3)
    for path in sorted((ROOT / "examples").glob("*.rig")):
        name = path.name
        svg = [*FERRULE, "draw", str(path), "-o", str(out / path.stem), "--format", "svg"]
        yield Job(f"`draw` {name}, SVG", svg, "1 s", 1.0)
        pdf = [*FERRULE, "draw", str(path), "-o", str(out / path.stem), "--format", "pdf"]
        yield Job(f"`draw` {name}, bound PDF", pdf, "4 s", 4.0)
        page = [*FERRULE, "report", str(path), "-o", str(out / path.stem)]
        yield Job(f"`report` {name}", page)


def generated(folder: Path) -> Iterator[Job]:
    """Check of generated rigs, each ten times the one before."""
    for size in SIZES:
        path = folder / f"generated-{size}.rig"
        path.write_text(rig_of(size), encoding="utf-8")
        bar, limit = ("4 s", 4.0) if size == SIZES[-1] else ("", None)
        argv = [*FERRULE, "check", "--format", "github", str(path)]
        yield Job(f"`check` of {size:,} conductors", argv, bar, limit)

    path = folder / "thin.rig"
    path.write_text(too_thin(THIN), encoding="utf-8")
    argv = [*FERRULE, "check", "--format", "github", str(path)]
    yield Job(f"`check` of {THIN:,} cables, each too thin, on one bar", argv)


def large(folder: Path) -> str:
    """A line on the check of one very large rig: its time, and the most memory a check took."""
    path = folder / "large.rig"
    path.write_text(rig_of(LARGE), encoding="utf-8")
    argv = [*FERRULE, "check", "--format", "github", str(path)]
    seconds, _ = once(Job("large", argv))
    megabytes = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    return f"{LARGE:,} conductors: {seconds:.1f} s, {megabytes:.0f} MB (bars: 25 s, 1 GB)."


def solving() -> str:
    """A line on the electrical solution's share of the rules, by example."""
    shares = []
    for path in sorted((ROOT / "examples").glob("*.rig")):
        whole, solved, _ = share(read(path).rigs, 7)
        shares.append(f"{path.stem} {solved / whole:.0%} of {1000 * whole:.0f} ms")
    return f"The electrical solution's share of the rules: {', '.join(shares)}."


def once(job: Job) -> tuple[float, float]:
    """Seconds that one run takes, and that the processor works for it.

    A run that cannot do its job stops the benchmark.
    """
    start, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    ran = subprocess.run(job.argv, capture_output=True, text=True, check=False)
    seconds, after = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    if ran.returncode not in (0, 1):
        sys.exit(f"{' '.join(job.argv)}\n{ran.stderr}")
    worked = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return seconds, worked


def measure(jobs: list[Job], rounds: int) -> dict[str, tuple[float, float]]:
    """The medians of each job's times (see ``once``), after one round to warm the disk."""
    times: dict[str, list[tuple[float, float]]] = {job.name: [] for job in jobs}
    for turn in range(rounds + 1):
        for job in jobs:
            taken = [once(job) for _ in range(job.times)]
            if turn:
                times[job.name] += taken
    medians = {}
    for name, taken in times.items():
        wall, worked = zip(*taken, strict=True)
        medians[name] = (statistics.median(wall), statistics.median(worked))
    return medians


def table(jobs: list[Job], medians: dict[str, tuple[float, float]]) -> Iterator[str]:
    """The measurements as a table in Markdown.

    Where the time is more than the processor's, the machine was busy with something else.
    """
    base = medians[jobs[0].name][0]
    yield "| what | time | processor | × bare interpreter | bar |"
    yield "|---|--:|--:|--:|---|"
    for job in jobs:
        seconds, worked = medians[job.name]
        limit = 12 * base if job.bar == "12 × bare" else job.limit_s
        kept = "" if limit is None else ", kept" if seconds <= limit else ", **missed**"
        ratio = f"{seconds / base:.1f}"
        times = f"{seconds * 1000:.0f} ms | {worked * 1000:.0f} ms"
        yield f"| {job.name} | {times} | {ratio} | {job.bar}{kept} |"


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("-n", type=int, default=7, metavar="ROUNDS", help="rounds (default 7)")
    parser.add_argument("--quick", action="store_true", help="leave out drawings and big rigs")
    parser.add_argument("--large", action="store_true", help=f"and a rig of {LARGE:,} conductors")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        jobs = bare() + list(examples(folder))
        jobs = [job for job in jobs if not job.name.startswith(DRAWN)] if args.quick else jobs
        jobs += [] if args.quick else generated(folder)
        medians = measure(jobs, args.n)
        told = large(folder) if args.large else ""
    print(f"Python {platform.python_version()}, median of {args.n} runs, whole process.\n")
    print("\n".join(table(jobs, medians)))
    growth = [medians.get(f"`check` of {size:,} conductors") for size in SIZES[1:]]
    if growth[0] and growth[1]:
        times = growth[1][0] / growth[0][0]
        print(f"\nFrom 1,000 to 10,000 conductors: × {times:.1f} (bar: × 12).")
    print(f"\n{solving()}")
    if told:
        print(f"\n{told}")


if __name__ == "__main__":
    main()
