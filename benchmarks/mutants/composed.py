"""Correct rigs put together by chance: a book, a system of mains, circuits on its bars."""

from __future__ import annotations

from random import Random

from . import batteries, circuits, converters, low_circuits, mains
from .batteries import Bank
from .dress import DRESSES
from .page import Bars, Page
from .statements import Text


def composed(count: int, random: Random) -> str:
    """A rig with so many final circuits, or a few more: mains, direct current, or both; some of it
    said in other words."""
    text = Text(_plain(count, random))
    for name in random.sample(sorted(DRESSES), random.choice((0, 1, 2))):
        DRESSES[name](text, random)
    return text.text()


def _plain(count: int, random: Random) -> str:
    name = random.choice(sorted(mains.FORMS))
    form = mains.FORMS[name]
    page = Page(form.book, random)
    page.head += [
        f'rig "Composed rig, {name}"',
        f"rules {form.book}",
        'place BOX "Box"',
        'place CAB "Cabin"',
        'earth CH "Chassis studs" positions=8 at=BOX',
    ]
    what = random.choice(("mains", "low", "both", "both"))
    if what == "mains":
        bars = _mains(page, form, random.choice(_kinds(form)))
        _circuits(page, form, bars, count)
    elif what == "low":
        _low(page, _bank(page), count)
    else:
        random.choice((_beside, _beside, _passing, _alone))(page, form, count)
    return page.text()


def _kinds(form: mains.Form) -> list[str]:
    return [k for k in sorted(mains.KINDS) if form.lines == 1 or k != "isolated"]


def _mains(page: Page, form: mains.Form, kind: str) -> Bars:
    bars = mains.bars(page, form, "A")
    if page.chance(0.5):
        page.boxed()
    if page.made == "metal":
        page.wire(form.earth, 0.3, page.on(bars.earth), "AP.PE")
    bars.guarded = mains.KINDS[kind](page, form, bars)
    page.wire(form.earth, 1, page.on(bars.earth), "CH.1")
    return bars


def _circuits(page: Page, form: mains.Form, bars: Bars, count: int) -> None:
    for _ in range(max(1, count)):
        circuits.circuit(page, form, bars)


def _bank(page: Page) -> Bank:
    bank = batteries.bank(page, page.random.choice((12, 24, 48)))
    for _ in range(page.random.choice((0, 1, 1, 2)) if "GB2" not in str(page.body) else 1):
        batteries.charged(page, bank)
    return bank


def _low(page: Page, bank: Bank, count: int) -> None:
    for _ in range(max(1, count)):
        low_circuits.circuit(page, bank)
    if bank.volts > 12 and page.chance(0.3):
        low_circuits.circuit(page, converters.lower(page, bank))


def _beside(page: Page, form: mains.Form, count: int) -> None:
    """Mains and a battery that it may charge, and an inverter with bars of its own perhaps."""
    bars = _mains(page, form, page.random.choice(_kinds(form)))
    _circuits(page, form, bars, count // 2)
    bank = _bank(page)
    if page.chance(0.6):
        converters.charger(page, form, bank, bars)
    if page.chance(0.4) and form.lines == 1:
        own = converters.apart(page, form, bank, "B")
        page.wire(form.earth, 1, page.on(own.earth), page.on(bars.earth))
        _circuits(page, form, own, count // 3)
    _low(page, bank, count // 2)


def _passing(page: Page, form: mains.Form, count: int) -> None:
    """Shore passed on by an inverter, circuits on the bars before and behind it."""
    if form.book == "iec60364":
        # There each circuit, and the inverter as well, asks for 30 mA: two in series.
        return _beside(page, form, count)
    if form.lines == 3:
        form = mains.FORMS["nfpa 120"]
    bars = _mains(page, form, "single")
    _circuits(page, form, bars, count // 3)
    bank = _bank(page)
    behind = converters.passing(page, form, bank, bars, "B")
    behind.guarded = bars.guarded
    page.wire(form.earth, 1, page.on(behind.earth), page.on(bars.earth))
    _circuits(page, form, behind, count // 2)
    if page.chance(0.5):
        _low(page, bank, 1)


def _alone(page: Page, form: mains.Form, count: int) -> None:
    """An inverter alone, or two of them."""
    if form.lines == 3:
        form = mains.FORMS["iec 230" if form.book == "iec60364" else "nfpa 120"]
    page.modes["away"] = {}
    bank = _bank(page)
    first = converters.apart(page, form, bank, "A")
    page.wire(form.earth, 1, page.on(first.earth), "CH.1")
    _circuits(page, form, first, count // 2)
    if page.chance(0.3):
        second = converters.apart(page, form, bank, "B")
        page.wire(form.earth, 1, page.on(second.earth), page.on(first.earth))
        _circuits(page, form, second, count // 3)
