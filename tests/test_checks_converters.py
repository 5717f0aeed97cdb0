"""A converter's input at full output: one current, wherever it is told.

By hand: I = P / (U eta).  A 30 A DC-DC charger gives 30 A at 14.2 V (common practice, no published
source), at 90 % and 10.5 V: 30 x 14.2 / (0.9 x 10.5) = 45.1 A.
"""

from __future__ import annotations

from ferrule.checks.capacity.converters import full_amps
from ferrule.checks.capacity.demand import demand
from ferrule.checks.run import check_rigs
from ferrule.checks.solve import Drop, solution
from ferrule.checks.tracing.trace import ModeView, analyse
from ferrule.dsl.reader import read_text
from pytest import approx, mark

DCDC = """rig "Charger"
rules iec60364
battery GA "Starter" 12V 90Ah fault=2kA
battery GB "House" 12V 100Ah fault=2kA
dcdc    U2 "Charger" 12V 30A {states}
fuse    F1 "Starter side" 50A class=SF30 breaks=2kA dc
fuse    F2 "House side" 50A class=SF30 breaks=2kA dc
bus     NB "Minus bar" 100A positions=6
wire D1 16mm2 0.2m GA.+ -> F1.1
wire D2 16mm2 4m F1.2 -> U2.in+
wire D3 16mm2 0.5m U2.in- -> NB.1
wire D4 16mm2 0.5m GA.- -> NB.2
wire D5 16mm2 0.2m GB.+ -> F2.1
wire D6 16mm2 1m F2.2 -> U2.out+
wire D7 16mm2 1m U2.out- -> NB.3
wire D8 16mm2 0.5m GB.- -> NB.4
"""
INVERTER = """rig "Inverter"
rules iec60364
battery  GB "House" 12V 200Ah fault=4kA {battery}
inverter U1 "Inverter" 230V 50Hz 1800W input=12V separated {states}
fuse     F1 "Main" 250A class=T breaks=20kA dc
heater   E1 "Kettle" 230V 50Hz 1800W
wire D1 70mm2 0.2m GB.+ -> F1.1
wire D2 70mm2 1m F1.2 -> U1.+
wire D3 70mm2 1m U1.- -> GB.-
cable C1 3x2.5mm2 4m U1.(out-L out-N PE) -> E1.(L N PE)
"""


def only(text: str) -> ModeView:
    reading = read_text(text)
    assert not reading.problems, reading.problems
    (view,) = analyse(reading.rigs[0]).modes
    return view


def three(view: ModeView, device: str, item: str) -> tuple[float, float, float]:
    """The input current as the formula, the drop and the capacity have it, A."""
    drop = solution(view).drop(device)
    found = demand(view)
    feeder = view.feeders(device)[0]
    (point,) = (p for p in found.points if p.name == "F1")
    assert isinstance(drop, Drop) and drop.source == feeder
    return full_amps(view, view.live[device]) or 0.0, drop.amps, point.draws[item]


@mark.parametrize(
    ("states", "amps"),
    [
        ("minimum=10.5V", 30 * 14.2 / (0.9 * 10.5)),
        ("", 30 * 14.2 / (0.9 * 12)),
        ("minimum=11V efficiency=95%", 30 * 14.2 / (0.95 * 11)),
    ],
)
def test_a_charger_between_batteries(states: str, amps: float) -> None:
    assert three(only(DCDC.format(states=states)), "U2", "U2") == approx((amps,) * 3)


@mark.parametrize(
    ("states", "battery", "volts"),
    [("cutoff=10.5V", "", 10.5), ("", "cutoff=11V", 11.0), ("", "", 12.0)],
)
def test_an_inverter_at_the_load_it_is_made_for(states: str, battery: str, volts: float) -> None:
    view = only(INVERTER.format(states=states, battery=battery))
    assert three(view, "U1", "E1") == approx((1800 / (0.9 * volts),) * 3)


def test_the_fuse_is_held_to_the_current_at_the_least_voltage() -> None:
    # 45.1 A at 10.5 V on a 40 A fuse; 39.4 A at 12 V would pass.
    text = DCDC.replace('"Starter side" 50A', '"Starter side" 40A')
    rigs = [read_text(text.format(states=s)).rigs for s in ("minimum=10.5V", "")]
    told = [[f.rule for f in check_rigs(r).findings if f.rule == "P22"] for r in rigs]
    assert told == [["P22"], []]
