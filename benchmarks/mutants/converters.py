"""What joins the two systems of a correct rig: inverters, chargers, converters."""

from __future__ import annotations

from . import circuits, mains
from .batteries import Bank, fused
from .mains import Form
from .page import Bars, Page

# Per system volts: continuous W of an inverter behind a 100 A fuse.
WATTS = {12: 600, 24: 1200, 48: 2400}
PE = {"nfpa70": "6AWG", "abyc-e11": "6AWG", "iec60364": "16mm2"}


def _direct(page: Page, bank: Bank, name: str) -> None:
    """An inverter's leads, fused at the bar."""
    device = fused(page, bank.fit, 100, "inverter")
    page.link(page.on(bank.plus), f"{device}.1")
    page.wire(bank.fit.lead, 1, f"{device}.2", f"{name}.+")
    page.wire(bank.fit.lead, 1, page.on(bank.minus), f"{name}.-")


def _words(page: Page, form: Form, bank: Bank, more: str) -> str:
    watts = WATTS[bank.volts]
    volts = float(form.words.split("V")[0])
    limit = max(6, round(2 * watts / volts))
    kind = page.some(f"{watts}W", f"{watts}VA", f"{watts}W efficiency=90%")
    return (
        f'"Inverter" {form.words} {form.flag} {kind} limit={limit}A input={bank.volts}V'
        f" cutoff={0.85 * bank.volts:g}V {more} at=BOX"
    )


def apart(page: Page, form: Form, bank: Bank, mark: str) -> Bars:
    """An inverter with bars of its own; its earth bar is joined to no other yet."""
    name = page.name("UI")
    page.add(f"inverter {name} {_words(page, form, bank, page.some('bonds', 'bonded'))}")
    _direct(page, bank, name)
    to = mains.bars(page, form, mark)
    device = mains.main(page, form)
    into, out = mains.sides(form, device)
    target = mains.on_bars(page, to)
    past = [] if mains.both(form) else target[-1:]
    ends = mains.terminals(form, "out-", earth=False)
    sheath = mains.cores(form, form.feed, earth=False)
    page.cable(sheath, 1.2, f"{name}.{ends}", " ".join([*into, *past]))
    page.wire(PE[form.book], 1.2, f"{name}.PE", page.on(to.earth))
    for one, other in zip(out, target, strict=False):
        page.wire(form.feed, 0.2, one, other)
    page.setting(**{name: "invert"})
    return to


def passing(page: Page, form: Form, bank: Bank, shore: Bars, mark: str) -> Bars:
    """An inverter that passes the shore's bars on to bars of its own."""
    name = page.name("UI")
    more = f"transfer={form.amps}A {page.some('charge=20A', 'charge=20A takes=10A', '')} bonds"
    page.add(f"inverter {name} {_words(page, form, bank, more)}")
    _direct(page, bank, name)
    feeder = mains.main(page, form)
    into, out = mains.sides(form, feeder)
    for one, other in zip(mains.on_bars(page, shore), into, strict=False):
        page.wire(form.feed, 0.2, one, other)
    past = [] if mains.both(form) else [page.on(shore.neutral)]
    ends = mains.terminals(form, "in-", earth=False)
    sheath = mains.cores(form, form.feed, earth=False)
    page.cable(sheath, 1.2, " ".join([*out, *past]), f"{name}.{ends}")
    page.wire(PE[form.book], 1.2, f"{name}.PE", page.on(shore.earth))
    to = mains.bars(page, form, mark)
    device = mains.main(page, form)
    into, out = mains.sides(form, device)
    target = mains.on_bars(page, to)
    past = [] if mains.both(form) else target[-1:]
    ends = mains.terminals(form, "out-", earth=False)
    page.cable(sheath, 1.2, f"{name}.{ends}", " ".join([*into, *past]))
    for one, other in zip(out, target, strict=False):
        page.wire(form.feed, 0.2, one, other)
    for mode in page.modes.values():
        mode[name] = "pass"
    page.modes["away"] = {"SHORE": "off", name: "invert"}
    return to


def charger(page: Page, form: Form, bank: Bank, on: Bars) -> None:
    """A charger on one line, fused at the bar of direct current."""
    name = page.name("UC")
    class2 = page.chance(0.3)
    volts = f"{circuits.volts_to_neutral(form):g}V"
    hertz = f"frequency={form.words.split()[1]}"
    more = page.some("", "uses=4h", "efficiency=90%", "takes=5A", hertz)
    amps = 240 // bank.volts
    flag = "class2" if class2 else ""
    page.add(
        f'charger {name} "Charger {name}" {amps}A {bank.volts}V input={volts} {flag} {more} at=BOX'
    )
    line = page.some(*on.lines.values())
    guard = "" if on.guarded or form.book != "iec60364" else "A"
    ends = circuits.protected(
        page, form, on, [page.on(line), page.on(on.neutral)], guard, f"Charger {name}"
    )
    page.cable(f"2x{circuits.SIZES[form.book]}", 2, " ".join(ends), f"{name}.(L N)")
    if not class2:
        page.wire(bank.fit.branch, 2, page.on(on.earth), f"{name}.PE")
    device = fused(page, bank.fit, 30, "charger")
    page.link(page.on(bank.plus), f"{device}.1")
    page.wire(bank.fit.branch, 1, f"{device}.2", f"{name}.+")
    page.wire(bank.fit.branch, 1, page.on(bank.minus), f"{name}.-")


def lower(page: Page, bank: Bank) -> Bank:
    """A converter to a lower voltage, with bars of its own."""
    name, volts = page.name("U"), bank.volts // 2
    common = page.some("common", "common power=240W")
    page.add(
        f'dcdc {name} "Converter {name}" 20A {volts}V input={bank.volts}V {common} at=BOX'
    )
    device = fused(page, bank.fit, 30, "converter")
    page.link(page.on(bank.plus), f"{device}.1")
    page.wire(bank.fit.branch, 1, f"{device}.2", f"{name}.in+")
    page.wire(bank.fit.branch, 1, page.on(bank.minus), f"{name}.in-")
    plus, minus = page.bar("PL", "Lower bar", 100), page.bar("NL", "Lower negative bar", 100)
    page.wire(bank.fit.branch, 0.6, f"{name}.out+", page.on(plus))
    page.wire(bank.fit.branch, 0.6, f"{name}.out-", page.on(minus))
    return Bank(volts, plus, minus, plus, bank.fit)
