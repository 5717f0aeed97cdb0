"""The greatest fault of single-core wiring: to whatever return stands in the same place.

IEC 60364-4-43 434.1 asks for the prospective current at every point; with no return beside the
line the worst is what a slipped conductor can reach there.  By hand from IEC 60228 (25 mm2 0.727,
6 mm2 3.08, 2.5 mm2 7.41 ohm/km at 20 degC), and against ngspice, which shorts the terminal to every
bar, post and stud of its place in turn.
"""

from __future__ import annotations

import spice
from ferrule.checks.solve import Case, Fault, To, solution
from ferrule.checks.tracing.trace import ModeView, analyse
from ferrule.dsl.model import Rig
from ferrule.dsl.reader import read_text
from pytest import approx, mark
from test_solve_ngspice import needs_ngspice

BOARD = """rig "Board"
rules iec60364
place BOX "Battery box"
place CAB "Cabin"
place AFT "Aft locker"
battery GB "Battery"   12.8V 100Ah fault=2kA {gb}
fuse    F1 "Main fuse" 80A class=T breaks=20kA dc {gb}
fuse    F2 "Pump fuse" 30A class=ATO voltage=32V breaks=2kA dc {f2}
bus     PB "Plus bar"  150A positions=4 {f2}
bus     NB "Minus bar" 150A positions=4 {nb}
earth   CH "Chassis"   positions=1 {ch}
load    U1 "Pump"      12V 120W dc {u1}
wire D1 25mm2 0.2m GB.+  -> F1.1
wire D2 25mm2 0.7m F1.2  -> PB.1
wire D3 6mm2  0.2m PB.2  -> F2.1
wire D4 6mm2  1m   F2.2  -> U1.+
wire D5 6mm2  1m   U1.-  -> NB.1
wire D6 25mm2 0.5m NB.2  -> GB.-
bond K1 6mm2  0.5m NB.3  -> CH.1
"""
HERE, CAB, AFT, NONE = "at=BOX", "at=CAB", "at=AFT", ""
SOURCE, THICK, THIN = 6.4, 0.727, 3.08  # mohm, mohm/m
LINE = SOURCE + 0.9 * THICK + 0.2 * THIN  # to F2.1
MAINS = """rig "Single cores"
rules iec60364
supply  SITE "Site"      230V 50Hz 32A fault=6kA bonded
inlet   XS   "Inlet"     32A
breaker QM   "Main"      32A poles=2 curve=C rcd=30mA type=A breaks=10kA standard=IEC61009
bus     LB   "Line bar"  63A positions=4
bus     NB   "Neutral"   63A positions=4
bus     EB   "Earth bar" 63A positions=5
breaker Q1   "Boiler"    16A poles=1 curve=B breaks=6kA standard=IEC60898
earth   CH   "Chassis"   positions=1
heater  E1   "Boiler"    230V 50Hz 2kW
cable W1 3x6mm2 3m   SITE.(L N PE) -> XS.(L N PE) cord
cable W2 3x6mm2 0.5m XS.(L N PE)   -> QM.(1 3) EB.1
wire  W3 6mm2   0.2m QM.2 -> LB.1
wire  W4 6mm2   0.2m QM.4 -> NB.1
wire  W5 6mm2   0.3m LB.2 -> Q1.1
wire  W6 2.5mm2 4m   Q1.2 -> E1.L
wire  W7 2.5mm2 4m   E1.N -> NB.2
wire  W8 2.5mm2 4m   E1.PE -> EB.2
wire  W9 6mm2   0.5m EB.5 -> CH.1
"""


def board(gb: str, f2: str, nb: str, ch: str, u1: str) -> Rig:
    (rig,) = read_text(BOARD.format(gb=gb, f2=f2, nb=nb, ch=ch, u1=u1)).rigs
    return rig


def told(rig: Rig, device: str, terminal: str, to: To, case: Case) -> Fault:
    (view,) = analyse(rig).modes
    fault = solution(view).fault(device, terminal, to, case)
    assert isinstance(fault, Fault), fault
    return fault


@mark.parametrize(
    ("places", "return_mohm", "joined"),
    [
        ((NONE,) * 5, 0.0, "GB.-"),  # no place is told: the post may be at hand
        ((HERE, CAB, CAB, AFT, AFT), 0.5 * THICK, "NB.1"),
        ((HERE, CAB, AFT, CAB, AFT), 0.5 * THICK + 0.5 * THIN, "CH.1"),
        ((HERE, CAB, AFT, AFT, AFT), 0.5 * THICK + THIN, "U1.-"),  # along the conductors
    ],
)
def test_by_hand(places: tuple[str, ...], return_mohm: float, joined: str) -> None:
    fault = told(board(*places), "F2", "1", "neutral", "max")
    assert fault.amps == approx(12.8e3 / (LINE + return_mohm), rel=3e-4)  # contacts: 1 uohm each
    assert fault.path == ("F2.1", joined)


def test_the_least_stays_that_of_the_far_end() -> None:
    # Hot, 70 degC: x 1.2 (IEC 60228 Annex B); there and back through the pump's own leads.
    fault = told(board(*(NONE,) * 5), "U1", "+", "neutral", "min")
    loop = SOURCE + 1.2 * (0.9 * THICK + 1.2 * THIN + THIN + 0.5 * THICK)
    assert fault.amps == approx(12.8e3 / loop, rel=3e-4) and fault.path == ("U1.+", "U1.-")


def test_what_a_cord_parts_is_not_beside_it() -> None:
    # The same board on a trailer's cord: the battery's post stays in the vehicle.
    text = BOARD.format(gb="", f2="", nb="", ch="", u1="")
    text = text.replace("F1.2  -> PB.1", "F1.2  -> PB.1 cord").replace("GB.-\n", "GB.- cord\n")
    (rig,) = read_text(text).rigs
    assert told(rig, "F2", "1", "neutral", "max").path == ("F2.1", "NB.1")


def test_the_loop_is_by_its_own_protective_conductor() -> None:
    # Whatever stands beside it: the boiler's loop is measured through W8, 4 m of 2.5 mm2.
    (rig,) = read_text(
        MAINS.replace("positions=1\n", "positions=1 at=ROOM\n", 1)
        .replace("230V 50Hz 2kW", "230V 50Hz 2kW at=ROOM")
        .replace("rules iec60364", 'rules iec60364\nplace ROOM "Room"')
    ).rigs
    (view,) = analyse(rig).modes
    loop = solution(view).loop("E1", "L", "max")
    assert isinstance(loop, Fault) and loop.path == ("E1.L", "E1.PE")
    most = told(rig, "E1", "L", "earth", "max")
    assert most.path == ("E1.L", "CH.1") and most.amps > 1.2 * loop.amps


def brute(view: ModeView, rig: Rig, at: tuple[str, str], to: str, hz: float) -> float:
    """The largest current, A, that ngspice has into any return of the rig on this side of a cord.

    Everything but the site's own terminals stands in one place in these rigs.
    """
    plan = spice.Plan(rig, rig.modes[view.name])
    roles = {"neutral": ("N", "-"), "earth": ("PE",)}[to]
    ends = [
        (d.name, t.name)
        for d in plan.devices.values()
        for t in d.terminals
        if d.kind not in ("supply", "inlet")
        if view.role(d.name, t.name) in roles or (hz == 0 and view.role(d.name, t.name) == "PE")
    ]
    pairs = [(spice.node(*at), spice.node(*end)) for end in ends]
    (answers,) = spice.run([(spice.deck(plan, hz, "max"), hz, pairs)])
    return max(abs(volts) / 1e-6 for answer in answers for volts in answer.values())


@mark.parametrize(
    ("text", "hz", "at", "to"),
    [
        (BOARD.format(gb="", f2="", nb="", ch="", u1=""), 0.0, ("F2", "1"), "neutral"),
        (BOARD.format(gb="", f2="", nb="", ch="", u1=""), 0.0, ("F2", "2"), "neutral"),
        (MAINS, 50.0, ("Q1", "1"), "neutral"),
        (MAINS, 50.0, ("Q1", "2"), "neutral"),
        (MAINS, 50.0, ("Q1", "1"), "earth"),
    ],
)
def test_against_ngspice(text: str, hz: float, at: tuple[str, str], to: To) -> None:
    needs_ngspice()
    (rig,) = read_text(text).rigs
    (view,) = analyse(rig).modes
    fault = solution(view).fault(*at, to, "max")
    assert isinstance(fault, Fault)
    assert fault.amps == approx(brute(view, rig, at, to, hz), rel=1e-3)
