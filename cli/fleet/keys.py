"""Digests of all that a result follows from: the texts, what was asked, and ferrule itself."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterable, Mapping
from functools import cache
from hashlib import sha256
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from ...dsl import VERSION
from ...dsl.library import is_shipped

HERE = Path(__file__).parents[2]
# The libraries whose versions show in a drawing's bytes.
DRAWING = ("schemdraw", "graphviz", "matplotlib", "reportlab")
ROOMS = {"check": ("dsl", "checks", "cli"), "draw": ("dsl", "checks", "render", "cli")}


def digest(data: bytes) -> str:
    """The SHA-256 of some bytes, in hexadecimal."""
    return sha256(data).hexdigest()


def of_file(path: str) -> str:
    """The digest of a file as it is now; "" where it cannot be read."""
    try:
        with open(path, "rb") as file:
            return digest(file.read())
    except (OSError, ValueError):
        return ""


def of_files(names: Iterable[str]) -> dict[str, str]:
    """The digests of the files that a rig was read from, those that come with ferrule left out."""
    return {name: of_file(name) for name in sorted(names) if not is_shipped(name)}


def same(inputs: object) -> bool:
    """Whether files are what they were; what names none is trusted for none."""
    if not isinstance(inputs, dict) or not inputs:
        return False
    return all(was and of_file(str(name)) == was for name, was in inputs.items())


@cache
def build(command: str) -> str:
    """The digest of the program that does a command: its version, its code and its data tables.

    It is the code that counts, not the version alone: a result of the day before must not outlive
    a rule that was mended since.
    """
    sums = sha256(f"{VERSION} {sys.version_info[:3]}".encode())
    for room in ROOMS[command]:
        for folder, folders, names in os.walk(HERE / room):
            folders[:] = sorted(name for name in folders if name != "__pycache__")
            for name in sorted(names):
                sums.update(f"{room} {name} {of_file(os.path.join(folder, name))}\n".encode())
    if command == "draw":
        versions = (f"{library} {_version(library)}" for library in DRAWING)
        sums.update("\n".join(versions).encode())
    return sums.hexdigest()


def _version(library: str) -> str:
    try:
        return version(library)
    except PackageNotFoundError:
        return ""


def key(command: str, name: str, options: Mapping[str, object]) -> str:
    """The key of a file's result: the program, what was asked, the file's name and its text.

    The files that it uses are named in the entry, each with its digest: which they are is known
    only once the file is read.
    """
    asked = [build(command), command, name, of_file(name), options]
    return digest(json.dumps(asked, sort_keys=True, default=str).encode())
