"""P: protective conductors between bars and to metal panels: as thick as what is behind asks."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Conductor, Device
from ..books.book import Figure, Missing
from ..findings import Related
from ..registry import Hit, rule
from ..tracing.bonding import ac_sources, bond_earths, exposed
from ..tracing.network import BAR, PLUG, WIRE, Edge
from ..tracing.trace import UNGROUNDED, Stage
from ..trade.sizes import NEAR, at_least
from .p_earth_sizes import lines_of, rating_ahead

Asked = tuple[Figure, Device, Conductor]
USERS = ("load", "outlet", "converter")


@rule(
    "P42",
    "earth-way-thin",
    clauses={
        "nfpa70": "NFPA 70 250.122",
        "abyc-e11": "ABYC E-11 11.16 (from memory)",
        "iec60364": "IEC 60364-5-54 543.1",
    },
    yields_to=("P02", "P14", "P21", "P34", "P35", "T01", "B04", "B10"),
)
def earth_way_thin(stage: Stage) -> Iterator[Hit]:
    """A protective conductor between earth bars, or to a metal panel, is thinner than the largest
    circuit behind it asks.

    The way is followed from every case that is fed back to where neutral and earth are joined; a
    metal panel counts with the largest device that stands in it.
    Why: the fault of every circuit behind it runs through that one conductor.
    Breaks it: 14 AWG from the earth bar to the case of a panel with a 50 A main; 1.5 mm2 between
    the earth bars of two boards with 16 A circuits.
    Does not: cores of the circuits' own cables; the conductor to a single device (see P34).
    """
    worst: dict[str, Asked] = {}
    needs = {device.name: need for device, need in _needs(stage)}
    for view in stage.modes:
        for source in ac_sources(view):
            came = view.network.walk(bond_earths(view, source), _passes_earth)
            for device, terminal, sources in exposed(view):
                if source.name in sources and device.name in needs:
                    node = view.wiring.node(device.name, terminal)
                    _climb(stage, came, node, needs[device.name], worst)
    for device, asked in _panels(stage):
        for conductor, _ in stage.landings.get((device.name, "PE"), ()):
            _judge(conductor, asked, worst)
    for name, (figure, device, line) in worst.items():
        yield _thin(stage.rig.conductors[name], figure, device, line)


def _passes_earth(edge: Edge) -> bool:
    return edge.kind in (WIRE, BAR, PLUG)


def _needs(stage: Stage) -> Iterator[tuple[Device, Asked]]:
    """What each case that is fed asks of a protective conductor outside its cable."""
    for device in stage.rig.devices.values():
        if (
            stage.wiring.kinds[device.name].acts not in USERS
            or not stage.wiring.variants[device.name].pe
        ):
            continue
        found = [
            (needs, device, conductor)
            for conductor, node, dc in lines_of(stage, device)
            if not dc and (needs := _asks(stage, conductor, rating_ahead(stage, node))) is not None
        ]
        if found:
            yield device, max(found, key=lambda asked: asked[0].value)


def _asks(stage: Stage, line: Conductor, rating: float) -> Figure | None:
    if line.size is None or not rating:
        return None
    needs = stage.book.earth_min(rating, line.size, separate=True)
    return None if isinstance(needs, Missing) else needs


def _panels(stage: Stage) -> Iterator[tuple[Device, Asked]]:
    """The metal panels, each with what the largest device in it asks."""
    inside: dict[str, list[Asked]] = {}
    for device in stage.rig.devices.values():
        if device.panel and stage.wiring.kinds[device.name].acts == "protective":
            for line in _live_lines(stage, device):
                needs = _asks(stage, line, device.number("rating") or 0.0)
                if needs is not None:
                    inside.setdefault(device.panel, []).append((needs, device, line))
    for name, found in inside.items():
        if name in stage.rig.devices:
            yield stage.rig.devices[name], max(found, key=lambda asked: asked[0].value)


def _live_lines(stage: Stage, device: Device) -> Iterator[Conductor]:
    """The mains lines that land on a device."""
    for terminal in device.terminals:
        for conductor, _ in stage.landings.get((device.name, terminal.name), ()):
            role = stage.conductor_role(conductor.name)
            if role in UNGROUNDED and role != "+":
                yield conductor


def _climb(
    stage: Stage, came: dict[int, Edge | None], node: int, asked: Asked, worst: dict[str, Asked]
) -> None:
    """Judge the wires of their own on the way from a case back to the joint."""
    while (edge := came.get(node)) is not None:
        if edge.kind == WIRE:
            conductor = stage.rig.conductors[edge.owner]
            if asked[1].name not in (conductor.a.device, conductor.b.device):
                _judge(conductor, asked, worst)
        node = edge.other(node)


def _judge(conductor: Conductor, asked: Asked, worst: dict[str, Asked]) -> None:
    """Note a wire that is thinner than what is asked, with the most that is asked of it."""
    if conductor.cable or conductor.size is None or conductor.size.mm2 * NEAR >= asked[0].value:
        return
    if conductor.name not in worst or worst[conductor.name][0].value < asked[0].value:
        worst[conductor.name] = asked


def _thin(earth: Conductor, needs: Figure, device: Device, line: Conductor) -> Hit:
    least = at_least(needs.value, str(earth.size))
    return Hit(
        on=(earth.name, device.name),
        span=earth.span,
        message=f"{earth.name} ({earth.size}) is on the earth's way of {device.name}, line "
        f"{line.size}; at least {least} is asked for",
        fix=f"{least} or thicker",
        value=earth.size.mm2 if earth.size else None,
        limit=needs.value,
        unit="mm2",
        why=needs.steps,
        clause=needs.clause,
        related=(Related(device.span, "its earth comes this way"),),
    )
