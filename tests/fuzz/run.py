"""Coverage-guided fuzzing of the doors that files come in by: ``python tests/fuzz/run.py``.

``--minutes N`` of processor time are shared by all harnesses, one process each, one after another.
Inputs start from the rigs, books and sheets of the repository.  A finding is an exception that is
no refusal, an input that takes 2 s, or 500 MB; it is written to ``--out`` and named, and the exit
code is 1.  Needs atheris, which is no dependency of the tests: ``pip install atheris``.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
HERE = Path(__file__).parent
SEEDS = {
    "reader": ["cli/starter.rig", "tests/rigs/*.rig", "tests/faults/*.rig", "examples/*.rig"],
    "book": ["examples/*.book", "tests/data/**/*.book"],
    "cache": [],
    "readings": ["examples/drawings/*/*commissioning.csv", "examples/drawings/*/*probes.csv"],
}
LONGEST = 6_000  # bytes of an input; megabytes are tried in test_dsl_hostile.py


def main() -> int:
    """Fuzz each harness for its share of the time; 1 where one found something."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--minutes", type=float, default=30, help="of processor time, in all")
    parser.add_argument("--only", choices=SEEDS, help="one harness (default: all)")
    parser.add_argument("--out", default="fuzz-out", help="folder for inputs and findings")
    parser.add_argument("--work", help=argparse.SUPPRESS)
    args, rest = parser.parse_known_args()
    if args.work:
        work(args.work, rest)
    names = [args.only] if args.only else list(SEEDS)
    share = max(1, round(args.minutes * 60 / len(names)))
    found = [fuzz(name, share, Path(args.out)) for name in names]
    return int(any(found))


def fuzz(name: str, seconds: int, out: Path) -> bool:
    """Fuzz one harness; tells how many inputs it ran, and whether one of them is a finding."""
    corpus, found = out / name / "corpus", out / name / "found"
    for folder in (corpus, found):
        folder.mkdir(parents=True, exist_ok=True)
    seed(name, corpus)
    argv = [sys.executable, __file__, "--work", name, f"-max_total_time={seconds}"]
    argv += [f"-max_len={LONGEST}", "-timeout=2", "-rss_limit_mb=500", "-print_final_stats=1"]
    argv += ["-len_control=0", f"-artifact_prefix={found}/", str(corpus)]
    ran = subprocess.run(argv, capture_output=True, text=True, errors="replace")
    (out / name / "log.txt").write_text(ran.stderr + ran.stdout, encoding="utf-8")
    count = re.search(r"number_of_executed_units: (\d+)", ran.stderr)
    covered = re.findall(r"cov: (\d+)", ran.stderr)
    told = f"{count[1] if count else '?'} inputs, {covered[-1] if covered else '?'} edges"
    findings = sorted(path.name for path in found.iterdir())
    print(f"{name}: {told}, {seconds} s, exit {ran.returncode}, findings: {findings}", flush=True)
    return bool(findings or ran.returncode)


def seed(name: str, corpus: Path) -> None:
    """Copies what the repository has of a kind, and what was found earlier, to start from."""
    kept = sorted((HERE / "found").glob(f"{name}-*"))
    paths = [path for pattern in SEEDS[name] for path in sorted(ROOT.glob(pattern))]
    for path in (*kept, *paths):
        if path.stat().st_size <= LONGEST or name != "reader":
            (corpus / path.name).write_bytes(path.read_bytes())
    if name == "cache":
        entry = b'{"file": "a.rig", "sources": {}, "problems": [], "findings": null}'
        (corpus / "entry").write_bytes(entry)


def work(name: str, options: list[str]) -> None:
    """The process that fuzzes: ferrule is loaded with its branches counted."""
    import atheris  # only here: nothing else needs it

    with atheris.instrument_imports(include=["ferrule"]):
        from harnesses import HARNESSES
    harness = HARNESSES[name]
    atheris.Setup([sys.argv[0], *options], harness)
    atheris.Fuzz()


if __name__ == "__main__":
    sys.exit(main())
