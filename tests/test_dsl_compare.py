"""Two rigs compared: what is a change, what it is called, and the laws that changes obey."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from edited_rigs import EDITS, edited
from ferrule.dsl.changes import Added, Change, Changed, Removed, Renamed, Replaced, Turned
from ferrule.dsl.compare import apply, compare, inverse
from ferrule.dsl.kinds import kinds
from ferrule.dsl.model import Rig
from ferrule.dsl.reader import read, read_text
from ferrule.dsl.things import meaning
from hypothesis import given, settings
from hypothesis import strategies as st
from wiring_rigs import random_rig

EXAMPLES = sorted((Path(__file__).parents[1] / "examples").glob("*.rig"))

CLINIC = Path(__file__).parents[1] / "examples/mobile_clinic.rig"

BASE = """\
rig "Ticket wagon" revision=A
rules iec60364
ambient 30degC
place FRONT "Front locker"
place HALL "Hall"
route DUCT "Duct"
part mcb16 breaker 16A poles=1 curve=C breaks=6kA ways=1
supply GRID "Grid" 230V 50Hz 16A fault=2kA bonded
panel AP "Panel" ways=6 at=FRONT
breaker Q1 "Lamps" mcb16 at=AP.1
breaker Q2 "Outlet" mcb16 at=AP.2
bus N "Neutral bar" 63A positions=6 at=AP
bus E "Earth bar" 63A positions=6 at=AP
lamp E1 "Lamps" 230V 60W at=HALL
socket X1 "Outlet" 16A at=HALL
joint J1 20A at=FRONT
wire W1 2.5mm2 2m GRID.L -> Q1.1
wire W2 2.5mm2 0.2m Q1.1 -> Q2.1
wire W3 2.5mm2 2m GRID.N -> N.1
wire W4 2.5mm2 2m GRID.PE -> E.1
wire W9 2.5mm2 1m E.6 -> J1.a
cable C1 3x1.5mm2 4m Q1.2 N.2 E.2 -> E1.(L N PE) via=DUCT
cable C2 3x2.5mm2 5m Q2.2 N.3 E.3 -> X1.(L N PE) colours=brown,blue,green-yellow
mode on "Everything on" { GRID=on Q2=open }
accept P02 on W2 because "short"
"""


def rig(text: str) -> Rig:
    reading = read_text(text)
    assert not reading.problems, [p.message for p in reading.problems]
    return reading.rigs[-1]


def changed(*swaps: tuple[str, str]) -> tuple[Change, ...]:
    text = BASE
    for old, new in swaps:
        assert old in text
        text = text.replace(old, new)
    return compare(rig(BASE), rig(text))


def said(changes: tuple[Change, ...]) -> list[str]:
    """Each change as a line: verb, name, and for a fact what it was and is."""
    return [
        f"{c.verb} {c.name}"
        + (f" {c.fact}: {c.old} -> {c.new}" if isinstance(c, Changed) else "")
        + (f" (was {c.old})" if isinstance(c, Renamed) else "")
        for c in changes
    ]


# ---- what is no change --------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        BASE + "# a comment\n\n",
        "\n".join(reversed(BASE.splitlines())) + "\n",
        BASE.replace(" -> ", "    ->  ").replace("\nwire", "\n   wire"),
        BASE.replace("230V 60W", "0.23kV 0.06kW"),
        BASE.replace("230V 60W", "230V 60W status=installed"),
        BASE.replace("GRID=on Q2=open", "Q2=open"),  # a supply is on where nothing is said
        BASE.replace("at=AP.1\n", "at=AP.1-1\n"),
        BASE.replace('"Lamps" mcb16', '"Lamps" 16A poles=1 curve=C breaks=6kA ways=1'),
    ],
    ids=["comment", "reversed", "spaces", "units", "status", "usual state", "ways", "part"],
)
def test_what_means_the_same_is_no_change(text: str) -> None:
    assert compare(rig(BASE), rig(text)) == ()
    assert meaning(rig(BASE)) == meaning(rig(text))


def test_a_gauge_is_not_its_area() -> None:
    # ASTM B258: 14 AWG is 2.081 mm2; books have a table for each, so the words are no synonyms.
    a = rig(BASE.replace("W2 2.5mm2", "W2 14AWG"))
    b = rig(BASE.replace("W2 2.5mm2", f"W2 {a.conductors['W2'].size.mm2}mm2"))  # type: ignore[union-attr]
    assert [c.verb for c in compare(a, b)] == ["re-sized"]


# ---- what a change is called --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("swaps", "lines"),
    [
        ([('Q1 "Lamps" mcb16', 'Q1 "Lamps" mcb16 curve=B')], ["re-rated Q1 curve: C -> B"]),
        ([('Q1 "Lamps" mcb16', 'Q1 "Lamps" mcb16 10A')], ["re-rated Q1 rating: 16A -> 10A"]),
        ([("mcb16 breaker 16A", "mcb16 breaker 10A")],
         ["re-rated Q1 rating: 16A -> 10A", "re-rated Q2 rating: 16A -> 10A"]),
        ([("at=AP.2", "at=AP.5")], ["moved Q2 at: AP.2 -> AP.5"]),
        ([("16A at=HALL", "16A at=FRONT")], ["moved X1 at: HALL -> FRONT"]),
        ([('X1 "Outlet"', 'X1 "Counter"')], ["relabelled X1 label: Outlet -> Counter"]),
        ([("lamp E1", "heater E1")], ["replaced E1"]),
        ([('socket X1 "Outlet" 16A', 'socket X1 "Outlet" 16A order=K7')],
         ["altered X1 order: None -> K7"]),
        ([("GRID.N -> N.1", "GRID.N -> N.5")], ["re-landed W3 to: N.1 -> N.5"]),
        ([("Q2.2 N.3 E.3", "Q2.2 N.4 E.3")], ["re-landed C2 from/2: N.3 -> N.4"]),
        ([("W3 2.5mm2", "W3 4mm2")], ["re-sized W3 size: 2.5mm2 -> 4mm2"]),
        ([("3x1.5mm2 4m", "3x1.5mm2 4.5m")], ["lengthened C1 length: 4m -> 4.5m"]),
        ([("3x1.5mm2 4m", "3x1.5mm2 350cm")], ["shortened C1 length: 4m -> 3.5m"]),
        ([(" via=DUCT", "")], ["re-routed C1 via: ('DUCT',) -> None"]),
        ([("brown,blue", "black,blue")],
         ["re-coloured C2 colours: ('brown', 'blue', 'green-yellow')"
          " -> ('black', 'blue', 'green-yellow')"]),
        ([("wire W3", "wire W7")], ["renamed W7 (was W3)"]),
        ([("wire W3 2.5mm2", "wire W7 4mm2")],
         ["renamed W7 (was W3)", "re-sized W7 size: 2.5mm2 -> 4mm2"]),
        ([("GRID.N -> N.1", "N.1 -> GRID.N")], ["turned W3"]),
        ([("Q1.1 -> Q2.1", "Q2.1 -> GRID.L")],
         ["turned W2", "re-landed W2 to: Q1.1 -> GRID.L"]),
        ([("cable C1 3x1.5mm2 4m Q1.2 N.2 E.2 -> E1.(L N PE)",
           "cable C1 2x1.5mm2 4m Q1.2 N.2 -> E1.(L N)")], ["replaced C1"]),
        ([("wire W9 2.5mm2 1m E.6 -> J1.a\n", "")], ["removed W9"]),
        ([("wire W3", "wire W30 2.5mm2 1m N.5 -> N.6\nwire W3")], ["added W30"]),
        ([("Q2=open", "Q1=open")],
         ["altered on Q1: None -> open", "altered on Q2: open -> None"]),
        ([("mode on", "mode night { GRID=off }\nmode on")], ["added night"]),
        ([("revision=A", "revision=B")], ["altered rig revision: A -> B"]),
        ([("rules iec60364", "rules nfpa70")], ["altered rig rules: iec60364 -> nfpa70"]),
        ([("ambient 30", "ambient 45")], ["altered rig ambient: 30degC -> 45degC"]),
        ([('because "short"', 'because "0.2 m"')],
         ["relabelled P02 on W2 label: short -> 0.2 m"]),
        ([('HALL "Hall"', 'HALL "Hall" ambient=40degC')],
         ["altered HALL ambient: None -> 40degC"]),
        ([("ways=6", "ways=8")], ["altered AP ways: 6 -> 8"]),
    ],
)  # fmt: skip
def test_what_a_change_is_called(swaps: list[tuple[str, str]], lines: list[str]) -> None:
    assert said(changed(*swaps)) == lines


def test_a_device_under_another_name_is_renamed_and_its_conductors_stay() -> None:
    new = rig(re.sub(r"\bQ2\b", "Q12", BASE))
    assert compare(rig(BASE), new) == (Renamed("device", "Q2", "Q12"),)


def test_a_renamed_device_keeps_its_place_in_a_mode() -> None:
    renamed = re.sub(r"\bQ2\b", "Q12", BASE)
    assert said(hold(rig(BASE), rig(renamed.replace("Q12=open", "Q12=closed")))) == [
        "renamed Q12 (was Q2)",
        "altered on Q12: open -> None",
    ]


def test_a_device_that_other_conductors_land_on_is_another_one() -> None:
    text = re.sub(r"\bQ2\b", "Q12", BASE).replace("Q12.2 N.3", "N.3 Q12.2")
    verbs = said(compare(rig(BASE), rig(text)))
    assert "removed Q2" in verbs
    assert "added Q12" in verbs


def test_of_conductors_alike_each_keeps_its_size() -> None:
    # Two conductors between the same terminals, both renamed: the thick one stays the thick one.
    two = "wire W5 4mm2 1m N.5 -> E.5\nwire W6 1.5mm2 1m N.5 -> E.5\n"
    other = "wire A1 1.5mm2 1m N.5 -> E.5\nwire A2 4mm2 1m N.5 -> E.5\n"
    found = compare(rig(BASE + two), rig(BASE + other))
    assert said(found) == ["renamed A2 (was W5)", "renamed A1 (was W6)"]


def test_a_conductor_turned_round_takes_its_end_preparation_with_it() -> None:
    old = rig(BASE.replace("GRID.N -> N.1", "GRID.N -> N.1 ends=ring,ferrule"))
    same = rig(BASE.replace("GRID.N -> N.1", "N.1 -> GRID.N ends=ferrule,ring"))
    other = rig(BASE.replace("GRID.N -> N.1", "N.1 -> GRID.N ends=ring,ferrule"))
    assert said(compare(old, same)) == ["turned W3"]
    assert [c.verb for c in compare(old, other)] == ["turned", "altered"]


def test_a_metal_panel_brings_its_earth_terminal() -> None:
    old, new = rig(BASE), rig(BASE.replace("ways=6", "ways=6 metal"))
    assert said(compare(old, new)) == ["altered AP metal: None -> True"]
    assert apply(old, compare(old, new)).devices["AP"].terminal("PE") is not None


# ---- laws ---------------------------------------------------------------------------------------


def bare(rig: Rig) -> object:
    """A rig without spans, order and texts of quantities, read off the model itself."""

    def value(v: object) -> object:
        return tuple(x for x in (getattr(v, "value", None), getattr(v, "unit", None),
                                 getattr(v, "mm2", None), getattr(v, "low", None),
                                 getattr(v, "high", None)) if x is not None) or v  # fmt: skip

    def attrs(of: object, *but: str) -> object:
        rows = of.attrs.items()  # type: ignore[attr-defined]
        return {k: value(v) for k, v in rows if k not in but and (k, v) != ("status", "installed")}

    devices = {
        d.name: (d.label, d.kind, d.variant, d.place, d.panel, d.ways, attrs(d, "at"),
                 sorted((t.name, t.holds, t.stud, t.grip) for t in d.terminals))
        for d in rig.devices.values()
    }  # fmt: skip
    wires = {
        c.name: (c.kind, c.label, value(c.size), c.length_m, c.a.name, c.b.name, c.cable, c.core,
                 attrs(c))
        for c in rig.conductors.values()
    }  # fmt: skip
    states = {
        mode.name: (mode.label, {
            d.name: mode.state(d.name, kinds()[d.kind].default_state) for d in rig.devices.values()
        }) for mode in rig.modes.values()
    }  # fmt: skip
    cables = {c.name: (c.label, c.size.mm2, c.length_m, c.cores) for c in rig.cables.values()}
    spots = {
        p.name: (p.label, p.kind, attrs(p)) for p in (*rig.places.values(), *rig.routes.values())
    }
    panels = {p.name: (p.label, p.ways, p.place, attrs(p, "at")) for p in rig.panels.values()}
    accepts = {(a.rule, a.on, a.because) for a in rig.accepts}
    head = (rig.label, rig.book, rig.ambient_c, attrs(rig))
    return head, devices, wires, states, cables, spots, panels, accepts


def hold(old: Rig, new: Rig) -> tuple[Change, ...]:
    """The laws of two rigs; returns their comparison."""
    assert compare(old, old) == ()
    assert compare(new, new) == ()
    changes = compare(old, new)
    made = apply(old, changes)
    assert bare(made) == bare(new)
    assert compare(made, new) == ()
    assert (changes == ()) == (bare(old) == bare(new))
    back = compare(new, old)
    assert back == inverse(changes)
    assert inverse(back) == changes
    assert bare(apply(new, inverse(changes))) == bare(old)
    return changes


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_laws_hold_between_the_stages_of_the_examples(path: Path) -> None:
    stages = read(path).rigs
    for old in stages:
        for new in stages:
            assert bool(hold(old, new)) == (old is not new)


@settings(max_examples=150, deadline=None)
@given(edited())
def test_laws_hold_for_any_rigs(texts: tuple[str, str]) -> None:
    old, new = map(read_text, texts)
    if not old.problems and not new.problems:  # an edit may take a name or a way that is taken
        hold(old.rigs[0], new.rigs[0])


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.integers(0, 10_000))
def test_laws_hold_between_strangers(one: int, other: int) -> None:
    # Two rigs that have nothing to do with each other but their words.
    old, new = (read_text(random_rig(seed, devices=6, wires=9)) for seed in (one, other))
    assert not old.problems and not new.problems
    hold(old.rigs[-1], new.rigs[-1])


def test_edits_are_edits() -> None:
    # The law above is not empty: most edits can be read, and change something.
    text = random_rig(4, devices=9, wires=14)
    text = text[: text.index("stage LATER")]
    old, effective = read_text(text).rigs[0], 0
    for pattern, put in EDITS:
        count = 0 if pattern.startswith(r"\b") else 1
        reading = read_text(re.sub(pattern, put, text, count=count, flags=re.M))
        effective += not reading.problems and bool(compare(old, reading.rigs[0]))
    assert effective >= 18


def test_part_of_a_change_can_be_applied() -> None:
    old, new = read(CLINIC).rigs[:2]
    changes = compare(old, new)
    half = [c for c in changes if not isinstance(c, Removed | Turned)]
    rest = apply(apply(old, half), [c for c in changes if c not in half])
    assert meaning(rest) == meaning(new)
    assert any(isinstance(c, Added) for c in changes)
    assert not any(isinstance(c, Replaced) for c in changes)


def test_a_device_on_a_rail_that_is_not_there_is_refused() -> None:
    # Half a change: the breaker of the new panel without the panel.
    old, new = read(CLINIC).rigs[:2]
    alone = [c for c in compare(old, new) if c.group == "device" and c.verb == "added"]
    with pytest.raises(KeyError, match="IP"):
        apply(old, alone)


def test_ends_on_a_renamed_device_are_undone_under_its_old_name() -> None:
    head = 'rig "A"\nrules abyc-e11\nbattery GB 12V 100Ah fault=1kA\nbus B1 100A positions=4\n'
    old = head + (
        "bus D5 100A positions=5\nwire W2 6mm2 1m GB.- -> D5.2\n"
        "cable C8 2x6mm2 1m GB.+ GB.- -> B1.1 D5.1\n"
    )
    new = head + (
        "bus D77 100A positions=5\nwire W2 6mm2 1m GB.- -> D77.2\n"
        "cable C8 2x6mm2 1m B1.1 B1.3 -> GB.+ D77.1\n"
    )
    changes = hold(read_text(old).rigs[-1], read_text(new).rigs[-1])
    assert any(isinstance(change, Renamed) for change in changes)
