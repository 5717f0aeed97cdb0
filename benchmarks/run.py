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
from sized import least, lines_of, rig_of
from solver import share

ROOT = Path(__file__).parents[1]
SCRIPT = Path(sys.executable).with_name("ferrule")
FERRULE = [str(SCRIPT)] if SCRIPT.exists() else [sys.executable, "-m", "ferrule.cli.main"]
SIZES = (100, 1_000, 10_000)
LARGE = 100_000
LINES = {200: 9, 2_000: 3, 20_000: 1}  # of rigs, and how often each is checked in a round
FLAT = 1.3  # the most that a line of the longest may take, times what one of the shortest does
LARGE_S, MOST_MB = 25, 1_000
LEAST = "`check` of the least generated rig"
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
        Job("`ferrule --version`", [*FERRULE, "--version"], "4 × bare", times=3),
    ]


def examples(out: Path) -> Iterator[Job]:
    """Check, drawings and report of every example."""
    for path in sorted((ROOT / "examples").glob("*.rig")):
        name = path.name
        yield Job(f"`check` {name}", [*FERRULE, "check", str(path)], "8 × bare", times=3)
    for path in sorted((ROOT / "examples").glob("*.rig")):
        name = path.name
        svg = [*FERRULE, "draw", str(path), "-o", str(out / path.stem), "--format", "svg"]
        yield Job(f"`draw` {name}, SVG", svg, "0.5 s", 0.5)
        pdf = [*FERRULE, "draw", str(path), "-o", str(out / path.stem), "--format", "pdf"]
        yield Job(f"`draw` {name}, bound PDF", pdf, "4 s", 4.0)
        page = [*FERRULE, "report", str(path), "-o", str(out / path.stem)]
        yield Job(f"`report` {name}", page)


def generated(folder: Path) -> Iterator[Job]:
    """Check of generated rigs, each ten times the one before."""
    for size in SIZES:
        path = folder / f"generated-{size}.rig"
        path.write_text(rig_of(size), encoding="utf-8")
        bar, limit = ("2 s", 2.0) if size == SIZES[-1] else ("", None)
        argv = [*FERRULE, "check", "--format", "github", str(path)]
        yield Job(f"`check` of {size:,} conductors", argv, bar, limit)

    path = folder / "least.rig"
    path.write_text(least(), encoding="utf-8")
    yield Job(LEAST, [*FERRULE, "check", str(path)], times=9)
    for lines, times in LINES.items():
        path = folder / f"lines-{lines}.rig"
        path.write_text(lines_of(lines), encoding="utf-8")
        yield Job(of_lines(lines), [*FERRULE, "check", str(path)], times=times)

    path = folder / "thin.rig"
    path.write_text(too_thin(THIN), encoding="utf-8")
    argv = [*FERRULE, "check", "--format", "github", str(path)]
    yield Job(f"`check` of {THIN:,} cables, each too thin, on one bar", argv)


def of_lines(lines: int) -> str:
    """The name of the check of a rig of so many lines."""
    return f"`check` of {lines:,} lines"


def per_line(medians: dict[str, tuple[float, float]]) -> str:
    """What a line takes of the processor, by the length of the rig; start-up is taken off."""
    start, own = medians[LEAST][1], least().count("\n")
    each = {n: 1e6 * (medians[of_lines(n)][1] - start) / (n - own) for n in LINES}
    shortest, *_, longest = each.values()
    ratio = longest / shortest
    told = ", ".join(f"{us:.0f} µs of {n:,}" for n, us in each.items())
    return (
        f"A line takes {told} lines, less what a rig of {own} lines takes "
        f"({1000 * start:.0f} ms of the processor): × {ratio:.2f} from the shortest to the longest "
        f"(bar: × {FLAT}, {'kept' if ratio <= FLAT else '**missed**'})."
    )


def large(folder: Path) -> str:
    """A line on the check of one very large rig: its time, and the most memory a check took."""
    path = folder / "large.rig"
    path.write_text(rig_of(LARGE), encoding="utf-8")
    argv = [*FERRULE, "check", "--format", "github", str(path)]
    seconds, worked = once(Job("large", argv))
    megabytes = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    kept = "kept" if seconds <= LARGE_S and megabytes <= MOST_MB else "**missed**"
    return (
        f"{LARGE:,} conductors: {seconds:.1f} s, {worked:.1f} s of the processor, "
        f"{megabytes:.0f} MB (bars: {LARGE_S} s, {MOST_MB} MB, {kept})."
    )


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
        times, _, bare = job.bar.partition(" × ")
        limit = int(times) * base if bare else job.limit_s
        kept = "" if limit is None else ", kept" if seconds <= limit else ", **missed**"
        ratio = f"{seconds / base:.1f}"
        taken = f"{seconds * 1000:.0f} ms | {worked * 1000:.0f} ms"
        yield f"| {job.name} | {taken} | {ratio} | {job.bar}{kept} |"


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
        print(f"\n{per_line(medians)}")
    print(f"\n{solving()}")
    if told:
        print(f"\n{told}")


if __name__ == "__main__":
    main()
