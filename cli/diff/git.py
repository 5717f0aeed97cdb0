"""Files as they were at a revision of git, read through git itself.

Nothing of a repository is run: git is called without a shell, revisions are resolved before they
are used, and blobs are read as they are stored.
"""

from __future__ import annotations

import os
import re
import subprocess

from ...dsl.model import Span
from ...dsl.problems import Problem
from ...dsl.reader import cleaned
from ..errors import Unusable

REVISION = re.compile(r"[A-Za-z0-9][\w./~^@{}-]*")
"""What a revision may look like: names, tags, ids, ``main~2``, ``HEAD@{1}``; no options, no ranges.

Anything else git knows (``:/text``, ``a..b``) has a name or an id as well.
"""
PATIENCE_S = 60
ELSEWHERE = ("GIT_DIR", "GIT_WORK_TREE", "GIT_INDEX_FILE", "GIT_PREFIX", "GIT_NAMESPACE")
"""What git sets for its hooks: where its own call was made, which is not where the file lies."""


class Revision:
    """A commit of the repository that a file is in; raises ``Unusable`` where there is none."""

    def __init__(self, file: str, revision: str) -> None:
        if not REVISION.fullmatch(revision) or ".." in revision:
            hint = "a branch, a tag, a commit's id, or one of them with ~N: main, v2, HEAD~1"
            raise Unusable(f"`{revision}` is no revision that can be read", hint)
        self.folder = _standing(os.path.dirname(file) or ".")
        words = ("rev-parse", "--verify", "--quiet", "--end-of-options", f"{revision}^{{commit}}")
        ran = _git(self.folder, *words)
        self.commit = ran.stdout.decode("ascii", "replace").strip()
        if ran.returncode or not re.fullmatch(r"[0-9a-f]{40,64}", self.commit):
            raise Unusable(f"{file}: {_trouble(ran) or f'there is no revision {revision}'}")

    def text(self, path: str) -> str | Problem:
        """A file's text at this commit, or why there is none."""
        beside = os.path.relpath(path, self.folder)
        ran = _git(self.folder, "cat-file", "blob", f"{self.commit}:./{beside}")
        if ran.returncode == 0:
            return cleaned(ran.stdout.decode("utf-8", errors="replace"))
        message = f"{path} is not in revision {self.commit[:10]}"
        return Problem(Span(path, 1, 1, 1, 1), message, "a rig file")


def _standing(folder: str) -> str:
    """The folder, or the nearest one above it that is there today."""
    while not os.path.isdir(folder):
        folder = os.path.dirname(folder) or "."
    return folder


def _git(folder: str, *words: str) -> subprocess.CompletedProcess[bytes]:
    """Runs git in a folder; raises ``Unusable`` where it cannot be run."""
    environ = {name: value for name, value in os.environ.items() if name not in ELSEWHERE}
    try:
        return subprocess.run(
            ["git", "--no-optional-locks", "--literal-pathspecs", "-C", folder, *words],
            env=environ,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=PATIENCE_S,
            check=False,
        )
    except FileNotFoundError:
        raise Unusable("git is not installed, so no revision can be read") from None
    except subprocess.TimeoutExpired:
        raise Unusable(f"git did not answer within {PATIENCE_S} s") from None


def _trouble(ran: subprocess.CompletedProcess[bytes]) -> str:
    """What git says went wrong, one line of it."""
    lines = ran.stderr.decode("utf-8", "replace").strip().splitlines()
    return lines[0].removeprefix("fatal: ") if lines else ""
