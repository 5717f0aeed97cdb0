"""Runs the commands shown in a document, and puts what they print beneath them.

    python docs/consoles.py README.md

In a block marked ``console``, a line that begins with ``$ `` is a command, and what follows it is
what it printed.  A comment ``<!-- run: COMMAND -->`` is run in its place and not shown: it makes
the change to a file that the text asks the reader to make.  All commands of a document run in one
folder with nothing but ``examples`` and the README in it.  A test holds the documents to what the
commands print.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
# Commits in a document are nobody's, and the user's own settings and caches stay out of it.
APART = {
    **{
        f"GIT_{who}_{what}": "reader"
        for who in ("AUTHOR", "COMMITTER")
        for what in ("NAME", "EMAIL")
    },
    "GIT_CONFIG_GLOBAL": os.devnull,
    "GIT_CONFIG_NOSYSTEM": "1",
    "FERRULE": f"{sys.executable} -m ferrule.cli.main",
}
STEP = re.compile(r"^<!-- run: (?P<run>.*?) -->$|^```console\n(?P<shown>.*?)^```$", re.M | re.S)


def replayed(text: str, folder: Path) -> str:
    """The document with the output of every command as it is now."""
    for name in ("examples", "README.md"):
        (folder / name).symlink_to(ROOT / name)

    def step(found: re.Match[str]) -> str:
        if found["run"] is not None:
            run(found["run"], folder)
            return found[0]
        rows = [line for line in found["shown"].splitlines() if line.startswith("$ ")]
        shown = "".join(f"{row}\n{run(row[2:], folder)}" for row in rows)
        return f"```console\n{shown}```"

    return STEP.sub(step, text)


def run(command: str, folder: Path) -> str:
    """What a command prints, on both streams together."""
    shell = f'ferrule() {{ "{sys.executable}" -m ferrule.cli.main "$@"; }}\n{command}'
    ran = subprocess.run(
        ["bash", "-c", shell],
        cwd=folder,
        env={
            **os.environ,
            **APART,
            "NO_COLOR": "1",
            "COLUMNS": "90",
            "XDG_CACHE_HOME": str(folder / ".cache"),
        },
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        stdin=subprocess.DEVNULL,
        check=False,
    )
    return ran.stdout.decode()


if __name__ == "__main__":
    for name in sys.argv[1:]:
        with tempfile.TemporaryDirectory() as place:
            page = Path(name)
            page.write_text(replayed(page.read_text("utf-8"), Path(place)), encoding="utf-8")
