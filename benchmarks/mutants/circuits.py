"""Final circuits of correct rigs, alternating current: device, what stands between, what it feeds.

A circuit is a list of terminals, its lines and then its neutral, that each stage takes further.
"""

from __future__ import annotations

from .mains import IN, OUT, Form
from .page import Bars, Page

KINDS = ("load", "lamp", "motor", "heater")
NAMES = {1: ["L"], 2: ["L1", "L2"], 3: ["L1", "L2", "L3"]}
FLAGS = {1: [], 2: ["split"], 3: ["three"]}
# What a residual-current device of a type sees.
SEES = {"A": "A", "F": "AF", "B": "AFB"}
SIZES = {"nfpa70": "14AWG", "abyc-e11": "2.5mm2", "iec60364": "2.5mm2"}


def circuit(page: Page, form: Form, on: Bars) -> None:
    """One more circuit on the bars."""
    count = page.random.choice([1, 1, 1, len(on.lines)])
    roles = page.random.sample(sorted(on.lines), count) if count == 1 else sorted(on.lines)
    ends = [page.on(on.lines[role]) for role in roles] + [page.on(on.neutral)]
    outlet = page.chance(0.35)
    label = page.name("Reading room ")
    asked = not on.guarded and (outlet or form.book == "iec60364" or page.chance(0.2))
    guard = page.some("A", "F", "B") if asked else ""
    ends = protected(page, form, on, ends, guard, label)
    if page.chance(0.4):
        ends = page.random.choice((_switched, _rowed, _spliced))(page, form, on, ends)
    _fed(page, form, on, ends, count, outlet, label, guard or on.guarded)


def _through(page: Page, ends: list[str], into: list[str], out: list[str], size: str) -> list[str]:
    """Ends wired to a device's terminals; those it has no pole for go past it."""
    for end, terminal in zip(ends, into, strict=False):
        page.wire(size, 0.2, end, terminal)
    return [*out, *ends[len(out) :]]


def _poles(page: Page, name: str, lines: int, neutral: bool) -> tuple[str, list[str], list[str]]:
    """``poles=`` of a device, and its terminals on either side."""
    two = lines == 1 and neutral and page.chance(0.3)
    into = [f"{name}.{t}" for t in IN[: lines + two]]
    out = [f"{name}.{t}" for t in OUT[: lines + two]]
    if neutral and not two:
        into.append(f"{name}.N1")
        out.append(f"{name}.N2")
    return (str(lines + two) if two or not neutral else f"{lines}N"), into, out


def protected(
    page: Page, form: Form, on: Bars, ends: list[str], guard: str, label: str
) -> list[str]:
    """Through an overcurrent device, and a residual-current one in it or ahead of it."""
    lines, name = len(ends) - 1, page.name("Q")
    # A two-line device has no neutral pole: its neutral goes past, and it sees only the lines.
    neutral = on.both and lines != 2
    amps, standard = ("10A" if on.both else "15A"), form.breaker
    american = "UL489" in standard
    apart = guard and lines != 2 and not american and page.chance(0.4)
    if apart:
        ends = _residual(page, on, ends, guard)
    elif guard and american and lines == 1:
        neutral, standard = True, f"gfci=5mA {standard}"
    elif guard and not american and lines != 2:
        standard = f"rcd=30mA type={guard} {standard}".replace("60898", "61009")
    count, into, out = _poles(page, name, lines, neutral)
    if "N" not in count and ("gfci" in standard or "rcd" in standard):
        count, into, out = "1N", [f"{name}.1", f"{name}.N1"], [f"{name}.2", f"{name}.N2"]
    housed = page.housed(int(count[0]) + ("N" in count))
    page.add(f'breaker {name} "{label}" {amps} poles={count} {standard} {housed}')
    return _through(page, ends, into, out, on.feed)


def _residual(page: Page, on: Bars, ends: list[str], guard: str) -> list[str]:
    lines, name = len(ends) - 1, page.name("FR")
    count, into, out = _poles(page, name, lines, True)
    more = page.some("", "400V", "polarised")
    words = f"40A 30mA {more} poles={count} type={guard} breaks=6kA"
    page.add(f'rcd {name} "Residual {name}" {words} at=BOX')
    return _through(page, ends, into, out, on.feed)


def _switched(page: Page, form: Form, on: Bars, ends: list[str]) -> list[str]:
    """A switch or a contactor, of as many poles as it takes."""
    kind, name = page.some("switch", "contactor"), page.name("S")
    neutral = len(ends) != 3 and (on.both or page.chance(0.3))
    count, into, out = _poles(page, name, len(ends) - 1, neutral)
    volts = page.some("", f"{form.words.split()[0]}")
    page.add(f'{kind} {name} "Switch {name}" 20A {volts} poles={count} {page.housed(len(into))}')
    if page.chance(0.3):
        page.off(name, "open")
    return _through(page, ends, into, out, SIZES[form.book])


def _rowed(page: Page, form: Form, on: Bars, ends: list[str]) -> list[str]:
    """A row of terminals, the earth's too."""
    name = page.name("XB")
    count = len(ends) + 1
    page.add(f'block {name} "Terminals {name}" 30A positions={count} at=CAB')
    to = [f"{name}.{i}" for i in range(1, count + 1)]
    size = f"{count}x{SIZES[form.book]}"
    page.cable(size, page.length(3), " ".join([*ends, page.on(on.earth)]), " ".join(to))
    return to


def _spliced(page: Page, form: Form, on: Bars, ends: list[str]) -> list[str]:
    """A splice in every core."""
    to = [page.name("J") for _ in range(len(ends) + 1)]
    page.add(*(f'joint {name} "Splice {name}" 30A at=CAB' for name in to))
    size = f"{len(to)}x{SIZES[form.book]}"
    into = " ".join(f"{name}.a" for name in to)
    page.cable(size, page.length(3), " ".join([*ends, page.on(on.earth)]), into)
    return [f"{name}.b" for name in to]


def _fed(
    page: Page,
    form: Form,
    on: Bars,
    ends: list[str],
    lines: int,
    outlet: bool,
    label: str,
    guard: str,
) -> None:
    """The load or the sockets at the end.  Behind a row or a splice, ``ends`` has an earth."""
    class2 = len(ends) == lines + 1 and page.chance(0.2)
    used = ends if class2 or len(ends) > lines + 1 else [*ends, page.on(on.earth)]
    names = [*NAMES[lines], "N", *([] if class2 else ["PE"])]
    flags = " ".join([*FLAGS[lines], *(["class2"] if class2 and lines < 3 else [])])
    if class2 and lines == 3:
        used, names = [*ends, page.on(on.earth)], [*NAMES[lines], "N", "PE"]
    outlet = outlet and not (class2 and lines > 1)
    letter = page.name("X" if outlet else "E")
    if outlet:
        used, names = _earthed(page, on, ends, lines)
        flags = " ".join(FLAGS[lines])
        more = page.some("", "height=0.4m", "pattern=house", "250V" if lines == 1 else "")
        page.add(f'socket {letter} "{label}" {_socket_amps(form)} {flags} {more} at=CAB')
    else:
        what = _figure(page, form, lines, guard)
        page.add(f'{page.some(*KINDS)} {letter} "{label}" {flags} {what} at=CAB')
        if page.chance(0.1):
            page.off(letter, "off")
    cores, brackets = f"{len(used)}x{SIZES[form.book]}", f"({' '.join(names)})"
    page.cable(cores, page.length(), " ".join(used), f"{letter}.{brackets}")
    if outlet and page.chance(0.3):
        other = page.name("X")
        page.add(f'socket {other} "{label}, next" {_socket_amps(form)} {flags} at=CAB')
        if page.chance(0.3):
            page.off(other, "off")
        page.cable(cores, page.length(3), f"{letter}.{brackets}", f"{other}.{brackets}")


def _earthed(page: Page, on: Bars, ends: list[str], lines: int) -> tuple[list[str], list[str]]:
    used = ends if len(ends) > lines + 1 else [*ends, page.on(on.earth)]
    return used, [*NAMES[lines], "N", "PE"]


def _socket_amps(form: Form) -> str:
    return "15A" if form.book == "nfpa70" else "16A"


def _figure(page: Page, form: Form, lines: int, guard: str) -> str:
    """Voltage and what it draws: little, so that any number of circuits goes together."""
    hertz = form.words.split()[1]
    volts = form.words.split()[0] if lines > 1 else f"{volts_to_neutral(form):g}V"
    draws = page.some("40W", "60W", "80VA pf=90%", "0.4A")
    more = page.some(
        *("", "", "", hertz, "continuous", "critical", "essential", "uses=2h"),
        *("demand=60%", "inrush=2A", f"minimum={0.85 * float(volts[:-1]):g}V"),
        f"needs={page.some(*SEES[guard])}" if guard in SEES and "UL489" not in form.breaker else "",
    )
    return f"{volts} {draws} {more}"


def volts_to_neutral(form: Form) -> float:
    volts = float(form.words.split("V")[0])
    return {1: volts, 2: volts / 2, 3: 230 if volts == 400 else 120}[form.lines]
