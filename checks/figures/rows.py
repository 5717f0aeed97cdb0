"""The figures of a mode as tables: one row a conductor, one row a live terminal, one a load.

Every number is the book's or the solution's; what could not be worked out is ``Missing`` with the
reason.  The derivation of a row, written out, is ``derivation``.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from ...dsl.model import Conductor, Device
from ..books.book import Figure, Missing
from ..solve import Case, Drop, Fault, To, solution
from ..tracing.cut import protection
from ..tracing.flow import Cut
from ..tracing.network import WIRE, Edge, carries
from ..tracing.trace import EARTH, GROUNDED, UNGROUNDED, ModeView, Stage
from .chains import FAULT_KINDS, SEVERAL, TO, Ways, ways

NOISE_A = 1e-6
"""Currents below this, A, are the rounding of the solution."""


class ConductorRow(NamedTuple):
    """A conductor in one mode; currents A, voltages V.

    ``cut``: the worst current and what holds it (None: not ungrounded here); ``greatest``: the
    largest fault at its supply end, cold; ``least``: the smallest at its far end, hot.
    """

    conductor: Conductor
    role: str
    ampacity: Figure | Missing
    limit: Figure | Missing
    cut: Cut | None
    amps: float
    resistance: Figure | Missing
    drop_volts: float | None
    greatest: Fault | Missing
    least: Fault | Missing


class TerminalRow(NamedTuple):
    """A live terminal in one mode: its voltage, V, against the return, and its faults by case."""

    device: Device
    terminal: str
    role: str
    volts: complex | None
    faults: dict[tuple[To, Case], Fault | Missing]


class LoadRow(NamedTuple):
    """A load, converter or outlet in one mode: what it is fed from and what is lost on the way."""

    device: Device
    drop: Drop
    limit: Figure | None
    sag: Drop | None


def conductor_rows(stage: Stage, view: ModeView) -> Iterator[ConductorRow]:
    """Every conductor that has a size and carries, in the order of the text."""
    edges = {e.owner: e for e in view.network.edges if e.kind == WIRE}
    for conductor in view.wiring.rig.conductors.values():
        edge = edges.get(conductor.name) or bond_edge(view, conductor)
        if conductor.size is not None and edge is not None:
            yield conductor_row(stage, view, conductor, edge)


def bond_edge(view: ModeView, conductor: Conductor) -> Edge | None:
    """A ``bond`` as an edge, which the traced network leaves out; None: no bond, or idle."""
    if conductor.kind != "bond" or not carries(conductor):
        return None
    a, b = (view.wiring.find(end.device, end.terminal) for end in (conductor.a, conductor.b))
    return None if a is None or b is None else Edge(a, b, WIRE, conductor.name)


def conductor_row(stage: Stage, view: ModeView, conductor: Conductor, edge: Edge) -> ConductorRow:
    """The figures of one conductor and the edge it is in the network."""
    rig, role = stage.rig, view.conductor_role(conductor.name)
    amps = solution(view).amps(conductor.name)
    amps = amps if amps > NOISE_A else 0.0
    hot = stage.book.resistance(conductor, rig, stage.book.celsius(conductor, rig, "drop"))
    start, end = ends(view, edge)
    return ConductorRow(
        conductor=conductor,
        role=role,
        ampacity=stage.ampacity(conductor),
        limit=stage.limit(conductor),
        cut=protection(view).through(edge) if role in UNGROUNDED else None,
        amps=amps,
        resistance=hot,
        drop_volts=None if isinstance(hot, Missing) else amps * hot.value,
        greatest=extreme(view, start, role, "max"),
        least=extreme(view, end, role, "min"),
    )


def ends(view: ModeView, edge: Edge) -> tuple[int, int]:
    """The nodes of an edge, that on the source's side first."""
    for way in ways(view):
        outer = way.outer_end(edge)
        if outer is not None:
            return edge.other(outer), outer
    return edge.a, edge.b


def kinds_of_fault(role: str) -> tuple[To, ...]:
    """The faults there can be from a terminal of a role."""
    return TO.get(role, SEVERAL)


def extreme(view: ModeView, node: int, role: str, case: Case) -> Fault | Missing:
    """The greatest (``max``) or the least (``min``) fault at a node."""
    if role not in UNGROUNDED:
        return Missing("not a line in this mode")
    device, terminal = view.wiring.names[node]
    found = [solution(view).fault(device, terminal, to, case) for to in kinds_of_fault(role)]
    known = [fault for fault in found if isinstance(fault, Fault)]
    if not known:
        return next(fault for fault in found if isinstance(fault, Missing))
    return (max if case == "max" else min)(known, key=lambda fault: fault.amps)


def terminal_rows(view: ModeView) -> Iterator[TerminalRow]:
    """Every terminal of every device that is live in the mode, in the order of the text."""
    for device in view.wiring.rig.devices.values():
        for terminal in device.terminals:
            role = view.role(device.name, terminal.name)
            if role and role != EARTH:
                yield terminal_row(view, device, terminal.name, role)


def terminal_row(view: ModeView, device: Device, terminal: str, role: str) -> TerminalRow:
    """The figures of one terminal."""
    solved = solution(view)
    kinds = () if role in GROUNDED else kinds_of_fault(role)
    cases: tuple[Case, ...] = ("max", "min")
    faults = {
        (to, case): solved.fault(device.name, terminal, to, case) for to in kinds for case in cases
    }
    return TerminalRow(device, terminal, role, solved.volts(device.name, terminal), faults)


def load_rows(stage: Stage, view: ModeView) -> Iterator[LoadRow]:
    """What power is taken at, where something feeds it."""
    for name, kind in view.wiring.kinds.items():
        if kind.acts in ("load", "converter", "outlet") and kind.name != "inlet":
            row = load_row(stage, view, view.wiring.rig.devices[name])
            if row is not None:
                yield row


def load_row(stage: Stage, view: ModeView, device: Device) -> LoadRow | None:
    """The drop on the way to one device; None where nothing feeds it."""
    solved = solution(view)
    drop = solved.drop(device.name)
    if drop is None:
        return None
    limit = stage.book.drop_limit(
        lighting=device.kind == "lamp",
        critical=device.flag("critical") or device.flag("essential"),
        public=view.live[drop.source].device.kind == "supply",
    )
    return LoadRow(device, drop, limit, solved.inrush_sag(device.name))


def way_of(view: ModeView, node: int) -> Ways | None:
    """The way out of a source on which a node lies, one that drives faults by itself first."""
    found = [way for way in ways(view) if node in way.came]
    own = [way for way in found if way.source.device.kind in FAULT_KINDS]
    return next(iter(own or found), None)
