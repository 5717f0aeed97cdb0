"""How soon an editor is answered: a client over standard input and output, as one types.

    python benchmarks/editor.py [-n ROUNDS] [FILE…]

For each example: from a change of the text to its diagnostics (the wait for quiet included), once
where a finding comes and goes and once where the text breaks and is whole again; then a hover, a
completion and the layout, and a hover and a completion while the text is broken, answered from the
last that could be read.  Medians and the slowest of the rounds, ms; beside them what the server
took of the processor for a change, which a busy machine does not lengthen much.
"""

from __future__ import annotations

import argparse
import os
import re
import statistics
import sys
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests"))

from lsp_client import Client  # noqa: E402

BAR_MS = 150.0
TICKS = os.sysconf("SC_CLK_TCK")


def processor_ms(pid: int) -> float:
    """What a process has taken of the processor so far, ms."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return 1000.0 * (int(fields[11]) + int(fields[12])) / TICKS


def timed(work: Callable[[], object]) -> float:
    """How long some work takes, ms."""
    started = time.perf_counter()
    work()
    return 1000.0 * (time.perf_counter() - started)


def rows(example: Path, rounds: int) -> Iterator[tuple[str, list[float], float | None]]:
    """What is timed on one file: its name, the times, ms, and the processor's for each."""
    text = example.read_text(encoding="utf-8")
    client = Client(root=example.parent)
    uri = client.open(example, text)
    client.diagnostics(uri)
    wire = re.search(r"^ *wire +(\w+)", text, re.M)
    assert wire is not None
    other = re.sub(r"(^ *wire +\w+ +)\S+", r"\g<1>24AWG", text, count=1, flags=re.M)
    line = text.count("\n", 0, wire.start(1))
    spot = client.at(uri, line, wire.start(1) - text.rfind("\n", 0, wire.start(1)) - 1)

    def change(new: str) -> None:
        client.change(uri, new)
        client.diagnostics(uri)

    for name, texts in (("change", (other, text)), ("mistake", (text + "\nwire W", text + "\n"))):
        change(texts[1])
        before = processor_ms(client.process.pid)
        times = [timed(partial(change, texts[n % 2])) for n in range(rounds)]
        took = (processor_ms(client.process.pid) - before) / rounds
        yield name, times, took
    document = {"textDocument": {"uri": uri}}
    layout = {**document, "options": {"tabSize": 2, "insertSpaces": True}}
    asked = {
        "hover": ("textDocument/hover", spot, text),
        "completion": ("textDocument/completion", spot, text),
        "layout": ("textDocument/formatting", layout, text),
        "hover, broken": ("textDocument/hover", spot, text + "\nwire W"),
        "completion, broken": ("textDocument/completion", spot, text + "\nwire W"),
    }
    for name, (method, params, of) in asked.items():
        change(of)
        yield name, [timed(partial(client.result, method, params)) for _ in range(rounds)], None
    client.close()


def main() -> int:
    """Print the table; 1 where the median of a change is over the bar."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("-n", type=int, default=50, metavar="ROUNDS")
    parser.add_argument("files", nargs="*", type=Path)
    args = parser.parse_args()
    missed = False
    print("| rig | what | median, ms | slowest, ms | processor, ms | bar |")
    print("|---|---|--:|--:|--:|---|")
    for example in args.files or sorted((ROOT / "examples").glob("*.rig")):
        for name, times, took in rows(example.resolve(), args.n):
            middle = statistics.median(times)
            judged = name in ("change", "mistake")
            missed |= judged and middle > BAR_MS
            bar = f"{BAR_MS:.0f} ms, {'kept' if middle <= BAR_MS else '**missed**'}"
            figures = f"{middle:.0f} | {max(times):.0f} | {'' if took is None else f'{took:.0f}'}"
            print(f"| {example.name} | {name} | {figures} | {bar if judged else ''} |")
    print(f"\nload of the machine while it ran: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    return int(missed)


if __name__ == "__main__":
    sys.exit(main())
