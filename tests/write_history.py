"""Writes what ferrule tells of each step of ``data/history`` anew, for people to read.

    python tests/write_history.py

The folder holds the history of one rig, from its first circuit to the finished one, with a mistake
and its repair in it: a folder a commit with the text and the commit's message.  They are committed
to a repository of their own, and each step gets the comparison with the one before it, the comment
for it and the work order.  ``test_history.py`` holds the files to what is told now.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path

from repository import Repository

PLACE = Path(__file__).parent / "data/history"
NAME = "library.rig"
TOLD: Mapping[str, tuple[str, ...]] = {
    "comparison.txt": ("diff",),
    "comment.md": ("diff", "--format", "markdown"),
    "work-order.txt": ("rework",),
}


def steps() -> list[Path]:
    """The folders of the history, in order."""
    return sorted(path for path in PLACE.iterdir() if path.is_dir())


def replayed(folder: Path) -> Iterator[tuple[Path, Repository]]:
    """Commit one step after the other; gives the repository as it is after each."""
    repository = Repository(folder)
    for number, step in enumerate(steps(), 1):
        when = f"2025-05-{number:02d}T12:00:00+00:00"
        repository.environ |= {"GIT_AUTHOR_DATE": when, "GIT_COMMITTER_DATE": when}
        message = (step / "message.txt").read_text("utf-8")
        repository.commit(message, {NAME: (step / NAME).read_text("utf-8")})
        yield step, repository


def told(repository: Repository) -> dict[str, str]:
    """What is told of the last commit against the one before it, by file."""
    found = {}
    for name, (command, *words) in TOLD.items():
        ran = repository.run("ferrule", command, f"{NAME}@HEAD~1", f"{NAME}@HEAD", *words)
        assert ran.returncode in (0, 1), ran.stderr
        found[name] = ran.stdout
    return found


def main() -> None:
    """Write every file."""
    with tempfile.TemporaryDirectory() as folder:
        for step, repository in replayed(Path(folder)):
            if step != steps()[0]:
                for name, text in told(repository).items():
                    (step / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parent))
    main()
