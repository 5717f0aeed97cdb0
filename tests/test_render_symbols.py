"""Symbols: both sets complete, alike in size, and drawn as the standards describe them."""

from __future__ import annotations

import subprocess
import sys

import pytest
from ferrule.dsl.kinds import kinds
from ferrule.render.canvas import Arc, Box, Poly, Stencil, Text
from ferrule.render.symbols import NAMES, SETS, symbol

STANDARDS = tuple(SETS)
SWITCHING = ("breaker", "rcd", "switch", "contactor", "fuse")
EVERY = [
    (standard, name, option)
    for standard in STANDARDS
    for full in NAMES
    for name, _, option in [full.partition("+")]
    if option != "direct"
]


def drawn(standard: str, name: str, option: str = "") -> Stencil:
    return symbol(name, standard, **({option: True} if option else {}))


def lines(stencil: Stencil) -> list[Poly]:
    return [mark for mark in stencil.marks if isinstance(mark, Poly)]


def arcs(stencil: Stencil) -> list[Arc]:
    return [mark for mark in stencil.marks if isinstance(mark, Arc)]


def letters(stencil: Stencil) -> str:
    return "".join(mark.text for mark in stencil.marks if isinstance(mark, Text))


@pytest.mark.parametrize("standard", STANDARDS)
def test_every_kind_has_its_symbol(standard: str) -> None:
    for kind in kinds().values():
        assert symbol(kind.symbol, standard).marks


@pytest.mark.parametrize(("standard", "name", "option"), EVERY)
def test_power_flows_down_the_axis(standard: str, name: str, option: str) -> None:
    """A layout joins ``top`` and ``bottom``: on the axis, at the edges of the box."""
    stencil = drawn(standard, name, option)
    assert stencil.anchors["top"][0] == stencil.anchors["bottom"][0] == 0
    assert stencil.height >= 0
    # The line of the drawing ends on the anchor: nothing of the symbol reaches past it by 0.6 mm.
    assert stencil.box.top > stencil.anchors["top"][1] - 0.6 or name in ("bus", "joint", "solar")
    assert stencil.box.bottom < stencil.anchors["bottom"][1] + 1.5


@pytest.mark.parametrize("name", SWITCHING)
def test_switching_devices_are_of_one_height(name: str) -> None:
    assert {drawn(standard, name).height for standard in STANDARDS} == {14.0}


@pytest.mark.parametrize(("standard", "name", "option"), EVERY)
def test_letters_lie_inside_and_are_legible(standard: str, name: str, option: str) -> None:
    stencil = drawn(standard, name, option)
    for text in (mark for mark in stencil.marks if isinstance(mark, Text)):
        assert text.size >= 1.8  # ISO 3098, least height
        assert stencil.box.holds(text.box)


def crosses_at(stencil: Stencil, x: float, y: float) -> bool:
    """Whether two oblique strokes have their middle at a point."""
    middles = [
        ((line.points[0][0] + line.points[1][0]) / 2, (line.points[0][1] + line.points[1][1]) / 2)
        for line in lines(stencil)
        if len(line.points) == 2 and line.points[0][0] != line.points[1][0]
    ]
    return sum(middle == pytest.approx((x, y)) for middle in middles) == 2


def test_iec_circuit_breaker_has_a_cross_at_the_fixed_contact_and_a_switch_none() -> None:
    """IEC 60617: the cross qualifies a make contact as a circuit-breaker."""
    assert crosses_at(drawn("iec60617", "breaker"), 0, 4)
    assert not crosses_at(drawn("iec60617", "switch"), 0, 4)


def test_iec_switch_disconnector_has_a_bar_and_a_circle() -> None:
    """IEC 60617: bar, isolates; circle, switches loads."""
    stencil = drawn("iec60617", "switch", "isolates")
    assert any(arc.whole for arc in arcs(stencil))
    assert any(p == ((-1.3, 4.0), (1.3, 4.0)) for p in (line.points for line in lines(stencil)))


def test_iec_contacts_are_open() -> None:
    """IEC 60617: contacts are shown without power; the blade is hinged below, its tip free."""
    for name in ("breaker", "switch", "contactor", "rcd"):
        blades = [
            line.points
            for line in lines(drawn("iec60617", name))
            if len(line.points) == 2 and line.points[1] == (0.0, 10.0) and line.points[0][0] < -2
        ]
        assert len(blades) == 1


@pytest.mark.parametrize("standard", STANDARDS)
def test_residual_current_shows_a_ring_round_the_line(standard: str) -> None:
    def rings(stencil: Stencil) -> list[Arc]:
        return [arc for arc in arcs(stencil) if arc.whole and arc.rx > 2 * arc.ry and arc.x == 0]

    assert len(rings(drawn(standard, "breaker", "residual"))) == 1
    assert len(rings(drawn(standard, "rcd"))) == 1
    assert not rings(drawn(standard, "breaker"))


def test_ieee_breaker_is_an_arc_and_has_no_cross() -> None:
    """IEEE 315: an arc bridging two contacts."""
    stencil = drawn("ieee315", "breaker")
    assert [arc.whole for arc in arcs(stencil)] == [False]
    assert not crosses_at(stencil, 0, 4)


@pytest.mark.parametrize("standard", STANDARDS)
def test_battery_long_line_is_positive(standard: str) -> None:
    """IEC 60617 and IEEE 315: the longer, thinner line is the positive pole."""
    stencil = drawn(standard, "battery")
    plates = sorted(
        (line.points[0][1], line.points[1][0] - line.points[0][0])
        for line in lines(stencil)
        if line.points[0][0] == -line.points[1][0] != 0 and line.points[0][1] >= 4
    )
    assert stencil.anchors["plus"] == (0, 0)
    assert plates[0][1] > plates[1][1]


def test_iec_heater_is_divided_into_four() -> None:
    assert sum(len(line.points) == 2 for line in lines(drawn("iec60617", "heater"))) == 3


def test_transformer_windings() -> None:
    """IEC 60617, one line: two circles that overlap.  IEEE 315: loops that face each other."""
    upper, lower = arcs(drawn("iec60617", "transformer"))
    assert upper.y + upper.ry > lower.y - lower.ry
    assert [arc.whole for arc in arcs(drawn("ieee315", "transformer"))] == [False] * 6


def test_converters_say_what_goes_in_and_what_comes_out() -> None:
    assert letters(drawn("ieee315", "inverter")) == "DCAC"
    assert letters(drawn("ieee315", "charger")) == "ACDC"
    waves = {
        name: [arc.y for arc in arcs(drawn("iec60617", name))]
        for name in ("inverter", "charger", "dcdc")
    }
    assert min(waves["inverter"]) > 6 > max(waves["charger"])
    assert waves["dcdc"] == []


def test_strokes_tell_neutral_and_earth_from_line() -> None:
    """IEC 60617, architectural diagrams: a dot on the neutral's stroke, a bar on the earth's."""

    def count(*roles: str) -> tuple[int, int]:
        stencil = symbol("strokes", roles=roles)
        return len(lines(stencil)), len(arcs(stencil))

    assert count("L") == (1, 0)
    assert count("N") == (1, 1)
    assert count("PE") == (2, 0)
    assert count("L1", "L2", "L3", "N", "PE") == (6, 1)
    assert count("+", "-") == (2 + 3, 0)
    assert symbol("strokes", roles=("+", "-")).name == "strokes+direct"


def test_bus_is_as_long_as_asked() -> None:
    bus = symbol("bus", length=120.0)
    assert bus.anchors["right"] == (120.0, 0)
    assert bus.box.holds(Box(0, 0, 120, 0))


def test_drawing_symbols_loads_no_matplotlib_and_does_not_bar_it() -> None:
    code = (
        "import sys; import ferrule.render.symbols as s; s.symbol('fuse');"
        "assert 'matplotlib' not in sys.modules, 'loaded';"
        "import matplotlib.figure, schemdraw.backends.mpl"
    )
    subprocess.run([sys.executable, "-c", code], check=True, env={"PATH": "", "MPLBACKEND": "agg"})
