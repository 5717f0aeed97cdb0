"""Wiring chart, terminal strips and overviews: complete, alike, legible, and traced back.

Figures asserted are those of published tables; each names its source.
"""

from __future__ import annotations

import csv
import io
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest
from dot_order import dot_order
from ferrule.checks.tracing.trace import Stage, analyse
from ferrule.dsl.model import Conductor, Device, End, Size, Span, Terminal
from ferrule.dsl.reader import read, read_text
from ferrule.render import chart, overview, strips
from ferrule.render.audit import audit
from ferrule.render.canvas import Box, Open, Poly, Sheet, Text
from ferrule.render.chart_rows import STEP, cells
from ferrule.render.colours import colour_of, colours_of
from ferrule.render.ends import ferrules, preparation
from ferrule.render.frame import finish, titles_of
from ferrule.render.options import Options, options
from ferrule.render.overview_graph import Graph, graph_of, near_of
from ferrule.render.overview_layout import Layout, layout
from ferrule.render.overview_look import looks_of
from ferrule.render.overview_order import crossings as order_crossings
from ferrule.render.overview_order import links, own_order
from ferrule.render.overview_plan import LEFT, plan
from ferrule.render.overview_rows import rows_of
from ferrule.render.strips_plan import strips as strips_of
from ferrule.render.svg import svg
from ferrule.render.wiring import landed, natural
from wiring_rigs import random_rig

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "benchmarks"))
from generate import TOPOLOGIES, generate  # noqa: E402

EXAMPLES = sorted((ROOT / "examples").glob("*.rig"))
SEEDS = range(6)
CASES = [f"{path.stem}/{stage}" for path in EXAMPLES for stage in range(3)] + [
    f"random/{seed}" for seed in SEEDS
]
GENERATED = [f"{topology}/{circuits}" for topology in TOPOLOGIES for circuits in (10, 60, 200)]


@cache
def stage_of(case: str) -> Stage:
    name, number = case.split("/")
    if name == "random":
        return analyse(read_text(random_rig(int(number))).rigs[-1])
    if name in TOPOLOGIES:
        return analyse(read_text(generate(name, int(number), seed=3)).rigs[-1])
    return analyse(read(ROOT / "examples" / f"{name}.rig").rigs[int(number)])


def chosen(stage: Stage) -> Options:
    return options(stage.rig.book)


@pytest.fixture(params=CASES)
def stage(request: pytest.FixtureRequest) -> Stage:
    return stage_of(request.param)


# ---- the same wiring in chart and strips --------------------------------------------------------


def test_each_conductor_is_once_in_the_chart(stage: Stage) -> None:
    names = [row.conductor for row in chart.rows(stage)]
    assert Counter(names) == Counter(dict.fromkeys(stage.rig.conductors, 1))


def test_each_conductor_is_exactly_twice_in_the_strips(stage: Stage) -> None:
    names = [line.landing.conductor.name for s in strips_of(stage) for line in s.lines
             if line.landing]
    assert Counter(names) == Counter(dict.fromkeys(stage.rig.conductors, 2))


def test_chart_and_strips_give_the_same_landings(stage: Stage) -> None:
    """IEC 61082: the terminal order and the connection order hold the same pairs."""
    charted = {(end, row.conductor) for row in chart.rows(stage) for end in (row.a, row.b)}
    stripped = {(f"{strip.device}.{line.terminal}", line.landing.conductor.name)
                for strip in strips_of(stage) for line in strip.lines if line.landing}
    assert charted == stripped


def test_every_terminal_of_every_device_is_on_a_strip(stage: Stage) -> None:
    shown = {(strip.device, line.terminal) for strip in strips_of(stage) for line in strip.lines}
    there = {(d.name, t.name) for d in stage.rig.devices.values() for t in d.terminals}
    assert there <= shown
    lost = {(e.device, e.terminal) for c in stage.rig.conductors.values() for e in (c.a, c.b)
            if not landed(stage.rig, e)}
    assert shown - there == lost


def test_every_line_is_drawn(stage: Stage) -> None:
    """What the plan of the strips holds is what stands on the sheets."""
    drawn: Counter[str] = Counter()
    for sheet in strips.sheets(stage, chosen(stage)):
        for group, text in grouped(sheet):
            if group.startswith("con-"):
                drawn[text] += 1
    for name in stage.rig.conductors:
        assert drawn[name] == 2


def grouped(sheet: Sheet) -> Iterator[tuple[str, str]]:
    """The texts of a sheet with the innermost group of each."""
    stack: list[str] = []
    for item in sheet.items:
        if isinstance(item, Open):
            stack.append(item.id)
        elif isinstance(item, Text):
            yield stack[-1] if stack else "", item.text
        elif not isinstance(item, Poly) and type(item).__name__ == "Close":
            stack.pop()


# ---- legible ------------------------------------------------------------------------------------


@pytest.mark.parametrize("document", [chart, strips, overview], ids=lambda m: m.__name__[15:])
def test_the_audit_finds_nothing(stage: Stage, document: object) -> None:
    assert_clean(stage, document)


@pytest.mark.parametrize("document", [chart, strips, overview], ids=lambda m: m.__name__[15:])
@pytest.mark.parametrize("case", GENERATED)
def test_the_audit_finds_nothing_on_generated_rigs(case: str, document: object) -> None:
    """Correct rigs of 10 to 200 circuits in four shapes."""
    assert_clean(stage_of(case), document)


def assert_clean(stage: Stage, document: object) -> None:
    sheets = document.sheets(stage, chosen(stage))  # type: ignore[attr-defined]
    assert sheets
    for number, sheet in enumerate(sheets, 1):
        sheet.number, sheet.of = number, len(sheets)
        finish(sheet, titles_of(stage.rig))
        assert [str(fault) for fault in audit(sheet)] == [], f"sheet {number}"


@pytest.mark.parametrize("document", [chart, strips, overview], ids=lambda m: m.__name__[15:])
@pytest.mark.parametrize("paper", ["A3", "A4", "A", "B"])
def test_every_paper_holds_it(document: object, paper: str) -> None:
    stage = stage_of("mobile_clinic/1")
    for sheet in document.sheets(stage, Options("iec60617", paper)):  # type: ignore[attr-defined]
        sheet.number = sheet.of = 1
        finish(sheet, titles_of(stage.rig))
        assert [str(fault) for fault in audit(sheet)] == []


@pytest.mark.parametrize("document", [chart, strips, overview], ids=lambda m: m.__name__[15:])
def test_rigs_with_nothing_in_them(document: object) -> None:
    stage = analyse(read_text('rig "Bare"\nrules iec60364\nplace ONE "One"\n').rigs[0])
    for sheet in document.sheets(stage, chosen(stage)):  # type: ignore[attr-defined]
        assert isinstance(sheet, Sheet)


def test_a_device_longer_than_a_column_goes_on_in_the_next() -> None:
    text = 'rig "Long"\nrules iec60364\nplace P "P"\nblock X1 "Row" 20A positions=150 at=P\n'
    found = strips.sheets(analyse(read_text(text).rigs[0]), Options())
    words = [item.text for sheet in found for item in sheet.items if isinstance(item, Text)]
    assert words.count("X1") == 1
    assert words.count("X1 (continued)") == 2
    assert {str(n) for n in range(1, 151)} <= set(words)


# ---- the overview: geometry traced back ---------------------------------------------------------


LAID: dict[int, list[tuple[Graph, Layout]]] = {}


def layouts(stage: Stage) -> list[tuple[Graph, Layout]]:
    """Layouts of all devices and of every other one, in a room without bounds; made once."""
    if id(stage) not in LAID:
        LAID[id(stage)] = laid_out(stage)
    return LAID[id(stage)]


def laid_out(stage: Stage) -> list[tuple[Graph, Layout]]:
    here = {n: tuple(t.name for t in d.terminals) for n, d in stage.rig.devices.items()}
    found = []
    for shown in (here, dict(list(here.items())[::2])):
        graph = graph_of(stage.rig, shown, near_of(stage.rig))
        lay = layout(graph, looks_of(stage.rig, graph, "iec60617", {}), 300, 9999.0)
        assert lay is not None
        found.append((graph, lay))
    return found


def test_every_wire_runs_from_its_terminal_to_its_terminal(stage: Stage) -> None:
    for graph, lay in layouts(stage):
        for wire in graph.wires:
            path = lay.paths[wire.name]
            for spot, pin, end in ((path[0], wire.a, "a"), (path[-1], wire.b, "b")):
                assert spot == lay.spots[pin, wire.name, end]
                box = lay.outlines[pin.node]
                face = lay.side[pin, wire.name, end]
                assert spot[0] == (box.left if face == LEFT else box.right)
                assert box.top < spot[1] < box.bottom
        spots = list(lay.spots.values())
        assert len(spots) == len(set(spots)), "two landings in one place"


def test_the_overview_holds_every_wire_of_its_devices(stage: Stage) -> None:
    for graph, lay in layouts(stage):
        here = {node.device for node in graph.nodes.values() if not node.away}
        expected = {c.name for c in stage.rig.conductors.values()
                    if any(end.device in here and landed(stage.rig, end) for end in (c.a, c.b))}
        assert set(lay.paths) == expected


def test_wires_are_square_and_leave_their_device_outwards(stage: Stage) -> None:
    for graph, lay in layouts(stage):
        for wire in graph.wires:
            path = lay.paths[wire.name]
            for (x0, y0), (x1, y1) in pairwise(path):
                assert x0 == x1 or y0 == y1
            for landing, (x0, _), (x1, _) in zip(
                wire.ends, (path[0], path[-1]), (path[1], path[-2]), strict=True
            ):
                assert (x1 - x0) * lay.side[landing] > 0


def test_no_wire_passes_through_a_device(stage: Stage) -> None:
    for _, lay in layouts(stage):
        for name, path in lay.paths.items():
            for (x0, y0), (x1, y1) in pairwise(path):
                piece = Box(min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)).grown(0.35)
                for node, box in lay.outlines.items():
                    assert not piece.meets(box.grown(-0.4)), f"{name} in {node}"


def test_no_two_wires_run_on_one_line(stage: Stage) -> None:
    for _, lay in layouts(stage):
        pieces: dict[tuple[str, float], list[tuple[float, float, str]]] = {}
        for name, path in lay.paths.items():
            for (x0, y0), (x1, y1) in pairwise(path):
                line = ("level", round(y0, 4)) if y0 == y1 else ("upright", round(x0, 4))
                low, high = sorted((x0, x1) if y0 == y1 else (y0, y1))
                pieces.setdefault(line, []).append((low, high, name))
        for line, spans in pieces.items():
            spans.sort()
            for (_, end, one), (start, _, two) in pairwise(spans):
                assert one == two or end < start, f"{one} and {two} on {line}"


def test_outlines_keep_apart(stage: Stage) -> None:
    for _, lay in layouts(stage):
        boxes = list(lay.outlines.items())
        for index, (one, box) in enumerate(boxes):
            for two, other in boxes[index + 1 :]:
                assert not box.grown(0.5).meets(other), f"{one} and {two}"


def test_every_conductor_shows_its_colour_in_letters(stage: Stage) -> None:
    """IEC 60757, so that a sheet can be read in black and white."""
    shown = colours_of(stage)
    words: dict[str, set[str]] = {}
    for sheet in overview.sheets(stage, chosen(stage)):
        for group, text in grouped(sheet):
            words.setdefault(group, set()).add(text)
    for name in (name for found in layouts(stage)[:1] for name in found[1].paths):
        expected = f"{name} {shown[name].code}".strip()
        assert expected in words[f"con-{name.replace('/', '.')}"]


@pytest.mark.parametrize(("colour", "edged"), [
    ("white", True), ("green-yellow", True), ("yellow", True), ("brown", False), ("black", False),
])  # fmt: skip
def test_pale_and_striped_conductors_have_a_dark_edge(colour: str, edged: bool) -> None:
    """A quarter of a millimetre each side: 0.8 dots on a screen of 1,400 across an A3 sheet."""
    stage = analyse(read_text(
        'rig "R"\nrules iec60364\nplace P "P"\nlamp E1 230V 5W at=P\nlamp E2 230V 5W at=P\n'
        f"wire W1 1.5mm2 1m E1.L -> E2.L colours={colour}\n"
    ).rigs[0])  # fmt: skip
    (sheet,) = overview.sheets(stage, Options())
    pens = [mark.pen for group, mark in lines_of(sheet) if group == "con-W1" and mark.pen]
    assert pens
    if edged:
        assert pens[0].colour == "#000000"
        assert all((pens[0].width - pen.width) / 2 >= 0.25 for pen in pens[1:])
        assert all(pen.width * 1400 / 420 >= 1 for pen in pens), "at least a dot wide"
    else:
        assert len(pens) == 1


def lines_of(sheet: Sheet) -> list[tuple[str, Poly]]:
    """The open lines of a sheet with the group they stand in."""
    found, group = [], ""
    for item in sheet.items:
        if isinstance(item, Open):
            group = item.id
        elif isinstance(item, Poly) and not item.closed:
            found.append((group, item))
    return found


def test_a_circuit_passed_on_runs_straight_through_its_terminals() -> None:
    """A chain of sockets: no bend, no crossing, each terminal on both sides at one height."""
    text = 'rig "R"\nrules iec60364\nplace P "P"\n' + "".join(
        f"socket X{n} 16A at=P\n" for n in range(4)
    )
    text += "".join(
        f"cable C{n} 3x2.5mm2 1m X{n}.(L N PE) -> X{n + 1}.(L N PE)\n" for n in range(3)
    )
    stage = analyse(read_text(text).rigs[0])
    here = {n: tuple(t.name for t in d.terminals) for n, d in stage.rig.devices.items()}
    graph = graph_of(stage.rig, here, near_of(stage.rig))
    lay = layout(graph, looks_of(stage.rig, graph, "iec60617", {}), 30, 999.0)
    assert lay is not None
    assert {len(path) for path in lay.paths.values()} == {2}
    assert lay.once == set(lay.paths)


def test_what_is_elsewhere_joins_nothing_on_the_sheet() -> None:
    stage = stage_of("field_kitchen/1")
    shown = {n: tuple(t.name for t in stage.rig.devices[n].terminals) for n in ("Q1", "Q2")}
    graph = graph_of(stage.rig, shown, near_of(stage.rig))
    away = [node for node in graph.nodes.values() if node.away]
    assert away and len({node.device for node in away}) < len(away), "a bar has one beside each"
    for node in away:
        assert len({p.node for w in graph.wires for p in w.pins if p.node in shown
                    and node.name in {pin.node for pin in w.pins}}) == 1


def test_every_device_has_one_place_on_the_overviews(stage: Stage) -> None:
    found: Counter[str] = Counter()
    for sheet in overview.sheets(stage, chosen(stage)):
        found.update(i.id for i in sheet.items if isinstance(i, Open) and i.cls == "device")
    devices = (d.name for d in stage.rig.devices.values() if d.kind != "entry")
    assert found == Counter({f"dev-{name}": 1 for name in devices})


def test_a_reference_names_the_sheet_and_zone_of_the_device() -> None:
    stage = stage_of("field_kitchen/2")
    sheets = overview.sheets(stage, Options(first=5))
    words = {
        text for sheet in sheets for group, text in grouped(sheet) if group.startswith("ref-E1")
    }
    number = next(n for n, sheet in enumerate(sheets, 5)
                  if any(isinstance(i, Open) and i.id == "dev-E1" for i in sheet.items))
    assert any(word.startswith(f"COOK {number}/") for word in words)


# ---- determinism and the fallback ---------------------------------------------------------------

DRAW = """
import sys
from pathlib import Path
if "{block}":
    sys.modules["{block}"] = None
from ferrule.checks.tracing.trace import analyse
from ferrule.dsl.reader import read
from ferrule.render import overview
from ferrule.render.options import options
from ferrule.render.svg import svg
rig = read(Path(sys.argv[1])).rigs[1]
print("".join(svg(sheet) for sheet in overview.sheets(analyse(rig), options(rig.book))))
"""


def drawn_apart(block: str, seed: str) -> str:
    run = subprocess.run(
        [sys.executable, "-c", DRAW.format(block=block), str(EXAMPLES[0])],
        capture_output=True, text=True, check=True, env={"PYTHONHASHSEED": seed, "PATH": ""},
    )  # fmt: skip
    assert run.stderr == ""
    return run.stdout


def test_two_runs_draw_the_same_bytes() -> None:
    assert drawn_apart("", "1") == drawn_apart("", "2")


def test_without_graphviz_the_overview_is_drawn_all_the_same() -> None:
    own = drawn_apart("pygraphviz", "1")
    assert own == drawn_apart("pygraphviz", "2")
    stage = analyse(read(EXAMPLES[0]).rigs[1])
    for name, device in stage.rig.devices.items():
        assert device.kind == "entry" or f'id="dev-{name}"' in own


@pytest.mark.parametrize("name", [path.stem for path in EXAMPLES])
def test_our_order_crosses_no_more_lines_than_that_of_graphviz(name: str) -> None:
    stage = stage_of(f"{name}/1")
    here = {n: tuple(t.name for t in d.terminals) for n, d in stage.rig.devices.items()}
    for shown in (here, dict(list(here.items())[::2]), dict(list(here.items())[::3])):
        graph = graph_of(stage.rig, shown, near_of(stage.rig))
        ones = dict.fromkeys(graph.nodes, 1)
        planned = plan(graph, ones, 999, stacked=False)
        stretches = links(planned, rows_of(planned, ones, ones))
        own, engine = own_order(planned, stretches), dot_order(planned, stretches)
        assert [set(column) for column in own] == [set(column) for column in engine]
        assert order_crossings(own, stretches) <= 1.1 * order_crossings(engine, stretches)


def test_dot_source_names_devices_and_conductors() -> None:
    stage = stage_of("field_kitchen/0")
    source = overview.dot(stage, "COOK")
    assert "digraph COOK" in source
    assert "E1 Griddle" in source
    assert 'label="C1/1"' in source


@pytest.mark.parametrize("seed", SEEDS)
def test_sheets_are_functions_of_the_text(seed: int) -> None:
    stage = stage_of(f"random/{seed}")
    again = analyse(read_text(random_rig(seed)).rigs[-1])
    for module in (chart, strips, overview):
        one, two = (module.sheets(s, chosen(s)) for s in (stage, again))
        assert [svg(sheet) for sheet in one] == [svg(sheet) for sheet in two]


# ---- chart as text ------------------------------------------------------------------------------


def test_rows_are_in_natural_order() -> None:
    names = [row.conductor for row in chart.rows(stage_of("field_kitchen/2"))]
    assert names.index("C2/1") < names.index("C10/1") < names.index("W2/1") < names.index("W10")
    assert names == sorted(names, key=natural)


def test_csv_reads_back(stage: Stage) -> None:
    assert [tuple(line) for line in csv.reader(io.StringIO(chart.csv_text(stage)))] == cells(stage)


def test_a_new_length_changes_one_line_of_each_text() -> None:
    text = EXAMPLES[0].read_text(encoding="utf-8")
    changed = text.replace("4.5m", "4.6m", 1)
    assert changed != text
    before, after = (analyse(read_text(t).rigs[0]) for t in (text, changed))
    cores = sum(a != b for a, b in zip(cells(before), cells(after), strict=True))
    assert cores > 0
    for form in (chart.csv_text, chart.markdown, chart.aligned):
        old, new = form(before).splitlines(), form(after).splitlines()
        assert sum(a != b for a, b in zip(old, new, strict=True)) == cores


def test_aligned_columns_start_at_multiples_of_a_step() -> None:
    stage = stage_of("survey_launch/0")
    head = chart.aligned(stage).splitlines()[2]
    for name, _ in chart_columns():
        at = f" {head}".index(f" {name}")
        assert at % STEP == 0


def chart_columns() -> tuple[tuple[str, object], ...]:
    from ferrule.render.chart_rows import COLUMNS

    return COLUMNS


@pytest.mark.parametrize("form", [chart.markdown, chart.aligned])
def test_texts_carry_the_caution_and_units(form: object) -> None:
    text = form(stage_of("survey_launch/0"))  # type: ignore[operator]
    assert "A drawing is no proof that the rig was built to it" in text
    assert "length m" in text
    assert "torque at from N·m" in text


# ---- end preparation ----------------------------------------------------------------------------

SPAN = Span("t", 1, 1, 1, 1)
# DIN 46228-4: section in mm2, collar colour (IEC 60757 code), usual sleeve in mm; 35 and 50 mm2 are
# left out, their colours being from memory.
DIN_46228_4 = {
    0.5: ("WH", 8), 0.75: ("GY", 8), 1.0: ("RD", 8), 1.5: ("BK", 8), 2.5: ("BU", 8), 4: ("GY", 10),
    6: ("YE", 12), 10: ("RD", 12), 16: ("BU", 12), 25: ("YE", 16),
}  # fmt: skip
# Makers' tables beside DIN 46228-4: the ferrule of each gauge.
GAUGES = {"20AWG": 0.5, "18AWG": 0.75, "16AWG": 1.5, "14AWG": 2.5, "12AWG": 4, "10AWG": 6,
          "8AWG": 10}  # fmt: skip
AREAS = {"20AWG": 0.518, "18AWG": 0.823, "16AWG": 1.31, "14AWG": 2.08, "12AWG": 3.31,
         "10AWG": 5.26, "8AWG": 8.37, "2/0AWG": 67.4}  # ASTM B258  # fmt: skip


def conductor(size: Size | None, **flags: bool) -> Conductor:
    end = End("Q1", "1", SPAN)
    kind = "wire" if size else "link"
    return Conductor("W1", "", flags, SPAN, {}, kind, size, 1.0, end, end)


def device(grip: str = "clamp", stud: str | None = None, **attrs: object) -> Device:
    terminal = Terminal("1", grip=grip, stud=stud)
    return Device("Q1", "", attrs, SPAN, {}, "breaker", "1", (terminal,))  # type: ignore[arg-type]


@pytest.mark.parametrize("mm2", DIN_46228_4)
def test_ferrules_are_those_of_din_46228_4(mm2: float) -> None:
    colour, sleeve = DIN_46228_4[mm2]
    found = preparation(conductor(Size(mm2, f"{mm2:g}mm2")), device(), "1")
    assert found.fitting == "ferrule"
    assert found.colour == colour
    assert found.size == f"{mm2:g}-{sleeve}"


@pytest.mark.parametrize("gauge", GAUGES)
def test_ferrules_by_gauge(gauge: str) -> None:
    found = preparation(conductor(Size(AREAS[gauge], gauge)), device(), "1")
    assert found.size.startswith(f"{GAUGES[gauge]:g}-")


def test_strip_length_is_sleeve_and_two() -> None:
    """A 10 mm sleeve of an insulated ferrule asks 12 mm (a maker's note on stripping)."""
    found = preparation(conductor(Size(4.0, "4mm2")), device(), "1")
    assert (found.size, found.strip_mm) == ("4-10", 12)


def test_ferrule_table_is_sound() -> None:
    table = ferrules()
    assert [f.mm2 for f in table] == sorted({f.mm2 for f in table})
    for each in table:
        assert each.usual in each.sleeves
        assert list(each.sleeves) == sorted(each.sleeves)


def test_beyond_the_ferrules_the_end_takes_a_lug_or_is_bare() -> None:
    """DIN 46228-4 ends at 50 mm2 and begins at 0.5 mm2.

    Where the text says nothing of the terminal a thick conductor gets a lug, its stud unsaid
    (common practice, no published source).
    """
    for size in (Size(67.4, "2/0AWG"), Size(70, "70mm2")):
        assert preparation(conductor(size), device(), "1").fitting == "lug"
    assert preparation(conductor(Size(0.25, "0.25mm2")), device(), "1").fitting == "bare"


@pytest.mark.parametrize(
    ("grip", "solid", "fitting"),
    [("clamp", False, "ferrule"), ("screw", False, "ferrule"), ("plate", False, "ferrule"),
     ("spring", False, "bare"), ("loop", False, "lug"), ("clamp", True, "bare"),
     ("loop", True, "bare")],
)  # fmt: skip
def test_the_grip_decides(grip: str, solid: bool, fitting: str) -> None:
    """Common practice, no published source."""
    flags = {"solid": True} if solid else {}
    made = preparation(conductor(Size(2.5, "2.5mm2"), **flags), device(grip), "1")
    assert made.fitting == fitting


def test_a_stud_takes_a_lug_of_its_size() -> None:
    """DIN 46234 names a lug by stud and section."""
    assert preparation(conductor(Size(16, "16mm2")), device("stud", "M8"), "1").size == "M8-16"
    gauge = preparation(conductor(Size(67.4, "2/0AWG")), device("stud", "M10"), "1")
    assert str(gauge) == "lug M10-2/0AWG"


def test_links_and_lost_ends_are_not_prepared() -> None:
    assert str(preparation(conductor(None), device(), "1")) == "rigid"
    assert str(preparation(conductor(Size(1, "1mm2")), None, "1")) == "not landed"
    assert str(preparation(conductor(Size(1, "1mm2")), device(), "9")) == "not landed"


# ---- colours ------------------------------------------------------------------------------------

ONE = """rig "Colours"
rules {book}
place P "P"
supply S "S" {volts} 50Hz 16A fault=1kA bonded
{extra}load E "E" {volts} 10W at=P
battery G "G" 12V 10Ah at=P
lamp H "H" dc 12V 5W at=P
cable A 3x{size} 1m S.(L N PE) -> E.(L N PE)
cable B 2x{size} 1m G.(+ -) -> H.(+ -)
"""
# IEC 60445:2021: L brown, N blue, PE green-yellow, L+ red, L- white.
# NFPA 70: N white 200.6(A), PE green 250.119; line black and red, DC red and black by custom.
# ABYC E-11 tables: L black, N white, PE green, DC positive red; negative yellow where AC is aboard.
EXPECTED = {
    "iec60364": ("BN", "BU", "GNYE", "RD", "WH"),
    "nfpa70": ("BK", "WH", "GN", "RD", "BK"),
    "abyc-e11": ("BK", "WH", "GN", "RD", "YE"),
}


@pytest.mark.parametrize("book", EXPECTED)
def test_colours_by_role(book: str) -> None:
    text = ONE.format(book=book, volts="120V", size="2.5mm2", extra="")
    rows = {row.conductor: row for row in chart.rows(analyse(read_text(text).rigs[0]))}
    assert tuple(rows[n].code for n in ("A/1", "A/2", "A/3", "B/1", "B/2")) == EXPECTED[book]


def test_without_ac_aboard_the_negative_of_a_craft_is_black() -> None:
    """ABYC E-11: black or yellow; yellow is preferred where AC is aboard."""
    lines = ONE.format(book="abyc-e11", volts="120V", size="2.5mm2", extra="").splitlines()
    text = "\n".join(line for line in lines if line.split()[1] not in "SEA")
    rows = {row.conductor: row for row in chart.rows(analyse(read_text(text).rigs[0]))}
    assert rows["B/2"].code == "BK"


@pytest.mark.parametrize(
    ("written", "codes"),
    [("black,white,green", ("BK", "WH", "GN")), ("BN,BU,GNYE", ("BN", "BU", "GNYE")),
     ("red-blue,purple,grey", ("RDBU", "VT", "GY"))],
)  # fmt: skip
def test_written_colours_go_first(written: str, codes: tuple[str, ...]) -> None:
    """Codes of IEC 60757, several colours joined in its table's order."""
    text = ONE.format(book="iec60364", volts="230V", size="2.5mm2", extra="")
    text = text.replace("-> E.(L N PE)", f"-> E.(L N PE) colours={written}")
    stage = analyse(read_text(text).rigs[0])
    cores = [stage.rig.conductors[f"A/{n}"] for n in (1, 2, 3)]
    assert tuple(colour_of(core, stage.rig, "").code for core in cores) == codes
