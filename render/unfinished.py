"""What a run puts beside its place until it is whole, and what a killed run left of that.

Whoever fills such a file or folder holds a lock on it, which ends with the process, however it
ends.  So the next run tells what is abandoned from what another run is filling at this moment, and
needs no clock and no process number for it.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from glob import escape
from pathlib import Path

try:
    import fcntl
except ImportError:  # not a POSIX system: nothing is locked, and nothing counts as abandoned
    fcntl = None  # type: ignore[assignment]


@contextmanager
def held(path: Path) -> Iterator[None]:
    """While open, no other run holds this file or folder; it is waited for.

    Where the system or its disk has no such locks, they are not waited for.
    """
    if fcntl is None:
        yield
        return
    handle = os.open(path, os.O_RDONLY)
    try:
        with suppress(OSError):
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def abandoned(path: Path) -> bool:
    """Whether a file or folder is there that nobody holds any more."""
    if fcntl is None:
        return False
    try:
        handle = os.open(path, os.O_RDONLY | os.O_NOFOLLOW)
    except OSError:
        return False
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    finally:
        os.close(handle)
    return True


def replace(path: Path, data: bytes, fresh: bool = False) -> None:
    """Put bytes in a file's place in one step: a run that is stopped leaves what was there.

    ``fresh``: there must be no such file; FileExistsError where there is one.  OSError if it cannot
    be written.
    """
    target = path.resolve()
    for left in target.parent.glob(f".{escape(target.name)}.*.unfinished"):
        if abandoned(left):
            left.unlink(missing_ok=True)
    beside = target.with_name(f".{target.name}.{os.getpid()}.unfinished")
    try:
        beside.open("xb").close()
        with held(beside):
            beside.write_bytes(data)
            if fresh:
                _put_new(beside, target)
            else:
                beside.chmod(target.stat().st_mode & 0o7777)
                beside.replace(target)
    finally:
        beside.unlink(missing_ok=True)


def _put_new(beside: Path, target: Path) -> None:
    """Give a file its name where there is no other of that name."""
    if os.path.lexists(target):
        raise FileExistsError(target)
    try:
        os.link(beside, target)
    except FileExistsError:
        raise
    except OSError:  # a disk without links
        beside.rename(target)
