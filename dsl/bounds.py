"""How far a rig reaches: which files ``use`` and ``rules`` may bring in from the disk."""

from __future__ import annotations

import os

from .library import HERE

SHARED = ("parts", "shared")
WITHIN = "a file in the rig's folder, or in a folder parts or shared beside or above it"


class Bounds:
    """The folders that a rig's files lie in: its own and all below, and the shared ones.

    Shared are the folders named ``parts`` and ``shared`` that lie beside the rig's own folder or
    beside one above it.  Symbolic links are followed first: what counts is where a file is.
    """

    def __init__(self, file: str) -> None:
        home = real(os.path.dirname(os.path.abspath(file)))
        self.folders = [home, os.path.join(HERE, "parts")]
        above = os.path.dirname(home)
        while above != os.path.dirname(above):
            self.folders += [os.path.join(above, name) for name in SHARED]
            above = os.path.dirname(above)

    def hold(self, place: str) -> bool:
        """Whether a place, as ``real`` gives it, is within."""
        return any(place.startswith(os.path.join(folder, "")) for folder in self.folders)


def real(path: str) -> str:
    """Where a path leads, every symbolic link on the way followed; itself where it cannot be."""
    try:
        return os.path.realpath(path)
    except (OSError, ValueError):
        return os.path.abspath(path)
