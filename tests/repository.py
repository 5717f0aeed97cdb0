"""A repository of git for a test, apart from the user's settings, with `ferrule` on its path."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

WHO = {
    f"GIT_{who}_{what}": said
    for who in ("AUTHOR", "COMMITTER")
    for what, said in (("NAME", "Tester"), ("EMAIL", "tester@example.org"))
}


class Repository:
    """A fresh repository, or a copy of one; commands in it find the ferrule under test."""

    def __init__(self, folder: Path, like: Repository | None = None) -> None:
        self.folder, self.tools = folder / "work", folder / "bin"
        if like:
            shutil.copytree(like.folder.parent, folder, dirs_exist_ok=True, symlinks=True)
        for made in (self.folder, self.tools):
            made.mkdir(exist_ok=True)
        self.stub("ferrule", f'exec "{sys.executable}" -m ferrule.cli.main "$@"')
        kept = {key: value for key, value in os.environ.items() if not key.startswith("GIT_")}
        self.environ = {
            **kept,
            **WHO,
            "PATH": f"{self.tools}:{kept['PATH']}",
            "HOME": str(folder),
            "XDG_CACHE_HOME": str(folder / "cache"),
            "GIT_CONFIG_NOSYSTEM": "1",
        }
        if not like:
            self.git("init", "-q", "-b", "main")

    def stub(self, name: str, script: str) -> None:
        """A command of that name, in front of any other."""
        command = self.tools / name
        command.write_text(f"#!/bin/sh\n{script}\n", encoding="utf-8")
        command.chmod(0o755)

    def run(self, *argv: str, **environ: str) -> subprocess.CompletedProcess[str]:
        """A command run in the work folder."""
        env = {**self.environ, **environ}
        return subprocess.run(
            argv, cwd=self.folder, env=env, capture_output=True, text=True, check=False
        )

    def git(self, *words: str) -> str:
        """What a command of git prints; it must succeed."""
        ran = self.run("git", *words)
        assert ran.returncode == 0, ran.stdout + ran.stderr
        return ran.stdout.strip()

    def write(self, name: str, text: str) -> None:
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")

    def text(self, name: str) -> str:
        return (self.folder / name).read_text(encoding="utf-8")

    def commit(self, message: str, files: dict[str, str]) -> str:
        """Commits files, by name; returns the commit."""
        for name, text in files.items():
            self.write(name, text)
        self.git("add", "-A")
        self.git("commit", "-qm", message)
        return self.git("rev-parse", "HEAD")
