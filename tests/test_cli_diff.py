"""``ferrule diff``: versions, formats, exit codes, and as git's driver in a repository."""

from __future__ import annotations

import json
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from ferrule.cli.diff.git import REVISION
from ferrule.cli.diff.markdown import MOST, inert
from ferrule.cli.diff.versions import split
from ferrule.cli.main import main
from ferrule.dsl.library import shipped
from ferrule.dsl.listing import listing
from write_changes import PLACE, comparisons

ROOT = Path(__file__).parents[1]
SCHEMA = ROOT / "cli/diff.schema.json"
EXAMPLES = sorted((ROOT / "examples").glob("*.rig"))
STARTER = (ROOT / "cli/starter.rig").read_text("utf-8")
FERRULE = shlex.join([sys.executable, "-m", "ferrule.cli.main"])


def run(*argv: object) -> int:
    """The exit code, whether it was returned or raised (as argparse does)."""
    try:
        return main([str(word) for word in argv])
    except SystemExit as stop:
        return stop.code if isinstance(stop.code, int) else 1


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to work in, with the starter in it."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("NO_COLOR", "1")
    (tmp_path / "van.rig").write_text(STARTER, encoding="utf-8")
    return tmp_path


def put(path: Path, *swaps: tuple[str, str], text: str = STARTER) -> None:
    for old, new in swaps:
        assert old in text
        text = text.replace(old, new)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")


# ---- versions and exit codes --------------------------------------------------------------------


def test_the_same_is_exit_code_0(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lines = [line for line in STARTER.splitlines() if not line.startswith("#")]
    (here / "other.rig").write_text("# turned over\n" + "\n".join(reversed(lines)), "utf-8")
    assert run("diff", "van.rig", "other.rig") == 0
    assert "No change in meaning." in capsys.readouterr().out


def test_a_change_is_exit_code_1(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    put(here / "other.rig", ("10A class", "40A class"))
    assert run("diff", "van.rig", "other.rig") == 1
    said = capsys.readouterr().out
    assert "re-rated  F1  Lamp fuse  rating 10A -> 40A" in said
    assert "Do not build this yet: 1 error gained: P02 on W2." in said


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "0 versions to compare"),
        (["a", "b", "c"], "3 versions to compare"),
        (["van.rig"], "has one stage: nothing to compare it with"),
        (["van.rig", "nowhere.rig"], "there is no such file"),
        (["van.rig", "van.rig", "--stages", "bse"], "there is no stage `bse`"),
        (["van.rig", "--stages", "a", "b", "c"], "3 stages to compare"),
        (["van.rig", "broken.rig"], "is neither a statement nor a kind"),
        (["van.rig@--output=x", "van.rig"], "is no revision that can be read"),
        (["van.rig@", "van.rig"], "is no revision that can be read"),
        (["van.rig@main..other", "van.rig"], "is no revision that can be read"),
        (["van.rig@main", "van.rig"], "van.rig"),  # no repository here
        (["--git", "one", "two"], "2 arguments after --git"),
        (["--listing"], "--listing takes one file"),
    ],
)
def test_what_cannot_be_compared_is_exit_code_2(
    here: Path, capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    (here / "broken.rig").write_text(STARTER + "lmap E9\n", encoding="utf-8")
    assert run("diff", *words) == 2
    found = capsys.readouterr()
    assert said in found.err and found.out == ""
    assert "defect of ferrule" not in found.err and "Traceback" not in found.err


@pytest.mark.parametrize("revision", ["main", "v1.2", "HEAD~3", "HEAD@{1}", "a/b", "0123abc^"])
def test_ordinary_revisions_are_taken(revision: str) -> None:
    assert REVISION.fullmatch(revision)
    assert split(f"a/van.rig@{revision}") == ("a/van.rig", revision)


ODD = ["-p", "--help", ":/x", "a b", "a\nb", "$(x)", "a:b", "a;b", ""]


@pytest.mark.parametrize("revision", ODD)
def test_odd_revisions_are_not(revision: str) -> None:
    assert not REVISION.fullmatch(revision)


def test_a_file_with_an_at_in_its_name_is_a_file(here: Path) -> None:
    put(here / "van.rig@main")
    assert split("van.rig@main") == ("van.rig@main", "")


def test_stages_are_compared_by_name_and_each_change_told_once(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    more = 'stage A {\n  lamp E2 "Deck" 12V 5W dc\n}\nstage B {\n  lamp E3 "Bow" 12V 5W dc\n}\n'
    put(here / "old.rig", text=STARTER + more)
    put(here / "new.rig", ("2.5m  F1.2", "3.5m  F1.2"), text=STARTER + more)
    assert run("diff", "old.rig", "new.rig", "--format", "json") == 1
    (only,) = json.loads(capsys.readouterr().out)["comparisons"]
    assert only["stages"] == ["base", "A", "B"]
    assert [c["verb"] for c in only["changes"]] == ["lengthened"]


def test_a_change_of_a_stage_between_is_not_missed(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # Thin for one stage, mended in the next: the last stages are alike, the rig in between is not.
    between = "stage A {\n  change W2 40AWG\n}\nstage B {\n  change W2 14AWG\n}\n"
    put(here / "old.rig", text=STARTER + between.replace("40AWG", "12AWG"))
    put(here / "new.rig", text=STARTER + between.replace("40AWG", "16AWG"))
    assert run("diff", "old.rig", "new.rig") == 1
    said = capsys.readouterr().out
    assert "re-sized  W2  12AWG -> 16AWG" in said
    assert "No change in stages base, B." in said
    assert run("diff", "old.rig", "new.rig", "--stages", "B") == 0


def test_a_stage_that_is_new_stands_against_the_one_before(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    put(here / "new.rig", text=STARTER + 'stage A "More" {\n  lamp E2 "Deck" 12V 5W dc\n}\n')
    assert run("diff", "van.rig", "new.rig", "--format", "json") == 1
    told = json.loads(capsys.readouterr().out)["comparisons"]
    assert [(c["old"]["stage"], c["new"]["stage"], len(c["changes"])) for c in told] == [
        ("base", "base", 0),
        ("base", "A", 1),
    ]


def test_where_the_last_stage_is_gone_the_ends_are_compared(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    put(here / "old.rig", text=STARTER + 'stage A "More" {\n  lamp E2 "Deck" 12V 5W dc\n}\n')
    assert run("diff", "old.rig", "van.rig") == 1
    said = capsys.readouterr().out
    assert "removed  E2" in said
    assert "No change in stage base." in said


# ---- formats ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", sorted(path.name for path in PLACE.iterdir()))
def test_comparisons_kept_for_reading_are_what_is_printed(
    name: str, here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # `python tests/write_changes.py` writes them anew; read the change before you commit it.
    words = dict(comparisons(here))[name]
    assert run(*words) == 1
    assert capsys.readouterr().out == (PLACE / name).read_text("utf-8")


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_json_follows_its_schema(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    schema = json.loads(SCHEMA.read_text("utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    assert run("diff", path, "--format", "json") == 1
    document = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator(schema).validate(document)
    assert len(document["comparisons"]) >= 2


def test_json_tells_every_kind_of_change(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    swaps = [("fuse    F1", "breaker F1"), ("class=ATO dc", "poles=1 dc"), ("wire W1", "wire A1"),
             ("E1.- -> GB.-", "GB.- -> E1.-"), ("Cabin", "Saloon"),
             ("bond W4 8AWG  0.5m  GB.- -> CH.1", "link L1 GB.- -> CH.1")]  # fmt: skip
    put(here / "other.rig", *swaps)
    assert run("diff", "van.rig", "other.rig", "--format", "json") == 1
    document = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator(json.loads(SCHEMA.read_text("utf-8"))).validate(document)
    verbs = {c["verb"] for c in document["comparisons"][0]["changes"]}
    assert verbs >= {"replaced", "renamed", "turned", "relabelled", "removed", "added"}


def test_colours_are_for_terminals_only(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    put(here / "other.rig", ("10A class", "15A class"))
    run("diff", "van.rig", "other.rig")
    assert "\x1b" not in capsys.readouterr().out


def test_labels_in_markdown_are_inert(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bad = r"@team fix #12 | [x](http://x.org) <img src=x> `a` **b** _c_ </details>"
    put(here / "other.rig", ("Cabin lamp", bad))
    assert run("diff", "van.rig", "other.rig", "--format", "markdown") == 1
    said = capsys.readouterr().out
    row = next(line for line in said.splitlines() if "relabelled" in line)
    assert len(re.findall(r"(?<!\\)\|", row)) == 6  # five columns, whatever bars the label has
    for live in ("@team", "#12", "http://", "<img", "[x]", "**b**", "`a`", "</details>"):
        assert not re.search(r"(?<!\\)" + re.escape(live), row), live
    assert said.count("<details>") == said.count("</details>")


def test_inert_text_is_still_the_text() -> None:
    assert inert("Galley, port side (2 of 3) 50 %") == "Galley, port side (2 of 3) 50 %"
    assert inert("W1 -> Q1") == "W1 → Q1"


def test_markdown_is_bounded_and_says_what_is_left_out(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    many = "".join(
        f'lamp E{n} "Lamp of the long row, number {n}" 12V 5W dc\n'
        f"wire V{n} 14AWG 2m F1.2 -> E{n}.+\n"
        for n in range(100, 700)
    )
    put(here / "other.rig", text=STARTER + many)
    assert run("diff", "van.rig", "other.rig", "--format", "markdown") == 1
    said = capsys.readouterr().out
    assert len(said) <= MOST
    assert re.search(r"and \d+ more", said)
    assert said.index("Do not build") < said.index("What to do") < said.index("<details>")


def test_a_control_character_of_a_file_name_is_shown_by_its_code(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    name = "a\x07\x1b[2J.rig"
    put(here / name, ("10A class", "15A class"))
    assert run("diff", "van.rig", name) == 1
    said = capsys.readouterr().out
    assert "\x07" not in said and "\x1b[2J" not in said


# ---- git ----------------------------------------------------------------------------------------


def git(folder: Path, *words: str) -> str:
    """What git prints, with no configuration but its own."""
    env = {
        **os.environ, "GIT_CONFIG_GLOBAL": os.devnull, "GIT_CONFIG_SYSTEM": os.devnull,
        "GIT_AUTHOR_NAME": "A", "GIT_AUTHOR_EMAIL": "a@b.c", "GIT_COMMITTER_NAME": "A",
        "GIT_COMMITTER_EMAIL": "a@b.c", "NO_COLOR": "1",
    }  # fmt: skip
    ran = subprocess.run(["git", *words], cwd=folder, env=env, capture_output=True, check=False)
    assert ran.returncode == 0, ran.stderr.decode()
    return ran.stdout.decode()


@pytest.fixture
def repo(here: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    """A repository set up as --git-setup says, the starter committed in it."""
    git(here, "init", "-q", "-b", "main")
    assert run("diff", "--git-setup") == 0
    setup = capsys.readouterr().out
    for line in setup.splitlines():
        if line.startswith("git config"):
            git(here, *shlex.split(line.replace("'ferrule ", f"'{FERRULE} "))[1:])
    (attributes,) = (line for line in setup.splitlines() if line.startswith("*.rig"))
    (here / ".gitattributes").write_text(attributes + "\n", encoding="utf-8")
    git(here, "add", ".")
    git(here, "commit", "-qm", "first")
    return here


def test_git_diff_tells_a_change_in_the_trade_s_words(repo: Path) -> None:
    put(repo / "van.rig", ("10A class", "15A class"))
    said = git(repo, "diff")
    assert "re-rated  F1  Lamp fuse  rating 10A -> 15A" in said
    assert said.startswith("van.rig@")


def test_git_diff_of_an_order_and_a_layout_tells_no_change(repo: Path) -> None:
    lines = STARTER.splitlines()
    (repo / "van.rig").write_text("\n".join(reversed(lines)) + "\n\n# so\n", encoding="utf-8")
    assert "No change in meaning." in git(repo, "diff")
    assert "+" not in git(repo, "diff", "--no-ext-diff").partition("@@")[2].replace(".+", "")


def test_git_diff_of_a_file_added_and_removed(repo: Path) -> None:
    put(repo / "boat.rig", text=STARTER.replace("Starter", "Boat") + "stage A {\n  remove E1\n}\n")
    git(repo, "rm", "-q", "van.rig")
    git(repo, "add", "boat.rig")
    said = git(repo, "diff", "--cached", "--no-renames")
    assert "nothing -> boat.rig" in said
    assert "added  F1" in said and "removed  E1" in said  # the first stage, then the next
    assert "-> nothing" in said


def test_git_diff_of_a_renamed_file_compares_the_two(repo: Path) -> None:
    put(repo / "sub/boat.rig", ("10A class", "15A class"))
    git(repo, "rm", "-q", "van.rig")
    git(repo, "add", "-A")
    said = git(repo, "diff", "--cached", "-M10%")
    assert "rating 10A -> 15A" in said and "nothing" not in said


def test_git_diff_of_a_text_that_cannot_be_read_names_its_mistakes(repo: Path) -> None:
    put(repo / "van.rig", ("lamp ", "lmap "))
    git(repo, "commit", "-qam", "a slip")
    put(repo / "van.rig", ("10A class", "15A class"))
    said = git(repo, "diff")
    assert "cannot be used; it is compared by its lines" in said
    assert "did you mean `lamp`?" in said
    assert '-lmap    E1 "Cabin lamp"' in said and '+lamp    E1 "Cabin lamp"' in said
    assert "Traceback" not in said


def test_git_show_compares_by_the_listing(repo: Path) -> None:
    put(repo / "van.rig", ("10A class", "15A class"))
    git(repo, "commit", "-qam", "a larger fuse")
    said = git(repo, "show")
    assert '-fuse F1 "Lamp fuse" 10A class=ATO dc breaks=2kA' in said
    assert '+fuse F1 "Lamp fuse" 15A class=ATO dc breaks=2kA' in said


def test_git_diff_of_a_conflict_stops_nothing(
    repo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("diff", "--git", "van.rig") == 0
    assert "not merged" in capsys.readouterr().out


def test_a_revision_is_read_with_the_files_it_used_then(
    repo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    part = 'part fuse10 fuse {} class=ATO dc breaks=2kA\n'
    put(repo / "shared/parts.rig", text=part.format("10A"))
    uses = f'rules abyc-e11\nuse "../shared/parts.rig"\nuse "{shipped()[0]}"'
    own = '"Lamp fuse"     10A class=ATO dc breaks=2kA'
    put(repo / "sub/boat.rig", (own, "fuse10"), ("rules abyc-e11", uses))
    git(repo, "add", ".")
    git(repo, "commit", "-qm", "with parts")
    git(repo, "tag", "v1")
    put(repo / "shared/parts.rig", text=part.format("15A"))
    git(repo, "commit", "-qam", "a larger fuse in the library")
    assert run("diff", "sub/boat.rig@v1", "sub/boat.rig") == 1
    assert "rating 10A -> 15A" in capsys.readouterr().out
    assert run("diff", "sub/boat.rig@HEAD~1", "sub/boat.rig@HEAD", "--format", "json") == 1
    (told,) = json.loads(capsys.readouterr().out)["comparisons"]
    assert [c["fact"] for c in told["changes"]] == ["rating"]
    assert run("diff", "sub/boat.rig@HEAD", "sub/boat.rig") == 0


def test_a_revision_is_read_from_within_a_hook(
    repo: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    put(repo / "sub/boat.rig", ("10A class", "15A class"))
    git(repo, "add", ".")
    git(repo, "commit", "-qm", "a boat")
    monkeypatch.setenv("GIT_DIR", ".git")  # as git sets it for its hooks
    assert run("diff", "sub/boat.rig@HEAD", "sub/boat.rig") == 0
    assert "No change in meaning." in capsys.readouterr().out


def test_a_file_that_is_gone_can_be_read_at_its_revision(
    repo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    put(repo / "deep/down/boat.rig", ("10A class", "15A class"))
    git(repo, "add", ".")
    git(repo, "commit", "-qm", "a boat")
    git(repo, "rm", "-qr", "deep")
    git(repo, "commit", "-qm", "no boat")
    assert run("diff", "deep/down/boat.rig@HEAD~1", "van.rig") == 1
    assert "rating 15A -> 10A" in capsys.readouterr().out
    assert run("diff", "deep/down/boat.rig@HEAD", "van.rig") == 2
    assert "is not in revision" in capsys.readouterr().err


def test_a_rule_book_of_the_project_is_taken_as_it_was(
    repo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = (ROOT / "examples/house.book").read_text("utf-8")
    base: Any = re.search(r'^base = "(.*)"', book, re.M)
    put(repo / "house.book", text=book)
    put(repo / "van.rig", ("rules abyc-e11", 'rules "house.book"'))
    git(repo, "add", ".")
    git(repo, "commit", "-qm", "a book")
    put(repo / "house.book", text=f'base = "{base[1]}"\n')
    assert run("diff", "van.rig@HEAD", "van.rig") == 1
    said = capsys.readouterr().out
    assert "rules house.book -> house.book, of another text" in said
    put(repo / "house.book", text="base = 1\n")
    assert run("diff", "van.rig@HEAD", "van.rig") == 2
    assert run("diff", "van.rig@HEAD", "van.rig@HEAD") == 0


def test_the_lines_for_python_in_the_page_hold(monkeypatch: pytest.MonkeyPatch) -> None:
    page = (ROOT / "docs/changes.md").read_text("utf-8")
    monkeypatch.chdir(ROOT)
    (code,) = re.findall(r"```python\n(.*?)```", page, re.S)
    names: dict[str, Any] = {}
    exec(code, names)
    assert names["half"].devices.keys() != names["base"].devices.keys()


# ---- the listing --------------------------------------------------------------------------------


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_a_listing_is_the_same_for_any_order_of_the_statements(path: Path) -> None:
    text = path.read_text("utf-8").replace("\\\n", " ")
    base, stages = text[: text.index("\nstage ")], text[text.index("\nstage ") :]
    turned = "\n".join(reversed(base.splitlines())) + stages
    assert listing(text) == listing(re.sub(r"(?m)^ +", "\t", turned))


def test_a_text_with_a_mistake_is_listed_as_it_is(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    put(here / "van.rig", ("lamp ", "lmap "))
    assert run("diff", "--listing", "van.rig") == 0
    assert capsys.readouterr().out == (here / "van.rig").read_text("utf-8")
