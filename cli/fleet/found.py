"""Which files are the rigs of a fleet, and which of them a shard takes."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator, Sequence
from hashlib import sha256

from ...dsl.library import locate
from ...dsl.parse import QUOTED, unquoted
from ...dsl.reader import cleaned
from ...dsl.source import chunks
from .. import files
from ..errors import Unusable

_HEAD = re.compile(r"^[ \t]*(?:rig|use)\b", re.M)
_USE = re.compile(rf"\s*use\s+({QUOTED})")


def rigs(named: Iterable[str], shard: tuple[int, int] = (1, 1)) -> list[str]:
    """The rig files among the files and folders named, by name; those of one shard only.

    A folder stands for every ``.rig`` file below it, hidden folders left out.  A file found so
    that has no ``rig`` statement and is used by another is a part of that one, no rig.  Raises
    ``Unusable`` where a name leads nowhere or nothing is found.
    """
    asked: list[str] = []
    found: list[str] = []
    for name in named:
        if os.path.isdir(name):
            found += _below(name)
        else:
            asked.append(files.usable(name))
    every = sorted(set(asked) | set(_whole(sorted(set(found)))))
    if not every:
        raise Unusable("no rig is there: no .rig file below the folder", "name another folder")
    return [name for name in every if _taken(name, shard)]


def _below(folder: str) -> Iterator[str]:
    """Every ``.rig`` file below a folder."""
    for place, folders, names in os.walk(folder):
        folders[:] = [name for name in folders if not name.startswith(".")]
        for name in names:
            path = os.path.normpath(os.path.join(place, name))
            # A pipe of that name would be waited for without end.
            if name.endswith(".rig") and not name.startswith(".") and os.path.isfile(path):
                yield path


def _whole(names: Sequence[str]) -> list[str]:
    """The files that are rigs of their own, not parts that others use."""
    used: set[str] = set()
    bare: set[str] = set()
    for name in names:
        is_rig, uses = _head(name)
        used.update(uses)
        if not is_rig:
            bare.add(name)
    return [name for name in names if name not in bare & used]


def _head(name: str) -> tuple[bool, list[str]]:
    """Whether a file has a ``rig`` statement, and the files that it uses."""
    try:
        with open(name, "rb") as file:
            text = cleaned(file.read().decode("utf-8", errors="replace"))
    except OSError:
        return True, []  # it is told why when it is read
    words = {match[0].split()[0] for match in _HEAD.finditer(text)}
    if words == {"rig"}:
        return True, []
    statements = [chunk.text for chunk in chunks(text)]
    labels = [found[1] for found in map(_USE.match, statements) if found]
    is_rig = any(statement.split(None, 1)[:1] == ["rig"] for statement in statements)
    return is_rig, [locate(unquoted(label), name)[1] for label in labels]


def _taken(name: str, shard: tuple[int, int]) -> bool:
    """Whether a shard takes a file.

    The digest of its name decides, nothing else: another file that comes or goes moves none from
    one shard to another, and all shards together take each file once.
    """
    number, count = shard
    path = name.replace(os.sep, "/").encode("utf-8", errors="surrogateescape")
    return int.from_bytes(sha256(path).digest()[:8], "big") % count == number - 1
