"""Completions of the files that ``use`` and ``rules`` name."""

from __future__ import annotations

import os
import re

from ...dsl.library import shipped
from ...dsl.reader import OWN_BOOK
from .desk import Desk
from .offers import FILE, FIRST, Offer

RIG = ".rig"
_HEAD = re.compile(r"^[ \t]*(?:rig|rules)\b", re.M)


def files(desk: Desk, file: str, word: str) -> list[Offer]:
    """The shipped parts and the files beside this one; for ``rules``, the project's own books.

    A file with a title block is a rig of its own, and of no use to another.
    """
    ends = OWN_BOOK if word == "rules" else RIG
    folder = os.path.dirname(file)
    offers = [] if word == "rules" else [Offer(n, FILE, "comes with ferrule") for n in shipped()]
    for name in _beside(folder, ends):
        path = os.path.join(folder, name)
        if path != file and not (word == "use" and _HEAD.search(desk.text(path))):
            offers.append(Offer(name, FILE, "beside this file", rank=FIRST))
    return offers


def _beside(folder: str, ends: str) -> list[str]:
    """Files of a folder and of the folders right in it, by their way from it."""
    found = []
    try:
        for entry in sorted(os.scandir(folder or "."), key=lambda e: e.name):
            if entry.name.startswith("."):
                continue
            if entry.is_dir():
                names = sorted(os.listdir(entry.path))
                found += [f"{entry.name}/{name}" for name in names if name.endswith(ends)]
            elif entry.name.endswith(ends):
                found.append(entry.name)
    except OSError:
        return found
    return found
