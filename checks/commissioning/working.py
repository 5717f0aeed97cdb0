"""Functional tests, batteries, polarity, phase sequence and voltage drop."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Device
from ..figures.chains import FAULT_KINDS
from ..figures.rows import load_rows
from ..tracing.network import carries
from ..tracing.trace import LINES, UNGROUNDED, ModeView, Stage, wanted
from .circuits import Circuit, circuits, every_way, owners
from .data import basis, clause, limit, tables
from .trial import Trial


def batteries(stage: Stage) -> Iterator[Trial]:
    """The voltage of every battery at rest, with its sign."""
    low, high = tables()["limits"]["rest"]["value"]
    for device in stage.rig.devices.values():
        volts = device.number("voltage")
        if device.kind == "battery" and carries(device) and volts:
            plus, minus = (_named(device, role) for role in ("+", "-"))
            where = f"{device.name}.{plus} to {device.name}.{minus}"
            yield Trial(
                f"OCV-{device.name}", "battery", "", where, "At rest, nothing connected", "V",
                volts, low * volts, high * volts, basis("rest"), (device.name,),
            )  # fmt: skip


def _named(device: Device, role: str) -> str:
    return next((t.name for t in device.terminals if wanted(t.name) == role), role)


def polarity(stage: Stage) -> Iterator[Trial]:
    """Every circuit: each conductor on the terminal meant for it, and dead with its device open."""
    by = clause("polarity", stage.book.name)
    for circuit in circuits(stage):
        acts = stage.wiring.kinds[circuit.head].acts
        task = ("+ and -" if circuit.dc else "L, N and PE") + " where marked"
        if acts in ("protective", "residual"):
            task += f"; {_dead(stage, circuit)}"
        elif any(stage.rig.devices[user].kind == "inlet" for user in circuit.users):
            task = f"The supply's own polarity, at the plug before it goes in: {task}"
        modes = ", ".join(circuit.modes) if len(circuit.modes) < len(stage.modes) else ""
        yield Trial(
            f"POL-{circuit.head}", "polarity", modes,
            f"{circuit.head}: {', '.join(circuit.users)}", task, basis=by,
            names=tuple(circuit.own),
        )  # fmt: skip


def _dead(stage: Stage, circuit: Circuit) -> str:
    """A converter may be live from its other side, and make live what hangs there."""
    kinds = stage.wiring.kinds
    both = [name for name in circuit.users if kinds[name].acts == "converter"]
    if not both:
        return f"all dead with {circuit.head} open"
    return f"with {circuit.head} open dead, but for what {', '.join(both)} may still feed"


def phases(stage: Stage) -> Iterator[Trial]:
    """The order of the lines of every three-phase source."""
    told: set[str] = set()
    for view in stage.modes:
        for source in view.live.values():
            if len(source.lines) == 3 and source.name not in told:
                told.add(source.name)
                yield Trial(
                    f"SEQ-{source.name}", "phases", view.name, "every three-phase outlet and motor",
                    f"L1, L2, L3 clockwise, fed by {source.name}",
                    basis=clause("phases", stage.book.name), names=(source.name,),
                )  # fmt: skip


def working(stage: Stage) -> Iterator[Trial]:
    """Modes, pins, changeovers, the inverter's bond, and every switch."""
    by = clause("working", stage.book.name)
    for view in stage.modes:
        yield _mode(view, by)
        yield from _pins(stage, view)
    for device in stage.rig.devices.values():
        if not carries(device):
            continue
        if device.kind == "selector":
            yield _changeover(stage, device, by)
        if device.kind == "inverter" and device.flag("bonds"):
            task = "Inverting: out-N joined to PE. Off or passing: not, before the input closes"
            yield Trial(f"REL-{device.name}", "working", "", device.name, task, basis=by,
                        names=(device.name,))  # fmt: skip
        if stage.wiring.kinds[device.name].acts == "switching" and device.kind != "selector":
            yield from _switch(stage, device, by)


def _mode(view: ModeView, by: str) -> Trial:
    """Everything that has power in a mode, and what has not."""
    fed: list[str] = []
    unfed: list[str] = []
    for name, kind in view.wiring.kinds.items():
        if kind.acts in ("load", "outlet") and kind.name != "inlet":
            lines = [t for t in view.wiring.variants[name].terminals if wanted(t) in UNGROUNDED]
            live = any(view.role(name, t) in UNGROUNDED for t in lines)
            (fed if live else unfed).append(name)
    dead = f"; dead: {', '.join(unfed)}" if unfed else ""
    settings = [f"{s.device} {s.state}" for s in view.mode.settings]
    kinds = view.wiring.kinds  # a state that is the first of its kind may be said or not
    turned = [s.device for s in view.mode.settings if s.state != kinds[s.device].default_state]
    names = (*turned, *fed, *unfed)
    return Trial(
        f"MODE-{view.name}", "working", view.name, ", ".join(settings) or "everything on",
        f"Works: {', '.join(fed) or 'nothing'}{dead}", basis=by, names=tuple(dict.fromkeys(names)),
    )  # fmt: skip


def _pins(stage: Stage, view: ModeView) -> Iterator[Trial]:
    """The pins of an inlet that is not plugged in."""
    for device in stage.rig.devices.values():
        if device.kind != "inlet" or view.network.states[device.name] == "on":
            continue
        names = [t.name for t in device.terminals if wanted(t.name) in (*LINES, "+")]
        yield Trial(
            f"PINS-{view.name}-{device.name}", "working", view.name,
            f"pins of {device.name}: {', '.join(names)} to N and PE", "Unplugged: dead", "V", 0.0,
            None, limit("dead"), basis("dead"), _reach(view, device.name),
        )  # fmt: skip


def _reach(view: ModeView, device: str) -> tuple[str, ...]:
    """What a device's terminals are joined to in a mode, with what could join them further."""
    ends = [t.name for t in view.wiring.rig.devices[device].terminals]
    nets = {view.net[view.wiring.node(device, end)] for end in ends}
    found = dict.fromkeys([device])
    for node, (name, _) in enumerate(view.wiring.names):
        if view.net[node] in nets:
            found[name] = None
    found |= dict.fromkeys(e.owner for e in view.network.edges if view.net[e.a] in nets)
    return tuple(found)


def _changeover(stage: Stage, device: Device, by: str) -> Trial:
    """What each position of a changeover lets through, as the modes have it."""
    fed: dict[str, dict[str, None]] = {}
    names = dict.fromkeys([device.name])
    for view in stage.modes:
        state = view.network.states[device.name]
        for terminal in device.terminals:
            if terminal.name.startswith("out") and view.role(device.name, terminal.name):
                found = view.sources(device.name, terminal.name)
                fed.setdefault(state, {}).update(dict.fromkeys(found))
        for way in every_way(view):
            for node in way.came:
                if view.wiring.names[node][0] == device.name:
                    names |= dict.fromkeys(owners(view, way.came, node))
    told = "; ".join(f"{state}: {', '.join(sources)}" for state, sources in fed.items())
    task = f"Output fed by one source at a time ({told}); breaks before it makes; no way back"
    return Trial(f"SWAP-{device.name}", "working", "", device.name, task, basis=by,
                 names=tuple(names))  # fmt: skip


def _switch(stage: Stage, device: Device, by: str) -> Iterator[Trial]:
    """A switch with something behind it."""
    behind: dict[str, None] = {}
    for view in stage.modes:
        for way in (way for way in every_way(view) if way.source.device.kind in FAULT_KINDS):
            for node in way.came:
                if any(owner == device.name for owner in owners(view, way.came, node)):
                    name = view.wiring.names[node][0]
                    if stage.wiring.kinds[name].acts in ("load", "outlet"):
                        behind[name] = None
    if behind:
        users = ", ".join(behind)
        task = f"Opens all its poles: {users} dead unless another source feeds them"
        yield Trial(f"SW-{device.name}", "working", "", device.name, task, basis=by,
                    names=(device.name, *behind))  # fmt: skip


def drops(stage: Stage) -> Iterator[Trial]:
    """The drop at every load at its rating, in the mode in which it is largest.

    In a mode in which its source feeds alone, where there is one: a charger that is on beside the
    battery feeds the load as well, and what is read then is another figure.
    """
    worst: dict[str, tuple[tuple[bool, float], Trial]] = {}
    for view in stage.modes:
        for row in load_rows(stage, view):
            name, drop, most = row.device.name, row.drop, row.limit
            if stage.wiring.kinds[name].acts != "load":
                continue
            beside = _beside(view, drop.path[0], drop.source)
            high = None if most is None else most.value / 100 * drop.nominal
            by = "the book sets no limit" if most is None else f"{most.clause}: {most.value:g} %"
            names = next((c.names for c in circuits(stage) if name in c.users), {name: None})
            without = f", {' and '.join(beside)} switched off" if beside else ""
            trial = Trial(
                f"DROP-{name}", "drop", view.name, f"{drop.source}, then {name}",
                f"{name} running, {drop.amps:.3g} A{without}", "V", drop.volts, None, high, by,
                tuple(names),
            )  # fmt: skip
            rank = (not beside, drop.percent)
            if name not in worst or rank > worst[name][0]:
                worst[name] = (rank, trial)
    yield from (trial for _, trial in worst.values())


def _beside(view: ModeView, line: str, source: str) -> list[str]:
    """The other sources on the line of a drop's source, which would carry part of the load."""
    return [name for name in view.sources(*line.split(".", 1)) if name != source]
