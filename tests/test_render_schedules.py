"""Schedules: sums against what the text itself says, every end once, nothing that a reader's
program would run, and nothing on top of anything."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter, defaultdict
from functools import cache
from pathlib import Path

import pytest
from bench_rig import SHED, generated, panelled, shed
from ferrule.checks.tracing.trace import Stage, analyse
from ferrule.dsl.reader import read, read_text
from ferrule.render.audit import audit, missing_glyphs
from ferrule.render.canvas import Text
from ferrule.render.draw import DOCUMENTS, LABELS, draw, tables
from ferrule.render.frame import PAPERS
from ferrule.render.labels import STOCKS, markers
from ferrule.render.options import options
from ferrule.render.schedule import Column, Row, Schedule, Section, csv_text, markdown
from ferrule.render.schedule_cuts import RUN
from ferrule.render.schedule_sheet import sheets
from ferrule.render.schedules import SCHEDULES, made
from ferrule.render.texts import plain

ROOT = Path(__file__).parents[1]
EXAMPLES = sorted((ROOT / "examples").glob("*.rig"))
STAGES = [(path.stem, index) for path in EXAMPLES for index in range(len(read(path).rigs))]
RIGS = [("radial", 12), ("two-source", 20), ("dc", 16), ("three-phase", 9)]
OURS = ("directory", "terminations", "cut-list", "material", "load-list", "limits", "devices")

# DIN 46228-4: section of an insulated ferrule in mm2 and the colour of its collar; 35 and 50 mm2
# from memory.  LBIN: NIST SP 811, appendix B.8, pound-force inch.
COLLARS = {
    "0.5": "WH", "0.75": "GY", "1": "RD", "1.5": "BK", "2.5": "BU", "4": "GY", "6": "YE",
    "10": "RD", "16": "BU", "25": "YE", "35": "RD", "50": "BU",
}  # fmt: skip
LBIN = 0.1129848


@cache
def example(name: str, index: int = -1) -> Stage:
    return analyse(read(ROOT / "examples" / f"{name}.rig").rigs[index])


def table(stage: Stage, name: str) -> list[dict[str, str]]:
    """A document's CSV, read back."""
    return list(csv.DictReader(io.StringIO(tables(stage, only=(name,))[f"{name}.csv"]())))


@pytest.mark.parametrize(("name", "index"), STAGES)
def test_nothing_overlaps_on_the_papers_of_the_examples(name: str, index: int) -> None:
    for sheet in draw(example(name, index), only=(*OURS, *LABELS)):
        assert [str(fault) for fault in audit(sheet)] == [], sheet.title
        assert missing_glyphs(sheet) == ""


@pytest.mark.parametrize(("topology", "circuits"), RIGS)
@pytest.mark.parametrize("paper", ["A4", "A3", "A", "B"])
def test_nothing_overlaps_on_other_paper(topology: str, circuits: int, paper: str) -> None:
    for sheet in draw(generated(topology, circuits), only=(*OURS, *LABELS), paper=paper):
        assert [str(fault) for fault in audit(sheet)] == [], sheet.title


@pytest.mark.parametrize("stock", STOCKS)
def test_nothing_overlaps_on_any_label_stock(stock: str) -> None:
    for name in ("mobile_clinic", "survey_launch"):
        for sheet in draw(example(name), only=tuple(LABELS), stocks=(stock,)):
            assert [str(fault) for fault in audit(sheet)] == []
            assert (sheet.width, sheet.height) == STOCKS[stock].paper


# ---- against the text ----------------------------------------------------------------------------

LINE = re.compile(
    r"^(?:cable \S+ +(?P<cores>\d+)x|(?:wire|bond) \S+ +)(?P<size>\S+) +(?P<length>[\d.]+)m ", re.M
)


@pytest.mark.parametrize(("topology", "circuits"), RIGS)
def test_the_cut_list_adds_up_to_the_lengths_in_the_text(topology: str, circuits: int) -> None:
    text, stage = panelled(topology, circuits), generated(topology, circuits)
    said: dict[tuple[str, str], list[float]] = defaultdict(list)
    for line in LINE.finditer(text):
        said[line["cores"] or "", line["size"]].append(float(line["length"]))
    listed: dict[tuple[str, str], float] = defaultdict(float)
    cut: dict[tuple[str, str], float] = defaultdict(float)
    for row in table(stage, "cut-list"):
        if row["conductor"] == "Total":
            reel = row["group"].replace(" ", "").replace("mm²", "mm2")
            cores, _, size = reel.rpartition("×")
            key = (cores, re.split("single|cord", size)[0])
            listed[key] += float(row["length m"])
            cut[key] += float(row["cut m"])
    assert listed == pytest.approx({key: sum(lengths) for key, lengths in said.items()})
    for key, lengths in said.items():
        assert sum(map(RUN.cut_m, lengths)) >= cut[key] - 1e-9
        assert cut[key] >= sum(lengths) - 1e-9


def test_totals_of_colours_add_up_to_that_of_their_type() -> None:
    types: dict[str, dict[str, float]] = defaultdict(dict)
    for row in table(example("field_kitchen"), "cut-list"):
        types[row["group"]][row["conductor"]] = float(row["cut m"])
    for name, rows in types.items():
        colours = {key: cut for key, cut in rows.items() if key.startswith("All ")}
        pieces = sum(cut for key, cut in rows.items() if key not in colours and key != "Total")
        assert pieces == pytest.approx(rows["Total"]), name
        assert not colours or sum(colours.values()) == pytest.approx(rows["Total"]), name
    assert {"All BN", "All BU", "All GNYE"} <= types["6 mm² single"].keys()


def test_jumpers_are_cut_short_and_ready_made_cords_not_at_all() -> None:
    """W15 joins a bar and a breaker of one panel; C15 hangs the coffee machine on its socket."""
    rows = {row["conductor"]: row for row in table(example("field_kitchen"), "cut-list")}
    assert (rows["W15"]["length m"], rows["W15"]["cut m"]) == ("0.20", "0.27")
    assert (rows["D1"]["length m"], rows["D1"]["cut m"]) == ("0.20", "0.33")  # 70 mm2, lugs
    for name in ("W1", "W30", "C15"):
        assert rows[name]["length m"] == rows[name]["cut m"]
        assert rows[name]["group"].endswith("ready made")
    said = " ".join(made("cut-list", example("field_kitchen")).remarks)
    for figure in ("0.15 m for each end", "5% for the way", "0.03 m", "0.06 m", "Ready-made"):
        assert figure in said


def test_a_cord_off_the_reel_is_cut_and_the_shore_cord_is_not() -> None:
    text = """rig "Cords"
rules nfpa70
place A "Box"
supply S "Site" 120V 60Hz 30A bonded
inlet X "Inlet" 30A at=A
bus B "Bar" 60A positions=4 at=A
bus C "Bar" 60A positions=4 at=A
bus D "Bar" 60A positions=4 at=A
heater E "Heater" 120V 500W at=A
cable W1 3x10AWG 7.5m S.(L N PE) -> X.(L N PE) cord
cable W2 3x14AWG 2m B.1 C.1 D.1 -> E.(L N PE) cord
wire W3 14AWG 0.10m X.L -> B.2
"""
    reading = read_text(text)
    assert not reading.problems, reading.problems
    rows = {r["conductor"]: r["cut m"] for r in table(analyse(reading.rigs[-1]), "cut-list")}
    # 2 x 1.05 + 0.3 m; 0.1 x 1.05 + 0.06 m.
    assert (rows["W1"], rows["W2"], rows["W3"]) == ("7.50", "2.40", "0.17")


@pytest.mark.parametrize(("topology", "circuits"), RIGS)
def test_the_bill_counts_every_device_of_the_text(topology: str, circuits: int) -> None:
    text, stage = panelled(topology, circuits), generated(topology, circuits)
    words = Counter(line.split()[0] for line in text.splitlines() if line)
    bill = table(stage, "material")
    for kind in ("breaker", "fuse", "bus", "lamp", "heater", "socket", "panel", "battery"):
        counted = sum(int(row["quantity"]) for row in bill if row["item"] == kind)
        assert counted == words[kind], kind
    reels = [float(row["quantity"]) for row in bill if row["unit"] == "m"]
    totals = [float(r["cut m"]) for r in table(stage, "cut-list")
              if r["conductor"] == "Total" and "ready made" not in r["group"]]  # fmt: skip
    assert sum(totals) - 1e-6 <= sum(reels) <= sum(totals) + 0.1 * len(reels)


@pytest.mark.parametrize("name", [path.stem for path in EXAMPLES])
def test_the_bill_has_what_the_termination_sheet_asks_for(name: str) -> None:
    """As many ferrules and lugs of each size, a sleeve over each lug, nuts on each stud in use."""
    stage = example(name)
    rig, asked, assumed = stage.rig, Counter[str](), Counter[str]()
    for row in table(stage, "terminations"):
        made = row["end section, sleeve or stud"]
        if re.match(r"\(?(ferrule|lug) ", made) and rig.devices[row["device"]].kind != "supply":
            key = f"{made} {row['collar din']}".replace("(", "").replace(")", "").strip()
            asked[key] += 1
            assumed[key] += made.startswith("(")
    bill = [row for row in table(stage, "material") if row["item"] != "marker"]
    ends = {f"{r['item']} {r['description']}": r for r in bill if r["group"] == "Ends"}
    assert {key: int(row["quantity"]) for key, row in ends.items()} == asked
    for key, row in ends.items():
        said = re.search(r"\((\d+) assumed\)", row["where used"])
        assert (int(said[1]) if said else 0) == assumed[key]
        assert int(row["spare"]) >= max(2, 0.1 * asked[key])
    lugs = sum(count for key, count in asked.items() if key.startswith("lug"))
    assert sum(int(r["quantity"]) for r in bill if r["item"] == "sleeve") == lugs
    studs = {
        (end.device, end.terminal): str(rig.devices[end.device].attrs["stud"])
        for conductor in rig.conductors.values() for end in (conductor.a, conductor.b)
        if rig.devices[end.device].kind in ("bus", "block", "earth")
        and "stud" in rig.devices[end.device].attrs
    }  # fmt: skip
    nuts = [row for row in bill if row["item"] == "nuts"]
    counted = {row["description"].partition(",")[0]: int(row["quantity"]) for row in nuts}
    assert counted == Counter(studs.values()) and counted


def test_the_bill_tells_what_bars_and_entries_take() -> None:
    bill = table(example("field_kitchen"), "material")
    said = {row["where used"]: row["description"] for row in bill if row["group"] == "Devices"}
    assert said["NEG, PB"] == "250 A 8 positions studs M8"
    assert said["EB"] == "80 A 16 positions clamps 1.5–16 mm²"
    assert said["G1"] == "for a hole of 25 mm, cable 13–18 mm"
    rows = {row["item"]: row for row in bill}
    assert int(rows["marker"]["quantity"]) == len(markers(example("field_kitchen")))
    assert rows["cord"]["unit"] == "" and rows["cord"]["quantity"] == "1"


def test_no_metre_is_lost_in_rounding() -> None:
    """What is bought is never less than what is cut."""
    for name in (path.stem for path in EXAMPLES):
        bought = {r["where used"]: float(r["quantity"]) for r in table(example(name), "material")
                  if r["unit"] == "m"}  # fmt: skip
        cut = {r["conductor"]: float(r["cut m"]) for r in table(example(name), "cut-list")}
        for where, metres in bought.items():
            need = sum(cut[piece] for piece in where.split(", "))
            assert need - 1e-9 <= metres < need + 0.1


@pytest.mark.parametrize(("name", "index"), STAGES)
def test_every_end_of_every_conductor_lands_once(name: str, index: int) -> None:
    stage = example(name, index)
    conductors = stage.rig.conductors.values()
    ends = Counter((c.name, e.device, e.terminal) for c in conductors for e in (c.a, c.b))
    rows = [row for row in table(stage, "terminations") if row["conductor"] != "free"]
    assert Counter((r["conductor"], r["device"], r["terminal"]) for r in rows) == ends
    marked = Counter(
        (conductor, *here.split(":"))
        for conductor, here, _ in (label.lines for label in markers(stage))
    )
    assert marked == Counter(
        (c.name, e.device, e.terminal) for c in conductors if c.kind != "link" for e in (c.a, c.b)
    )


@pytest.mark.parametrize("name", [path.stem for path in EXAMPLES])
def test_free_terminals_are_told(name: str) -> None:
    stage = example(name)
    landed = {(e.device, e.terminal) for c in stage.rig.conductors.values() for e in (c.a, c.b)}
    free = sum(
        (d.name, t.name) not in landed for d in stage.rig.devices.values() for t in d.terminals
    )
    told = 0
    for row in (r for r in table(stage, "terminations") if r["conductor"] == "free"):
        names = [t.name for t in stage.rig.devices[row["device"]].terminals]
        first, _, last = row["terminal"].partition(" to ")
        told += names.index(last or first) - names.index(first) + 1
    assert told == free


@pytest.mark.parametrize("name", [path.stem for path in EXAMPLES])
def test_collars_are_those_of_din_46228(name: str) -> None:
    found = set()
    for row in table(example(name), "terminations"):
        end, collar = row["end section, sleeve or stud"], row["collar din"]
        if end.strip("()").startswith("ferrule"):
            section = end.strip("()").split()[1].partition("-")[0]
            assert collar.strip("()") == COLLARS[section], row
            assert collar.startswith("(") == end.startswith("(")
            found.add(section)
        else:
            assert collar == ""
    assert len(found) >= 4


def test_an_end_is_in_brackets_where_the_text_does_not_say_how_it_is_held() -> None:
    """And nowhere else: a clamp, a stud, a grip, or what the conductor says of itself."""
    stage = example("field_kitchen")
    rig, told, assumed = stage.rig, 0, 0
    for row in table(stage, "terminations"):
        made = row["end section, sleeve or stud"]
        if row["conductor"] == "free" or made in ("rigid", "ready made"):
            continue
        terminal = rig.devices[row["device"]].terminal(row["terminal"])
        said = rig.conductors[row["conductor"]].attrs.keys() & {"ends", "lug", "ferrule"}
        holds = terminal.clamp or terminal.stud or terminal.grip != "clamp"
        known = bool(said or holds)
        for key in ("end section, sleeve or stud", "collar din", "strip mm"):
            assert not row[key] or row[key].startswith("(") is not known, row
        told, assumed = told + known, assumed + (not known)
    assert told > 100 and assumed > 30


def test_every_list_of_ends_marks_the_assumed_alike() -> None:
    """The lamp of the shed says nothing of its terminals, the bar below has clamps."""
    text = SHED.replace("80A positions=6", "80A positions=6 clamp=1..16mm2")
    stage = analyse(read_text(text).rigs[-1])
    ends = {(r["terminal"], r["conductor"]): r for r in table(stage, "terminations")}
    assert ends["N", "C3/2"]["end section, sleeve or stud"] == "(ferrule 1.5-8)"
    assert ends["2", "C2/3"]["end section, sleeve or stud"] == "ferrule 1.5-8"
    chart = {row["conductor"]: row for row in table(stage, "chart")}
    assert chart["C2/3"]["end at from"] == "ferrule 1.5-8 BK, strip 10 mm"
    assert chart["C2/3"]["end at to"] == "(ferrule 1.5-8 BK, strip 10 mm)"
    for name in ("chart", "terminations"):
        assert "assumed" in tables(stage, only=(name,))[f"{name}.md"]()
        assert any("assumed" in lettering([sheet]) for sheet in draw(stage, only=(name,)))


def test_the_ends_of_ready_made_cords_are_left_alone() -> None:
    rows = [r for r in table(example("field_kitchen"), "terminations")
            if r["conductor"].startswith(("W1/", "C15/", "W30/"))]  # fmt: skip
    assert len(rows) == 18
    for row in rows:
        assert row["end section, sleeve or stud"] == "ready made"
        assert row["strip mm"] == row["torque n·m"] == row["collar din"] == ""
    chart = {row["conductor"]: row for row in table(example("field_kitchen"), "chart")}
    for name in ("W1/1", "C15/2", "W30/3"):
        assert chart[name]["end at from"] == chart[name]["end at to"] == "ready made"
        assert chart[name]["torque at from N·m"] == chart[name]["torque at to N·m"] == ""


def test_torques_in_both_units() -> None:
    known = 0
    for name in (path.stem for path in EXAMPLES):
        for row in table(example(name), "terminations"):
            nm, lbin = (row[key].strip("()") for key in ("torque n·m", "torque lb·in"))
            assert bool(nm) == bool(lbin)
            if nm:
                assert float(lbin) == pytest.approx(float(nm) / LBIN, rel=0.005)
                known += 1
    assert known > 300


# ---- a rig reckoned by hand ----------------------------------------------------------------------


def test_loads_of_the_shed() -> None:
    """1150 W at 230 V: 5 A; half of it for 2 h: 1150 Wh."""
    rows = {row["load"]: row for row in table(shed(), "load-list")}
    # 1150 + 23 + 460 W; 1150 Wh and 23 W for ten hours.
    total = rows.pop("Total")
    assert (total["power w"], total["energy wh/day"]) == ("1633", "1380")
    kiln = rows["E1"]
    assert (kiln["current a"], kiln["energy wh/day"], kiln["demand %"]) == ("5", "1150", "50")
    assert rows["M1"]["start a"] == "12" and rows["E2"]["runs"] == "continuous"
    assert {(r["on fed by"], r["off fed by"]) for r in rows.values()} == {("Q1 (S)", "–")}


def test_sums_of_the_shed() -> None:
    """5 + 0.1 + 2 A connected; 2.5 + 0.1 + 2 counted."""
    (row,) = table(shed(), "limits")
    assert (row["limit"], row["connected"], row["counted"], row["left"]) == (
        "Q1", "7.1", "4.6", "5.4"
    )  # fmt: skip
    assert row["loads behind it"] == "E1, M1, E2" and row["verdict"] == "holds"
    (over,) = (r for r in table(example("mobile_clinic"), "limits") if r["verdict"] == "overload")
    assert over["limit"] == "SHORE" and over["left"].startswith("−")


def test_devices_of_the_shed() -> None:
    rows = {row["device"]: row for row in table(shed(), "devices")}
    assert rows["Q1"]["protects conductor"] == "C2/1"
    assert rows["Q1"]["ahead"] == "QM" and rows["Q1"]["rcd ahead"] == "F1"
    assert rows["QM"]["rcd behind"] == "F1" and rows["F1"]["residual current"] == "30 mA, type A"
    # IEC 60898-1: B 10 has opened at 50 A at the latest, within 0.1 s; 318 A are far above.
    assert rows["Q1"]["opens s"] == "0.1" and rows["Q1"]["asked s"] == "0.4"
    assert float(rows["Q1"]["load a"]) == pytest.approx(7.1, rel=0.02)


def test_directory_of_the_shed() -> None:
    rows = {row["way"]: row for row in table(shed(), "directory")}
    assert list(rows) == ["1-2", "3-4", "5", "6-7", "8"]
    assert rows["6-7"]["feeds"] == "Kiln (E1); Lamp (E2); Lathe (M1)"
    assert rows["6-7"]["residual current"] == "30 mA, type A (F1)"
    assert rows["6-7"]["limit in mode on"] == "16 A by QM (S)"
    assert rows["1-2"]["limit in mode on"] == "20 A (S)"
    assert {row["limit in mode off"] for row in rows.values()} == {"dead", ""}
    assert rows["5"]["what it is"] == rows["8"]["what it is"] == "spare"


def test_cuts_of_the_shed() -> None:
    """10 m and 5 % and twice 0.15 m: 10.8 m; 3 m: 3.45 m; 0.2 m within the panel: 0.27 m."""
    rows = {row["conductor"]: row["cut m"] for row in table(shed(), "cut-list")}
    assert (rows["C1"], rows["C4"], rows["W1"]) == ("10.80", "3.45", "0.27")


def test_ferrules_of_the_shed() -> None:
    """C2 to C4 have 18 ends of 1.5 mm2, C1 three on board of 2.5 mm2, four wires eight of 4 mm2."""
    rows = [row for row in table(shed(), "material") if row["item"] == "ferrule"]
    assert {row["description"]: row["quantity"] for row in rows} == {
        "1.5-8 BK": "18", "2.5-8 BU": "3", "4-10 GY": "8"
    }  # fmt: skip


# ---- labels that want to be something else -------------------------------------------------------

HOSTILE = (
    "=cmd()", "+1+1", "-2+3", "@sum(1)", "a|b", "<script>alert(1)</script>", "[x](javascript:y)",
    "`tick` *bold* \\ &lt;", "it's 5 % of 10",
)  # fmt: skip


@pytest.mark.parametrize("label", HOSTILE)
def test_no_label_is_run(label: str) -> None:
    stage = shed(Kiln=label, Bench=label)
    for end, make in tables(stage).items():
        text = make()
        if end.endswith(".csv"):
            for row in csv.reader(io.StringIO(text)):
                for cell in row:
                    assert not re.match(r"[=+\-@\t\r].*[^\d.]", cell, re.S), cell
        if end.endswith(".md"):
            assert not re.search(r"(?<!\\)<script", text)
            assert not re.search(r"(?<!\\)\[x(?<!\\)\]\(", text)
            for run in re.findall(r"(?:^\|.*\n)+", text, re.M):
                bars = {len(re.findall(r"(?<!\\)\|", line)) for line in run.splitlines()}
                assert len(bars) == 1, run


def test_a_hostile_label_is_still_to_be_read() -> None:
    assert "'=cmd()" in {row["what it is"] for row in table(shed(Kiln="=cmd()"), "load-list")}
    text = tables(shed(Kiln="a|b<c>"))["load-list.md"]()
    assert r"a\|b\<c\>" in text


@pytest.mark.parametrize("label", HOSTILE)
def test_hostile_labels_on_sheets(label: str) -> None:
    found = draw(shed(Kiln=label), only=("load-list", "labels"))
    words = "".join(i.text for sheet in found for i in sheet.items if isinstance(i, Text))
    assert label.replace(" ", "") in words.replace(" ", "")


# ---- the table itself ----------------------------------------------------------------------------


def schedule(rows: int, words: str = "a few words of text") -> Schedule:
    body = tuple(Row((f"W{k}", words, "1.5")) for k in range(rows))
    total = Row(("Total", "", "9"), strong=True)
    columns = (Column("Wire", bold=True), Column("Words"), Column("Length", "m"))
    return Schedule("Test", "Test", columns, (Section("First", (*body, total)),), ("Remark.",))


def lettering(made_sheets: list[object]) -> str:
    return " ".join(
        i.text for s in made_sheets for i in s.items if isinstance(i, Text)  # type: ignore[attr-defined]
    )


@pytest.mark.parametrize("rows", [0, 1, 39, 40, 41, 42, 43, 200, 500])
def test_every_row_is_drawn_once_and_a_total_never_alone(rows: int) -> None:
    found = sheets(schedule(rows), options("iec60364"))
    texts = [[i.text for i in s.items if isinstance(i, Text)] for s in found]
    drawn = Counter(text for page in texts for text in page if re.fullmatch(r"W\d+", text))
    assert drawn == Counter(f"W{k}" for k in range(rows))
    last = [text for text in texts[-1] if re.fullmatch(r"W\d+|Total", text)]
    assert last[-1] == "Total" and (rows == 0 or last[-2] == f"W{rows - 1}")
    for page in texts[1:]:
        assert "First (continued)" in page


def test_a_long_text_is_wrapped_and_never_cut() -> None:
    words = "every single word of this rather long remark has to be there " * 8
    found = sheets(schedule(3, words), options("iec60364", paper="A4"))
    assert "…" not in lettering(list(found))
    assert lettering(list(found)).count("remark") == 24


def test_texts_of_a_schedule() -> None:
    some = schedule(2)
    assert csv_text(some).splitlines()[:2] == [
        "group,wire,words,length m", "First,W0,a few words of text,1.5"
    ]  # fmt: skip
    text = markdown(some, shed().rig)
    assert text.startswith("# Test: Shed, stage base\n\n## First\n\n| Wire | Words | Length m |")
    assert "**Total**" in text and "a drawing is no proof" in text.lower()


def test_every_schedule_is_a_document_with_both_texts() -> None:
    stage = example("field_kitchen")
    texts = tables(stage)
    for name in SCHEDULES:
        assert name in DOCUMENTS
        assert {f"{name}.csv", f"{name}.md"} <= texts.keys()
        assert made(name, stage) is made(name, stage)
    for name in LABELS:
        assert name in DOCUMENTS
        assert {f"{name}.csv", f"{name}.md"} <= texts.keys()


@pytest.mark.parametrize("name", LABELS)
def test_labels_say_the_same_in_markdown_as_in_csv(name: str) -> None:
    texts = tables(shed(Kiln="a|b <i>"), only=(name,))
    head, *rows = csv.reader(io.StringIO(texts[f"{name}.csv"]()))
    lines = [line for line in texts[f"{name}.md"]().splitlines() if line.startswith("| ")]
    assert [cell.lower() for cell in lines[0].strip("| ").split(" | ")] == head
    for row, line in zip(rows, lines[2:], strict=True):  # below the head and its rule
        assert line == "| " + " | ".join(plain(cell) for cell in row) + " |"


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", OURS)
def test_every_remark_stands_on_every_paper(name: str, paper: str) -> None:
    stage = shed()
    said = " ".join(made(name, stage).remarks).split()
    for sheet in draw(stage, only=(name,), paper=paper):
        if name != "directory":
            words = lettering([sheet]).split()
            assert not Counter(said) - Counter(words)
        assert [str(fault) for fault in audit(sheet)] == []
