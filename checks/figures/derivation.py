"""One name's figures written out as an engineer would by hand, clause by clause and mode by mode.

for section in derivation(stage, views, "C3/1"): section.title, section.lines
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from math import inf
from typing import NamedTuple

from ...dsl.model import Conductor, Device
from ..bands import Band, band, residual_time
from ..books.book import Figure, Missing
from ..solve import Case, Fault, solution
from ..tracing.network import WIRE
from ..tracing.trace import EARTH, GROUNDED, UNGROUNDED, ModeView, Stage
from .chains import faults, ways
from .rows import (
    NOISE_A,
    ConductorRow,
    LoadRow,
    bond_edge,
    conductor_row,
    extreme,
    kinds_of_fault,
    load_row,
    terminal_row,
    way_of,
)

ADIABATIC_S = 5.0
"""Up to here, s, all heat stays in the conductor (IEC 60364-4-43 434.5.2)."""
TO_WORDS = {"line": "line to line", "neutral": "line to neutral", "earth": "line to earth"}
DC_WORDS = {"neutral": "+ to -", "earth": "to earth"}
CASES: dict[Case, str] = {
    "max": "greatest (conductors at 20 degC, full source)",
    "min": "least (conductors as hot as their insulation allows)",
}


class Section(NamedTuple):
    """A heading and what stands under it, a line of text each; ``mode`` "" for all modes."""

    title: str
    lines: tuple[str, ...]
    mode: str = ""


def derivation(stage: Stage, views: Sequence[ModeView], name: str) -> list[Section]:
    """All figures of a conductor, a cable or a device.  KeyError for a name the stage has not."""
    rig = stage.rig
    if name in rig.cables:
        return [s for core in rig.cables[name].cores for s in derivation(stage, views, core)]
    if name in rig.conductors:
        return list(_conductor(stage, views, rig.conductors[name]))
    return list(_device(stage, views, rig.devices[name]))


# ---- conductors ---------------------------------------------------------------------------------


def _conductor(stage: Stage, views: Sequence[ModeView], conductor: Conductor) -> Iterator[Section]:
    what = f"{conductor.size or conductor.kind}, {conductor.length_m:g} m"
    yield Section(conductor.name, (f"{what}, {conductor.a.name} to {conductor.b.name}",))
    if conductor.size is None:
        return
    yield Section("Ampacity", steps(stage.ampacity(conductor)))
    yield Section("Largest overcurrent device", _more(stage, conductor))
    celsius = stage.book.celsius(conductor, stage.rig, "drop")
    yield Section("Resistance", steps(stage.book.resistance(conductor, stage.rig, celsius)))
    for view in views:
        wires = (e for e in view.network.edges if e.kind == WIRE and e.owner == conductor.name)
        edge = next(wires, None) or bond_edge(view, conductor)
        if edge is None:
            yield Section("In this mode", ("it carries nothing",), view.name)
            continue
        row = conductor_row(stage, view, conductor, edge)
        yield Section(f"Role {row.role or 'dead'}", tuple(_in_mode(stage, view, row)), view.name)


def _more(stage: Stage, conductor: Conductor) -> tuple[str, ...]:
    """The steps of the limit that the ampacity has not told yet."""
    told = steps(stage.ampacity(conductor))
    lines = steps(stage.limit(conductor))
    return tuple(line for line in lines if line not in told) or lines


def _in_mode(stage: Stage, view: ModeView, row: ConductorRow) -> Iterator[str]:
    if row.cut is not None:
        held = " + ".join(row.cut.names) or "nothing"
        most = "without limit" if row.cut.amps == inf else amount(row.cut.amps, "A")
        yield f"worst current {most}, held by {held}"
    yield f"load current {amount(row.amps, 'A')}"
    if row.drop_volts is not None and not isinstance(row.resistance, Missing):
        ohms = amount(row.resistance.value, "ohm")
        yield (
            f"drop in it {amount(row.amps, 'A')} x {ohms} = {amount(row.drop_volts, 'V')}, "
            f"loss {amount(row.amps * row.drop_volts, 'W')}"
        )
    if row.role in UNGROUNDED:
        yield f"at its supply end, {fault_words(row.greatest, 'max')}"
        yield f"at its far end, {fault_words(row.least, 'min')}"
        node = view.wiring.find(row.conductor.b.device, row.conductor.b.terminal)
        ahead = _nearest(stage, view, node)
        if isinstance(ahead, Band) and isinstance(row.least, Fault):
            yield f"then, {_opens(ahead, row.least.amps)}"
        yield from _withstand(stage, row, ahead)


def _withstand(stage: Stage, row: ConductorRow, ahead: Band | Missing | None) -> Iterator[str]:
    """k from the book, (k S)2, and what its device lets through at the greatest fault."""
    conductor = row.conductor
    k = stage.book.withstand(conductor, stage.rig)
    if isinstance(k, Missing) or conductor.size is None:
        yield f"short-circuit withstand not checked: {k.reason if isinstance(k, Missing) else ''}"
        return
    stands = (k.value * conductor.size.mm2) ** 2
    yield from k.steps
    yield f"it stands (k S)2 = ({k.value:.4g} x {conductor.size.mm2:g})2 = {energy(stands)}"
    if ahead is None or isinstance(row.greatest, Missing):
        return
    if isinstance(ahead, Missing):
        yield f"let-through not checked: {ahead.reason}"
        return
    if ahead.times(row.greatest.amps)[1] > ADIABATIC_S:
        yield f"{ahead.device} opens by its slow part at {amount(row.greatest.amps, 'A')}: no I2t"
        return
    heat = ahead.let_through(row.greatest.amps)
    said = "no let-through is published" if heat is None else f"lets {energy(heat)} through"
    yield f"{ahead.device} ({ahead.title}) {said} at {amount(row.greatest.amps, 'A')}"


def between_words(role: str, to: str) -> str:
    """Between what a fault is: of a line, or of a pole of direct current."""
    return DC_WORDS[to] if role in ("+", "-") else TO_WORDS[to]


def _nearest(stage: Stage, view: ModeView, node: int | None) -> Band | Missing | None:
    """The band of the overcurrent device nearest ahead of a node."""
    way = None if node is None else way_of(view, node)
    ahead = way.protective(node) if way is not None and node is not None else ()
    return band(stage.rig.devices[ahead[-1]], stage.rig) if ahead else None


# ---- devices ------------------------------------------------------------------------------------


def _device(stage: Stage, views: Sequence[ModeView], device: Device) -> Iterator[Section]:
    figures = ", ".join(_said(key, value) for key, value in device.attrs.items())
    yield Section(device.name, (f"{device.kind} {device.label}".strip(), figures))
    if stage.wiring.kinds[device.name].acts == "protective":
        yield Section("Trip band", tuple(_band(band(device, stage.rig))))
    for view in views:
        lines = (*_terminals(view, device), *_breaks(view, device))
        row = load_row(stage, view, device)
        if row is not None:
            lines = (*lines, *_load(row))
        yield Section("Terminals", lines or ("dead",), view.name)
        if lines:
            yield from _behind(stage, view, device)
            yield from _opening(stage, view, device)


def _said(key: str, value: object) -> str:
    words = " ".join(map(str, value)) if isinstance(value, tuple) else str(value)
    return key if value is True else f"{key} {words}"


def _behind(stage: Stage, view: ModeView, device: Device) -> Iterator[Section]:
    """How soon an overcurrent device opens for the least fault in what it protects."""
    own = band(device, stage.rig) if stage.wiring.kinds[device.name].acts == "protective" else None
    if not isinstance(own, Band):
        return
    for way in ways(view):
        ends = (node for node in way.nearest_to(device.name) if not way.leads_on(node))
        found = [
            (f.amps, view.wiring.say(n), between_words(view.node_role(n), to))
            for n in ends
            for to, f in faults(view, n, "min")
        ]
        if found:
            amps, end, to = min(found)
            line = f"least fault behind it, {to} at {end}, {_opens(own, amps)}"
            yield Section(f"What it opens, fed by {way.source.name}", (line,), view.name)


def _band(found: Band | Missing) -> Iterator[str]:
    if isinstance(found, Missing):
        yield f"not checked: {found.reason}"
        return
    yield f"{found.title}: {found.clause} ({found.status}); {found.source}"
    yield f"never opens up to {amount(found.holds, 'A')}; opens for sure from " + amount(
        found.trips, "A"
    )
    if found.instantaneous:
        low, high = found.instantaneous
        yield (
            f"may open at once from {amount(low, 'A')}, has opened within "
            f"{amount(found.at_once, 's')} from {amount(high, 'A')}"
        )


def _terminals(view: ModeView, device: Device) -> Iterator[str]:
    for terminal in device.terminals:
        yield from terminal_lines(view, device, terminal.name)


def terminal_lines(view: ModeView, device: Device, terminal: str) -> Iterator[str]:
    """Role, volts and amperes of a terminal in a mode, and its fault currents; none where dead."""
    role = view.role(device.name, terminal)
    if not role:
        return
    row = terminal_row(view, device, terminal, role)
    volts = "" if row.volts is None or role == EARTH else f", {amount(abs(row.volts), 'V')}"
    pole = solution(view).pole_amps(device.name, terminal)
    passing = f", {amount(pole, 'A')}" if pole > NOISE_A else ""
    yield f"{terminal}: {role}{volts}{passing}"
    if role in (*GROUNDED, EARTH):
        return
    for (to, case), fault in row.faults.items():
        yield f"  {between_words(role, to)}, {fault_words(fault, case)}"


def _breaks(view: ModeView, device: Device) -> Iterator[str]:
    """What it can interrupt against the greatest fault at any of its terminals."""
    breaks = device.number("breaks")
    if breaks is None:
        return
    found = [
        extreme(view, view.wiring.node(device.name, terminal.name), role, "max")
        for terminal in device.terminals
        if (role := view.role(device.name, terminal.name)) in UNGROUNDED
    ]
    most = max((f.amps for f in found if isinstance(f, Fault)), default=None)
    if most is not None:
        verdict = "holds" if breaks >= most else "is too little"
        yield f"it breaks {amount(breaks, 'A')}, which {verdict} against {amount(most, 'A')}"


def _load(row: LoadRow) -> Iterator[str]:
    drop = row.drop
    yield (
        f"voltage drop from {drop.source} at {amount(drop.amps, 'A')}: {amount(drop.volts, 'V')} "
        f"of {amount(drop.nominal, 'V')} = {drop.percent:.3g} % "
        f"(others on {drop.source} at {drop.others:.0%} of their power)"
    )
    if row.limit is not None:
        note = "".join(f": {step}" for step in row.limit.steps[1:])
        yield f"the book: {row.limit.value:g} % ({row.limit.clause}){note}"
    if row.sag is not None:
        yield f"sag at its start: {amount(row.sag.volts, 'V')} = {row.sag.percent:.3g} %"


def _opening(stage: Stage, view: ModeView, device: Device) -> Iterator[Section]:
    """How soon the device ahead opens for the least fault here."""
    for terminal in device.terminals:
        role = view.role(device.name, terminal.name)
        node = view.wiring.find(device.name, terminal.name)
        if role not in UNGROUNDED or node is None:
            continue
        ahead = _nearest(stage, view, node)
        if isinstance(ahead, Band):
            times = _times(view, device, terminal.name, ahead)
            lines = (*times, *_asked(stage, view, node))
            yield Section("Disconnection of a fault at it", lines, view.name)
        return


def _times(view: ModeView, device: Device, terminal: str, ahead: Band) -> Iterator[str]:
    role = view.role(device.name, terminal)
    for to in kinds_of_fault(role):
        fault = solution(view).fault(device.name, terminal, to, "min")
        if isinstance(fault, Missing):
            continue
        yield f"{between_words(role, to)}, {_opens(ahead, fault.amps)}"


def _opens(band: Band, amps: float) -> str:
    soonest, latest = band.times(amps)
    first = f"after {seconds(soonest)} to " if soonest else "" if latest == inf else "within "
    return f"{amount(amps, 'A')}: {band.device} opens {first}{seconds(latest)} ({band.title})"


def _asked(stage: Stage, view: ModeView, node: int) -> Iterator[str]:
    """What the book asks of that time, and what a residual-current device on the way does."""
    way = way_of(view, node)
    volts = None if way is None or way.source.dc else view.to_neutral(way.source)
    if way is None or volts is None:
        return
    nearest = stage.rig.devices[way.protective(node)[-1]]
    limit = stage.book.disconnect_time(volts, rated_a=nearest.number("rating") or 0.0)
    if limit is not None:
        yield f"the book: within {limit.value:g} {limit.unit} for a fault to earth ({limit.clause})"
    for name in way.residual(node):
        found = residual_time(stage.rig.devices[name], 1000.0)
        if found is not None:
            yield f"{name} opens a full fault to earth within {found.value:g} s ({found.clause})"


# ---- words --------------------------------------------------------------------------------------


def steps(figure: Figure | Missing) -> tuple[str, ...]:
    """The steps to a figure, and its value; or why there is none."""
    if isinstance(figure, Missing):
        return (f"none: {figure.reason}",)
    return (*figure.steps, f"= {amount(figure.value, figure.unit)} ({figure.clause})")


def fault_words(fault: Fault | Missing, case: Case) -> str:
    """A prospective current with the loop it is driven through."""
    if isinstance(fault, Missing):
        return f"{CASES[case]}: not worked out: {fault.reason}"
    loop = f"{amount(abs(fault.ohms), 'ohm')} (source {amount(abs(fault.source_ohms), 'ohm')})"
    held = ", which its source holds down" if fault.limited else ""
    drive = "" if fault.limited else f" = {amount(fault.amps * abs(fault.ohms), 'V')} / {loop}"
    at, to = fault.path
    apart = at.split(".", 1)[0] != to.split(".", 1)[0]
    joined = f" to {to}" if apart and case == "max" else ""
    return f"{CASES[case]}: {amount(fault.amps, 'A')}{joined}{drive}{held}"


def amount(value: float, unit: str) -> str:
    """A value with its unit, to three figures; small ones in thousandths, large ones in thousands.

    >>> amount(0.00312, "ohm"), amount(4321.0, "A")
    ('3.12 mohm', '4.32 kA')
    """
    if value and abs(value) < 0.1 and unit in ("ohm", "V", "A", "s"):
        return f"{1000 * value:.3g} m{unit}"
    if abs(value) >= 1000 and unit in ("A", "V", "W"):
        return f"{value / 1000:.3g} k{unit}"
    return f"{value:.3g} {unit}"


def energy(value: float) -> str:
    """I2t, in kA2s."""
    return f"{value / 1000:.4g} kA2s"


def seconds(value: float) -> str:
    """A time; infinite: it need not open."""
    return "never for sure" if value == inf else amount(value, "s")


def told(sections: Iterable[Section]) -> Iterator[str]:
    """The sections as lines of text, indented under their headings."""
    for section in sections:
        yield f"{section.title}{f' (mode {section.mode})' if section.mode else ''}"
        yield from (f"  {line}" for line in section.lines)
