"""D: terminals that a device in use needs and that nothing lands on."""

from __future__ import annotations

from collections.abc import Iterator

from ..registry import Hit, rule
from ..tracing.network import carries
from ..tracing.trace import Stage, wanted


@rule(
    "D13",
    "terminal-empty",
    clauses={"": "common practice, no published source"},
    yields_to=("D01", "D04", "D11", "S06"),
)
def terminal_empty(stage: Stage) -> Iterator[Hit]:
    """A source, a converter, a DC load or socket with nothing on a terminal it works through.

    Why: a battery whose lead was forgotten is not missed while a charger keeps the bar alive; a
    converter without its negative does nothing, or finds a way through something else.
    Breaks it: a charger's positive without a conductor; a pump with its negative left off.
    Does not: spare ways and positions; a supply input that no mode uses; a neutral (see B07).
    """
    wiring = stage.wiring
    landed = {node for edge in wiring.edges for node in (edge.a, edge.b)}
    landed |= {node for bond in wiring.bond_wires for node in (bond.neutral, bond.earth)}
    for device in stage.rig.devices.values():
        if not carries(device) or device.kind == "inlet":
            continue
        needed = _needed(stage, device.name)
        empty = [t for t in needed if wiring.node(device.name, t) not in landed]
        ends = (wiring.node(device.name, t.name) for t in device.terminals)
        if empty and any(node in landed for node in ends):
            names = ", ".join(f"{device.name}.{t}" for t in empty)
            yield Hit(
                on=(device.name,),
                span=device.span,
                message=f"nothing lands on {names}",
                fix=f"land its conductor, or remove {device.name}",
                cause=wanted(empty[0]),
            )


def _needed(stage: Stage, name: str) -> list[str]:
    """The terminals a device takes or gives through in the states the modes put it in."""
    variant = stage.wiring.variants[name]
    device = stage.rig.devices[name]
    if device.kind == "socket":
        return [t.name for t in device.terminals if wanted(t.name) in ("+", "-")]
    found: dict[str, None] = {}
    for mode in stage.modes:
        state = mode.network.states[name]
        need = variant.gives_needs.get(state)
        gives = variant.gives.get(state, {}) if need is None or need in device.attrs else {}
        for terminal in (*variant.takes.get(state, ()), *gives):
            role = wanted(terminal)
            if role in ("+", "-") or (gives and role != "N"):
                found[terminal] = None
    return list(found)
