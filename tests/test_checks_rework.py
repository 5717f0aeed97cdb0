"""A change as jobs: nothing is forgotten or done twice, and every stop is safe where one can be."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from itertools import pairwise, permutations
from pathlib import Path

import pytest
from edited_rigs import edited
from ferrule.checks.figures.consequences import due
from ferrule.checks.findings import ERROR
from ferrule.checks.rework import Job, Plan, rework
from ferrule.checks.rework.jobs import jobs_of, on_paper
from ferrule.checks.rework.order import MOST_TRIED, ordered
from ferrule.checks.rework.states import UNFINISHED, States
from ferrule.checks.run import check_rigs
from ferrule.checks.tracing.trace import UNGROUNDED, analyse
from ferrule.dsl.changes import Change, Renamed
from ferrule.dsl.compare import apply, compare
from ferrule.dsl.kinds import kinds
from ferrule.dsl.model import Mode, Rig, Setting
from ferrule.dsl.reader import read, read_text
from ferrule.dsl.records import replace
from ferrule.dsl.things import meaning
from ferrule.render.rework_rows import due_tests, sections
from hypothesis import given, settings
from hypothesis import strategies as st
from wiring_rigs import random_rig

EXAMPLES = sorted((Path(__file__).parents[1] / "examples").glob("*.rig"))
End = tuple[str, str]

TEXT = """\
rig "Signal trailer"
rules nfpa70
place FRONT "Front locker"
place CABIN "Cabin"
route DUCT "Duct"
supply SHORE "Site supply" 120V 60Hz 30A fault=2kA bonded
panel AP "Panel" ways=8 at=FRONT metal
breaker Q1 "Main" 15A poles=1 breaks=10kA standard=UL489 ways=1 at=AP.1
breaker Q2 "Lamps" 15A poles=1 breaks=10kA standard=UL489 ways=1 at=AP.2
bus N "Neutral bar" 100A positions=8 at=AP
bus E "Earth bar" 100A positions=8 at=AP
entry K1 "Gland, supply" hole=22mm at=AP
entry K2 "Bushing, lamps" hole=28mm at=AP
entry K3 "Bushing, spare" hole=28mm at=AP
earth CH "Chassis" positions=2 at=FRONT
lamp E1 "Lamps" 120V 600W holds=2 at=CABIN
lamp E2 "Reading lamp" 120V 40W at=CABIN
cable W1 3x10AWG 5m SHORE.(L N PE) -> Q1.1 N.1 E.1 entries=K1
wire W2 14AWG 0.2m Q1.2 -> Q2.1
cable C1 3x10AWG 10m Q2.2 N.2 E.2 -> E1.(L N PE) entries=K2
cable C2 3x14AWG 3m E1.(L N PE) -> E2.(L N PE)
wire W8 8AWG 0.3m E.5 -> AP.PE
wire W9 8AWG 1m E.6 -> CH.1 entries=K2
mode shore { SHORE=on }
"""


def changed(*swaps: tuple[str, str]) -> tuple[Rig, Rig]:
    """The trailer before and after."""
    text = TEXT
    for old, new in swaps:
        assert old in text, old
        text = text.replace(old, new)
    return rig(TEXT), rig(text)


def rig(text: str) -> Rig:
    reading = read_text(text)
    assert not reading.problems, [problem.message for problem in reading.problems]
    return reading.rigs[-1]


def errors(some: Rig) -> set[tuple[str, str]]:
    found = check_rigs([replace(some, accepts=())]).findings
    return {(f.rule, f.on[0]) for f in found if f.severity == ERROR and f.rule not in UNFINISHED}


# ---- laws ---------------------------------------------------------------------------------------


def landings(some: Rig) -> dict[End, str]:
    """What hangs where at the rig: each end of what is there, on devices that are there."""
    return {
        (c.name, side): end.name
        for c in some.conductors.values()
        for side, end in (("a", c.a), ("b", c.b))
        if c.status not in ("planned", "removed") and end.device in some.devices
    }


def work_through(plan: Plan) -> None:
    """Do what the jobs say with nothing but hands: each lift finds its end where it is said to lie,

    each landing finds the end free, and when all is done everything lies as the new text has it.
    """
    if not plan.jobs:
        return
    there = landings(plan.jobs[0].before)
    for job in plan.jobs:
        for conductor, end in job.touch.lift:
            assert there.pop((conductor.name, _side(conductor, end))) == end.name
        for conductor, end in job.touch.land:
            at = (conductor.name, _side(conductor, end))
            assert at not in there
            there[at] = end.name
        assert there == landings(job.after)
    assert there == landings(plan.new)


def _side(conductor: object, end: object) -> str:
    return "a" if end is conductor.a else "b"  # type: ignore[attr-defined]


def hold(old: Rig, new: Rig) -> Plan:
    """The laws of a plan; returns it."""
    plan = rework(old, new)
    assert Counter(map(repr, plan.changes)) == Counter(map(repr, compare(old, new)))
    assert meaning(apply(old, plan.changes)) == meaning(new)
    work_through(plan)
    allowed = errors(plan.old) | errors(new)
    for job in plan.jobs[:-1]:
        assert errors(job.after) <= allowed
    for job in plan.jobs:
        only_what_changes(job)
        nothing_live_forgotten(job)
    names = [change for change in compare(old, new) if isinstance(change, Renamed)]
    expected = due(analyse(apply(old, names) if names else old), analyse(new))
    assert {d.trial.id for d in due_tests(plan)} == {d.trial.id for d in expected}
    return plan


def only_what_changes(job: Job) -> None:
    """No end is touched but those of changed runs and of devices that are opened."""
    runs = {change.name for change in job.changes if change.group == "conductor"}
    panels = {change.name for change in job.changes if change.group == "panel"}
    for conductor, end in (*job.touch.lift, *job.touch.land):
        device = job.before.devices.get(end.device) or job.after.devices[end.device]
        opened = end.device in job.touch.opened or device.panel in panels
        assert conductor.statement in runs or opened


def nothing_live_forgotten(job: Job) -> None:
    """Every line that is live where somebody works is proved dead, and its sources are named."""
    stage = analyse(job.before)
    points = {(point.device, point.terminal) for point in job.points}
    sources = {live.source for live in job.live}
    for device, terminal in worked(job):
        for view in stage.modes:
            if view.role(device, terminal) in UNGROUNDED:
                assert (device, terminal) in points
                assert sources >= set(view.sources(device, terminal))


def worked(job: Job) -> set[End]:
    devices = job.before.devices
    spots = {(end.device, end.terminal) for _, end in (*job.touch.lift, *job.touch.land)}
    spots |= {(d, t.name) for d in job.touch.opened if d in devices for t in devices[d].terminals}
    return {(d, t) for d, t in spots if d in devices and devices[d].terminal(t)}


@settings(max_examples=100, deadline=None)
@given(edited())
def test_laws_hold_for_any_edits(texts: tuple[str, str]) -> None:
    old, new = map(read_text, texts)
    if not old.problems and not new.problems:  # an edit may take a name or a way that is taken
        hold(old.rigs[0], new.rigs[0])


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000), st.integers(0, 10_000))
def test_laws_hold_between_strangers(one: int, other: int) -> None:
    old, new = (rig(random_rig(seed, devices=6, wires=9)) for seed in (one, other))
    hold(old, new)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_laws_hold_between_the_stages_of_the_examples(path: Path) -> None:
    stages = read(path).rigs
    for old, new in (*pairwise(stages), *pairwise(stages[::-1]), (stages[0], stages[-1])):
        assert hold(old, new).jobs


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_isolated_as_the_order_says_all_that_is_worked_on_is_dead(path: Path) -> None:
    """Opening the devices named, and switching off the sources that have none, leaves it dead."""
    for old, new in pairwise(read(path).rigs):
        for job in rework(old, new).jobs:
            stage = analyse(isolated(job))
            for device, terminal in worked(job):
                cannot = job.before.devices[device].kind in ("battery", "solar")
                roles = {view.role(device, terminal) for view in stage.modes}
                assert cannot or not roles.intersection(UNGROUNDED), (device, terminal)


def isolated(job: Job) -> Rig:
    """The rig before a job, isolated; a battery worked on is switched off by its own cables."""
    off: dict[str, str] = {}
    for live in job.live:
        for name in live.at or (live.source,):
            states = kinds()[job.before.devices[name].kind].states
            for state in {"off", "open"}.intersection(states):
                off[name] = state

    def said(mode: Mode) -> Mode:
        kept = tuple(s for s in mode.settings if s.device not in off)
        more = tuple(Setting(name, state, mode.span) for name, state in off.items())
        return replace(mode, settings=(*kept, *more))

    modes = {name: said(mode) for name, mode in job.before.modes.items()}
    return replace(job.before, modes=modes)


# ---- the order ----------------------------------------------------------------------------------

MAIN = ('"Main" 15A', '"Main" 30A')
FEEDER = ("W2 14AWG", "W2 10AWG")
THICK = ("C2 3x14AWG", "C2 3x10AWG")
SWAPS = (
    MAIN,
    FEEDER,
    THICK,
    ('"Lamps" 15A', '"Lamps" 30A'),
    ("C1 3x10AWG", "C1 3x14AWG"),
    ("wire W9 8AWG 1m E.6 -> CH.1", "wire W9 8AWG 1m E.7 -> CH.2"),
    ("mode shore", "bond B1 8AWG 0.2m N.7 -> E.8\nmode shore"),
    (" bonded", ""),
    ("wire W8 8AWG 0.3m E.5 -> AP.PE\n", ""),
)


@settings(max_examples=60, deadline=None)
@given(st.sets(st.sampled_from(SWAPS), max_size=4), st.sets(st.sampled_from(SWAPS), max_size=4))
def test_an_order_of_single_jobs_is_found_where_there_is_one(
    one: Iterable[tuple[str, str]], other: Iterable[tuple[str, str]]
) -> None:
    """Held to every order there is, one after the other."""
    old, new = (changed(*sorted(swaps))[1] for swaps in (one, other))
    plan = hold(old, new)
    changes = compare(old, new)
    bundles = jobs_of(changes, old.panels)
    states = States(old, new, changes, bundles)
    orders = permutations(range(len(bundles)))
    possible = any(
        all(may_stop(order[:n], states) for n in range(1, len(order))) for order in orders
    )
    assert (len(ordered(states)) == len(bundles)) == possible
    assert len(plan.jobs) <= len(bundles)


def may_stop(done: tuple[int, ...], states: States) -> bool:
    needed = frozenset(done).issuperset(states.jobs[done[-1]].needs)
    return needed and not states.wrong(frozenset(done))


def names(plan: Plan) -> list[set[str]]:
    return [{change.name for change in job.changes} for job in plan.jobs]


def order(old: Rig, new: Rig) -> list[set[str]]:
    """What is done at each stop, before those are joined that are in the same place."""
    changes = compare(old, new)
    states = States(old, new, changes, jobs_of(changes, old.panels))
    taken = [stop.taken for stop in ordered(states)]
    return [{c.name for index in some for c in states.jobs[index].changes} for some in taken]


def compare_without(old: Rig, new: Rig, name: str) -> list[Change]:
    return [change for change in compare(old, new) if change.name != name]


def test_the_cable_is_made_thick_before_its_device_is_made_large() -> None:
    # NFPA 70 240.4(D)(3): 14 AWG copper at most 15 A.  The text has devices before conductors.
    old, new = (
        changed(MAIN, FEEDER)[1],
        changed(MAIN, FEEDER, ('"Lamps" 15A', '"Lamps" 30A'), THICK)[1],
    )
    first = compare(old, new)[0]
    assert first.name == "Q2"
    assert ("P02", "C2/1") in errors(apply(old, [first])) - errors(old) - errors(new)
    assert names(rework(old, new)) == [{"C2"}, {"Q2"}]
    assert names(rework(new, old)) == [{"Q2"}, {"C2"}]


def test_a_cable_is_replaced_before_the_device_that_protects_it_goes() -> None:
    # Without Q2, C2 of 14 AWG hangs on the main of 30 A.
    gone = (
        ('breaker Q2 "Lamps" 15A poles=1 breaks=10kA standard=UL489 ways=1 at=AP.2\n', ""),
        ("wire W2 10AWG 0.2m Q1.2 -> Q2.1\n", ""),
        ("C1 3x10AWG 10m Q2.2", "C1 3x10AWG 10m Q1.2"),
        THICK,
    )
    old, new = changed(MAIN, FEEDER)[1], changed(MAIN, FEEDER, *gone)[1]
    assert compare(old, new)[0].name == "Q2"
    assert ("P02", "C2/1") in errors(apply(old, compare_without(old, new, "C2"))) - errors(old)
    assert order(old, new) == [{"C2"}, {"Q2", "W2", "C1"}]
    # The cable's ends and the device's are in the same places, so it is one walk.
    assert names(rework(old, new)) == [{"C2", "Q2", "W2", "C1"}]


def test_a_bond_that_moves_is_moved_in_one_go() -> None:
    # Without either the neutral is joined nowhere (B01), with both in two places (B02).
    bond = ("mode shore", "bond B1 8AWG 0.2m N.7 -> E.8\nmode shore")
    loose = (" bonded", "")
    old, new = changed(bond, loose)[1], changed()[1]
    changes = compare(old, new)
    bundles = jobs_of(changes, old.panels)
    assert len(bundles) == 2
    assert all(States(old, new, changes, bundles).wrong(frozenset((n,))) for n in (0, 1))
    assert names(rework(old, new)) == [{"B1", "SHORE"}]


def test_too_many_jobs_are_still_a_plan() -> None:
    # Thirty lamps each on its own circuit, and a bond that cannot be moved alone: no order of
    # single jobs, and more states than are looked at.
    circuits = "".join(
        f"lamp L{n} 120V 5W\ncable D{n} 3x14AWG 1m Q2.2 N.2 E.2 -> L{n}.(L N PE)\n"
        for n in range(30)
    )
    old = rig(TEXT.replace(" bonded", "") + "bond B1 8AWG 0.2m N.7 -> E.8\n")
    new = rig(TEXT + circuits)
    plan = rework(old, new)
    work_through(plan)
    assert plan.tried <= MOST_TRIED + 50
    assert plan.changes and {"B1", "SHORE"} <= set().union(*names(plan))


def test_new_things_are_built_first_and_joined_then() -> None:
    new = rig(
        TEXT + 'panel BP "Second panel" ways=4 at=CABIN\n'
        'breaker Q9 "Outlets" 15A poles=1 gfci=5mA breaks=10kA standard=UL489 ways=1 at=BP.1\n'
        "bus N9 100A positions=4 at=BP\nsocket X9 15A at=CABIN\n"
        "cable D1 3x10AWG 4m Q1.2 N.4 E.4 -> Q9.1 N9.1 X9.PE\n"
        "wire D2 14AWG 1m Q9.2 -> X9.L\nwire D3 14AWG 1m N9.2 -> X9.N\n"
    )
    plan = rework(rig(TEXT), new)
    assert names(plan) == [{"BP", "Q9", "N9", "X9", "D2", "D3"}, {"D1"}]
    assert not plan.jobs[0].live and [live.source for live in plan.jobs[1].live] == ["SHORE"]
    assert "Q9" in plan.jobs[0].off


def test_what_is_fitted_into_a_live_panel_is_fitted_dead() -> None:
    old, new = changed(
        ("bus N ", 'breaker Q9 "Spare" 15A poles=1 breaks=10kA ways=1 at=AP.5\nbus N ')
    )
    (job,) = rework(old, new).jobs
    assert [live.source for live in job.live] == ["SHORE"]
    assert job.live[0].panels == ("AP",) and job.points


def test_capacitors_of_an_inverter_are_waited_for_where_it_is_no_source() -> None:
    # Off, or on shore power: its battery side is fed by nothing, and charged all the same.
    text = (
        'rig "Cart"\nrules nfpa70\nbattery GB 24V 100Ah fault=2kA\nfuse F1 100A 58V dc breaks=5kA\n'
        "inverter U1 120V 60Hz 1000W limit=15A bonds input=24V\nsocket X1 15A\n"
        "wire D1 2AWG 0.2m GB.+ -> F1.1\nwire D2 2AWG 1m F1.2 -> U1.+\n"
        "wire D3 2AWG 1m U1.- -> GB.-\ncable C1 3x12AWG 1m U1.(out-L out-N PE) -> X1.(L N PE)\n"
        "mode off { U1=off }\n"
    )
    (job,) = rework(rig(text), rig(text.replace("D2 2AWG", "D2 1AWG"))).jobs
    assert job.charged == ("U1",)
    (job,) = rework(rig(text), rig(text.replace("D3 2AWG", "D3 1AWG"))).jobs
    assert job.charged == ()


# ---- what is touched ----------------------------------------------------------------------------


def touched(*swaps: tuple[str, str]) -> Job:
    (job,) = hold(*changed(*swaps)).jobs
    return job


def ends(some: Iterable[tuple[object, object]]) -> list[str]:
    return [f"{conductor.name} {end.name}" for conductor, end in some]  # type: ignore[attr-defined]


def test_an_exchanged_breaker_has_its_conductors_off_and_on() -> None:
    job = touched(('Q2 "Lamps" 15A', 'Q2 "Lamps" 10A'))
    assert ends(job.touch.lift) == ends(job.touch.land) == ["C1/1 Q2.2", "W2 Q2.1"]


def test_a_moved_breaker_takes_its_conductors_with_it() -> None:
    job = touched(("at=AP.2", "at=AP.3"))
    assert ends(job.touch.lift) == ends(job.touch.land) == ["C1/1 Q2.2", "W2 Q2.1"]


def test_a_fuse_link_is_exchanged_with_its_ends_landed() -> None:
    swap = ('breaker Q2 "Lamps" 15A poles=1 breaks=10kA standard=UL489 ways=1 at=AP.2',
            'fuse Q2 "Lamps" {} breaks=10kA at=AP.2')  # fmt: skip
    old, new = (changed((swap[0], swap[1].format(a)))[1] for a in ("15A", "10A"))
    (job,) = hold(old, new).jobs
    assert not job.touch.lift and not job.touch.land and not job.touch.opened


def test_another_kind_of_device_is_taken_out_and_another_put_in() -> None:
    job = touched(('breaker Q2 "Lamps" 15A poles=1 breaks=10kA standard=UL489 ways=1 at=AP.2',
                   'fuse Q2 "Lamps" 15A breaks=10kA at=AP.2'))  # fmt: skip
    assert ends(job.touch.lift) == ends(job.touch.land) == ["C1/1 Q2.2", "W2 Q2.1"]


def test_swapped_cores_are_lifted_before_they_are_landed() -> None:
    job = touched(("E1.(L N PE) entries", "E1.(N L PE) entries"))
    assert ends(job.touch.lift) == ["C1/1 E1.L", "C1/2 E1.N"]
    assert ends(job.touch.land) == ["C1/1 E1.N", "C1/2 E1.L"]


def test_landings_swapped_between_conductors_are_one_job() -> None:
    job = touched(("E.5 -> AP.PE", "E.6 -> AP.PE"), ("1m E.6 -> CH.1", "1m E.5 -> CH.1"))
    assert ends(job.touch.lift) == ["W8 E.5", "W9 E.6"]
    assert ends(job.touch.land) == ["W8 E.6", "W9 E.5"]


def test_a_renamed_and_relanded_wire_is_lifted_where_it_lies() -> None:
    # The device's new name, and one end of its wire elsewhere.
    old, new = changed(("CH ", "CS "), ("E.6 -> CH.1", "E.7 -> CS.1"), ("wire W8", "wire W7"))
    plan = hold(old, new)
    assert ends(plan.jobs[0].touch.lift) == ["W9 E.6"]
    assert {change.verb for change in plan.paper} == {"renamed"}


def test_a_wire_written_the_other_way_round_is_no_work() -> None:
    plan = hold(*changed(("W9 8AWG 1m E.6 -> CH.1", "W9 8AWG 1m CH.1 -> E.6")))
    assert not plan.jobs


def test_a_removed_device_leaves_its_conductors_lifted() -> None:
    old, new = rig(TEXT), rig(TEXT + "stage LATER { \n remove E2\n}\n")
    (job,) = hold(old, new).jobs
    assert ends(job.touch.lift) == [f"C2/{n} E2.{t}" for n, t in enumerate(("L", "N", "PE"), 1)]
    assert not job.touch.land and not job.touch.pull


def test_what_was_planned_is_laid_and_what_is_called_removed_is_pulled() -> None:
    old, new = changed(("C2 3x14AWG 3m E1.(L N PE) -> E2.(L N PE)",
                        "C2 3x14AWG 3m E1.(L N PE) -> E2.(L N PE) status=planned"))  # fmt: skip
    (job,) = hold(new, old).jobs
    assert job.touch.lay == ("C2",) and len(job.touch.land) == 6
    (job,) = hold(old, new).jobs
    assert job.touch.pull == ("C2",) and not job.touch.land


def test_through_another_entry_only_the_ends_behind_it_come_off() -> None:
    job = touched(("E1.(L N PE) entries=K2", "E1.(L N PE) entries=K3"))
    assert job.touch.lead == ("C1",) and not job.touch.lay
    assert {end.device for _, end in job.touch.lift} == {"Q2", "N", "E"}
    assert {live.source for live in job.live} == {"SHORE"}


def test_a_shorter_cable_is_cut_back_and_a_longer_one_is_another() -> None:
    job = touched(("3x14AWG 3m", "3x14AWG 2m"))
    assert not job.touch.lay and {end.device for _, end in job.touch.land} == {"E2"}
    job = touched(("3x14AWG 3m", "3x14AWG 4m"))
    assert job.touch.lay == job.touch.pull == ("C2",) and len(job.touch.land) == 6


@pytest.mark.parametrize(
    "swap",
    [
        ("mode shore {", 'mode shore "At the site" {'),
        ("{ SHORE=on }", "{ SHORE=on Q2=open }"),
        ('"Reading lamp"', '"Lamp over the desk"'),
        ("600W holds", "600W uses=3h holds"),
        ('rig "Signal trailer"', 'rig "Signal trailer" revision=B'),
        ("mode shore", 'accept B01 on Q1 because "so"\nmode shore'),
        ("E2", "E3"),
        ("40W at", "40W status=unverified at"),
        ("600W holds=2", "600W holds=3"),
    ],
)
def test_words_modes_and_what_is_known_better_are_no_work(swap: tuple[str, str]) -> None:
    plan = hold(*changed(swap))
    assert plan.paper and not plan.jobs
    titles = [section.title for section in sections(plan)]
    assert "Nothing to do at the bench" in titles


@pytest.mark.parametrize(
    ("old", "new", "do"),
    [
        (" status=planned", "", "fit"),
        ("", " status=removed", "take out"),
        ("", " status=disabled", "put out of use"),
        (" status=disabled", "", "put into use"),
    ],
)
def test_the_state_of_a_device_is_work(old: str, new: str, do: str) -> None:
    before, after = (changed(("40W at", f"40W{status} at"))[1] for status in (old, new))
    lines = [line for section in sections(hold(before, after)) for line in section.lines]
    assert any(line.do == do and line.what.startswith("E2") for line in lines)


def test_nothing_is_no_plan() -> None:
    plan = hold(rig(TEXT), rig(TEXT))
    assert not plan.jobs and not plan.paper and all(map(on_paper, plan.changes))


def test_all_in_one_go_is_an_order_too() -> None:
    old, new = changed(('Main" 15A', 'Main" 30A'), ("W2 14AWG", "W2 10AWG"))
    changes = compare(old, new)
    states = States(old, new, changes, jobs_of(changes, old.panels))
    assert ordered(states)[-1].done == frozenset(range(len(states.jobs)))
