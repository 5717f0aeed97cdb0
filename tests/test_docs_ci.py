"""The ready files for builds and hooks: every line of shell in them is run in a repository here.

What only the hosted service can do (actions, the pull request's comment) stands in as a stub.
"""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml
from ferrule.cli.main import main
from ferrule.dsl.writer import format_text
from repository import Repository

ROOT = Path(__file__).parents[1]
CI = ROOT / "docs/ci"
SARIF = ROOT / "tests/data/sarif/sarif-2.1.0-rtm.5.json"
STARTER = format_text((ROOT / "cli/starter.rig").read_text(encoding="utf-8"))
FAULTY = STARTER.replace("F1.2 -> E1.+", "GB.+ -> E1.+")
BOAT = STARTER.replace('"Starter"', '"Boat"').replace("battery ", 'use "parts.rig"\nbattery ', 1)
DRAW = ["draw", "rigs", "-o", "drawings", "--format", "svg,csv"]


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> Repository:
    """Two rigs and the parts that one of them uses; then their drawings."""
    made = Repository(tmp_path_factory.mktemp("first"))
    part = "part small lamp 5W dc\n"
    made.commit("rigs", {"rigs/van.rig": STARTER, "rigs/boat.rig": BOAT, "rigs/parts.rig": part})
    drawn(made)
    return made


@pytest.fixture
def repository(first: Repository, tmp_path: Path) -> Repository:
    """A copy of it, with stubs for what only the hosted service has."""
    made = Repository(tmp_path, first)
    for name in ("sudo", "pip"):
        made.stub(name, "exit 0")
    comment = f'for last; do :; done; cp "$last" {tmp_path}/comment.md; echo "$@" > {tmp_path}/gh'
    made.stub("gh", comment)
    return made


def drawn(repository: Repository) -> None:
    """Draw the rigs and commit what comes of it."""
    ran = repository.run("ferrule", *DRAW)
    assert ran.returncode in (0, 2), ran.stderr
    repository.commit("drawn", {})


class Job:
    """One job of a workflow, run step by step as the hosted service would."""

    def __init__(self, repository: Repository, job: Any, known: dict[str, str]) -> None:
        self.repository, self.known = repository, known
        self.env = {key: self.filled(str(v)) for key, v in job.get("env", {}).items()}
        self.env["GITHUB_STEP_SUMMARY"] = str(repository.tools / "summary.md")
        self.steps: list[Any] = job["steps"]
        self.said: dict[str, str] = {}
        self.uploaded: dict[str, list[Path]] = {}
        self.failed: list[str] = []

    def filled(self, text: str) -> str:
        """The text with its `${{ … }}`; one that the test does not know is a mistake."""
        return re.sub(r"\$\{\{ (.+?) \}\}", lambda found: self.known[found[1]], text)

    def run(self) -> None:
        for step in self.steps:
            if self.failed and "!cancelled()" not in step.get("if", ""):
                continue
            name = step.get("name", step.get("uses", ""))
            if "run" not in step:
                self.use(step["uses"].partition("@")[0], step.get("with", {}))
                continue
            env = {key: self.filled(str(v)) for key, v in step.get("env", {}).items()}
            # As the service does where no shell is named.
            ran = self.repository.run("bash", "-e", "-c", step["run"], **self.env, **env)
            self.said[name] = ran.stdout + ran.stderr
            if ran.returncode:
                self.failed.append(name)

    def use(self, action: str, words: dict[str, Any]) -> None:
        """What an action would take from the folder."""
        folder = self.repository.folder
        if action.endswith("upload-sarif"):
            self.uploaded["sarif"] = [folder / words["sarif_file"]]
        elif action.endswith("upload-artifact"):
            paths = [folder.glob(path) for path in words["path"].split()]
            self.uploaded[self.filled(words["name"])] = [p for some in paths for p in some]
        else:
            assert action.startswith("actions/"), action


def workflow(name: str) -> dict[str, Any]:
    text = (CI / name).read_text(encoding="utf-8")
    found: dict[str, Any] = yaml.safe_load(text)
    return found


def pull_request(repository: Repository, base: str) -> Job:
    """The workflow's job on a pull request from what is checked out onto a commit."""
    told = workflow("ferrule.yml")
    job = {**told["jobs"]["rigs"], "env": told["env"]}
    known = {
        "github.event.pull_request.base.sha": base,
        "github.event.pull_request.number": "7",
        "github.token": "none",
        "github.sha": repository.git("rev-parse", "HEAD"),
    }
    made = Job(repository, job, known)
    made.run()
    return made


def commented(repository: Repository) -> str:
    return (repository.folder.parent / "comment.md").read_text(encoding="utf-8")


def test_a_change_that_is_drawn_passes_and_is_told(repository: Repository) -> None:
    base = repository.git("rev-parse", "HEAD")
    longer = {"rigs/van.rig": STARTER.replace("2.5m", "3.5m"), "rigs/cart.rig": BOAT}
    repository.commit("longer, and a cart", longer)
    drawn(repository)
    job = pull_request(repository, base)
    assert job.failed == [], job.said
    told = commented(repository)
    assert "W2" in told and "2.5m" in told and "3.5m" in told
    assert "New: `rigs/cart.rig`" in told and "## Boat" not in told
    sheets = re.findall(r"^- `(drawings/.+)`$", told, re.M)
    assert any(name.startswith("drawings/van/") for name in sheets)
    assert not any(name.startswith("drawings/boat/") for name in sheets)
    (folder,) = job.uploaded["changed-sheets"]
    there = {str(p.relative_to(folder)) for p in folder.rglob("*.*")}
    compared = {name for name in there if name.startswith("compared/")}
    assert there - compared == set(sheets)
    assert {str(Path(name).parent) for name in compared} == {"compared/rigs/van"}
    assert all((folder / name).read_bytes().startswith(b"%PDF-") for name in compared)
    log = json.loads(job.uploaded["sarif"][0].read_text(encoding="utf-8"))
    jsonschema.Draft4Validator(json.loads(SARIF.read_text("utf-8"))).validate(log)
    assert "pr comment 7" in (repository.folder.parent / "gh").read_text(encoding="utf-8")
    assert (repository.tools / "summary.md").read_text(encoding="utf-8") == told


def test_what_means_the_same_is_said_to(repository: Repository) -> None:
    base = repository.git("rev-parse", "HEAD")
    repository.commit("a comment", {"rigs/van.rig": "# seen\n" + STARTER})
    drawn(repository)
    job = pull_request(repository, base)
    assert job.failed == [], job.said
    assert commented(repository).startswith("Nothing changes in the wiring.\n")


def test_an_error_fails_the_last_step_and_is_still_told(repository: Repository) -> None:
    base = repository.git("rev-parse", "HEAD")
    repository.commit("a fault", {"rigs/van.rig": FAULTY})
    drawn(repository)
    job = pull_request(repository, base)
    assert job.failed == ["No errors"]
    assert "::error file=rigs/van.rig" in job.said["No errors"]
    log = json.loads(job.uploaded["sarif"][0].read_text(encoding="utf-8"))
    assert log["runs"][0]["results"]
    assert "GB.+" in commented(repository)


def test_drawings_left_behind_fail_their_step(repository: Repository) -> None:
    base = repository.git("rev-parse", "HEAD")
    repository.commit("not drawn", {"rigs/van.rig": STARTER.replace("2.5m", "3.5m")})
    job = pull_request(repository, base)
    assert job.failed == ["Drawings are current"]
    assert "drawings/van/" in job.said["Drawings are current"]
    assert ": changed\n" in job.said["Drawings are current"]


def test_layout_and_mistakes_fail_their_steps(repository: Repository) -> None:
    base = repository.git("rev-parse", "HEAD")
    loose = STARTER.replace("wire W1", "wire    W1")
    mistaken = BOAT.replace("battery", "batery")
    repository.commit("loose", {"rigs/van.rig": loose, "rigs/boat.rig": mistaken})
    job = pull_request(repository, base)
    assert job.failed == ["Layout", "Findings", "Drawings are current", "No errors"]
    assert "`rigs/boat.rig` cannot be read" in commented(repository)
    log = json.loads(job.uploaded["sarif"][0].read_text(encoding="utf-8"))
    assert log["runs"][0]["invocations"][0]["executionSuccessful"] is False


def test_a_file_s_name_is_only_a_name(repository: Repository) -> None:
    """Whoever sends a pull request chooses the names of files."""
    base = repository.git("rev-parse", "HEAD")
    repository.commit("names", {"rigs/$(touch owned); `id` -x.rig": STARTER})
    drawn(repository)
    job = pull_request(repository, base)
    assert job.failed == [], job.said
    assert not list(repository.folder.glob("**/owned*"))


def test_no_expression_of_the_service_stands_in_a_line_of_shell() -> None:
    """What `${{ }}` puts into a script is run as script: values go through the environment."""
    for name in ("ferrule.yml", "fleet.yml"):
        for job in workflow(name)["jobs"].values():
            for step in job["steps"]:
                assert "${{" not in step.get("run", "")


def test_shares_on_machines_of_their_own_are_one_run(
    repository: Repository, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    names = {f"rigs/r{number}.rig": FAULTY if number == 3 else STARTER for number in range(6)}
    shutil.rmtree(repository.folder / "drawings")
    repository.commit("a fleet", names)
    told = workflow("fleet.yml")
    pool = tmp_path / "pool"
    for share in told["jobs"]["share"]["strategy"]["matrix"]["share"]:
        known = {"matrix.share": str(share), "github.sha": "0"}
        env = {**told["env"], **told["jobs"]["share"]["env"]}
        job = Job(repository, {**told["jobs"]["share"], "env": env}, known)
        job.run()
        assert job.failed == [], job.said
        for path in job.uploaded[f"share-{share}"]:
            target = pool / path.relative_to(repository.folder)
            target.parent.mkdir(parents=True, exist_ok=True)
            if path.is_dir():
                shutil.copytree(path, target, dirs_exist_ok=True)
                shutil.rmtree(path)
            else:
                path.rename(target)
    shutil.copytree(pool, repository.folder, dirs_exist_ok=True)
    job = Job(repository, {**told["jobs"]["all"], "env": told["env"]}, {})
    job.run()
    assert job.failed == ["No errors"]
    monkeypatch.chdir(repository.folder)
    assert main(["check", "rigs", "--format", "sarif", "--no-cache"]) == 1
    assert job.uploaded["sarif"][0].read_text(encoding="utf-8") == capsys.readouterr().out
    argv = ["draw", "rigs", "-o", "drawings", "--format", "svg", "--no-cache"]
    assert main([*argv, "--check"]) == 0


@pytest.mark.skipif(not shutil.which("make"), reason="make is not installed")
def test_the_rules_for_make_do_each_rig_once(repository: Repository) -> None:
    page = (ROOT / "docs/fleet.md").read_text(encoding="utf-8")
    (rules,) = re.findall(r"```make\n(.*?)```", page, re.S)
    repository.stub("ferrule", 'echo "$1 $2" >> told; echo "{}"')
    files = {"fleet/vans/a.rig": STARTER, "fleet/boats/b.rig": BOAT, "fleet/parts.rig": "# none\n"}
    repository.commit("a fleet", {**files, "Makefile": rules})

    def told() -> list[str]:
        (repository.folder / "told").unlink(missing_ok=True)
        ran = repository.run("make", "-j2")
        assert ran.returncode == 0, ran.stderr
        log = repository.folder / "told"
        return sorted(log.read_text(encoding="utf-8").splitlines()) if log.exists() else []

    both = ["fleet/boats/b.rig", "fleet/vans/a.rig"]
    assert told() == sorted(f"{command} {rig}" for command in ("check", "draw") for rig in both)
    assert told() == []
    later = (repository.folder / "out/vans/a/findings.json").stat().st_mtime + 10
    os.utime(repository.folder / "fleet/vans/a.rig", (later, later))
    assert told() == ["check fleet/vans/a.rig", "draw fleet/vans/a.rig"]
    os.utime(repository.folder / "fleet/parts.rig", (later + 10, later + 10))
    assert len(told()) == 4  # what others use


# -- hooks -------------------------------------------------------------------------------------


def hooks() -> Iterator[Any]:
    yield from yaml.safe_load((ROOT / ".pre-commit-hooks.yaml").read_text(encoding="utf-8"))


def hooked(repository: Repository, staged: list[str]) -> list[str]:
    """The hooks that refuse a commit of these files, run as the hook runner runs them."""
    refused = []
    for hook in hooks():
        touched = [name for name in staged if re.search(hook["files"], name)]
        if not touched:
            continue
        args = hook.get("args", [])
        args = ["rigs" if word == "." else word for word in args]
        given = touched if hook.get("pass_filenames", True) else []
        if repository.run(*hook["entry"].split(), *args, *given).returncode:
            refused.append(hook["id"])
    return refused


def test_hooks_name_what_keeps_a_commit_out(repository: Repository) -> None:
    assert {hook["language"] for hook in hooks()} == {"python"}
    assert hooked(repository, ["rigs/van.rig", "rigs/parts.rig"]) == []
    repository.write("rigs/van.rig", FAULTY.replace("wire W1", "wire    W1"))
    assert hooked(repository, ["rigs/van.rig"]) == [
        *("ferrule-fmt", "ferrule-check", "ferrule-drawings"),
    ]
    assert hooked(repository, ["README.md"]) == []


def test_git_s_own_hook_looks_at_what_is_staged(repository: Repository) -> None:
    text = (CI / "pre-commit").read_text(encoding="utf-8")
    hook = repository.folder / ".git/hooks/pre-commit"
    hook.write_text(text.replace("rigs=. ", "rigs=rigs"), encoding="utf-8")
    hook.chmod(0o755)

    def commits() -> bool:
        repository.git("add", "-A")
        return repository.run("git", "commit", "-qm", "try").returncode == 0

    repository.write("readme", "a fleet\n")
    assert commits()
    repository.write("rigs/van.rig", STARTER.replace("2.5m", "3.5m"))
    assert not commits()
    assert repository.run("ferrule", *DRAW).returncode == 0
    repository.git("add", "-A")
    repository.write("rigs/van.rig", "no rig at all\n")  # not staged, so no matter of this commit
    assert repository.run("git", "commit", "-qm", "longer").returncode == 0
    repository.write("rigs/van.rig", FAULTY)
    repository.run("ferrule", *DRAW)
    assert not commits()
