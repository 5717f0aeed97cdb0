"""Capacity of whole rigs: against sums made from the statements alone, and published ones."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import chain, combinations, product

import pytest
from ferrule.checks.capacity.demand import demand
from ferrule.checks.capacity.limits import Capacity, capacity
from ferrule.checks.tracing.trace import ModeView, analyse
from ferrule.dsl.reader import read_text
from hypothesis import given, settings
from hypothesis import strategies as st

Sets = set[frozenset[str]]
VOLTS = 230.0


def views(text: str) -> dict[str, ModeView]:
    reading = read_text(text)
    assert not reading.problems, [problem.message for problem in reading.problems]
    return {view.name: view for view in analyse(reading.rigs[-1]).modes}


# ---- random rigs against their own statements ---------------------------------------------------


@dataclass
class Written:
    """A rig as it is written down: what each limit gives, and what each load takes."""

    book: str
    supply: float
    branches: list[float]
    inverter: float
    loads: list[tuple[str, int, float, int, bool]] = field(default_factory=list)

    def text(self) -> str:
        """A supply, a main, branches; the last of them feeds an inverter's output bar instead."""
        many = len(self.branches)
        most = len(self.loads) + many + 2
        lines = [
            'rig "Trial"', f"rules {self.book}",
            f"supply SUP {VOLTS:g}V 50Hz {self.supply:g}A bonded", f"bus LB positions={most}",
            f"bus NB positions={most}", f"bus NI positions={most}",
            "wire WL 16mm2 1m SUP.L -> LB.1", "wire WN 16mm2 1m SUP.N -> NB.1",
            "battery GB 12V 100Ah",
            f"inverter U1 {VOLTS:g}V 50Hz {self.inverter:g}W input=12V efficiency=80%",
            "wire D1 50mm2 1m GB.+ -> U1.+", "wire D2 50mm2 1m GB.- -> U1.-",
            "wire WI 16mm2 1m U1.out-N -> NI.1", "bus OUT positions=20",
            "wire WO 16mm2 1m U1.out-L -> OUT.1",
        ]  # fmt: skip
        for n, rating in enumerate(self.branches):
            feed = f"LB.{n + 2}" if n < many - 1 else "OUT.2"
            lines += [
                f"breaker Q{n} {rating:g}A poles=1", f"bus B{n} positions={most}",
                f"wire F{n} 16mm2 1m {feed} -> Q{n}.1", f"wire G{n} 16mm2 1m Q{n}.2 -> B{n}.1",
            ]  # fmt: skip
        for k, (name, branch, watts, share, continuous) in enumerate(self.loads):
            neutral = "NB" if branch < many - 1 else "NI"
            lines += [
                f"load {name} {VOLTS:g}V {watts:g}W class2 demand={share}%"
                + (" continuous" if continuous else ""),
                f"wire L{name} 2.5mm2 1m B{branch}.{k + 2} -> {name}.L",
                f"wire N{name} 2.5mm2 1m {neutral}.{k + 2} -> {name}.N",
            ]
        return "\n".join(lines) + "\n"

    def fits(self, on: frozenset[str]) -> bool:
        """Whether loads may run together: every limit held against its own sum."""
        last = len(self.branches) - 1
        factor = 1.25 if self.book == "nfpa70" else 1.0
        rows = [row for row in self.loads if row[0] in on]

        def amps(branches: list[int]) -> float:
            return sum(
                watts / VOLTS * share / 100 * (factor if continuous else 1.0)
                for _, branch, watts, share, continuous in rows
                if branch in branches
            )

        held = [(self.supply, amps(list(range(last))))]
        held += [(rating, amps([n])) for n, rating in enumerate(self.branches)]
        watts = sum(row[2] * row[3] / 100 for row in rows if row[1] == last)
        held.append((self.inverter, watts))
        return all(total <= gives + 1e-6 for gives, total in held)


@st.composite
def rigs(draw: st.DrawFn) -> Written:
    rig = Written(
        draw(st.sampled_from(["iec60364", "nfpa70"])),
        draw(st.sampled_from([10.0, 16.0, 32.0])),
        draw(st.lists(st.sampled_from([6.0, 10.0, 16.0]), min_size=2, max_size=4)),
        draw(st.sampled_from([800.0, 1500.0, 3000.0])),
    )
    for k in range(draw(st.integers(1, 12))):
        rig.loads.append(
            (
                f"E{k}",
                draw(st.integers(0, len(rig.branches) - 1)),
                draw(st.sampled_from([60.0, 400.0, 900.0, 900.0, 1500.0, 2300.0])),
                draw(st.sampled_from([50, 100, 100])),
                draw(st.booleans()),
            )
        )
    return rig


def by_hand(rig: Written) -> Sets:
    names = [row[0] for row in rig.loads]
    subsets = (combinations(names, n) for n in range(len(names) + 1))
    good = {s for s in map(frozenset, chain.from_iterable(subsets)) if rig.fits(s)}
    return {s for s in good if all(s | {name} not in good for name in names if name not in s)}


def largest(found: Capacity) -> Sets:
    every: Sets = {frozenset(found.together.free)}
    for group in found.together.groups:
        own: Sets = set()
        for counts in group.sets:
            picks = (combinations(names, n) for names, n in zip(group.alike, counts, strict=True))
            own |= {frozenset(chain.from_iterable(pick)) for pick in product(*picks)}
        every = {a | b for a in every for b in own}
    return every


@settings(max_examples=120, deadline=None)
@given(rigs())
def test_sets_of_a_rig_are_those_of_its_statements(rig: Written) -> None:
    found = capacity(views(rig.text())["all"])
    assert largest(found) == by_hand(rig)


@settings(max_examples=60, deadline=None)
@given(rigs(), st.data())
def test_a_rig_with_a_load_less_allows_no_less(rig: Written, data: st.DataObject) -> None:
    gone = data.draw(st.sampled_from(rig.loads))
    before = largest(capacity(views(rig.text())["all"]))
    rig.loads.remove(gone)
    after = largest(capacity(views(rig.text())["all"]))
    assert all(any(old - {gone[0]} <= new for new in after) for old in before)


@settings(max_examples=60, deadline=None)
@given(rigs())
def test_what_an_inverter_takes_is_what_its_loads_take_and_its_losses(rig: Written) -> None:
    """Energy: direct current times battery voltage is the loads' power over the efficiency."""
    view = views(rig.text())["all"]
    last = len(rig.branches) - 1
    watts = sum(row[2] for row in rig.loads if row[1] == last)
    node = view.wiring.node("U1", "+")
    taken = [draw for draw in demand(view).draws if draw.node == node]
    assert sum(draw.amps * 12.0 for draw in taken) == pytest.approx(watts / 0.8)
    assert sum(draw.watts for draw in taken) == pytest.approx(watts / 0.8)


# ---- published and worked sums ------------------------------------------------------------------

SHORE = """
rig "Sum"
rules {book}
supply SUP {volts}V 50Hz {amps}A bonded
bus LB positions=12
bus NB positions=12
wire W1 10mm2 1m SUP.L -> LB.1
wire W2 10mm2 1m SUP.N -> NB.1
battery GB {battery} capacity=200Ah
bus PB positions=8
wire D1 50mm2 1m GB.+ -> PB.1
bus NG positions=8
wire D2 50mm2 1m GB.- -> NG.1
"""


def shore(book: str, volts: int, amps: int, battery: str, *more: str) -> str:
    return SHORE.format(book=book, volts=volts, amps=amps, battery=battery) + "\n".join(more) + "\n"


def load(name: str, items: str, number: int) -> str:
    return (
        f"load {name} {items} class2\nwire L{name} 4mm2 1m LB.{number} -> {name}.L\n"
        f"wire N{name} 4mm2 1m NB.{number} -> {name}.N"
    )


def charger(items: str, number: int) -> str:
    return (
        f"charger U9 {items} class2\nwire LU 4mm2 1m LB.{number} -> U9.L\n"
        f"wire NU 4mm2 1m NB.{number} -> U9.N\nwire PU 25mm2 1m PB.2 -> U9.+\n"
        "wire MU 25mm2 1m NG.2 -> U9.-"
    )


def connected(text: str, point: str) -> float:
    found = capacity(next(iter(views(text).values())))
    return next(row.connected for row in found.rows if row.point.name == point)


def test_a_truck_on_30_amperes_with_its_charger() -> None:
    """Air conditioner 12.5 + heater 12.0 + charge 16.3 A (120 A x 14.2 V / 0.87 / 120 V) = 40.8 A.

    A constructed example of the trade (12 V truck on a 120 V, 30 A supply), charging efficiency
    87 % printed there.
    """
    text = shore(
        "nfpa70", 120, 30, "12.8V",
        load("M1", "120V 12.5A", 3), load("H1", "120V 1440W", 4),
        charger("120A 12.8V efficiency=87%", 5),
    )  # fmt: skip
    view = views(text)["all"]
    taken = {draw.item: draw.amps for draw in demand(view).draws}
    assert taken["U9"] == pytest.approx(16.3, abs=0.05)
    assert connected(text, "SUP") == pytest.approx(40.8, abs=0.05)


def test_a_van_on_a_site_of_ten_amperes() -> None:
    """Heater 3.5 + charger of 40 A 2.9 + kettle 4.3 A = 10.7 A on 10 A (constructed example, 230 V
    van); the charger's input there is from its plate, and ours from 85 %."""
    text = shore(
        "iec60364", 230, 10, "12.8V",
        load("E1", "230V 800W", 3), load("E2", "230V 1000W", 4), charger("40A 12.8V", 5),
    )  # fmt: skip
    assert connected(text, "SUP") == pytest.approx(10.7, abs=0.05)
    found = capacity(views(text)["all"])
    assert largest(found) == {frozenset(s) for s in (("E1", "E2"), ("E1", "U9"), ("E2", "U9"))}


def test_twelve_ways_of_a_narrowboat() -> None:
    """Lights 2.25, 2.25, 3, USB 8, two pumps 15 at start, three sockets 10, refrigerator 5,
    lighter 10, headlight 0.7 A: 91.2 A.

    The sum of the twelve ways that a canal magazine prints (parts 3 and 4).
    """
    ways = (2.25, 2.25, 3, 8, 15, 15, 10, 10, 10, 5, 10, 0.7)
    text = ['rig "Boat"', "rules iec60364", "battery GB 12V 400Ah discharge=200A",
            "bus PB positions=20", "bus NB positions=20", "wire D1 50mm2 1m GB.+ -> PB.1",
            "wire D2 50mm2 1m GB.- -> NB.1"]  # fmt: skip
    for k, amps in enumerate(ways, 2):
        text += [f"load E{k} dc 12V {amps}A", f"cable C{k} 2x4mm2 1m PB.{k} NB.{k} -> E{k}.(+ -)"]
    assert connected("\n".join(text), "GB") == pytest.approx(91.2)


@pytest.mark.parametrize(
    ("watts", "percent", "cutoff", "amps"),
    [(3000, 88, 12.0, 284), (1800, 90, 12.0, 167), (2400, 92, 24.0, 109)],
)
def test_direct_current_of_inverters(watts: int, percent: int, cutoff: float, amps: float) -> None:
    """3000 / (0.88 x 12.0) = 284 A, 1800 / (0.9 x 12) = 167 A, 2400 / (0.92 x 24) = 109 A.

    Printed in the trade's constructed examples of a truck, a van and a 12 m craft.
    """
    text = f"""
rig "Inverter"
rules iec60364
battery GB {cutoff:g}V 200Ah
inverter U1 230V 50Hz {watts}W efficiency={percent}% cutoff={cutoff:g}V
wire D1 95mm2 1m GB.+ -> U1.+
wire D2 95mm2 1m GB.- -> U1.-
load E1 230V {watts}W class2
wire W1 4mm2 1m U1.out-L -> E1.L
wire W2 4mm2 1m U1.out-N -> E1.N
"""
    view = views(text)["all"]
    node = view.wiring.node("U1", "+")
    (taken,) = [draw.amps for draw in demand(view).draws if draw.node == node]
    assert taken == pytest.approx(amps, abs=0.6)


def test_supplies_of_north_american_practice_give_their_power() -> None:
    """15, 20 and 30 A at 120 V are 1800, 2400 and 3600 W (NEMA 5-15, 5-20, TT-30)."""
    for amps, watts in ((15, 1800), (20, 2400), (30, 3600)):
        at = shore("iec60364", 120, amps, "12V", load("E1", f"120V {watts}W", 3))
        above = shore("iec60364", 120, amps, "12V", load("E1", f"120V {watts + 1}W", 3))
        assert capacity(views(at)["all"]).together.never == ()
        assert capacity(views(above)["all"]).together.never == ("E1",)


def test_a_continuous_load_counts_a_quarter_more_under_nfpa70() -> None:
    """24 A continuous is what a 30 A supply gives (80 %; NFPA 70 210.20(A))."""
    for watts, never in ((2880, ()), (2892, ("E1",))):
        text = shore("nfpa70", 120, 30, "12V", load("E1", f"120V {watts}W continuous", 3))
        assert capacity(views(text)["all"]).together.never == never


def test_three_lines_share_a_three_phase_load() -> None:
    """I = P / (sqrt(3) U): 15 kW at 400 V is 21.65 A on each line."""
    text = """
rig "Three"
rules iec60364
supply SUP 400V 50Hz 32A three bonded
motor M1 three 400V 50Hz 15kW
cable C1 5x6mm2 1m SUP.(L1 L2 L3 N PE) -> M1.(L1 L2 L3 N PE)
"""
    found = capacity(views(text)["all"])
    rows = [row for row in found.rows if row.point.name == "SUP"]
    assert [row.point.role for row in rows] == ["L1", "L2", "L3"]
    assert [row.connected for row in rows] == pytest.approx([21.65] * 3, abs=0.005)


# ---- batteries ----------------------------------------------------------------------------------

BANK = """
rig "Bank"
rules iec60364
battery GB 12.8V 200Ah {battery}
bus PB positions=6
bus NB positions=6
wire D1 50mm2 1m GB.+ -> PB.1
wire D2 50mm2 1m GB.- -> NB.1
lamp E1 dc 12.8V 64W uses=5h
cable C1 2x4mm2 1m PB.2 NB.2 -> E1.(+ -)
load E2 dc 12.8V 192W {second}
cable C2 2x4mm2 1m PB.3 NB.3 -> E2.(+ -)
alternator ALT 12.8V 40A {engine}
cable C3 2x16mm2 1m PB.4 NB.4 -> ALT.(+ -)
mode rest { ALT=off }
mode run {}
"""


def bank(mode: str, battery: str = "", second: str = "", engine: str = "") -> Capacity:
    text = BANK.replace("{battery}", battery).replace("{second}", second)
    return capacity(views(text.replace("{engine}", engine))[mode])


def test_a_bank_lasts_what_it_holds_over_what_is_taken() -> None:
    """12.8 V x 200 Ah x 80 % = 2048 Wh; 256 W take it in 8 h, 320 Wh a day in 6.4 days."""
    (life,) = bank("rest", "usable=80%").lives
    assert life.usable_wh == pytest.approx(2048)
    assert life.all_hours == pytest.approx(8.0)
    assert life.use_wh == pytest.approx(320)
    assert life.days == pytest.approx(6.4)
    assert life.silent == ("E2",)


def test_demand_counts_in_how_long_a_bank_lasts() -> None:
    """Half of 192 W for 10 h a day, and 64 W for 5 h: 960 + 320 Wh a day."""
    (life,) = bank("rest", "usable=50%", "demand=50% uses=10h").lives
    assert life.all_w == pytest.approx(160)
    assert life.use_wh == pytest.approx(1280)
    assert life.days == pytest.approx(1.0)


def test_charging_takes_the_full_current_and_then_a_tail() -> None:
    """200 Ah of lead, 50 % used: 60 Ah at 40 A and 40 Ah at a quarter of it, over 85 %.

    (60 / 40 + 40 / 10) / 0.85 = 6.47 h.
    """
    (life,) = bank("run", "usable=50%").lives
    (charge,) = life.charges
    assert charge.hours == pytest.approx(5.5 / 0.85)


def test_charging_stays_within_what_the_bank_takes() -> None:
    """`charge=20A` with lossless storage: 200 Ah of lithium, 80 % used: 140 / 20 + 20 / 10 h."""
    (life,) = bank("run", "usable=80% charge=20A efficiency=100% chemistry=LFP").lives
    assert life.charges[0].amps == 20
    assert life.charges[0].hours == pytest.approx(140 / 20 + 20 / 10)


def test_a_day_balances_where_hours_are_stated() -> None:
    """40 A for 2 h at 12.8 V, all of it stored: 1024 Wh; 320 Wh are used."""
    (life,) = bank("run", "efficiency=100%", engine="uses=2h").lives
    assert life.balance_wh == pytest.approx(1024 - 320)
    (silent,) = bank("run").lives
    assert silent.balance_wh is None


def test_batteries_in_series_and_in_parallel_hold_the_same() -> None:
    """Two of 12 V 100 Ah: 24 V 100 Ah in series, 12 V 200 Ah side by side; `discharge=` too."""
    series = """
rig "Series"
rules iec60364
battery G1 12V 100Ah discharge=50A
battery G2 12V 100Ah discharge=50A
wire D1 50mm2 1m G1.+ -> G2.-
load E1 dc 24V 24W
wire D2 50mm2 1m G2.+ -> E1.+
wire D3 50mm2 1m G1.- -> E1.-
"""
    beside = series.replace(
        "wire D1 50mm2 1m G1.+ -> G2.-", "link K1 G1.+ -> G2.+\nlink K2 G1.- -> G2.-"
    )
    for text, volts, amp_hours, most in ((series, 24, 100, 50), (beside, 12, 200, 100)):
        (life,) = capacity(views(text)["all"]).lives
        assert (life.bank.volts, life.bank.amp_hours) == (volts, amp_hours)
        assert life.bank.most("discharge") == most
        assert life.usable_wh == pytest.approx(1200)
