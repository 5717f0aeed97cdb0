"""The same work on a few things, in copies of this process where the system makes any.

What a copy is to work on it has already, so it is worth making for some milliseconds of work: the
stages of a rig, which know nothing of each other.  (Files by the hundred go to fresh processes,
``fleet/work.py``.)
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable
from typing import TypeVar

Thing = TypeVar("Thing")
Found = TypeVar("Found")


def each(
    work: Callable[[Thing], list[Found]], things: Iterable[Thing], cores: int | None = None
) -> list[list[Found]]:
    """What ``work`` finds in each thing, in their order; the last is done in this process.

    ``cores``: how many processors there are; None: as many as this process may use.
    """
    *others, last = things
    if not _makes_copies() or (_cores() if cores is None else cores) < 2:
        return [work(thing) for thing in (*others, last)]
    copies = [_copy(work, thing) for thing in others]
    own = work(last)
    done: list[list[Found] | None] = [_of_copy(pid, pipe) for pid, pipe in copies]
    sure = zip(others, done, strict=True)
    return [*(work(thing) if found is None else found for thing, found in sure), own]


def _makes_copies() -> bool:
    """Whether this process can be copied: a thread of it would be missing in the copy."""
    threading = sys.modules.get("threading")
    return hasattr(os, "fork") and (threading is None or threading.active_count() == 1)


def _cores() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _copy(work: Callable[[Thing], list[Found]], thing: Thing) -> tuple[int, int]:
    """A copy at work: its number, and the pipe by which it sends what it found."""
    receives, sends = os.pipe()
    pid = os.fork()
    if pid:
        os.close(sends)
        return pid, receives
    failed = 1
    try:
        found = work(thing)
        with open(sends, "wb") as pipe:
            if found:  # mostly nothing is, and then nothing more needs to be loaded
                import pickle

                pipe.write(pickle.dumps(found))
        failed = 0
    finally:
        os._exit(failed)  # whatever went wrong is to be met, and told, by the process itself


def _of_copy(pid: int, pipe: int) -> list[Found] | None:
    """What a copy found; None where it ended before it had done its work."""
    with open(pipe, "rb") as sent:
        found = sent.read()
    if os.waitpid(pid, 0)[1]:
        return None
    if not found:
        return []
    import pickle

    told: list[Found] = pickle.loads(found)
    return told
