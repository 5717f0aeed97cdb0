"""What was found in earlier runs, on disk, by the digest of all that it follows from.

An entry is a line ``ferrule-cache 1 DIGEST`` and a JSON object, of which DIGEST is the SHA-256.
What does not agree with it, or was not made for the key that asks, counts as not there: it is
worked out anew and written over.  Entries are written beside their place and moved in, so that no
other run ever reads half of one.  This guards against accidents, not against somebody who may
write into the folder.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator, Mapping
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import Any

from ..errors import Unusable

HEAD = b"ferrule-cache 1 "
MOST_BYTES = 256 * 1024 * 1024  # of all entries; the ones not used for longest go first
LEFT = 0.8  # of that, after some had to go
_ENTRY = re.compile(r"[0-9a-f]{64}\.entry")
_UNFINISHED = re.compile(r"[0-9a-f]{64}\.[0-9]+\.part")


def usual(environ: Mapping[str, str]) -> str:
    """Where a user's caches lie by the XDG base directory specification; "" without a home."""
    told = environ.get("XDG_CACHE_HOME", "")
    base = told if os.path.isabs(told) else os.path.expanduser(os.path.join("~", ".cache"))
    return os.path.join(base, "ferrule") if os.path.isabs(base) else ""


class Cache:
    """Entries in a folder; without one it keeps nothing and finds nothing.

    A folder that cannot be written stops no run: ``trouble`` says why nothing was kept.
    """

    def __init__(self, folder: str, most_bytes: int = MOST_BYTES) -> None:
        self.folder = Path(folder) if folder else None
        self.most_bytes = most_bytes
        self.trouble = ""
        self.written = 0
        if self.folder and self.folder.exists() and not self.folder.is_dir():
            raise Unusable(f"{folder}: is a file", "name a folder with --cache")

    def get(self, key: str) -> dict[str, Any] | None:
        """The entry of a key, where there is a sound one."""
        if self.folder is None:
            return None
        path = self._path(self.folder, key)
        try:
            entry = _sound(path.read_bytes(), key)
        except OSError:
            return None
        if entry is not None:
            with suppress(OSError):
                os.utime(path)  # used now: it goes last
        return entry

    def put(self, key: str, entry: Mapping[str, Any]) -> None:
        """Keep an entry, whole or not at all."""
        if self.folder is None or self.trouble:
            return
        body = json.dumps({**entry, "key": key}, separators=(",", ":")).encode()
        path = self._path(self.folder, key)
        beside = path.with_name(f"{key}.{os.getpid()}.part")
        try:
            path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            beside.write_bytes(HEAD + sha256(body).hexdigest().encode() + b"\n" + body)
            os.replace(beside, path)
            self.written += 1
        except OSError as error:
            self.trouble = f"{error.filename or self.folder}: {error.strerror or error}"
            with suppress(OSError):
                beside.unlink(missing_ok=True)

    def trim(self) -> None:
        """Keep the folder within its size; looked at only by a run that wrote something."""
        if self.folder is None or not self.written:
            return
        entries = sorted(_entries(self.folder))
        size = sum(bytes_ for _, bytes_, _ in entries)
        goal = size if size <= self.most_bytes else LEFT * self.most_bytes
        for _, bytes_, path in entries:
            if size <= goal:
                break
            with suppress(OSError):
                os.unlink(path)
            size -= bytes_

    @staticmethod
    def _path(folder: Path, key: str) -> Path:
        return folder / key[:2] / f"{key}.entry"


def _sound(raw: bytes, key: str) -> dict[str, Any] | None:
    """What stands in an entry, if it is one, whole, and this key's."""
    head, _, body = raw.partition(b"\n")
    if head != HEAD + sha256(body).hexdigest().encode():
        return None
    try:
        entry = json.loads(body)
    except (ValueError, RecursionError):
        return None
    return entry if isinstance(entry, dict) and entry.get("key") == key else None


def _entries(folder: Path) -> Iterator[tuple[float, int, str]]:
    """When each entry was last used, its bytes and its path; nothing that is not ours.

    What an interrupted run left unfinished counts as used long ago.
    """
    for shelf in sorted(folder.iterdir()):
        if not re.fullmatch("[0-9a-f]{2}", shelf.name) or not shelf.is_dir():
            continue
        with os.scandir(shelf) as there:
            for item in there:
                whole = _ENTRY.fullmatch(item.name)
                if whole or _UNFINISHED.fullmatch(item.name):
                    with suppress(OSError):
                        state = item.stat()
                        yield (state.st_mtime if whole else 0.0), state.st_size, item.path
