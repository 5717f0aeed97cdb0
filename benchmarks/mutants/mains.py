"""Alternating-current systems of correct rigs: what feeds the bars that the circuits hang on."""

from __future__ import annotations

from dataclasses import dataclass

from .page import Bars, Page

ENDS = {1: ("L",), 2: ("L1", "L2"), 3: ("L1", "L2", "L3")}
IN = ("1", "3", "5")
OUT = ("2", "4", "6")


@dataclass(frozen=True)
class Form:
    """A system's figures: words of its supply, lines, and what is fit for its current."""

    book: str
    words: str
    flag: str
    lines: int
    amps: int
    cord: str
    feed: str
    breaker: str
    earth: str


UL, IEC = "breaks=10kA standard=UL489", "curve=C breaks=6kA standard=IEC60898"
FORMS = {
    "nfpa 120": Form("nfpa70", "120V 60Hz", "", 1, 30, "10AWG", "10AWG", UL, "8AWG"),
    "nfpa 240": Form("nfpa70", "240V 60Hz", "split", 2, 50, "6AWG", "6AWG", UL, "6AWG"),
    "nfpa 208": Form("nfpa70", "208V 60Hz", "three", 3, 30, "8AWG", "8AWG", UL, "8AWG"),
    "iec 230": Form("iec60364", "230V 50Hz", "", 1, 16, "2.5mm2", "4mm2", IEC, "6mm2"),
    "iec 400": Form("iec60364", "400V 50Hz", "three", 3, 32, "6mm2", "6mm2", IEC, "10mm2"),
    "abyc 120": Form("abyc-e11", "120V 60Hz", "", 1, 30, "10AWG", "10AWG", UL, "6AWG"),
    "abyc 240": Form("abyc-e11", "240V 60Hz", "split", 2, 50, "6AWG", "6AWG", UL, "4AWG"),
    "abyc 230": Form("abyc-e11", "230V 50Hz", "", 1, 16, "4mm2", "4mm2", IEC, "16mm2"),
}


def terminals(form: Form, prefix: str = "", earth: bool = True) -> str:
    """A supply's terminals in brackets."""
    names = [f"{prefix}{n}" for n in (*ENDS[form.lines], "N")]
    return "(" + " ".join([*names, *(["PE"] if earth else [])]) + ")"


def cores(form: Form, size: str, earth: bool = True) -> str:
    return f"{form.lines + 1 + earth}x{size}"


def both(form: Form) -> bool:
    """Whether the system's devices open the neutral too."""
    return form.book != "nfpa70"


def bars(page: Page, form: Form, mark: str, guarded: str = "") -> Bars:
    """The bars of a system, by a letter of their own."""
    amps = 125 if form.amps > 32 else 100
    lines = {
        role: page.bar(f"{mark}{role}", f"{mark} line bar {role}", amps)
        for role in ENDS[form.lines]
    }
    neutral = page.bar(f"{mark}N", f"{mark} neutral bar", amps)
    earth = page.bar(f"{mark}E", f"{mark} earth bar", amps)
    return Bars(lines, neutral, earth, form.feed, guarded, both(form))


def source(page: Page, form: Form, name: str, kind: str, words: str) -> str:
    """A supply or generator with its inlet; the inlet's name."""
    inlet, volts = f"X{name}", page.some("", "450V")
    page.add(
        f'{kind} {name} "Source {name}" {form.words} {form.amps}A {form.flag} {words}',
        f'inlet {inlet} "Inlet {name}" {form.amps}A {volts} {form.flag} at=BOX',
    )
    ends = terminals(form)
    plug = ("plug",) if page.chance(0.3) else ()
    sheath, metres = cores(form, form.cord), page.length(9)
    start = f"{name}.{ends}"
    if kind == "supply" and page.chance(0.3):
        start = " ".join([*_post(page, form, name), f"{name}.PE"])
    page.cable(sheath, metres, start, f"{inlet}.{ends}", "cord", *plug)
    return inlet


def _post(page: Page, form: Form, name: str) -> list[str]:
    """A device of the site's own between its supply and the cord; where the cord begins."""
    device = page.name("QS")
    count = f"{form.lines}N" if form.lines != 2 else "2"
    words = f"{form.amps}A poles={count} site {form.breaker}"
    page.add(f'breaker {device} "On the post {device}" {words}')
    into = [f"{device}.{t}" for t in IN[: form.lines]]
    out = [f"{device}.{t}" for t in OUT[: form.lines]]
    if form.lines == 2:
        out.append(f"{name}.N")
    else:
        into.append(f"{device}.N1")
        out.append(f"{device}.N2")
    for role, end in zip((*ENDS[form.lines], "N"), into, strict=False):
        page.wire(form.cord, 0.5, f"{name}.{role}", end)
    return out


def main(page: Page, form: Form, residual: str = "") -> str:
    """A main device; its name."""
    name = page.name("QM")
    # Of a two-line device with a neutral pole there is none: a three-pole one does it.
    count = ("3" if form.lines == 2 else f"{form.lines}N") if both(form) else str(form.lines)
    page.add(
        f'breaker {name} "Main {name}" {form.amps}A poles={count} {residual} {form.breaker}'
        f" {page.housed(int(count[0]) + ('N' in count))}"
    )
    return name


def sides(form: Form, device: str) -> tuple[list[str], list[str]]:
    """A device's terminals towards the source and towards the bars, the neutral last if it has."""
    ends = [[f"{device}.{t}" for t in names[: form.lines]] for names in (IN, OUT)]
    if both(form):
        ends[0].append(f"{device}.{'5' if form.lines == 2 else 'N1'}")
        ends[1].append(f"{device}.{'6' if form.lines == 2 else 'N2'}")
    return ends[0], ends[1]


def shore(
    page: Page, form: Form, target: list[str], earth: str, residual: str | None = None
) -> str:
    """A supply, its inlet and its main, whose other side lands on ``target`` (lines, neutral)."""
    residual = _residual(page, form) if residual is None else residual
    inlet = source(page, form, "SHORE", "supply", f"fault={page.some('2kA', '3kA')} bonded")
    behind(page, form, inlet, main(page, form, residual), target, earth)
    return residual


def _type(residual: str) -> str:
    """The type of a residual-current device by its words; of one without, what it is least."""
    return residual.rpartition("type=")[2] if "type=" in residual else residual and "A"


def _residual(page: Page, form: Form) -> str:
    """Of a main: what its book asks for."""
    if form.book == "abyc-e11":
        return "gfci=30mA" if "UL489" in form.breaker else "rcd=30mA type=A"
    if form.book == "iec60364" and page.chance(0.5):
        return f"rcd=30mA type={page.some('A', 'F', 'B')}"
    return ""


def behind(
    page: Page, form: Form, inlet: str, device: str, target: list[str], earth: str
) -> None:
    """Inlet to main device to target; a neutral that it does not open goes past it."""
    into, out = sides(form, device)
    past = [] if both(form) else target[-1:]
    ends = " ".join([*into, *past, page.on(earth)])
    page.cable(cores(form, form.feed), 1.2, f"{inlet}.{terminals(form)}", ends)
    for one, other in zip(out, target, strict=False):
        page.wire(form.feed, 0.2, one, other)


def on_bars(page: Page, to: Bars) -> list[str]:
    """A position on each line bar, and one on the neutral's."""
    return [page.on(bar) for bar in (*to.lines.values(), to.neutral)]


def changeover(page: Page, form: Form, to: Bars) -> str:
    """Shore or generator by a changeover; what guards the shore main."""
    count = {1: "2", 2: "3", 3: "4"}[form.lines]
    stands = page.housed(2 * form.lines)
    page.add(f'selector QC "Changeover" {max(40, form.amps)}A poles={count} {stands}')
    ends = [
        [f"QC.{side}-{n}" for n in (*ENDS[form.lines], "N")] for side in ("a", "b", "out")
    ]
    residual = _residual(page, form)
    shore(page, form, ends[0], to.earth, residual)
    words = f"fault={10 * form.amps}A bonded at=BOX"
    inlet = source(page, form, "GEN", "generator", words)
    behind(page, form, inlet, main(page, form, residual), ends[1], to.earth)
    for one, other in zip(ends[2], on_bars(page, to), strict=True):
        page.wire(form.feed, 0.3, one, other)
    page.modes["site"] = {"SHORE": "on", "GEN": "off", "XGEN": "off", "QC": "a"}
    page.modes["gen"] = {"SHORE": "off", "XSHORE": "off", "GEN": "on", "QC": "b"}
    if page.chance(0.3):
        page.modes["dead"] = {"SHORE": "on", "GEN": "on", "QC": "off"}
    return _type(residual)


def single(page: Page, form: Form, to: Bars) -> str:
    """Shore alone."""
    page.modes["site"] = {"SHORE": "on"}
    return _type(shore(page, form, on_bars(page, to), to.earth))


def aboard(page: Page, form: Form, to: Bars) -> str:
    """A generator alone, wired to its main without an inlet."""
    words = f"fault={10 * form.amps}A bonded at=BOX"
    page.add(f'generator GEN "Generator" {form.words} {form.amps}A {form.flag} {words}')
    residual = _residual(page, form)
    device = main(page, form, residual)
    into, out = sides(form, device)
    target = on_bars(page, to)
    past = [] if both(form) else target[-1:]
    ends = " ".join([*into, *past, page.on(to.earth)])
    page.cable(cores(form, form.feed), 1.5, f"GEN.{terminals(form)}", ends)
    for one, other in zip(out, target, strict=False):
        page.wire(form.feed, 0.2, one, other)
    page.modes["run"] = {"GEN": "on"}
    return _type(residual)


def isolated(page: Page, form: Form, to: Bars) -> str:
    """Shore through a transformer whose secondary is bonded at it."""
    volts = form.words.split()[0]
    residual = _residual(page, form)
    inlet = source(page, form, "SHORE", "supply", "fault=2kA bonded")
    device = main(page, form, residual)
    page.add(
        f'transformer TX "Isolation transformer" 3600VA {volts} input={volts} fault=600A bonded'
        " at=CAB"
    )
    into, out = sides(form, device)
    past = [] if both(form) else ["TX.in-N"]
    page.cable(cores(form, form.feed, earth=False), 1.2, f"{inlet}.{terminals(form, earth=False)}",
               " ".join([*into, *past]))
    for one, other in zip(out, ("TX.in-L", "TX.in-N"), strict=False):
        page.wire(form.feed, 1.5, one, other)
    second = main(page, form)
    into, out = sides(form, second)
    target = on_bars(page, to)
    past = [] if both(form) else target[-1:]
    page.cable(cores(form, form.feed), 0.8, "TX.(out-L out-N PE)",
               " ".join([*into, *past, page.on(to.earth)]))
    for one, other in zip(out, target, strict=False):
        page.wire(form.feed, 0.2, one, other)
    page.modes["dock"] = {"SHORE": "on"}
    return ""


KINDS = {"single": single, "changeover": changeover, "aboard": aboard, "isolated": isolated}
