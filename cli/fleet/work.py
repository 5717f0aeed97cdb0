"""The same work for many files: in processes of their own where there is enough of it."""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from typing import TypeVar

from .. import files
from ..errors import Unusable

Done = TypeVar("Done")
FEW = 6  # starting a process takes as long as checking so many small rigs
CHUNK = 8  # files handed over at once


def cores() -> int:
    """How many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0)) or 1
    return os.cpu_count() or 1


def each(
    work: Callable[[str], Done], names: Sequence[str], jobs: int, few: int | None = None
) -> Iterator[Done]:
    """What ``work`` makes of each name, in the order of the names, however many processes do it.

    ``work`` must be one that a fresh process can be sent: a function of a module.  ``few`` names
    are not worth a process.  Raises ``Unusable`` where a process ends before its work does.
    """
    if jobs <= 1 or len(names) <= (FEW if few is None else few):
        yield from map(work, names)
        return
    chunk = min(CHUNK, -(-len(names) // jobs))
    # Fresh processes, not copies of this one: the same on every system.
    fresh = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(min(jobs, len(names)), fresh, _begin, (files.outside(),)) as pool:
        done = 0
        try:
            for made in pool.map(work, names, chunksize=chunk):
                done += 1
                yield made
        except BrokenProcessPool:
            first = names[done - done % chunk]
            hint = "was it out of memory? `--jobs 1` does one after another"
            raise Unusable(f"a process ended at work on a file from {first} on", hint) from None
        finally:
            pool.shutdown(cancel_futures=True)


def _begin(outside: bool) -> None:
    """A process at work may read what this run may; an interrupt is for the one that waits."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    files.reach(outside)
