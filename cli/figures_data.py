"""The figures of a mode as tables of plain values: what text, CSV and JSON have in common."""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite
from typing import Any, NamedTuple

from ..checks.books.book import Figure, Missing
from ..checks.figures.chains import bands, line_nodes
from ..checks.figures.rows import NOISE_A, conductor_rows, load_rows, terminal_rows
from ..checks.solve import Fault, solution
from ..checks.tracing.network import JOINT, PLUG, POLE
from ..checks.tracing.trace import ModeView, Stage

Cell = str | float | None


class Table(NamedTuple):
    """A table of one mode, units in its headings; ``notes`` say what has no figure, and why."""

    mode: str
    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    notes: tuple[str, ...] = ()


def said(value: Cell) -> str:
    """A cell as text: four figures, a dash where there is none."""
    if value is None:
        return "-"
    if isinstance(value, str):
        return value
    return f"{value:.4g}" if isfinite(value) else "unlimited"


def tables(stage: Stage, view: ModeView) -> Iterator[Table]:
    """Sources, conductors, terminals and loads of a mode."""
    yield _sources(view)
    yield _conductors(stage, view)
    yield _terminals(stage, view)
    yield _loads(stage, view)


def document(table: Table) -> dict[str, Any]:
    """A table for JSON: an object a row, its figures by heading; infinite as null."""
    rows = [
        {
            h: (None if isinstance(v, float) and not isfinite(v) else v)
            for h, v in zip(table.head, row, strict=True)
        }
        for row in table.rows
    ]
    told = {"mode": table.mode, "table": table.title, "rows": rows}
    return told | {"not_worked_out": list(table.notes)}


def _value(figure: Figure | Missing) -> float | None:
    return figure.value if isinstance(figure, Figure) else None


def _amps(fault: Fault | Missing | None) -> float | None:
    return fault.amps if isinstance(fault, Fault) else None


SOURCES = ("source", "A", "W", "V nominal")
CONDUCTORS = (
    "conductor", "role", "size", "m", "carries A", "device at most A", "worst A", "held by",
    "load A", "drop V", "loss W", "fault max A", "fault min A",
)  # fmt: skip
TERMINALS = (
    "terminal", "role", "V", "through A", "L-L max A", "L-N max A", "L-PE max A", "L-L min A",
    "L-N min A", "L-PE min A", "loop ohm",
)  # fmt: skip
LOADS = ("load", "from", "A", "V nominal", "drop V", "drop %", "book %", "sag at start %")


def _exact(value: float) -> float:
    """The value, or 0 where it is the rounding of the solution."""
    return value if abs(value) > NOISE_A else 0.0


def _sources(view: ModeView) -> Table:
    solved = solution(view)
    rows = tuple(
        (name, *map(_exact, (solved.source_amps(name), solved.source_watts(name))), source.volts)
        for name, source in view.live.items()
    )
    notes = () if solved.converged else ("the steady state: the loads ask for more than there is",)
    return Table(view.name, "sources", SOURCES, rows, notes)


def _conductors(stage: Stage, view: ModeView) -> Table:
    rows: list[tuple[Cell, ...]] = []
    notes: dict[str, None] = {}
    for row in conductor_rows(stage, view):
        conductor, cut = row.conductor, row.cut
        loss = None if row.drop_volts is None else row.drop_volts * row.amps
        rows.append((
            conductor.name, row.role, str(conductor.size), conductor.length_m,
            _value(row.ampacity), _value(row.limit), cut.amps if cut else None,
            " + ".join(cut.names) if cut else "", row.amps, row.drop_volts, loss,
            _amps(row.greatest), _amps(row.least),
        ))  # fmt: skip
        for figure in (row.ampacity, row.limit, row.resistance):
            if isinstance(figure, Missing):
                notes[f"{conductor.name}: {figure.reason}"] = None
    return Table(view.name, "conductors", CONDUCTORS, tuple(rows), tuple(notes))


def _through(view: ModeView, device: str, terminal: str) -> float | None:
    """What passes the closed pole or joint that ends on a terminal; None: there is none."""
    edges = view.network.neighbours[view.wiring.node(device, terminal)]
    if not any(edge.owner == device and edge.kind in (POLE, JOINT, PLUG) for edge in edges):
        return None
    return _exact(solution(view).pole_amps(device, terminal))


def _terminals(stage: Stage, view: ModeView) -> Table:
    rows: list[tuple[Cell, ...]] = []
    notes: dict[str, list[str]] = {}
    for row in terminal_rows(view):
        at, name = row.faults, f"{row.device.name}.{row.terminal}"
        loop = at.get(("earth", "min"))
        rows.append((
            name, row.role, None if row.volts is None else abs(row.volts),
            _through(view, row.device.name, row.terminal),
            *(_amps(at.get((to, case))) for case in ("max", "min")
              for to in ("line", "neutral", "earth")),
            # Behind a source that holds its own current, the loop decides nothing.
            abs(loop.ohms) if isinstance(loop, Fault) and not loop.limited else None,
        ))  # fmt: skip
        for fault in at.values():
            if isinstance(fault, Missing):
                notes.setdefault(fault.reason, []).append(name)
    told = [f"{reason}: {_few(dict.fromkeys(names))}" for reason, names in notes.items()]
    told += _bandless(stage, view)
    return Table(view.name, "terminals", TERMINALS, tuple(rows), tuple(told))


def _bandless(stage: Stage, view: ModeView) -> Iterator[str]:
    """The overcurrent devices in use whose opening times are not known, and why."""
    for name, found in bands(stage).items():
        if isinstance(found, Missing) and line_nodes(view, name):
            yield f"opening times: {found.reason}"


def _few(names: dict[str, None], most: int = 6) -> str:
    shown = ", ".join(list(names)[:most])
    return shown if len(names) <= most else f"{shown} and {len(names) - most} more"


def _loads(stage: Stage, view: ModeView) -> Table:
    rows = tuple(
        (
            row.device.name, row.drop.source, row.drop.amps, row.drop.nominal, row.drop.volts,
            row.drop.percent, row.limit.value if row.limit else None,
            row.sag.percent if row.sag else None,
        )
        for row in load_rows(stage, view)
    )  # fmt: skip
    told = {row[0] for row in rows}
    loads = (name for name, kind in view.wiring.kinds.items() if kind.acts == "load")
    silent = {name: None for name in loads if name not in told and view.feeders(name)}
    notes = (f"no W, VA nor A is stated: {_few(silent)}",) if silent else ()
    return Table(view.name, "loads", LOADS, rows, notes)
