"""Conductors in parallel: alike and thick ones count together, others do not.

NFPA 70 310.10(G) (from memory): 1/0 AWG or thicker, alike in length, size and ends.
"""

from __future__ import annotations

import pytest
from ferrule.checks.books.book import Figure
from ferrule.checks.run import check_rigs
from ferrule.checks.tracing.parallel import groups, together, unlike
from ferrule.checks.tracing.trace import Stage, analyse
from ferrule.dsl.reader import read_text

RIG = """rig "Sluice keeper's boat"
rules nfpa70
battery GB "Bank"         12V 400Ah fault=4kA holds=2
fuse    F1 "Fuse"         {fuse} 125V dc class=T breaks=20kA holds=2
bus     PB "Positive bar" 400A positions=4
fuse    F2 "Winch fuse"   100A 125V dc class=T breaks=20kA
motor   M1 "Winch"        dc 12V 60A
earth   CH "Hull"         positions=1
wire D1 {lead} 0.1m GB.+ -> F1.1
wire D2 {size} 0.5m F1.2 -> PB.1
wire D3 {size} {length} F1.2 -> PB.2
link D5 PB.3 -> F2.1
wire D6 2AWG 1.5m F2.2 -> M1.+
wire D7 {lead} 1.5m GB.- -> M1.-
bond B1 2AWG 0.5m GB.- -> CH.1
"""


def stage(size: str = "1/0AWG", length: str = "0.5m", fuse: str = "300A") -> Stage:
    text = RIG.format(size=size, length=length, fuse=fuse, lead="4/0AWG")
    reading = read_text(text)
    assert not reading.problems, reading.problems
    return analyse(reading.rigs[0])


def carried(whole: Stage) -> tuple[float, float]:
    """What one of the pair may be protected at, and the pair."""
    conductor = whole.rig.conductors["D2"]
    alone = whole.limit(conductor)
    pair = together(whole, conductor, alone)
    assert isinstance(alone, Figure) and isinstance(pair, Figure)
    return alone.value, pair.value


def test_alike_ones_carry_together() -> None:
    alone, pair = carried(stage())
    assert pair == 2 * alone


@pytest.mark.parametrize(
    ("size", "length", "why"),
    [("1/0AWG", "1m", "lengths"), ("2AWG", "0.5m", "1/0")],
)
def test_others_do_not(size: str, length: str, why: str) -> None:
    whole = stage(size, length)
    alone, pair = carried(whole)
    assert pair == alone
    assert why in unlike(groups(whole)["D2"])


def test_a_conductor_by_itself_is_in_no_group() -> None:
    assert "D1" not in groups(stage()) and "D6" not in groups(stage())


@pytest.mark.parametrize(("fuse", "undersized"), [("300A", False), ("400A", True)])
def test_the_pair_is_held_against_its_device_as_one(fuse: str, undersized: bool) -> None:
    """1/0 AWG at 75 degC: 150 A (NFPA 70 Table 310.16), two of them 300 A."""
    whole = stage(fuse=fuse)
    found = {(f.rule, name) for f in check_rigs([whole.rig]).findings for name in f.on}
    assert (("P02", "D2") in found) is undersized
    assert ("D06", "D2") not in found
