"""Coverage-guided fuzzing of the doors that files come in by: ``python tests/fuzz/run.py``.

``--minutes N`` of processor time are shared by all harnesses, one process each, one after another.
Inputs start from the rigs, books and sheets of the repository; rigs are altered by statements and
words (``alter.py``) as well as by bytes.  A finding is an exception that is no refusal, an input
that takes 2 s of a processor, or one that takes 250 MB more than all before it; each is written to
``--out`` and named, and the exit code is 1.  Fuzzing goes on behind a finding: one place in the
code is one finding.  Needs atheris, which is no dependency of the tests: ``pip install atheris``.
"""

from __future__ import annotations

import argparse
import json
import os
import pkgutil
import re
import resource
import signal
import subprocess
import sys
import time
import traceback
from collections.abc import Callable
from hashlib import sha256
from importlib import import_module
from pathlib import Path

ROOT = Path(__file__).parents[2]
HERE = Path(__file__).parent
RIGS = ["cli/starter.rig", "tests/rigs/*.rig", "tests/faults/*.rig", "examples/*.rig"]
SEEDS = {
    "reader": RIGS,
    "checker": ["cli/starter.rig", "tests/rigs/*.rig", "tests/faults/*1*.rig"],
    "book": ["examples/*.book", "tests/data/**/*.book"],
    "cache": [],
    "readings": ["examples/drawings/*/*commissioning.csv", "examples/drawings/*/*probes.csv"],
}
LONGEST = 6_000  # bytes of an input; megabytes are tried in test_dsl_hostile.py
SECONDS, MEGABYTES = 2.0, 250.0
HANGS = 30.0  # seconds of a processor after which an input is given up


def main() -> int:
    """Fuzz each harness for its share of the time; 1 where one found something."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--minutes", type=float, default=30, help="of processor time, in all")
    parser.add_argument("--only", choices=SEEDS, help="one harness (default: all)")
    parser.add_argument("--out", default="fuzz-out", help="folder for inputs and findings")
    parser.add_argument("--work", help=argparse.SUPPRESS)
    parser.add_argument("--seconds", type=int, default=0, help=argparse.SUPPRESS)
    args, rest = parser.parse_known_args()
    if args.work:
        work(args.work, args.seconds, Path(args.out) / args.work, rest)
    names = [args.only] if args.only else list(SEEDS)
    share = max(1, round(args.minutes * 60 / len(names)))
    found = [fuzz(name, share, Path(args.out)) for name in names]
    return int(any(found))


def fuzz(name: str, seconds: int, out: Path) -> bool:
    """Fuzz one harness; tells what it ran to, and whether there is a finding."""
    corpus, found = out / name / "corpus", out / name / "found"
    for folder in (corpus, found):
        folder.mkdir(parents=True, exist_ok=True)
    seed(name, corpus)
    words = out / name / "words.txt"
    words.write_text(dictionary(name), encoding="utf-8")
    argv = [sys.executable, __file__, "--work", name, "--seconds", str(seconds), "--out", str(out)]
    argv += [f"-max_len={LONGEST}", "-timeout=100000", "-rss_limit_mb=4000", "-len_control=0"]
    argv += ["-mutate_depth=2", f"-dict={words}", f"-artifact_prefix={found}/", str(corpus)]
    ran = subprocess.run(argv, capture_output=True, text=True, errors="replace")
    log = ran.stderr + ran.stdout
    (out / name / "log.txt").write_text(log, encoding="utf-8")
    covered = re.findall(r"cov: (\d+) ft: (\d+)", log) or [("?", "?")]
    findings = sorted(path.name for path in found.iterdir())
    told = out / name / "ran.json"
    figures = json.loads(told.read_text("utf-8")) if told.is_file() else {}
    figures |= {"edges": covered[-1][0], "features": covered[-1][1], "findings": len(findings)}
    print(name, json.dumps(figures), f"exit {ran.returncode}", findings, flush=True)
    return bool(findings or ran.returncode)


def dictionary(name: str) -> str:
    """Words to put in, in the form that the fuzzer reads."""
    sys.path.insert(0, str(HERE))
    alter = import_module("alter")
    words = list(alter.WORDS) if name in ("reader", "checker") else []
    if name == "book":
        text = "\n".join(path.read_text("utf-8") for path in ROOT.glob("examples/*.book"))
        words = sorted(set(re.findall(r"[\w.-]{3,}|\[\[?|\]\]?", text)))
    if name == "cache":
        words = sorted(set(re.findall(r'"\w+"', (ROOT / "cli/findings.schema.json").read_text())))
    if name == "readings":
        words = ["test", "reading", "digest", ";", ",", '""', "ohm", "Mohm", "OL", "V", "A"]
    escaped = [word.replace("\\", "\\\\").replace('"', '\\"') for word in words]
    return "".join(f'"{word}"\n' for word in escaped if word.isascii())


def seed(name: str, corpus: Path) -> None:
    """Copies what the repository has of a kind, and what was found earlier, to start from."""
    kept = sorted((HERE / "found").glob(f"{name}-*"))
    paths = [path for pattern in SEEDS[name] for path in sorted(ROOT.glob(pattern))]
    for path in (*kept, *paths):
        if path.stat().st_size <= LONGEST or name not in ("reader", "checker"):
            (corpus / path.name).write_bytes(path.read_bytes())
    if name == "cache":
        entry = b'{"file": "a.rig", "sources": {}, "problems": [], "findings": null}'
        (corpus / "entry").write_bytes(entry)
        findings = [sys.executable, "-m", "ferrule.cli.main", "check", "--format", "json"]
        for path in sorted(ROOT.glob("tests/faults/*.rig"))[:10]:
            said = subprocess.run([*findings, str(path)], capture_output=True).stdout
            (corpus / path.name).write_bytes(said)


class Watch:
    """A harness with its time, memory and failures kept; ends the process when time is up."""

    def __init__(self, harness: Callable[[bytes], object], seconds: int, out: Path) -> None:
        self.harness, self.seconds, self.out = harness, seconds, out
        told = out / "ran.json"
        was = json.loads(told.read_text("utf-8")) if told.is_file() else {}  # it is gone on with
        self.inputs, self.taken = was.get("inputs", 0), was.get("taken", 0)
        self.slowest, self.peak = was.get("slowest_s", 0.0), was.get("peak_mb", 0)
        self.earlier = was.get("seconds", 0)
        self.warm = False  # the first input loads what all others use
        self.places: set[str] = set()
        self.told = 0.0

    def __call__(self, data: bytes) -> None:
        before, peak = time.process_time(), _megabytes()
        signal.setitimer(signal.ITIMER_VIRTUAL, HANGS)
        try:
            self.taken += self.harness(data) is not None
        except Exception as error:
            self.keep(data, _place(error), traceback.format_exc())
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        now = time.process_time()
        self.inputs += 1
        self.slowest = max(self.slowest, now - before)
        if now - before > SECONDS:
            self.keep(data, "slow", f"{now - before:.1f} s\n")
        if self.warm and _megabytes() - peak > MEGABYTES:
            self.keep(data, "large", f"{_megabytes() - peak:.0f} MB\n")
        self.warm = True
        if now - self.told > 5:
            self.tell(now)
        if now > self.seconds:
            self.tell(now)
            os._exit(0)

    def keep(self, data: bytes, place: str, why: str) -> None:
        if place in self.places:
            return
        self.places.add(place)
        name = f"{place}-{sha256(data).hexdigest()[:8]}"
        (self.out / "found" / name).write_bytes(data)
        (self.out / f"{name}.why.txt").write_text(why, encoding="utf-8")

    def tell(self, now: float) -> None:
        self.told = now
        figures = {
            "seconds": self.earlier + round(now),
            "inputs": self.inputs,
            "taken": self.taken,
            "peak_mb": max(self.peak, round(_megabytes())),
            "slowest_s": round(self.slowest, 2),
        }
        (self.out / "ran.json").write_text(json.dumps(figures), encoding="utf-8")


def _give_up(number: int, frame: object) -> None:
    raise TimeoutError(f"{HANGS:g} s")


def _megabytes() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def _place(error: BaseException) -> str:
    """Where ferrule failed: the innermost of its own lines."""
    frames = [f for f in traceback.extract_tb(error.__traceback__) if str(ROOT) in f.filename]
    last = frames[-1]
    return f"{type(error).__name__}-{Path(last.filename).stem}-{last.lineno}"


def work(name: str, seconds: int, out: Path, options: list[str]) -> None:
    """The process that fuzzes: ferrule is loaded with its branches counted."""
    import atheris  # only here: nothing else needs it

    sys.path.insert(0, str(HERE))
    with atheris.instrument_imports(include=["ferrule"]):
        harness = import_module("harnesses").HARNESSES[name]
        for room in ("dsl", "checks", "cli", "render") if name == "checker" else ():
            _load(f"ferrule.{room}")
    altered = import_module("alter").altered

    def mutator(data: bytes, most: int, seed: int) -> bytes:
        if seed % 4 == 0:
            changed: bytes = atheris.Mutate(data, most)
            return changed
        text = data.decode("utf-8", errors="replace")
        return str(altered(text, seed, most)).encode()[:most]

    signal.signal(signal.SIGVTALRM, _give_up)
    watch = Watch(harness, seconds, out)
    atheris.Setup([sys.argv[0], *options], watch, custom_mutator=mutator)
    atheris.Fuzz()


def _load(package: str) -> None:
    """Every module of a package; those of editors need another library and are left out."""
    for found in pkgutil.iter_modules(import_module(package).__path__):
        name = f"{package}.{found.name}"
        if found.name in ("editor", "make_fonts", "make_grammar", "make_kinds"):
            continue
        if found.ispkg:
            _load(name)
        else:
            import_module(name)


if __name__ == "__main__":
    sys.exit(main())
