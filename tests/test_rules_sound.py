"""Sound rigs that a rule once took for faulty, each with why it is sound."""

from __future__ import annotations

from ferrule.checks.run import check_rigs
from ferrule.dsl.reader import read_text
from pytest import mark

# A generator of 60 A ahead of a B 16: 3.75 times its rating, which may take it half a minute.  That
# is no adiabatic heating (IEC 60364-4-43 434.5.2: up to 5 s): 2.5 mm2 bears what a B 16 lets pass,
# because 16 A <= 24 A and 1.45 x 16 A <= 1.45 x 24 A (433.1).
WEAK_GENERATOR = """rig "Beekeeper's extractor"
rules iec60364
generator GEN "Generator" 230V 50Hz 16A fault=60A bonded
breaker   Q1  "Extractor" 16A poles=2 curve=B rcd=30mA type=A breaks=6kA standard=IEC61009
bus       EB  "Earth bar" 63A positions=4
earth     CH  "Chassis"   positions=1
heater    E1  "Uncapper"  230V 50Hz 2kW
cable W1 2x2.5mm2 1m   GEN.(L N)     -> Q1.(1 3)
wire  W2 4mm2     1m   GEN.PE        -> EB.1
cable C1 3x2.5mm2 3m   Q1.(2 4) EB.2 -> E1.(L N PE)
wire  W3 4mm2     0.5m EB.4          -> CH.1
"""
# Everything within 200 mm of the battery's post along the conductors (ISO 13297:2020 12.1), past a
# bar: 0.1 m of lead and 0.1 m to each fuse.  The bar carries 60 A at most: its fuses see to it.
BAR_AT_THE_POST = """rig "Post bar"
rules iec60364
battery GB "Battery"   12V 100Ah fault=2kA
bus     PB "Post bar"  100A positions=4
bus     NB "Minus bar" 100A positions=6
fuse    F1 "Pump"      30A class=SF30 breaks=4kA dc
fuse    F2 "Fan"       30A class=SF30 breaks=4kA dc
load    U1 "Pump"      12V 120W dc
load    U2 "Fan"       12V 120W dc
earth   CH "Hull"      positions=1
wire D1 16mm2 0.1m GB.+ -> PB.1
wire D2 10mm2 0.1m PB.2 -> F1.1
wire D3 10mm2 0.1m PB.3 -> F2.1
wire D4 10mm2 1m   F1.2 -> U1.+
wire D5 10mm2 1m   F2.2 -> U2.+
wire D6 10mm2 1m   U1.- -> NB.1
wire D7 10mm2 1m   U2.- -> NB.2
wire D8 16mm2 0.6m NB.3 -> GB.-
bond K1 16mm2 0.5m NB.5 -> CH.1
"""


@mark.parametrize("text", [WEAK_GENERATOR, BAR_AT_THE_POST], ids=["weak generator", "post bar"])
def test_nothing_is_told_of_it(text: str) -> None:
    reading = read_text(text)
    assert not reading.problems, reading.problems
    assert [(f.rule, f.on, f.message) for f in check_rigs(reading.rigs).findings] == []


def test_one_lead_too_long_is_told_by_itself() -> None:
    """Of the two leads to the bar's fuses one is 3 m: that one, and not the lead they share."""
    rigs = read_text(BAR_AT_THE_POST.replace("D2 10mm2 0.1m", "D2 10mm2 3m")).rigs
    assert [(f.rule, f.on[0]) for f in check_rigs(rigs).findings] == [("P01", "D2")]
