"""What runs where: cables and wires by route, panel and place, and how thick they are."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from ...dsl.model import Conductor, Device, Quantity, Rig
from ..tracing.trace import GROUNDED, LINES, ModeView, Stage
from .fittings import cable_mm, wire_mm

MAINS, LOW = "mains", "low voltage"
LOW_MOST_V = 120.0
"""Direct voltage up to which it counts as extra-low (IEC 60364-4-41 414, ripple-free)."""


def panel_of(rig: Rig, device: str) -> str | None:
    """The panel a device stands in; a metal panel is in itself."""
    found = rig.devices.get(device)
    if found is None:
        return None
    return found.name if found.kind == "panel" else found.panel


def place_of(rig: Rig, device: str) -> str | None:
    """The place of a device or of its panel."""
    found = rig.devices.get(device)
    return rig.place_of(found) if found else None


def statements(rig: Rig, saying: str = "") -> dict[str, list[Conductor]]:
    """The conductors of each wire and cable that is there; links left out.

    ``saying``: only of those with this attribute.
    """
    found: dict[str, list[Conductor]] = {}
    for conductor in rig.conductors.values():
        if saying and saying not in conductor.attrs:
            continue
        if conductor.kind != "link" and conductor.status != "removed":
            found.setdefault(conductor.statement, []).append(conductor)
    return found


def by_route(rig: Rig) -> dict[str, list[list[Conductor]]]:
    """The wires and cables in each route."""
    found: dict[str, list[list[Conductor]]] = {}
    for run in statements(rig, "via").values():
        for route in run[0].via:
            found.setdefault(route, []).append(run)
    return found


def diameter_mm(run: list[Conductor]) -> tuple[float, bool]:
    """Outside diameter in mm of a wire or cable, and whether the text says it.

    Where it does not, the usual one of its cores and size (``fittings``).
    """
    first = run[0]
    said = first.attrs.get("diameter")
    if isinstance(said, Quantity):
        return said.value * 1000, True
    if first.size is None:
        return 0.0, False
    if first.cable is None:
        return wire_mm(first.size), False
    return cable_mm(first.size, len(run)), False


def voltage_class(stage: Stage, conductor: Conductor) -> str:
    """``MAINS``, ``LOW`` (extra-low), or "" for earth and what is dead in every mode."""
    end = conductor.a
    if any(_on_earth(view, end.device, end.terminal) for view in stage.modes):
        return ""
    role = stage.conductor_role(conductor.name)
    if role in LINES or role == "N":
        return MAINS
    return LOW if role == "+" or role in GROUNDED else ""


def _on_earth(view: ModeView, device: str, terminal: str) -> bool:
    """Whether earth stands there, whatever is joined to it."""
    node = view.wiring.find(device, terminal)
    return node is not None and view.net[node] in view.earth_nets


def class_of_device(stage: Stage, device: Device) -> str:
    """The class of what a device in a panel switches or carries: of its first live terminal."""
    for view in stage.modes:
        for terminal in device.terminals:
            if _on_earth(view, device.name, terminal.name):
                continue
            role = view.role(device.name, terminal.name)
            if role in LINES or role == "N":
                return MAINS
            if role in ("+", "-"):
                return LOW
    return ""


def entries_of(rig: Rig) -> Mapping[str, list[Device]]:
    """The entries of each panel that has any."""
    found: dict[str, list[Device]] = {}
    for device in rig.devices.values():
        if device.kind == "entry" and device.panel:
            found.setdefault(device.panel, []).append(device)
    return found


def through(rig: Rig) -> Iterator[tuple[list[Conductor], tuple[str, ...]]]:
    """Every wire and cable that names entries, with them."""
    for run in statements(rig, "entries").values():
        entries = run[0].attrs["entries"]
        if isinstance(entries, tuple):
            yield run, entries


def on(run: list[Conductor]) -> str:
    """What a finding calls a wire or cable."""
    return run[0].statement


def names(run: list[Conductor]) -> tuple[str, ...]:
    """The names of its conductors."""
    return tuple(conductor.name for conductor in run)
