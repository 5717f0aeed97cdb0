"""Many rigs in one run: what is found does not hang on processes, caches or shards."""

from __future__ import annotations

import io
import json
import os
import re
import subprocess
import sys
import tomllib
from collections.abc import Callable, Sequence
from pathlib import Path

import jsonschema
import pytest
from ferrule.checks.findings import Finding, Related, Report
from ferrule.cli.commands import check as command
from ferrule.cli.files import Outcome
from ferrule.cli.fleet import cache as caches
from ferrule.cli.fleet import checked, documents, found, keys, one, work
from ferrule.cli.fleet.cache import Cache, usual
from ferrule.cli.main import main
from ferrule.cli.progress import Progress
from ferrule.cli.writers import json as writer
from ferrule.dsl.model import Rig, Span

ROOT = Path(__file__).parents[1]
STARTER = (ROOT / "cli/starter.rig").read_text(encoding="utf-8")
FAULTY = STARTER.replace("F1.2 -> E1.+", "GB.+ -> E1.+")
MISTAKEN = STARTER.replace("battery", "batery")
FORMATS = ("text", "json", "sarif", "github")
Check = Callable[..., tuple[int, str, str]]


@pytest.fixture
def fleet(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of rigs in the working folder; the user's cache is empty and nobody else's."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "home"))
    parts = "part lamp24 lamp 24W dc\n"
    uses = STARTER.replace("battery GB", 'use "../shared/parts.rig"\nbattery GB')
    uses = uses.replace('"Cabin lamp"    12V 24W dc', '"Cabin lamp" lamp24 12V')
    for name, text in {
        "vans/a.rig": STARTER,
        "vans/b.rig": FAULTY,
        "boats/c.rig": uses,
        "shared/parts.rig": parts,
        ".hidden/d.rig": MISTAKEN,
        "vans/readme.txt": "no rig",
    }.items():
        path = tmp_path / "fleet" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return tmp_path / "fleet"


@pytest.fixture
def check(capsys: pytest.CaptureFixture[str]) -> Check:
    def run(*argv: object) -> tuple[int, str, str]:
        try:
            code = main(["check", *map(str, argv)])
        except SystemExit as stop:
            code = int(stop.code or 0)
        said = capsys.readouterr()
        return code, said.out, said.err

    return run


def looked_at(err: str) -> str:
    """How many rigs a run did not know from an earlier one."""
    return err.partition("ferrule: ")[2].partition(" looked")[0]


# -- what is found -----------------------------------------------------------------------------


def test_a_folder_stands_for_the_rigs_below_it(fleet: Path) -> None:
    assert found.rigs(["fleet"]) == ["fleet/boats/c.rig", "fleet/vans/a.rig", "fleet/vans/b.rig"]
    assert found.rigs(["./fleet/../fleet/vans"]) == ["fleet/vans/a.rig", "fleet/vans/b.rig"]
    assert found.rigs(["fleet", "fleet/vans/a.rig"]) == found.rigs(["fleet"])


def test_a_file_without_a_rig_that_nobody_uses_is_looked_at(fleet: Path, check: Check) -> None:
    (fleet / "lost.rig").write_text("part lamp24 lamp 24W dc\n", encoding="utf-8")
    assert "fleet/lost.rig" in found.rigs(["fleet"])
    code, _, err = check("fleet")
    assert code == 2 and "fleet/lost.rig:1:1" in err  # it does not say whose rules it follows


def test_a_rig_that_another_uses_is_still_a_rig(fleet: Path) -> None:
    part = fleet / "shared/parts.rig"
    part.write_text('rig "Of its own"\nrules abyc-e11\n' + part.read_text("utf-8"), "utf-8")
    assert "fleet/shared/parts.rig" in found.rigs(["fleet"])


def test_a_word_in_a_comment_or_a_carried_line_is_no_statement(fleet: Path) -> None:
    text = '# rig\npart lamp24 lamp 24W \\\n  dc\nplace X "A" \\\nuse "vans/a.rig"\n'
    (fleet / "shared/parts.rig").write_text(text, encoding="utf-8")
    assert "fleet/shared/parts.rig" not in found.rigs(["fleet"])


def test_a_folder_without_rigs_is_refused(fleet: Path, check: Check) -> None:
    (fleet / "empty").mkdir()
    code, _, err = check(fleet / "empty")
    assert code == 2 and "no .rig file" in err


def test_the_worst_rig_decides_the_exit_code(fleet: Path, check: Check) -> None:
    assert check("fleet/boats")[0] == 0
    assert check("fleet")[0] == 1
    (fleet / "z.rig").write_text(MISTAKEN, encoding="utf-8")
    code, out, err = check("fleet")
    assert code == 2
    assert "did you mean `battery`" in err and "fleet/z.rig" in err
    assert "error P" in out  # a rig that cannot be read keeps no other from its findings


def test_the_summary_counts_by_rig_and_by_rule(fleet: Path, check: Check) -> None:
    (fleet / "vans/e.rig").write_text(FAULTY, encoding="utf-8")
    code, out, _ = check("fleet")
    assert code == 1
    rows = [line.split() for line in out.splitlines()]
    (rule,) = {row[2] for row in rows if row[1:2] == ["error"]}
    assert ["fleet/vans/b.rig", *("1", "-", "-", "-")] in rows
    by_rule = next(row for row in rows if row[:1] == [rule])
    assert by_rule[2:] == ["2", "2", "-", "-", "-"]  # in two rigs, two errors
    assert out.endswith("4 rigs: 2 without findings, 2 with errors\n")
    assert "fleet/vans/a.rig" not in out


@pytest.mark.parametrize("form", FORMATS)
def test_nothing_hangs_on_processes_or_on_the_cache(
    form: str, fleet: Path, check: Check, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(work, "FEW", 1)
    alone = check("fleet", "--format", form, "--jobs", 1, "--no-cache")[:2]
    assert check("fleet", "--format", form, "--jobs", 2)[:2] == alone
    assert check("fleet", "--format", form)[:2] == alone
    assert alone[0] == 1


def test_many_files_are_one_valid_document(fleet: Path, check: Check) -> None:
    schema = json.loads((ROOT / "cli/findings.schema.json").read_text(encoding="utf-8"))
    (fleet / "z.rig").write_text(MISTAKEN, encoding="utf-8")
    told = json.loads(check("fleet", "--format", "json")[1])
    jsonschema.validate(told, schema)
    assert [document["file"] for document in told] == found.rigs(["fleet"])
    one = json.loads(check("fleet/boats", "--format", "json")[1])
    jsonschema.validate(one, schema)
    assert len(one) == 1  # a folder gives an array, whatever is in it
    log = json.loads(check("fleet", "--format", "sarif")[1])
    sarif = ROOT / "tests/data/sarif/sarif-2.1.0-rtm.5.json"
    jsonschema.Draft4Validator(json.loads(sarif.read_text(encoding="utf-8"))).validate(log)
    assert len(log["runs"]) == 1 and log["runs"][0]["results"]


def test_findings_come_back_from_json_as_they_were() -> None:
    span = Span("a.rig", 2, 6, 2, 8)
    finding = Finding(
        *("P02", "conductor-undersized", "warning", "base", ("shore",), ("W1", "Q1"), span),
        *("W1 is too thin", 30, 20.5, "A", ("a", "b"), (Related(span, "fed from here"),)),
        *("NFPA 70", "a larger one", "tested"),
    )
    outcome = Outcome("a.rig", {}, report=Report("a.rig", ("base",), (finding,)))
    back = documents.outcome(json.loads(json.dumps(writer.document(outcome))))
    assert back.report == outcome.report
    assert writer.write([back]) == writer.write([outcome])  # 30 stays 30, 20.5 stays 20.5


def test_the_machinery_of_fleets_reads_every_finding_there_is(check: Check) -> None:
    """Every fault rig of the tests: what comes through the cache's form is what one file gives."""
    faults = sorted((ROOT / "tests/faults").glob("*.rig"))[::12]
    for path in faults:
        single = json.loads(check(path, "--format", "json")[1])
        assert single.pop("figures")  # those of a folder are asked for file by file
        (of_fleet,) = json.loads(check(path, "--no-cache", "--jobs", 1, "--format", "json")[1])
        assert of_fleet == {**single, "figures": {}}


def test_gathering_keeps_the_figures_of_files(
    fleet: Path, check: Check, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("vans/a", "boats/c"):
        told = check(fleet / f"{name}.rig", "--format", "json")[1]
        Path(f"{name[-1]}.json").write_text(told, encoding="utf-8")
    assert main(["gather", "a.json", "c.json", "--format", "json"]) == 0
    both = json.loads(capsys.readouterr().out)
    assert both == [json.loads(Path(f"{name}.json").read_text("utf-8")) for name in "ca"]
    assert all(document["figures"] for document in both)


# -- the cache ---------------------------------------------------------------------------------


def test_only_what_changed_is_looked_at_again(fleet: Path, check: Check) -> None:
    assert looked_at(check("fleet")[2]) == "3 of 3 rigs"
    assert looked_at(check("fleet")[2]) == "0 of 3 rigs"
    (fleet / "vans/b.rig").write_text(STARTER, encoding="utf-8")
    code, _, err = check("fleet")
    assert looked_at(err) == "1 of 3 rigs" and code == 0
    (fleet / "vans/b.rig").write_text(FAULTY, encoding="utf-8")
    code, _, err = check("fleet")
    assert looked_at(err) == "0 of 3 rigs" and code == 1  # it was seen before, byte for byte


def test_a_change_of_a_used_file_or_of_a_book_is_seen(fleet: Path, check: Check) -> None:
    house = (ROOT / "examples/house.book").read_text(encoding="utf-8")
    (fleet / "shared/house.book").write_text(house, encoding="utf-8")
    base = next(line for line in house.splitlines() if line.startswith("base"))
    text = STARTER.replace("rules abyc-e11", 'rules "../shared/house.book"')
    (fleet / "vans/own.rig").write_text(text, encoding="utf-8")
    check("fleet")
    assert looked_at(check("fleet")[2]) == "0 of 4 rigs"
    as_before = "part lamp24 lamp 24W dc # as before\n"
    (fleet / "shared/parts.rig").write_text(as_before, encoding="utf-8")
    assert looked_at(check("fleet")[2]) == "1 of 4 rigs"
    (fleet / "shared/house.book").write_text(f"{base}\n", encoding="utf-8")
    assert looked_at(check("fleet")[2]) == "1 of 4 rigs"
    (fleet / "shared/house.book").unlink()
    code, _, err = check("fleet")
    assert code == 2 and "there is no file" in err and looked_at(err) == "1 of 4 rigs"


def test_another_ferrule_or_another_question_trusts_nothing(
    fleet: Path, check: Check, monkeypatch: pytest.MonkeyPatch
) -> None:
    check("fleet")
    assert looked_at(check("fleet", "--stage", "base")[2]) == "3 of 3 rigs"
    monkeypatch.setattr(keys, "build", lambda command: "of tomorrow")
    assert looked_at(check("fleet")[2]) == "3 of 3 rigs"


def test_the_program_s_digest_follows_its_data_tables(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for room in ("dsl", "checks", "cli"):
        (tmp_path / room).mkdir()
    table = tmp_path / "checks/limits.toml"
    monkeypatch.setattr(keys, "HERE", tmp_path)

    def digest() -> str:
        keys.build.cache_clear()
        return keys.build("check")

    try:
        table.write_text("drop = 3", encoding="utf-8")
        first = digest()
        assert digest() == first
        table.write_text("drop = 5", encoding="utf-8")
        assert digest() != first
    finally:
        keys.build.cache_clear()


def test_a_drawing_s_digest_follows_every_library_that_may_draw() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    libraries = {re.split(r"[^a-z0-9-]", line)[0] for line in project["dependencies"]}
    assert libraries and libraries <= set(keys.DRAWING)


SPOILT: dict[str, Callable[[bytes], bytes]] = {
    "cut short": lambda raw: raw[: len(raw) // 2],
    "empty": lambda raw: b"",
    "one bit": lambda raw: raw[:-20] + bytes([raw[-20] ^ 1]) + raw[-19:],
    "another program's": lambda raw: b"\x80\x04\x95 pickled, perhaps",
    "no JSON": lambda raw: _sealed(b"{"),
    "no object": lambda raw: _sealed(b"[]"),
    "another's entry": lambda raw: _sealed(b'{"key": "0"}'),
    "no inputs": lambda raw: _without(raw, "inputs"),
    "no findings": lambda raw: _without(raw, "document"),
    "a cleaned report": lambda raw: raw.replace(b'"findings":[{', b'"findings":[],"x":[{'),
}


def _sealed(body: bytes) -> bytes:
    return caches.HEAD + keys.digest(body).encode() + b"\n" + body


def _without(raw: bytes, field: str) -> bytes:
    entry = json.loads(raw.partition(b"\n")[2])
    del entry[field]
    return _sealed(json.dumps(entry).encode())


def entries(folder: Path) -> list[Path]:
    return sorted(folder.rglob("*.entry"))


@pytest.mark.parametrize("spoil", SPOILT.values(), ids=SPOILT)
def test_a_spoilt_entry_is_made_anew(
    spoil: Callable[[bytes], bytes], fleet: Path, check: Check, tmp_path: Path
) -> None:
    store = tmp_path / "kept"
    whole = check("fleet", "--cache", store)[:2]
    before = {path: path.read_bytes() for path in entries(store)}
    assert len(before) == 3
    for path, raw in before.items():
        path.write_bytes(spoil(raw))
    code, out, err = check("fleet", "--cache", store)
    assert (code, out) == whole
    # A report without findings is told from one with them by its checksum alone.
    assert looked_at(err) in ("3 of 3 rigs", "1 of 3 rigs")
    assert {path: path.read_bytes() for path in entries(store)} == before
    assert looked_at(check("fleet", "--cache", store)[2]) == "0 of 3 rigs"


def test_an_entry_that_is_moved_to_another_key_is_not_trusted(tmp_path: Path) -> None:
    store = Cache(str(tmp_path))
    one, other = "1" * 64, "2" * 64
    store.put(one, {"document": 1})
    assert store.get(one) == {"document": 1, "key": one}
    path = tmp_path / "22" / f"{other}.entry"
    path.parent.mkdir()
    path.write_bytes((tmp_path / "11" / f"{one}.entry").read_bytes())
    assert store.get(other) is None


def test_what_could_not_be_read_is_not_kept(fleet: Path, check: Check, tmp_path: Path) -> None:
    (fleet / "z.rig").write_text(MISTAKEN, encoding="utf-8")
    check("fleet")
    assert looked_at(check("fleet")[2]) == "1 of 4 rigs"


@pytest.mark.parametrize("changed", ["vans/a.rig", "shared/house.book"])
def test_what_changes_while_it_is_read_is_not_kept(
    changed: str, fleet: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A digest must be that of the text that was checked, not of the one that came after it."""
    house = (ROOT / "examples/house.book").read_text(encoding="utf-8")
    (fleet / "shared/house.book").write_text(house, encoding="utf-8")
    text = STARTER.replace("rules abyc-e11", 'rules "../shared/house.book"')
    (fleet / "vans/a.rig").write_text(text, encoding="utf-8")
    assert one.checked("fleet/vans/a.rig", None).inputs.keys() == {
        *("fleet/vans/a.rig", "fleet/shared/house.book"),
    }
    check_rigs = command.check_rigs

    def slow(rigs: Sequence[Rig]) -> Report:
        report = check_rigs(rigs)
        path = fleet / changed
        path.write_text(path.read_text(encoding="utf-8") + "# more\n", encoding="utf-8")
        return report

    monkeypatch.setattr(command, "check_rigs", slow)
    assert one.checked("fleet/vans/a.rig", None).inputs == {}


def test_the_cache_stays_within_its_size_and_touches_nothing_else(tmp_path: Path) -> None:
    (tmp_path / "aa").mkdir()
    mine = [tmp_path / "letter.txt", tmp_path / "aa/letter.txt", tmp_path / "aa" / "0.entry"]
    for path in mine:
        path.write_text("x" * 5000, encoding="utf-8")
    store = Cache(str(tmp_path), most_bytes=3000)
    names = [f"{number:064x}" for number in range(10)]
    for age, name in enumerate(names):
        store.put(name, {"document": "y" * 400})
        path = tmp_path / name[:2] / f"{name}.entry"
        os.utime(path, (1_000_000 + age, 1_000_000 + age))
    assert store.get(names[0])  # used just now, so it stays
    store.trim()
    assert sum(path.stat().st_size for path in entries(tmp_path) if path not in mine) <= 3000
    assert store.get(names[0]) and store.get(names[9]) and not store.get(names[1])
    assert all(path.exists() for path in mine)


def test_a_cache_that_cannot_be_written_stops_nothing(
    fleet: Path, check: Check, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    code, out, err = check("fleet", "--cache", "kept")
    assert code == 1 and out.endswith("3 rigs: 2 without findings, 1 with errors\n")
    assert "nothing is kept" in err and "No space left" in err
    assert not list(Path("kept").rglob("*.*"))  # no half of one lies about


def test_no_cache_reads_and_writes_none(fleet: Path, check: Check, tmp_path: Path) -> None:
    for _ in range(2):
        assert looked_at(check("fleet", "--no-cache")[2]) == "3 of 3 rigs"
    assert not (tmp_path / "home").exists()


def test_a_cache_that_is_a_file_is_refused(fleet: Path, check: Check) -> None:
    code, _, err = check("fleet", "--cache", "fleet/shared/parts.rig")
    assert code == 2 and "is a file" in err


def test_caches_lie_where_the_base_directory_specification_says() -> None:
    """XDG Base Directory Specification 0.8: XDG_CACHE_HOME, ~/.cache; no relative paths."""
    assert usual({"XDG_CACHE_HOME": "/var/tmp/x"}) == "/var/tmp/x/ferrule"
    home = os.path.expanduser("~")
    for told in ({}, {"XDG_CACHE_HOME": ""}, {"XDG_CACHE_HOME": "here"}):
        assert usual(told) == os.path.join(home, ".cache", "ferrule")


# -- processes ---------------------------------------------------------------------------------


def ends(name: str) -> str:
    """Work that kills its process on one name."""
    if name == "bad":
        os._exit(9)
    return name.upper()


def test_the_order_is_that_of_the_names(monkeypatch: pytest.MonkeyPatch) -> None:
    names = [f"n{number}" for number in range(40)]
    assert list(work.each(str.upper, names, 2)) == [name.upper() for name in names]
    assert list(work.each(str.upper, [], 2)) == []


def test_a_process_that_dies_is_told_of() -> None:
    names = [*(f"n{number}" for number in range(20)), "bad"]
    with pytest.raises(work.Unusable, match="at work on a file from n"):
        list(work.each(ends, names, 2))


def test_the_installed_command_starts_processes_of_its_own(fleet: Path, tmp_path: Path) -> None:
    for number in range(10):
        (fleet / f"vans/n{number}.rig").write_text(STARTER, encoding="utf-8")
    argv = [sys.executable, "-m", "ferrule.cli.main", "check", "fleet", "--jobs", "2"]
    ran = subprocess.run(argv, capture_output=True, text=True, cwd=tmp_path)
    assert ran.returncode == 1, ran.stderr
    assert ran.stdout.endswith("13 rigs: 12 without findings, 1 with errors\n")
    assert ran.stderr == "ferrule: 13 of 13 rigs looked at, 0 as before\n"


def test_a_terminal_sees_how_far_it_has_come(
    fleet: Path, check: Check, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    shown = Terminal()
    monkeypatch.setattr(checked, "Progress", lambda: Progress(shown, patience_s=0.0))
    check("fleet")
    bars = re.findall(r"\d/3 \S+", shown.getvalue())
    assert bars == [f"{n}/3 {name}" for n, name in enumerate(found.rigs(["fleet"]))]
    assert shown.getvalue().endswith("\r\x1b[K")


# -- shards ------------------------------------------------------------------------------------


@pytest.mark.parametrize("count", [1, 2, 3, 7])
def test_shards_take_each_rig_once_whatever_else_is_there(fleet: Path, count: int) -> None:
    for number in range(30):
        (fleet / f"vans/n{number}.rig").write_text(STARTER, encoding="utf-8")
    every = found.rigs(["fleet"])
    shares = [found.rigs(["fleet"], (k, count)) for k in range(1, count + 1)]
    assert sorted(name for share in shares for name in share) == every
    assert count == 1 or max(map(len, shares)) < len(every)
    for number in range(10):
        (fleet / f"vans/n{number}.rig").unlink()
    fewer = set(found.rigs(["fleet"]))
    for k, share in enumerate(shares, 1):
        assert found.rigs(["fleet"], (k, count)) == [name for name in share if name in fewer]


@pytest.mark.parametrize("form", FORMATS)
def test_shards_gathered_are_the_whole_byte_for_byte(
    form: str, fleet: Path, check: Check, capsys: pytest.CaptureFixture[str]
) -> None:
    for number in range(6):
        text = FAULTY if number % 2 else STARTER
        (fleet / f"boats/n{number}.rig").write_text(text, encoding="utf-8")
    (fleet / "z.rig").write_text(MISTAKEN, encoding="utf-8")
    for k in (1, 2):
        _, out, _ = check("fleet", "--shard", f"{k}/2", "--format", "json", "--no-cache")
        Path(f"{k}.json").write_text(out, encoding="utf-8")
        assert json.loads(out)
    whole = check("fleet", "--format", form, "--no-cache")
    gathered = main(["gather", "2.json", "1.json", "--format", form])
    assert (gathered, capsys.readouterr().out) == whole[:2]


def test_gathering_what_disagrees_is_refused(
    fleet: Path, check: Check, capsys: pytest.CaptureFixture[str]
) -> None:
    for name, text in (("1", STARTER), ("2", FAULTY)):
        (fleet / "vans/a.rig").write_text(text, encoding="utf-8")
        Path(f"{name}.json").write_text(check("fleet", "--format", "json")[1], encoding="utf-8")
    assert main(["gather", "1.json", "1.json"]) == 1
    assert main(["gather", "1.json", "2.json"]) == 2
    assert "fleet/vans/a.rig was told of otherwise" in capsys.readouterr().err
    Path("3.json").write_text('[{"file": "a.rig"}]', encoding="utf-8")
    assert main(["gather", "3.json"]) == 2
    assert "no findings in JSON" in capsys.readouterr().err


@pytest.mark.parametrize("share", ["0/2", "3/2", "2", "a/b", "1/0", "-1/2", "1/2/3"])
def test_a_share_that_is_none_is_refused(share: str, fleet: Path, check: Check) -> None:
    code, _, err = check("fleet", f"--shard={share}")
    assert code == 2 and "is no" in err


def test_an_empty_shard_is_no_mistake(fleet: Path, check: Check) -> None:
    empty = next(k for k in range(1, 51) if not found.rigs(["fleet"], (k, 50)))
    assert check("fleet", "--shard", f"{empty}/50")[:2] == (0, "0 rigs: none in this shard\n")
    assert check("fleet", "--shard", f"{empty}/50", "--format", "json")[:2] == (0, "[]\n")
