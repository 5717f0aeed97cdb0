"""``ferrule report``: the page as a file: complete, valid, inert, the same bytes every time."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import Any

import html5lib
import pytest
from ferrule.checks.figures.derivation import derivation
from ferrule.checks.run import check_rigs
from ferrule.checks.tracing.trace import analyse
from ferrule.checks.verdicts import check_each, told, verdicts
from ferrule.cli.commands import report as command
from ferrule.cli.main import main
from ferrule.cli.reporting import report
from ferrule.dsl.reader import read, read_text
from ferrule.render.draw import draw
from ferrule.render.report import whole
from ferrule.render.report_sheets import subjects
from ferrule.render.schedules import SCHEDULES
from report_rigs import LABELS, ROOT, STAGED, STARTER, faulty, hostile

sys.path.insert(0, str(ROOT / "benchmarks"))
from generate import TOPOLOGIES, generate

MOST_BYTES = 2_000_000
DEVICES = 40


def made(text: str, stage: str = "") -> str:
    rigs = read_text(text, "a.rig").rigs
    return whole(report(rigs, next((r for r in rigs if r.stage == stage), rigs[-1])))


@pytest.fixture(scope="module")
def page() -> str:
    return made(faulty())


@pytest.fixture(scope="module")
def tree(page: str) -> Any:
    return html5lib.parse(page, namespaceHTMLElements=False)


def stored(page: str) -> dict[str, Any]:
    found = re.search(r'<script type="application/json" id="data">(.*?)</script>', page, re.DOTALL)
    assert found
    data: dict[str, Any] = json.loads(found[1])
    return data


def local(name: object) -> str:
    return str(name).rpartition("}")[2]


def classes(element: Any) -> set[str]:
    return set(element.get("class", "").split())


@pytest.mark.parametrize("text", [STAGED, hostile()], ids=["staged", "hostile"])
def test_it_is_valid_html(text: str) -> None:
    """No parse error by the algorithm of the HTML standard."""
    html5lib.HTMLParser(strict=True).parse(made(text))


def test_every_id_is_there_once_and_every_link_leads_somewhere(tree: Any) -> None:
    ids = Counter(each.get("id") for each in tree.iter() if each.get("id"))
    assert [name for name, times in ids.items() if times > 1] == []
    links = {each.get("href") for each in tree.iter("a")}
    assert len(links) > 50
    assert {link for link in links if link[1:] not in ids} == set()


def test_it_asks_for_nothing_from_outside(page: str, tree: Any) -> None:
    for each in tree.iter():
        for name in ("src", "srcset", "action", "data", "poster", "background", "formaction"):
            assert each.get(name) is None, (each.tag, name)
        reference = each.get("href") or each.get("{http://www.w3.org/1999/xlink}href") or "#"
        assert reference.startswith("#")
    assert all(url.startswith("data:font/") for url in re.findall(r"url\(([^)]*)", page))
    assert "@import" not in page
    policy = next(m for m in tree.iter("meta") if m.get("http-equiv")).get("content")
    assert policy.startswith("default-src 'none';")
    assert "connect-src" not in policy


def test_the_bundled_font_is_there_once(page: str) -> None:
    assert page.count("@font-face") == 2  # regular and bold


def test_labels_are_texts_and_nothing_else() -> None:
    tree = html5lib.parse(made(hostile()), namespaceHTMLElements=False)
    assert [each.get("type") for each in tree.iter("script")] == [None, "application/json", None]
    assert not list(tree.iter("img"))
    assert len(list(tree.iter("style"))) == 2
    attributes = {local(name) for each in tree.iter() for name in each.attrib}
    assert not {name for name in attributes if name.startswith("on")}
    assert tree.find(".//h1").text == LABELS[0]
    names = stored(made(hostile()))["names"]
    assert [names[name]["l"] for name in ("GB", "F1", "E1", "CH")] == list(LABELS[1:])


def test_the_same_text_gives_the_same_bytes(tmp_path: Path) -> None:
    file = tmp_path / "a.rig"
    file.write_text(STAGED, encoding="utf-8")
    pages = []
    for seed in ("1", "2"):
        out = tmp_path / seed
        argv = [sys.executable, "-m", "ferrule.cli.main", "report", "a.rig", "-o", str(out)]
        subprocess.run(argv, cwd=tmp_path, check=True, capture_output=True,
                       env={**os.environ, "PYTHONHASHSEED": seed})  # fmt: skip
        pages.append((out / "starter-tender.html").read_bytes())
    assert pages[0] == pages[1]


@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_a_page_of_forty_devices_is_small(topology: str) -> None:
    circuits = 6
    while len(read_text(generate(topology, circuits)).rigs[-1].devices) < DEVICES:
        circuits += 1
    assert len(made(generate(topology, circuits)).encode()) <= MOST_BYTES


def test_every_sheet_is_on_it_with_a_name(tree: Any) -> None:
    sheets = draw(analyse(read_text(faulty(), "a.rig").rigs[-1]))
    drawings = [each for each in tree.iter() if local(each.tag) == "svg"]
    assert len(drawings) == len(sheets) > 20
    for drawing, sheet in zip(drawings, sheets, strict=True):
        (title,) = (each for each in drawing if local(each.tag) == "title")
        assert title.get("id") == drawing.get("aria-labelledby")
        assert title.text == f"{sheet.doc}, {sheet.title}"


def test_what_is_drawn_of_a_name_says_so(page: str) -> None:
    """Every group of every sheet that is about a device or a conductor carries its name."""
    stage = analyse(read_text(faulty(), "a.rig").rigs[-1])
    about = subjects(stage.rig)
    drawn = Counter(
        about[item.about]
        for sheet in draw(stage)
        for item in sheet.items
        if getattr(item, "about", "") in about
    )
    carried = Counter(re.findall(r'<g(?: id="[^"]*")? data-n="([^"]*)"', page))
    assert set(stage.rig.devices) | set(stage.rig.conductors) <= set(carried) | {"SHORE"}
    assert {name: times for name, times in drawn.items() if carried[name] < times} == {}


def test_the_tables_have_every_conductor_and_every_schedule(tree: Any) -> None:
    rig = read_text(faulty(), "a.rig").rigs[-1]
    tables = {e.get("data-title"): e for e in tree.iter("section") if "table" in classes(e)}
    chart = tables["Wiring chart"]
    assert {row.get("data-n") for row in chart.iter("tr")} - {None} == set(rig.conductors)
    groups = Counter(each.get("data-group") for each in tables.values())
    assert groups["Schedules"] == len(SCHEDULES)
    assert groups["Figures"] == 4 * len(rig.modes)
    assert groups["Capacity"] >= 2 * len(rig.modes)


def test_every_name_comes_with_its_derivation(page: str) -> None:
    stage = analyse(read_text(faulty(), "a.rig").rigs[-1])
    data = stored(page)
    texts, modes = data["texts"], data["modes"]
    assert set(data["names"]) == {*stage.rig.devices, *stage.rig.conductors, *stage.rig.cables}
    for name in (*stage.rig.devices, *stage.rig.conductors):
        shown = [
            (texts[title], modes[mode] if mode >= 0 else "", tuple(texts[n] for n in lines))
            for title, mode, *lines in data["names"][name]["d"]
        ]
        found = derivation(stage, stage.modes, name)
        assert shown == [(s.title, s.mode, s.lines) for s in found]


def test_findings_are_marked_in_the_text_and_lead_there_and_back(tree: Any) -> None:
    rigs = read_text(faulty(), "a.rig").rigs
    lines = faulty().split("\n")
    ids = {each.get("id"): each for each in tree.iter() if each.get("id")}
    found = told(check_each(rigs), rigs[-1].stage)
    assert len(found) >= 2
    for number, each in enumerate(found, 1):
        article, span = ids[f"finding-{number}"], each.finding.span
        assert each.finding.message in "".join(article.itertext())
        assert f"#line-1-{span.line}" in {a.get("href") for a in article.iter("a")}
        line = ids[f"line-1-{span.line}"]
        assert f"#finding-{number}" in {a.get("href") for a in line.iter("a")}
        marked = "".join("".join(mark.itertext()) for mark in line.iter("mark"))
        assert lines[span.line - 1][span.column - 1 : span.end_column - 1] in marked
        assert "".join(line.find("code").itertext()) == lines[span.line - 1]


def test_the_cautions_stand_on_it(page: str) -> None:
    assert page.count("A drawing is no proof that the rig was built to it") >= 2
    assert "Do not wire from these sheets" in page
    assert "Do not wire from these sheets" not in made(STARTER.read_text(encoding="utf-8"))


def test_each_stage_has_its_own_verdict_in_each_mode() -> None:
    rigs = read_text(STAGED, "a.rig").rigs
    base, tender = check_each(rigs)
    assert not base.failed
    assert tender.failed
    found = {v.mode: v for v in verdicts(rigs[1], tender)}
    assert list(found) == ["", "on", "off"]
    assert found[""].counts["error"] == 2  # D03 does not depend on a mode
    assert found["on"].passes
    assert {each.stages for each in told((base, tender), "TENDER")} == {("TENDER",)}


def test_the_stages_together_find_what_a_check_finds() -> None:
    for path in sorted((ROOT / "examples").glob("*.rig")):
        rigs = read(path).rigs
        each = {(t.finding.rule, t.finding.on[0]) for t in told(check_each(rigs), rigs[-1].stage)}
        assert each == {(f.rule, f.on[0]) for f in check_rigs(rigs).findings}


def test_an_accept_that_one_stage_needs_is_not_called_needless() -> None:
    text = STAGED + '\naccept D03 on W2 because "the lamp takes two"\n'
    reports = check_each(read_text(text, "a.rig").rigs)
    assert "D10" not in {f.rule for report in reports for f in report.findings}
    text = STAGED + '\naccept P02 on W2 because "nothing"\n'
    reports = check_each(read_text(text, "a.rig").rigs)
    assert "D10" in {f.rule for report in reports for f in report.findings}


# ---- the command --------------------------------------------------------------------------------


@pytest.fixture
def staged(tmp_path: Path) -> str:
    file = tmp_path / "a.rig"
    file.write_text(STAGED, encoding="utf-8")
    return str(file)


def test_the_page_of_a_stage_is_written_and_named(
    staged: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    assert main(["report", staged, "-o", str(out), "--stage", "base"]) == 0
    told = capsys.readouterr()
    assert told.err == ""
    assert told.out == f"{out / 'starter-base.html'}\n"
    assert main(["report", staged, "-o", str(out)]) == 0
    assert "do not wire from these sheets" in capsys.readouterr().err
    assert {path.name for path in out.iterdir()} == {"starter-base.html", "starter-tender.html"}


def test_what_cannot_be_used_is_refused(
    staged: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["report", staged, "--stage", "TENDRE", "-o", str(tmp_path / "o")]) == 2
    assert "did you mean `TENDER`?" in capsys.readouterr().err
    assert main(["report", staged, "-o", staged]) == 2
    Path(staged).write_text("lmap E1\n", encoding="utf-8")
    assert main(["report", staged, "-o", str(tmp_path / "o")]) == 2
    assert not (tmp_path / "o").exists()


def test_progress_goes_from_nothing_to_all_but_the_last_step() -> None:
    told: list[tuple[int, int, str]] = []
    rigs = read_text(STAGED, "a.rig").rigs
    report(rigs, rigs[-1], lambda done, total, what: told.append((done, total, what)))
    (total,) = {total for _, total, _ in told}
    assert [done for done, _, _ in told] == list(range(total))
    assert {"checking", "single-line", "figures", "page"} <= {what for _, _, what in told}


def test_an_interrupted_run_leaves_the_earlier_page(
    staged: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    assert main(["report", staged, "-o", str(out)]) == 0
    before = {path: path.read_bytes() for path in out.iterdir()}

    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(command, "report", interrupted)
    assert main(["report", staged, "-o", str(out)]) == 2
    assert {path: path.read_bytes() for path in out.iterdir()} == before
