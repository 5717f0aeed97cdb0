"""Final circuits of direct current in correct rigs."""

from __future__ import annotations

from .batteries import Bank, Fit
from .page import Page

KINDS = ("load", "lamp", "motor", "heater")


def circuit(page: Page, on: Bank) -> None:
    """One more circuit: device, what stands between, load or socket."""
    # A generous cable where 12 V leave little to lose.
    name, label = page.name("QD"), page.name("Night lights ")
    ends = [page.on(on.load), page.on(on.minus)]
    ends = _protected(page, on.fit, ends, name, label)
    if page.chance(0.3):
        ends = page.random.choice((_switched, _rowed, _spliced))(page, on.fit, ends)
    small = f"2x{on.fit.small if on.volts > 12 else on.fit.branch}"
    if page.chance(0.15):
        socket = page.name("XS")
        pattern = page.some("", f"pattern=cigar{on.volts}")
        page.add(f'socket {socket} "{label}" 10A dc {pattern} at=CAB')
        page.cable(small, page.length(4), " ".join(ends), f"{socket}.(+ -)")
        return
    load = page.name("ED")
    page.add(f'{page.some(*KINDS)} {load} "{label}" dc {_figure(page, on)} at=CAB')
    page.cable(small, page.length(4), " ".join(ends), f"{load}.(+ -)")


def _figure(page: Page, on: Bank) -> str:
    volts = on.volts
    draws = page.some("10W", "20W", "1A", "15W")
    more = page.some(
        *("", "", "continuous", "critical", "uses=5h", "demand=50%", "inrush=3A"),
        f"minimum={0.8 * volts:g}V",
        "essential" if on.load == on.plus else "",
    )
    return f"{volts}V {draws} {more}"


def _protected(page: Page, fit: Fit, ends: list[str], name: str, label: str) -> list[str]:
    """A breaker of one pole or two, or a fuse."""
    make = page.some("one", "one", "two", "fuse")
    if make == "fuse":
        page.add(f'fuse {name} "{label}" 10A {fit.fuse} {page.some("", "ac", "site")} at=BOX')
    else:
        poles = "1" if make == "one" else "2"
        page.add(f'breaker {name} "{label}" 10A poles={poles} {make_of(page, fit)} at=BOX')
    page.wire(fit.branch, 0.15, ends[0], f"{name}.1")
    if make != "two":
        return [f"{name}.2", ends[1]]
    page.wire(fit.branch, 0.15, ends[1], f"{name}.3")
    return [f"{name}.2", f"{name}.4"]


def make_of(page: Page, fit: Fit) -> str:
    """A breaker's words, of one band or another, for direct current alone or for both."""
    return fit.breaker.replace("curve=C", f"curve={page.some('B', 'C')}") + page.some("", " ac")


def _switched(page: Page, fit: Fit, ends: list[str]) -> list[str]:
    name, kind = page.name("SD"), page.some("switch", "contactor")
    poles = page.some("1", "2")
    volts = page.some("", "100V")
    page.add(f'{kind} {name} "DC switch {name}" 20A {volts} poles={poles} dc at=BOX')
    page.wire(fit.small, 0.3, ends[0], f"{name}.1")
    if poles == "1":
        return [f"{name}.2", ends[1]]
    page.wire(fit.small, 0.3, ends[1], f"{name}.3")
    return [f"{name}.2", f"{name}.4"]


def _rowed(page: Page, fit: Fit, ends: list[str]) -> list[str]:
    name = page.name("XT")
    page.add(f'block {name} "DC terminals {name}" 30A positions=2 {page.some("", "250V")} at=CAB')
    page.cable(f"2x{fit.small}", page.length(3), " ".join(ends), f"{name}.(1 2)")
    return [f"{name}.1", f"{name}.2"]


def _spliced(page: Page, fit: Fit, ends: list[str]) -> list[str]:
    names = [page.name("JD") for _ in ends]
    page.add(*(f'joint {name} "DC splice {name}" at=CAB' for name in names))
    page.cable(f"2x{fit.small}", page.length(3), " ".join(ends), " ".join(f"{n}.a" for n in names))
    return [f"{n}.b" for n in names]
