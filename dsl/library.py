"""Where a used file is: beside the one that uses it, or in the library that comes with ferrule."""

from __future__ import annotations

import os

HERE = os.path.dirname(os.path.abspath(__file__))
MARK = "ferrule:"  # spans of shipped files begin with it


def shipped() -> tuple[str, ...]:
    """The names of the shipped files, as ``use`` takes them."""
    folder = os.path.join(HERE, "parts")
    names = os.listdir(folder) if os.path.isdir(folder) else []
    return tuple(sorted(f"parts/{name}" for name in names if name.endswith(".rig")))


def is_shipped(file: str) -> bool:
    """Whether a span's file belongs to the shipped library."""
    return file.startswith(MARK)


def locate(label: str, user: str) -> tuple[str, str]:
    """The name that spans use and the path of a file that ``user`` uses as ``label``.

    ``parts/…`` is the shipped library where it has a file of that name.
    """
    if label in shipped():
        return MARK + label, os.path.join(HERE, label)
    if is_shipped(user):
        user = os.path.join(HERE, user.removeprefix(MARK))
    path = os.path.normpath(os.path.join(os.path.dirname(user), label))
    return path, path
