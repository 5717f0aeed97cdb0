"""The single-line diagram: what stands on its sheets, where, and that it can be read."""

from __future__ import annotations

import re
import subprocess
import sys
from collections import Counter
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest
from ferrule.checks.tracing.trace import analyse
from ferrule.dsl.kinds import kinds
from ferrule.dsl.model import Rig
from ferrule.dsl.reader import read, read_text
from ferrule.render.audit import audit
from ferrule.render.canvas import Sheet
from ferrule.render.frame import finish, titles_of, zone_of
from ferrule.render.marks import Arc, Close, Open, Poly, Text, box_of, union
from ferrule.render.options import options
from ferrule.render.single_line import sheets
from ferrule.render.single_line_graph import OneLine, one_line
from ferrule.render.single_line_roles import roles
from ferrule.render.svg import svg

ROOT = Path(__file__).parent.parent
sys.path.insert(0, str(ROOT / "benchmarks"))
from generate import TOPOLOGIES, generate  # noqa: E402

EXAMPLES = sorted((ROOT / "examples").glob("*.rig"))
HEAD = 'rig "Test"\nrules nfpa70\nambient 30degC\n'
STAR = "\n".join(f"lamp E{i} 120V 5W\nwire W{i} 14AWG 1m J.x{i} -> E{i}.L" for i in range(1, 41))
FAN = "\n".join(f"lamp E{i} 120V 5W\nwire W{i} 14AWG 1m Q.2 -> E{i}.L" for i in range(1, 41))
ODD = {
    "nothing at all": "",
    "a lamp that nothing feeds": "lamp E1 120V 5W",
    "two loads wired together": "lamp E1 120V 5W\nlamp E2 120V 5W\nwire W1 14AWG 1m E1.L -> E2.L",
    "a ring without a source": "\n".join(
        f"joint J{i}\nwire W{i} 14AWG 1m J{i}.1 -> J{(i + 1) % 6}.2" for i in range(6)
    ),
    "forty loads on one joint": (
        f"supply S 120V 60Hz 30A\njoint J\nwire W0 14AWG 1m S.L -> J.a\n{STAR}"
    ),
    "forty loads on one terminal": (
        f"supply S 120V 60Hz 30A\nbreaker Q 15A\nwire W0 14AWG 1m S.L -> Q.1\n{FAN}"
    ),
    "twenty supplies on one inlet": "inlet X 30A\n" + "\n".join(
        f"supply S{i} 120V 60Hz 30A\nwire W{i} 14AWG 1m S{i}.L -> X.L" for i in range(20)
    ),
    "thirty supplies on one bar": "bus B positions=60\n" + "\n".join(
        f"supply S{i} 120V 60Hz 30A\nbreaker Q{i} 15A\nwire W{i} 14AWG 1m S{i}.L -> Q{i}.1\n"
        f"wire V{i} 14AWG 1m Q{i}.2 -> B.{i}" for i in range(1, 31)
    ),
    "a chain of forty lamps": "supply E0 120V 60Hz 30A\n" + "\n".join(
        f"lamp E{i} 120V 5W\nwire W{i} 14AWG 1m E{i - 1}.L -> E{i}.L" for i in range(1, 41)
    ),
    "two batteries in series": "battery G1 12V 9Ah\nbattery G2 12V 9Ah\nload E1 dc 24V 5W\n"
    "wire W1 14AWG 1m G1.- -> G2.+\nwire W2 14AWG 1m G1.+ -> E1.+\nwire W3 14AWG 1m G2.- -> E1.-",
    "an inverter fed by its own output": "supply S 120V 60Hz 30A\nbus B positions=5\n"
    "inverter U1 120V 60Hz 1kW transfer=20A\nwire W1 14AWG 1m S.L -> B.1\n"
    "wire W2 14AWG 1m B.2 -> U1.in-L\nwire W3 14AWG 1m U1.out-L -> B.3",
    "bar after bar": "supply S 120V 60Hz 30A\nbus B0 positions=4\nwire W0 14AWG 1m S.L -> B0.1\n"
    + "\n".join(
        f"bus B{i} positions=4\nwire W{i} 14AWG 1m B{i - 1}.2 -> B{i}.1" for i in range(1, 25)
    ),
    "long names": f'supply {"S" * 60} "{"Word" * 30}" 120V 60Hz 30A\n'
    f'lamp E1 "{"long label " * 15}" 120V 5W\nwire W1 14AWG 1m {"S" * 60}.L -> E1.L',
}


def rig_of(text: str) -> Rig:
    reading = read_text(text)
    assert not reading.problems, reading.problems[0].message
    return reading.rigs[-1]


def drawn(rig: Rig, symbols: str = "", paper: str = "") -> list[Sheet]:
    found = sheets(analyse(rig), options(rig.book, symbols, paper))
    for index, sheet in enumerate(found):
        sheet.number, sheet.of = index + 1, len(found)
        finish(sheet, titles_of(rig))
    return found


@cache
def example(path: Path, stage: int) -> tuple[Rig, list[Sheet]]:
    rig = read(path).rigs[stage]
    return rig, drawn(rig)


@cache
def generated(topology: str, circuits: int) -> tuple[Rig, list[Sheet]]:
    rig = rig_of(generate(topology, circuits, seed=1))
    return rig, drawn(rig)


def graph_of(rig: Rig) -> OneLine:
    return one_line(rig, roles(rig, analyse(rig).conductor_role))


def texts(sheet: Sheet) -> list[Text]:
    return [item for item in sheet.items if isinstance(item, Text)]


def groups(sheet: Sheet) -> list[tuple[Open, list[object]]]:
    """The named groups of a sheet with what they hold."""
    found: list[tuple[Open, list[object]]] = []
    for item in sheet.items:
        if isinstance(item, Open):
            found.append((item, []))
        elif not isinstance(item, Close) and found:
            found[-1][1].append(item)
    return found


def words(found: list[Sheet]) -> Counter[str]:
    return Counter(word for sheet in found for text in texts(sheet) for word in text.text.split())


def where(found: list[Sheet]) -> dict[str, tuple[int, float, float]]:
    """Each device's symbol: its sheet, the middle across and the top of its marks."""
    places: dict[str, tuple[int, float, float]] = {}
    for sheet in found:
        for group, marks in groups(sheet):
            if group.id.startswith("dev-") and "reference" not in group.cls:
                box = union([box_of(m) for m in marks if isinstance(m, Poly | Arc)])
                name = group.id.removeprefix("dev-")
                places.setdefault(name, (sheet.number, box.centre[0], box.top))
    return places


def line_x(found: list[Sheet], id: str) -> float:
    """Where across the sheet a run's first line goes down."""
    lines = (m for sheet in found for g, marks in groups(sheet) if g.id == id for m in marks)
    return next(m.points[0][0] for m in lines if isinstance(m, Poly))


def complaints(found: list[Sheet]) -> list[str]:
    return [f"sheet {sheet.number}: {fault}" for sheet in found for fault in audit(sheet)]


def stages() -> list[tuple[Path, int]]:
    return [(path, stage) for path in EXAMPLES for stage in range(len(read(path).rigs))]


# ---- legible, and complete ---------------------------------------------------------------------


@pytest.mark.parametrize("circuits", (10, 40, 100, 200))
@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_generated_rigs_pass_the_audit_and_name_every_device(topology: str, circuits: int) -> None:
    rig, found = generated(topology, circuits)
    assert complaints(found) == []
    missing = [name for name in rig.devices if words(found)[name] + words(found)[f"{name},"] == 0]
    assert missing == []


@pytest.mark.parametrize("paper", ("A4", "A", "B", "A3"))
@pytest.mark.parametrize("symbols", ("iec60617", "ieee315"))
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_audit_is_clean_on_any_paper_with_any_symbols(
    path: Path, symbols: str, paper: str
) -> None:
    assert complaints(drawn(read(path).rigs[-1], symbols, paper)) == []


@pytest.mark.parametrize(("path", "stage"), stages(), ids=str)
def test_examples_pass_the_audit_and_name_every_device(path: Path, stage: int) -> None:
    rig, found = example(path, stage)
    assert complaints(found) == []
    seen = " ".join(words(found))
    electrical = [d.name for d in rig.devices.values() if d.kind != "entry"]  # holes in a wall
    assert [name for name in electrical if not re.search(rf"\b{name}\b", seen)] == []


@pytest.mark.parametrize("symbols", ("iec60617", "ieee315"))
@pytest.mark.parametrize("what", ODD)
def test_odd_rigs_are_drawn_all_the_same(what: str, symbols: str) -> None:
    rig = rig_of(HEAD + ODD[what])
    found = drawn(rig, symbols)
    assert complaints(found) == []
    ids = " ".join(group.id for sheet in found for group, _ in groups(sheet))
    assert [name for name in rig.devices if f"dev-{name}" not in ids] == []


@pytest.mark.parametrize(("path", "stage"), stages(), ids=str)
def test_every_cable_is_named_with_its_size_and_length(path: Path, stage: int) -> None:
    rig, found = example(path, stage)
    shown = " ".join(text.text for sheet in found for text in texts(sheet))
    for run in graph_of(rig).runs:
        for name in run.statements:
            cable = rig.cables.get(name)
            wire = rig.conductors.get(name)
            size = f"{len(cable.cores)}×" if cable else "" if wire and wire.size else "link"
            assert f"{name} {size}" in shown
            if cable:
                assert f"{cable.length_m:g} m" in shown


# ---- where things stand ------------------------------------------------------------------------


@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_power_flows_down_every_feeder(topology: str) -> None:
    rig, found = generated(topology, 40)
    places = where(found)
    graph = graph_of(rig)
    below = 0
    for run in graph.runs:
        a, b = places.get(run.a), places.get(run.b)
        if a and b and a[0] == b[0] and not graph.nodes[run.a].bar and not graph.nodes[run.b].bar:
            assert a[2] < b[2], f"{run.a} stands below {run.b}, which it feeds"
            below += 1
    assert below >= 40, "breakers and what they feed"


def test_feeders_of_a_bar_stand_in_equal_columns_and_one_row() -> None:
    _, found = generated("radial", 10)
    places = where(found)
    axes = [line_x(found, f"run-F{i}") for i in range(1, 11)]
    steps = {round(b - a, 3) for a, b in pairwise(axes)}
    assert len(steps) == 1
    assert len({round(places[f"Q{i}"][2], 3) for i in range(1, 11)}) == 1


def test_supplies_stand_at_the_top() -> None:
    _, found = generated("two-source", 10)
    places = where(found)
    highest = min(y for number, _, y in places.values() if number == 1)
    assert places["SITE"][2] == places["GEN"][2] == highest


def test_on_a_small_sheet_one_more_circuit_moves_the_diagram_as_a_whole() -> None:
    before = where(drawn(rig_of(generate("radial", 8, seed=3))))
    after = where(drawn(rig_of(generate("radial", 9, seed=3))))
    both = [n for n in before if n in after and n[0] in "QSXME" and n[:2] != "EB"]
    moved = {(round(after[n][1] - before[n][1], 2), round(after[n][2] - before[n][2], 2))
             for n in both}
    assert len(both) > 15 and len(moved) == 1


@pytest.mark.parametrize("circuits", (39, 40))
@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_one_more_circuit_of_forty_moves_few_symbols(topology: str, circuits: int) -> None:
    """At most 10 % of the symbols that were there; the 41st may begin a board of its own."""
    before = where(drawn(rig_of(generate(topology, circuits, seed=1))))
    after = where(drawn(rig_of(generate(topology, circuits + 1, seed=1))))
    moved = [name for name in before if before[name] != after.get(name)]
    assert len(before) > 80
    assert len(moved) <= len(before) / 10, moved


# ---- the one-line view -------------------------------------------------------------------------


def test_bars_of_three_lines_are_one_bar_and_each_circuit_names_its_line() -> None:
    rig, found = generated("three-phase", 10)
    graph = graph_of(rig)
    assert graph.nodes["L1B"].devices == ("L1B", "L2B", "L3B")
    assert "L2B" not in graph.nodes
    shown = words(found)
    assert shown["L1"] and shown["L2"] and shown["L3"]


def test_neutral_and_earth_are_no_part_of_the_power_path() -> None:
    rig, _ = generated("radial", 10)
    graph = graph_of(rig)
    assert set(graph.apart) == {"NBAR", "EBAR", "CH"}


def test_what_charges_stands_above_the_battery_and_the_converter_points_to_its_output() -> None:
    rig, _ = generated("dc", 10)
    ways = {(run.a, run.b) for run in graph_of(rig).runs}
    assert {("ALT", "FA"), ("FA", "PB"), ("U1", "FP"), ("FP", "PB"), ("QB", "PB")} <= ways


def test_what_no_source_reaches_says_so() -> None:
    found = drawn(rig_of(HEAD + ODD["two loads wired together"]))
    assert any("fed by nothing" in text.text for sheet in found for text in texts(sheet))


def test_what_is_planned_is_drawn_in_dashes() -> None:
    text = HEAD + "supply S 120V 60Hz 30A\nlamp E1 120V 5W\nlamp E2 120V 5W status=planned\n"
    text += "wire W1 14AWG 1m S.L -> E1.L\nwire W2 14AWG 1m S.L -> E2.L status=planned"
    dashes = {
        group.id: {mark.pen.dash for mark in marks if isinstance(mark, Poly) and mark.pen}
        for sheet in drawn(rig_of(text)) for group, marks in groups(sheet)
    }  # fmt: skip
    assert "solid" in dashes["dev-E1"] and "solid" not in dashes["dev-E2"]
    assert dashes["run-W1"] == {"solid"} and dashes["run-W2"] == {"short"}


# ---- references --------------------------------------------------------------------------------

REFERENCE = re.compile(r"(to|from) (\S+) (\d+)/(\w+)")


def references(found: list[Sheet]) -> list[tuple[str, str, int, str, int, str, str]]:
    """Each reference: id, to or from, device, the sheet and zone it names, and its own."""
    rows = []
    for sheet in found:
        for group, marks in groups(sheet):
            said = REFERENCE.fullmatch(group.title)
            if "reference" in group.cls and said:
                line = next(m for m in marks if isinstance(m, Poly))
                end = line.points[0] if said[1] == "to" else line.points[-1]
                rows.append((
                    re.sub(r"-\d+$", "", group.id), said[1], int(said[3]), said[4],
                    sheet.number, zone_of(sheet, *end), said[2],
                ))  # fmt: skip
    return rows


@pytest.mark.parametrize(
    "found",
    [generated(t, 100)[1] for t in TOPOLOGIES] + [example(p, s)[1] for p, s in stages()],
    ids=[*TOPOLOGIES, *(f"{p.stem}-{s}" for p, s in stages())],
)
def test_references_lead_to_each_other(found: list[Sheet]) -> None:
    rows = references(found)
    for id, way, number, zone, own_number, own_zone, _ in rows:
        back = {"to": "from", "from": "to"}[way]
        assert (id, back, own_number, own_zone, number, zone) in {row[:6] for row in rows}


@pytest.mark.parametrize("topology", ("radial", "three-phase"))
def test_a_bar_in_stretches_says_where_it_goes_on(topology: str) -> None:
    _, found = generated(topology, 100)
    to, back = [], []
    for sheet in found:
        for text in texts(sheet):
            here = f"{sheet.number}/{zone_of(sheet, text.x, text.y - text.size / 2)}"
            if said := re.fullmatch(r"to (\d+/\w+)", text.text):
                to.append((here, said[1]))
            elif said := re.fullmatch(r"continued from (\d+/\w+)", text.text):
                back.append((here, said[1]))
    assert len(to) == len(back) > 3
    assert sorted(there for _, there in to) == sorted(here for here, _ in back)


def test_boards_are_cut_off_before_their_main_bar_is() -> None:
    _, found = generated("two-source", 80)
    feeders = [where(found)[f"F{i}"] for i in range(1, 11)]
    assert len({(number, round(top, 3)) for number, _, top in feeders}) == 1
    assert not any("continued" in text.text for sheet in found for text in texts(sheet))


# ---- neutral and earth -------------------------------------------------------------------------


@pytest.mark.parametrize(("path", "stage"), stages(), ids=str)
def test_every_closed_bond_is_drawn_with_its_modes(path: Path, stage: int) -> None:
    rig, found = example(path, stage)
    closed: dict[str, set[str]] = {}
    for mode in analyse(rig).modes:
        for bond in mode.bonds:
            closed.setdefault(bond.owner, set()).add(mode.name)
    all_groups = [group for sheet in found for group, _ in groups(sheet)]
    titles = {group.id: group.title for group in all_groups if group.id.startswith("bond-")}
    assert set(titles) == {f"bond-{owner}" for owner in closed}
    for owner, modes in closed.items():
        said = titles[f"bond-{owner}"]
        if len(modes) == len(rig.modes):
            assert said.endswith("closed in all modes")
        else:
            listed = said.split("closed in ")[1].replace(",", "").split()
            assert set(listed) == modes


def test_the_legend_shows_the_symbols_used_and_no_other() -> None:
    rig, found = generated("radial", 10)
    shown = {
        group.id.removeprefix("legend-").split("+")[0]
        for sheet in found for group, _ in groups(sheet) if group.id.startswith("legend-")
    }
    used = {kinds()[d.kind].symbol for n, d in rig.devices.items() if n not in ("CH",)} - {"bus"}
    assert shown - {"bus", "bond", "chassis", "strokes"} == used


# ---- the same everywhere -----------------------------------------------------------------------

SCRIPT = """
import sys
sys.path[:0] = [{bench!r}]
from generate import generate
from ferrule.checks.tracing.trace import analyse
from ferrule.dsl.reader import read_text
from ferrule.render.options import options
from ferrule.render.single_line import sheets
from ferrule.render.svg import svg
rig = read_text(generate("two-source", 40, 1)).rigs[0]
for sheet in sheets(analyse(rig), options(rig.book)):
    sys.stdout.write(svg(sheet))
"""


def test_the_same_text_gives_the_same_bytes_under_any_hash_seed() -> None:
    script = SCRIPT.format(bench=str(ROOT / "benchmarks"))
    outputs = {
        subprocess.run(
            [sys.executable, "-c", script],
            env={"PYTHONHASHSEED": seed}, capture_output=True, check=True,
        ).stdout
        for seed in ("0", "1", "42")
    }  # fmt: skip
    assert len(outputs) == 1
    assert len(outputs.pop()) > 10_000


def test_every_device_has_a_title_to_hover_over() -> None:
    rig, found = generated("radial", 10)
    picture = svg(found[0])
    for name in ("Q1", "SHORE", "QM"):
        assert f'id="dev-{name}"' in picture
        assert f"<title>{name}: " in picture
    assert rig.devices["Q1"].label in picture
