"""P: residual-current devices: where one must be, and of which type."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from ...dsl.model import Device
from ..books.book import Figure
from ..figures.chains import Ways, line_nodes, ways
from ..findings import WARNING, Related
from ..registry import Hit, rule
from ..tracing.trace import ModeView, Stage

NEAR = 1.0 + 1e-9
TYPES = ("AC", "A", "F", "B")
"""Types by what they see, each all that the ones before it see (IEC 62423, IEC 60755)."""
PLAIN = ("heater", "lamp")
USERS = ("load", "outlet", "converter")


@rule(
    "P29",
    "residual-missing",
    clauses={
        "nfpa70": "NFPA 70 210.8, 551.41(C) (from memory)",
        "abyc-e11": "ABYC E-11 11.13.3.5, 11.11.1",
        "iec60364": "IEC 60364-4-41 411.3.3",
    },
    yields_to=("B06", "B07", "P23", "S02", "S06"),
)
def residual_missing(stage: Stage) -> Iterator[Hit]:
    """A socket, or what hangs on an inlet, without the residual-current device the book asks for.

    Asked in every mode: the same socket may be protected on shore and bare on the inverter.
    Why: whoever holds the tool that leaks is in the circuit; an overcurrent device sees nothing.
    Breaks it: sockets on the inverter's own board that only breakers serve; a 300 mA device as the
    only one ahead of a socket; a craft's charger behind its inlet with no 30 mA main.
    Does not: a device of the asked sensitivity anywhere on the way from the source; a supply that
    is `separated`.
    """
    for view in stage.modes:
        for way in ways(view):
            if way.source.dc or way.source.device.flag("separated"):
                continue
            for device in stage.rig.devices.values():
                asked = _asked(stage, way, device)
                if asked is None:
                    continue
                inlet = device.kind == "inlet"
                nodes = _behind(stage, way, device) if inlet else line_nodes(view, device.name)
                bare = _bare(stage, way, nodes, asked)
                if bare is not None:
                    yield _missing(stage, view, way, device, bare, asked)


def _asked(stage: Stage, way: Ways, device: Device) -> Figure | None:
    if stage.wiring.kinds[device.name].acts != "outlet":
        return None
    volts = ModeView.to_neutral(way.source)
    return stage.book.residual_required(device, stage.rig, volts)


def _bare(stage: Stage, way: Ways, nodes: Iterable[int], asked: Figure) -> int | None:
    """The first of these nodes with no device of the asked sensitivity on the way to it."""
    devices = stage.rig.devices
    for node in nodes:
        settings = [_setting(devices[name]) for name in way.residual(node)]
        if node in way.came and not any(0 < s <= asked.value * NEAR for s in settings):
            return node
    return None


def _behind(stage: Stage, way: Ways, inlet: Device) -> Iterator[int]:
    """The line nodes of what uses current behind an inlet.

    A transformer is left out: its output is a system of its own (E-11 11.11.1 says so of one near
    the inlet); so is a socket that the book asks a device for itself.
    """
    through: set[int] = set()
    names, kinds = way.view.wiring.names, stage.wiring.kinds
    for node, edge in way.came.items():
        before = edge is not None and (edge.owner == inlet.name or edge.other(node) in through)
        if not before and names[node][0] != inlet.name:
            continue
        through.add(node)
        user = stage.rig.devices[names[node][0]]
        if kinds[user.name].acts not in USERS or user.kind in ("inlet", "transformer"):
            continue
        if _asked(stage, way, user) is None:
            yield node


def _setting(device: Device) -> float:
    return device.number("rcd") or device.number("gfci") or 0.0


def _missing(
    stage: Stage, view: ModeView, way: Ways, device: Device, node: int, asked: Figure
) -> Hit:
    there = [stage.rig.devices[name] for name in way.residual(node)]
    user = stage.rig.devices[view.wiring.names[node][0]]
    least = min((_setting(d) for d in there), default=0.0)
    what = f"only by {1000 * least:g} mA" if there else "by no residual-current device"
    behind = "" if user is device else f", behind {device.name},"
    return Hit(
        on=(device.name, *(d.name for d in there), *((user.name,) if user is not device else ())),
        span=device.span,
        message=f"{user.name}{behind} is protected {what} when {way.source.name} feeds it; "
        f"{1000 * asked.value:g} mA is asked for",
        fix=f"a residual-current device of {1000 * asked.value:g} mA ahead of {user.name}",
        mode=view.name,
        value=1000 * least if there else None,
        limit=1000 * asked.value,
        unit="mA",
        why=asked.steps,
        clause=asked.clause,
        related=tuple(Related(d.span, "less sensitive") for d in there),
        cause=" ".join([d.name for d in there] or way.protective(node)[-1:]) or way.source.name,
    )


@rule(
    "P30",
    "residual-type",
    clauses={
        "iec60364": "IEC 60364-5-53 531.3.3 (from memory); BS 7671 531.3.3",
        "": "the maker's instructions",
    },
)
def residual_type(stage: Stage) -> Iterator[Hit]:
    """A residual-current device whose type does not see what the things behind it leak.

    Type AC sees sinusoidal currents alone; electronics (a charger, a socket for anything, a motor
    drive, an inverter) leak pulsating direct current too.  `needs=` on a charger, an inverter or a
    load is what its maker asks for.
    Why: a direct component saturates the core, and the device no longer opens on any fault.
    Breaks it: type AC ahead of sockets or of a battery charger; type A ahead of a converter whose
    maker asks for B.
    Does not: type A or better; type AC with heaters and lamps alone behind it.  A device of no
    stated type counts as type A.
    """
    for view in stage.modes:
        for name in stage.rig.devices:
            device = stage.rig.devices[name]
            if not device.attrs.keys() & {"rcd", "gfci"}:
                continue
            blinds = next(_blinds(stage, view, device), None)
            if blinds is not None:
                yield _wrong_type(stage, view, device, *blinds)


def _blinds(stage: Stage, view: ModeView, device: Device) -> Iterator[tuple[Device, str]]:
    """The things behind a device that need a better type, with that type."""
    has = TYPES.index(device.text("type", "A"))
    for way in ways(view):
        if way.source.dc:
            continue
        for node in way.behind(device.name):
            user = stage.rig.devices[view.wiring.names[node][0]]
            if stage.wiring.kinds[user.name].acts not in ("load", "outlet", "converter"):
                continue
            needs = user.text("needs") or ("" if user.kind in PLAIN else "A")
            if user.kind != "inlet" and needs and TYPES.index(needs) > has:
                yield user, needs
        if way.source.device.kind == "inverter" and way.behind(device.name):
            needs = way.source.device.text("needs") or "A"
            if TYPES.index(needs) > has:
                yield way.source.device, needs


def _is_of(device: Device) -> str:
    return f"is of type {device.text('type')}" if "type" in device.attrs else "states no type"


def _wrong_type(stage: Stage, view: ModeView, device: Device, user: Device, needs: str) -> Hit:
    return Hit(
        on=(device.name, user.name),
        span=device.span_of("type"),
        message=f"{device.name} {_is_of(device)}, and {user.name} asks for type {needs}: a direct "
        "component blinds it",
        fix=f"a device of type {needs} in place of {device.name}",
        mode=view.name,
        related=(Related(user.span, "leaks more than a sine"),),
        cause=user.name,
        severity=""
        if device.text("type") != "AC" or user.kind in ("charger", "inverter", "socket")
        else WARNING,
    )
