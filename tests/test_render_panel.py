"""Panels: true widths, every device and cable there, nothing cut, nothing overlapping; the door's
directory agrees with the text."""

from __future__ import annotations

import itertools
import math
import re
from collections import Counter
from functools import cache
from pathlib import Path

import pytest
from bench_rig import generated, shed
from ferrule.checks.tracing.trace import Stage, analyse
from ferrule.checks.trade.housing import diameter_mm, statements
from ferrule.dsl.reader import read, read_text
from ferrule.render.audit import audit
from ferrule.render.canvas import Arc, Close, Open, Poly, Sheet, Text, box_of
from ferrule.render.directory_rows import cards, joined, ranges
from ferrule.render.draw import draw, tables
from ferrule.render.frame import PAPERS
from ferrule.render.metrics import T25, T35
from ferrule.render.panel_entries import packed
from ferrule.render.panel_plan import faces
from ferrule.render.svg import svg
from ferrule.render.wiring import landings

ROOT = Path(__file__).parents[1]
EXAMPLES = sorted((ROOT / "examples").glob("*.rig"))
STAGES = [(path.stem, index) for path in EXAMPLES for index in range(len(read(path).rigs))]
RIGS = [("radial", 5), ("radial", 40), ("two-source", 30), ("dc", 20), ("three-phase", 24)]
MODULE = 18.0
"""DIN 43880: 17.5 mm and half a millimetre."""


@cache
def example(name: str, index: int = -1) -> Stage:
    return analyse(read(ROOT / "examples" / f"{name}.rig").rigs[index])


def words(sheets: list[Sheet]) -> str:
    return " ".join(i.text for sheet in sheets for i in sheet.items if isinstance(i, Text))


def grouped(sheet: Sheet) -> dict[str, list[Poly | Arc | Text]]:
    """What is drawn, by the innermost group it is in."""
    found: dict[str, list[Poly | Arc | Text]] = {}
    inside = [""]
    for item in sheet.items:
        if isinstance(item, Open):
            inside.append(item.id)
        elif isinstance(item, Close):
            inside.pop()
        else:
            found.setdefault(inside[-1], []).append(item)
    return found


@pytest.mark.parametrize(("name", "index"), STAGES)
def test_nothing_overlaps_on_the_examples(name: str, index: int) -> None:
    for sheet in draw(example(name, index), only=("panel", "directory")):
        assert [str(fault) for fault in audit(sheet)] == [], sheet.title


@pytest.mark.parametrize(("topology", "circuits"), RIGS)
@pytest.mark.parametrize("paper", PAPERS)
def test_nothing_overlaps_on_generated_panels(topology: str, circuits: int, paper: str) -> None:
    for sheet in draw(generated(topology, circuits), only=("panel", "directory"), paper=paper):
        assert [str(fault) for fault in audit(sheet)] == [], sheet.title


def test_a_panel_of_200_circuits() -> None:
    sheets = draw(generated("two-source", 200), only=("panel", "directory"))
    assert len(sheets) > 4
    for sheet in sheets:
        assert [str(fault) for fault in audit(sheet)] == [], sheet.title


# ---- the face ------------------------------------------------------------------------------------


def outlines(sheets: list[Sheet], name: str) -> list[Poly]:
    """The outline of a device wherever it is drawn: the first closed shape of its group."""
    found = []
    for sheet in sheets:
        for key, items in grouped(sheet).items():
            if key == f"dev-{name}":
                found.append(next(i for i in items if isinstance(i, Poly) and i.closed))
    return found


@pytest.mark.parametrize(("name", "index"), STAGES)
def test_every_device_on_a_rail_is_drawn_once_as_wide_as_it_is(name: str, index: int) -> None:
    stage = example(name, index)
    sheets = draw(stage, only=("panel",))
    on_rail = [d for d in stage.rig.devices.values() if d.ways]
    assert on_rail
    for device in on_rail:
        (outline,) = outlines(sheets, device.name)
        modules = device.attrs.get("modules")
        count = modules if isinstance(modules, int) else len(device.ways)
        wide = box_of(outline).width - outline.pen.width + 0.6 if outline.pen else 0.0
        assert wide in (pytest.approx(count * MODULE), pytest.approx(count * MODULE / 2))


def test_devices_stand_in_the_order_of_their_ways() -> None:
    stage = example("field_kitchen")
    sheets = draw(stage, only=("panel",))
    on_rail = sorted((d for d in stage.rig.devices.values() if d.panel == "MB" and d.ways),
                     key=lambda d: d.ways)  # fmt: skip
    lefts = [box_of(outlines(sheets, d.name)[0]).left for d in on_rail]
    assert lefts == sorted(lefts) and len(lefts) > 10


@pytest.mark.parametrize(("name", "index"), STAGES)
def test_free_ways_are_those_that_nothing_takes(name: str, index: int) -> None:
    stage = example(name, index)
    sheets = draw(stage, only=("panel",))
    free = sum(i.text == "free" and i.rotate == 90
               for s in sheets for i in s.items if isinstance(i, Text))  # fmt: skip
    taken = {(d.panel, way) for d in stage.rig.devices.values() for way in d.ways}
    assert free == sum(panel.ways for panel in stage.rig.panels.values()) - len(taken)


@pytest.mark.parametrize(("name", "index"), STAGES)
def test_all_that_lands_in_a_panel_is_named_on_it(name: str, index: int) -> None:
    stage = example(name, index)
    said = words(draw(stage, only=("panel",))).replace(",", " ").split()
    for conductor in stage.rig.conductors.values():
        for end in (conductor.a, conductor.b):
            device = stage.rig.devices[end.device]
            if device.panel and (device.ways or device.kind in ("bus", "block")):
                assert conductor.name in said


@pytest.mark.parametrize(("topology", "circuits"), RIGS)
def test_no_name_is_cut(topology: str, circuits: int) -> None:
    stage = generated(topology, circuits)
    for paper in ("A4", "A3"):
        sheets = draw(stage, only=("panel",), paper=paper)
        said = words(sheets).replace(" ", "")
        assert "…" not in said
        for device in stage.rig.devices.values():
            if device.panel and device.ways:
                assert device.name in said
                for word in device.label.split():
                    assert word in said, device.label


def test_a_long_label_on_a_narrow_device_goes_below_the_rail() -> None:
    label = "The circuit of the pumps in the forward and the aft bilge, and of their alarms, spare"
    stage = shed(Bench=label)
    said = words(draw(stage, only=("panel",), paper="A4"))
    assert all(word in said.replace(",", " ").split() for word in label.replace(",", " ").split())


def test_small_panels_share_a_sheet() -> None:
    stage = example("field_kitchen")
    sheets = draw(stage, only=("panel",))
    assert len(sheets) == 2 and len(stage.rig.panels) == 3
    assert "Panels IB, DB" in [sheet.title for sheet in sheets]


def test_the_scale_is_said() -> None:
    said = words(draw(example("field_kitchen"), only=("panel",)))
    assert "30 ways, 4 free, 1:2, entries 1:1" in said and "8 ways, 2 free, 1:1" in said


def test_a_panel_without_ways_and_a_rig_without_panels() -> None:
    head = 'rig "R"\nrules iec60364\nplace A "Aft"\n'
    bare = analyse(read_text(f"{head}lamp E1 230V 5W\n").rigs[-1])
    assert draw(bare, only=("panel", "directory")) == []
    text = f'{head}panel P "Box" ways=2 at=A\nbus B 10A positions=3 at=P\n'
    empty = analyse(read_text(text).rigs[-1])
    assert "B 10 A" in words(draw(empty, only=("panel",)))
    assert draw(empty, only=("directory",)) == []


def test_drawing_twice_gives_the_same_bytes() -> None:
    stage = example("mobile_clinic")
    first, second = (draw(stage, only=("panel", "directory", "labels")) for _ in range(2))
    assert [svg(sheet) for sheet in first] == [svg(sheet) for sheet in second]


# ---- entries -------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [path.stem for path in EXAMPLES])
def test_entries_and_their_cables_have_their_true_size(name: str) -> None:
    stage = example(name)
    runs = statements(stage.rig)
    sheets = draw(stage, only=("panel",))
    drawn = {key: items for sheet in sheets for key, items in grouped(sheet).items()}
    entries = [d for d in stage.rig.devices.values() if d.kind == "entry"]
    assert len(entries) >= 4
    for entry in entries:
        circle = next(i for i in drawn[f"dev-{entry.name}"] if isinstance(i, Arc))
        hole = entry.number("hole")
        assert hole is not None and circle.rx * 2 == pytest.approx(hole * 1000)
    through = [run for run in runs.values() if "entries" in run[0].attrs]
    for run in through:
        drawn_as = re.compile(rf"con-{run[0].statement}(-[2-9])?")
        cables = [
            item
            for key, items in drawn.items()
            for item in items
            if drawn_as.fullmatch(key) and isinstance(item, Arc)
        ]
        assert cables, run[0].statement
        for cable in cables:
            assert cable.rx * 2 == pytest.approx(diameter_mm(run)[0])


def test_a_cable_that_names_no_entry_is_said() -> None:
    said = words(draw(example("field_kitchen"), only=("panel",)))
    assert "Cables in, entry not said: D12, D13, D17, D18, D19" in said


@pytest.mark.parametrize("sizes", [[10], [10, 4], [5, 5, 5], [12, 9, 9, 4, 4, 2], [6] * 19])
def test_cables_lie_beside_each_other(sizes: list[float]) -> None:
    circles = packed(sizes)
    assert [2 * r for _, _, r in circles] == sizes
    for (ax, ay, ar), (bx, by, br) in itertools.combinations(circles, 2):
        assert math.dist((ax, ay), (bx, by)) >= ar + br - 1e-5
    around = max(math.hypot(x, y) + r for x, y, r in circles)
    area = sum(r * r for _, _, r in circles)
    assert area / around**2 > 0.45 or len(sizes) < 3


def test_three_alike_lie_as_close_as_they_can() -> None:
    """Equal circles: three fit into 2.1547 times their diameter (geometry)."""
    around = max(math.hypot(x, y) + r for x, y, r in packed([10, 10, 10]))
    assert around == pytest.approx(10 * 2.1547 / 2, rel=1e-3)


def test_faces_name_every_cable_that_comes_in() -> None:
    stage = example("mobile_clinic")
    for face in faces(stage.rig, landings(stage.rig)):
        named = [each.name for hole in face.holes for each in hole.cables]
        assert len(named) == len(set(named)) >= 5


# ---- the directory -------------------------------------------------------------------------------


@pytest.mark.parametrize(("name", "index"), STAGES)
def test_the_directory_tells_every_way_once(name: str, index: int) -> None:
    stage = example(name, index)
    for card in (card for card in cards(stage) if not card.outside):
        ways = [
            way
            for circuit in card.circuits
            for part in circuit.ways.split(", ")
            for way in _run(part)
        ]
        assert ways == list(range(1, stage.rig.panels[card.name].ways + 1))


def _run(part: str) -> range:
    low, _, high = part.partition("-")
    return range(int(low), int(high or low) + 1)


@pytest.mark.parametrize(("name", "index"), STAGES)
def test_every_user_stands_on_one_line_of_one_door(name: str, index: int) -> None:
    """Of the users behind devices in panels: each at the device nearest to it, by mode."""
    stage = example(name, index)
    lines = [c for card in cards(stage) for c in card.circuits if c.device]
    told = [user for c in lines for user in c.feeds.split("; ") if "(" in user]
    for user in set(told):
        modes = [c for c in lines if user in c.feeds.split("; ")]
        assert len(modes) <= len(stage.modes)
    assert len(set(told)) > 5


def test_cards_are_lettered_to_be_read_at_the_door() -> None:
    for sheet in draw(example("field_kitchen"), only=("directory",)):
        cards_only = grouped(sheet)
        for key, items in cards_only.items():
            if key.startswith("card-"):
                sizes = {i.size for i in items if isinstance(i, Text)}
                assert min(sizes) >= T25 and T35 in sizes


def test_the_kitchens_supplies_by_mode() -> None:
    (main,) = (card for card in cards(example("field_kitchen")) if card.name == "MB")
    told = [(g.modes, g.supply and (g.supply.source, g.supply.amps), g.ways) for g in main.given]
    assert told[0] == ("On site supply", ("SITE", 32.0), "1-2, 5-20, 25-30")
    assert ("On battery alone", None, "1-20, 25-30") in told
    said = words(draw(example("field_kitchen"), only=("directory",)))
    assert "Fed from SITE, GEN: isolate every one of them." in said
    assert "prove dead" in said


def test_what_charges_in_parallel_is_told_at_the_door_too() -> None:
    """The battery alone is in the table of supplies; the panel stays live on the other three."""
    (panel,) = (card for card in cards(example("mobile_clinic")) if card.name == "DP")
    assert {given.supply.source for given in panel.given if given.supply} == {"GB"}
    assert set(panel.sources) == {"GB", "U1", "U2", "U3"}


@pytest.mark.parametrize(("name", "index"), STAGES)
def test_every_device_that_protects_stands_on_one_card(name: str, index: int) -> None:
    """Fuses bolted to a bar too: on a card of their place."""
    stage = example(name, index)
    told = Counter(c.device.name for card in cards(stage) for c in card.circuits if c.device)
    protects = {d.name for d in stage.rig.devices.values() if d.kind in ("breaker", "fuse", "rcd")}
    assert protects <= told.keys() and set(told.values()) == {1}


def test_a_strip_of_fuses_in_no_panel_has_a_directory() -> None:
    """The kitchen's fuses are bolted to the positive bar."""
    stage = example("field_kitchen")
    (card,) = (card for card in cards(stage) if card.outside)
    assert (card.name, card.label) == ("BOARD", "Board cupboard")
    rows = {c.device.name: c for c in card.circuits if c.device}
    assert list(rows) == ["F10", "F11", "F12", "F13", "QB"]
    assert rows["F13"].feeds == "QD1, QD2, QD3" and rows["F13"].rating == "40 A"
    said = words(draw(stage, only=("directory",)))
    assert "fuses and switches in no panel" in said and "class gG" in said
    assert "Replace a fuse by one of the same rating and class." in said
    alone = analyse(read_text(FUSES).rigs[-1])
    assert "F1" in words(draw(alone, only=("directory",)))
    assert "directory.csv" in tables(alone)


FUSES = """rig "Fuses"
rules iec60364
place A "Locker"
battery GB "Battery" 12V 100Ah fault=1kA at=A
fuse F1 "Lamp" 5A dc breaks=2kA at=A
lamp E1 "Lamp" 12V 57W dc at=A
wire W1 1mm2 1m GB.+ -> F1.1
wire W2 1mm2 1m F1.2 -> E1.+
wire W3 1mm2 1m E1.- -> GB.-
"""


def test_a_main_that_all_loads_overload_is_marked_in_words() -> None:
    """36.9 A on the clinic's 30 A main: at the door, on the panel, in both schedules."""
    stage = example("mobile_clinic")
    door = words(draw(stage, only=("directory",)))
    assert (
        "Overload: with all loads on, QM carries 36.9 A (On site supply), more than its 30 A. "
        "Do not run all of them at once." in door
    )
    assert "Overload: with all loads on, QM carries 36.9 A" in words(draw(stage, only=("panel",)))
    for name in ("directory", "devices"):
        text = tables(stage, only=(name,))[f"{name}.md"]()
        rows = [line for line in text.splitlines() if "overload" in line and line.startswith("|")]
        assert len(rows) == 1 and "**QM**" in rows[0] and "36.9" in rows[0]


def test_what_is_not_too_much_is_not_marked() -> None:
    """4.8 A, and a little more for the wire's drop, on 5 A; 5 A and the drop are too much."""
    stage = analyse(read_text(FUSES).rigs[-1])
    (card,) = cards(stage)
    assert card.overloads == []
    more = analyse(read_text(FUSES.replace("57W", "60W")).rigs[-1])
    assert [circuit.device.name for circuit in cards(more)[0].overloads] == ["F1"]


def test_ranges() -> None:
    assert ranges([]) == "" and ranges([4]) == "4" and ranges([3, 1, 2, 9]) == "1-3, 9"
    assert joined("5-6, 1-2, 3, QX") == "1-3, 5-6, QX"
