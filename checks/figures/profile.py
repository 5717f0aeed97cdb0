"""The voltage on the way from a source to what it feeds, as a meter would read it on that way.

The case is the one the drop is reckoned in (``Solution.drop``), and that of its start where it has
one.  At every device the line is measured against the return that lies nearest on its own way: at
the same device, at the end of another core of the same cable, or in the same panel.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from ...dsl.model import Device
from ..books.book import Figure
from ..solve import Drop, solution
from ..tracing.network import WIRE, Edge
from ..tracing.trace import ModeView, Stage
from .rows import LoadRow, load_rows

MOST = 8
"""So many ways are told of a stage."""

Way = Sequence[tuple[int, Edge | None]]


class Point(NamedTuple):
    """The way at one device: ``metres`` of conductor from the source's terminal, and volts there.

    ``by``: the line of text of the conductor it is reached by, empty at the source and behind a
    contact; ``starting``: the voltage while the thing at the end starts, None where it states no
    ``inrush=``.
    """

    terminal: str
    device: str
    by: str
    metres: float
    volts: float
    starting: float | None


class Profile(NamedTuple):
    """The way to one device in the modes in which its voltages are the same."""

    modes: tuple[str, ...]
    device: Device
    drop: Drop
    limit: Figure | None
    sag: Drop | None
    points: tuple[Point, ...]


def profile(view: ModeView, device: str) -> tuple[Point, ...]:
    """The voltages on the way to a device, from its source's terminal to its own.

    Empty where nothing feeds it, or where its line or its return has no way through conductors.
    """
    drops = solution(view).drops
    fed = drops.of(device)
    if fed is None:
        return ()
    leg = fed.legs[0]
    line, back = (
        view.network.path([end], node) for end, node in zip(fed.ends, (leg.a, leg.b), strict=True)
    )
    if not line or not back:
        return ()
    pairs = [
        (node, back[at][0]) for (node, _), at in zip(line, beside(view, line, back), strict=True)
    ]
    volts = drops.along(device, pairs)
    starting = drops.along(device, pairs, starting=True)
    return tuple(_points(view, line, volts, starting))


def beside(view: ModeView, line: Way, back: Way) -> list[int]:
    """For every step of the line's way, the step of the return's way that lies beside it.

    It never goes back; between two places where the ways meet it stays where it was.
    """
    last = len(back) - 1
    if len(line) == 1:
        return [last]
    steps = pairwise(line[1:])
    sure = [0, *(_meeting(view, node, came, on, back) for (node, came), (_, on) in steps), last]
    found = [0]
    for index in range(1, len(line)):
        ahead = min((at for at in sure[index + 1 :] if at is not None), default=last)
        at = sure[index]
        if at is None:
            at = _in_panel(view, line[index][0], back, ahead)
        found.append(max(found[-1], found[-1] if at is None else at))
    return found


def _meeting(
    view: ModeView, node: int, came: Edge | None, on: Edge | None, back: Way
) -> int | None:
    """Where the return runs in the same cable, that goes on from here or has come here, or else
    comes to the same device."""
    names = view.wiring.names
    cables = [_cable(view, edge) for _, edge in back]
    for cable, near in ((_cable(view, on), 1), (_cable(view, came), 0)):
        if cable and cable in cables:
            return cables.index(cable) - near
    device = names[node][0]
    return next((at for at, (there, _) in enumerate(back) if names[there][0] == device), None)


def _cable(view: ModeView, edge: Edge | None) -> str:
    if edge is None or edge.kind != WIRE:
        return ""
    return view.wiring.rig.conductors[edge.owner].cable or ""


def _in_panel(view: ModeView, node: int, back: Way, most: int) -> int | None:
    """Where the return is in the same panel, no farther than where the ways meet next."""
    names, devices = view.wiring.names, view.wiring.rig.devices
    panel = devices[names[node][0]].panel
    here = (at for at, (there, _) in enumerate(back) if devices[names[there][0]].panel == panel)
    return next((at for at in here if at <= most), None) if panel else None


def _points(
    view: ModeView, line: Way, volts: Sequence[float], starting: Sequence[float]
) -> Iterator[Point]:
    """The last terminal of each device passed, and where a conductor arrives before it."""
    names, conductors = view.wiring.names, view.wiring.rig.conductors
    metres, by = 0.0, ""
    for index, (node, edge) in enumerate(line):
        wire = conductors[edge.owner] if edge is not None and edge.kind == WIRE else None
        if wire is not None:
            metres, by = metres + wire.length_m, wire.statement
        device = names[node][0]
        if index + 1 < len(line) and names[line[index + 1][0]][0] == device:
            continue  # through a contact: told where it leaves
        start = starting[index] if starting else None
        yield Point(view.wiring.say(node), device, by, metres, volts[index], start)
        by = ""


def worst(stage: Stage, most: int = MOST) -> list[Profile]:
    """For every source and mode, the way with the largest drop, and that of the deepest start.

    Modes that agree are told once; of more than ``most``, those with the larger drops.  In the
    order of the text's sources, the larger drop first.
    """
    found: dict[tuple[object, ...], Profile] = {}
    for view in stage.modes:
        for row in _chosen(stage, view):
            points = profile(view, row.device.name)
            if len(points) < 2:
                continue
            key = row.drop.source, row.device.name, *(_rounded(point) for point in points)
            modes = found[key].modes if key in found else ()
            found[key] = Profile(
                (*modes, view.name), row.device, row.drop, row.limit, row.sag, points
            )
    kept = sorted(found.values(), key=lambda p: (-p.drop.percent, p.device.name))[:most]
    order = {name: index for index, name in enumerate(stage.rig.devices)}
    return sorted(kept, key=lambda p: (order[p.drop.source], -p.drop.percent, p.device.name))


def _rounded(point: Point) -> tuple[object, ...]:
    start = None if point.starting is None else float(f"{point.starting:.4g}")
    return point.terminal, float(f"{point.volts:.4g}"), start


def _chosen(stage: Stage, view: ModeView) -> Iterator[LoadRow]:
    by_source: dict[str, list[LoadRow]] = {}
    for row in load_rows(stage, view):
        by_source.setdefault(row.drop.source, []).append(row)
    for rows in by_source.values():
        largest = max(rows, key=lambda row: row.drop.percent)
        yield largest
        starts = [row for row in rows if row.sag]
        deepest = max(starts, key=lambda row: row.sag.percent if row.sag else 0.0, default=largest)
        if deepest is not largest:
            yield deepest
