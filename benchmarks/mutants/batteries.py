"""Direct current in correct rigs: banks, what charges them, converters, circuits on their bars."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from .page import Page


@dataclass(frozen=True)
class Fit:
    """What a book's rigs are built with: leads, fuses, the tie to the chassis."""

    bank: str
    lead: str
    branch: str
    small: str
    fuse: str
    breaker: str
    tie: str


FITS = {
    "nfpa70": Fit("2/0AWG", "1AWG", "8AWG", "12AWG", "125V dc class=T breaks=20kA",
                  "80V dc breaks=10kA standard=UL489", "2/0AWG"),
    "abyc-e11": Fit("2/0AWG", "4AWG", "8AWG", "12AWG", "125V dc class=T breaks=20kA",
                    "80V dc breaks=10kA", "2AWG"),
    "iec60364": Fit("70mm2", "35mm2", "10mm2", "2.5mm2", "80V dc class=gG breaks=25kA",
                    "80V dc curve=C breaks=10kA standard=IEC60947-2", "25mm2"),
}  # fmt: skip


@dataclass
class Bank:
    """A battery system's bars: what charges lands on ``plus``, what uses on ``load``."""

    volts: int
    plus: str
    minus: str
    load: str
    fit: Fit


def bank(page: Page, volts: int) -> Bank:
    """A bank of one of four makes, its fuse and switch, its bars, the bond to the chassis."""
    fit = FITS[page.book]
    plus, minus = page.bar("PB", "Positive bar", 600), page.bar("NB", "Negative bar", 600)
    make = page.random.choice((_alone, _series, _strings, _internal, _chosen))
    make(page, volts, fit, plus, minus)
    page.add(f"bond B1 {fit.tie} 0.5m {page.on(minus)} -> CH.2")
    load = plus
    if page.chance(0.3):
        load = page.bar("LB", "Load bar", 200)
        kind = page.some("contactor", "switch")
        page.add(f'{kind} KM "Load disconnect" 100A {page.some("undervoltage", "")} dc at=BOX')
        fuse = fused(page, fit, 80, "Load bar")
        page.link(page.on(plus), f"{fuse}.1")
        page.wire(fit.lead, 0.5, f"{fuse}.2", "KM.1")
        page.wire(fit.lead, 0.4, "KM.2", page.on(load))
    return Bank(volts, plus, minus, load, fit)


def _battery(page: Page, volts: int, more: str = "", plain: bool = False) -> str:
    name = page.name("GB")
    words = page.some(
        *("chemistry=AGM", "chemistry=LFP usable=80%", "efficiency=95%", "", "charge=200A"),
        *(f"cutoff={0.85 * volts:g}V", "discharge=300A"),
    )
    make = f"{volts}V 200Ah fault=3kA holds=2 {'' if plain else words} {more}"
    page.add(f'battery {name} "Battery {name}" {make} at=BOX')
    return name


def fused(page: Page, fit: Fit, amps: int, label: str) -> str:
    name = page.name("F")
    page.add(f'fuse {name} "Fuse, {label} {name}" {amps}A {fit.fuse} at=BOX')
    return name


def _alone(page: Page, volts: int, fit: Fit, plus: str, minus: str) -> None:
    _string(page, [_battery(page, volts)], fit, plus, minus)


def _series(page: Page, volts: int, fit: Fit, plus: str, minus: str) -> None:
    halves = [_battery(page, volts // 2, "chemistry=AGM", plain=True) for _ in range(2)]
    _string(page, halves, fit, plus, minus)


def _strings(page: Page, volts: int, fit: Fit, plus: str, minus: str) -> None:
    """Two alike in parallel, each with its fuse."""
    words = "chemistry=AGM"
    for _ in range(2):
        name = page.name("GB")
        page.add(f'battery {name} "Battery {name}" {volts}V 100Ah fault=2kA {words} at=BOX')
        _string(page, [name], fit, plus, minus)


def _chosen(page: Page, volts: int, fit: Fit, plus: str, minus: str) -> None:
    """Two batteries, one of them at a time, by a changeover of one pole."""
    name = page.name("QX")
    page.add(f'selector {name} "Battery changeover" 300A poles=1 {page.some("", "100V")} at=BOX')
    for side in ("a", "b"):
        battery, fuse = page.name("GB"), fused(page, fit, 160 if "gG" in fit.fuse else 150, "bank")
        page.add(f'battery {battery} "Battery {battery}" {volts}V 100Ah fault=3kA at=BOX')
        page.wire(fit.bank, 0.15, f"{battery}.+", f"{fuse}.1")
        page.wire(fit.bank, 0.4, f"{fuse}.2", f"{name}.{side}")
        page.wire(fit.bank, 0.5, f"{battery}.-", page.on(minus))
    page.wire(fit.bank, 0.4, f"{name}.out", page.on(plus))
    page.off(name, "b")
    if page.chance(0.5):
        list(page.modes.values())[-1]["GB1"] = "off"


def _internal(page: Page, volts: int, fit: Fit, plus: str, minus: str) -> None:
    _string(page, [_battery(page, volts, "internal")], fit, plus, minus)


def _string(page: Page, batteries: list[str], fit: Fit, plus: str, minus: str) -> None:
    fuse = fused(page, fit, 160 if "gG" in fit.fuse else 150, "bank")
    page.wire(fit.bank, 0.15, f"{batteries[0]}.+", f"{fuse}.1")
    for one, other in pairwise(batteries):
        page.wire(fit.bank, 0.2, f"{one}.-", f"{other}.+")
    end = f"{fuse}.2"
    if page.chance(0.6):
        name = page.name("QB")
        page.add(f'switch {name} "Battery switch {name}" 300A {page.some("", "100V")} dc at=BOX')
        page.wire(fit.bank, 0.4, end, f"{name}.1")
        end = f"{name}.2"
    page.wire(fit.bank, 0.4, end, page.on(plus))
    page.wire(fit.bank, 0.5, f"{batteries[-1]}.-", page.on(minus))


def charged(page: Page, to: Bank) -> None:
    """One more thing that charges the bank."""
    page.random.choice((_engine, _sun, _vehicle, _outside))(page, to)


def _into(page: Page, to: Bank, amps: int, plus: str, minus: str) -> None:
    """A charging lead, fused at the bar."""
    fuse = fused(page, to.fit, amps, "charging")
    page.link(page.on(to.plus), f"{fuse}.1")
    size = to.fit.branch if amps < 50 else to.fit.lead
    page.wire(size, 1.2, f"{fuse}.2", plus)
    page.wire(size, 1.2, page.on(to.minus), minus)


def _engine(page: Page, to: Bank) -> None:
    """An alternator, or a generator of direct current."""
    if page.chance(0.6):
        name = page.name("ALT")
        uses = page.some("", "uses=2h")
        page.add(f'alternator {name} "Alternator" {to.volts}V 50A {uses} at=CAB')
        page.off(name, "off")
    else:
        name = page.name("DG")
        uses = page.some("", "uses=1h")
        page.add(f'generator {name} "Generator" {to.volts}V 50A fault=200A dc {uses} at=BOX')
    _into(page, to, 70, f"{name}.+", f"{name}.-")


def _sun(page: Page, to: Bank) -> None:
    """A solar generator and its regulator, with an isolator of two poles or none."""
    solar, name = page.name("PV"), page.name("U")
    high = 2 * to.volts
    common, uses = page.some("common", ""), page.some("", "uses=4h")
    page.add(
        f'solar {solar} "Roof panels {solar}" {high}V 8A {8 * high}W {uses} at=CAB',
        f'dcdc {name} "Regulator {name}" 20A {to.volts}V input={high}V {common}'
        f' {page.some("", "efficiency=95%", "power=400W")} at=BOX',
    )
    if page.chance(0.5):
        page.off(solar, "off")
        page.modes[f"less{len(page.modes)}"] = {**list(page.modes.values())[-1], name: "off"}
    ends = f"{solar}.(+ -)"
    kind, switch = page.some("switch", "contactor"), page.name("QPV")
    page.add(f'{kind} {switch} "Roof isolator {switch}" 32A 150V poles=2 dc at=BOX')
    page.cable(f"2x{to.fit.branch}", page.length(), ends, f"{switch}.(1 3)")
    ends = f"{switch}.(2 4)"
    page.cable(f"2x{to.fit.branch}", 1, ends, f"{name}.(in+ in-)")
    _into(page, to, 30, f"{name}.out+", f"{name}.out-")


def _vehicle(page: Page, to: Bank) -> None:
    """A starting battery of the vehicle's own and a converter from it."""
    battery, name = page.name("GV"), page.name("U")
    fuse = fused(page, to.fit, 60, "converter")
    page.add(
        f'battery {battery} "Starting battery {battery}" 12V 90Ah fault=2.5kA holds=3 at=CAB',
        f'dcdc {name} "Charger {name}" {240 // to.volts}A {to.volts}V input=12V'
        f' {page.some("", "minimum=10.8V")} at=BOX',
        f"bond {page.name('BV')} {to.fit.tie} 0.4m {battery}.- -> {page.stud()}",
    )
    page.wire(to.fit.lead, 0.15, f"{battery}.+", f"{fuse}.1")
    page.wire(to.fit.lead, 2, f"{fuse}.2", f"{name}.in+")
    page.wire(to.fit.lead, 2, f"{battery}.-", f"{name}.in-")
    _into(page, to, 30, f"{name}.out+", f"{name}.out-")


def _outside(page: Page, to: Bank) -> None:
    """A supply of direct current that plugs in, and a converter."""
    supply, inlet, name = page.name("DS"), page.name("XD"), page.name("U")
    fuse = fused(page, to.fit, 20, "inlet")
    uses = page.some("", "uses=3h")
    page.add(
        f'supply {supply} "Towing vehicle {supply}" 12V 20A fault=500A dc bonded {uses}',
        f'inlet {inlet} "Inlet {inlet}" 20A dc {page.some("", "24V", "pattern=round")} at=BOX',
        f'dcdc {name} "Charger {name}" {120 // to.volts}A {to.volts}V input=12V at=BOX',
    )
    page.cable(f"2x{to.fit.branch}", 2, f"{supply}.(+ -)", f"{inlet}.(+ -)", "cord", "plug")
    page.wire(to.fit.branch, 0.5, f"{inlet}.+", f"{fuse}.1")
    page.wire(to.fit.branch, 0.5, f"{fuse}.2", f"{name}.in+")
    page.wire(to.fit.branch, 0.8, f"{inlet}.-", f"{name}.in-")
    _into(page, to, 30, f"{name}.out+", f"{name}.out-")
