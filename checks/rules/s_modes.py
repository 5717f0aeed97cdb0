"""S: modes that say something impossible, and what no mode feeds."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

from ...dsl.model import Device
from ...dsl.problems import did_you_mean
from ..findings import WARNING, Related
from ..registry import Hit, rule
from ..tracing.across import turned
from ..tracing.bonding import listed
from ..tracing.network import carries
from ..tracing.trace import LINES, UNGROUNDED, ModeView, Source, Stage, wanted
from .d_feeds import bare_ends, dead_groups, dead_parts, said_bare

PRACTICE = {"": "common practice, no published source"}


@rule(
    "S06",
    "load-never-fed",
    clauses=PRACTICE,
    yields_to=("D01", "D02", "D04", "D05", "D11", "S07", "S08", "S09", "S13", "B07", "B10", "B19"),
)
def load_never_fed(stage: Stage) -> Iterator[Hit]:
    """A load, a socket or a converter whose lines no mode feeds.

    Why: its circuit is dead: a conductor is missing, lands elsewhere, or a switch ahead of it is
    open in every mode, so the way the rig is really run is not among those checked.
    Breaks it: a load moved to another breaker with its line left behind; an inverter in no mode on.
    Does not: a load that one mode feeds.
    """
    if not any(view.live for view in stage.modes):
        return
    told = {group.number for group in dead_groups(stage)}
    circuits: dict[int, list[Device]] = {}
    for device, nodes in _never_fed(stage):
        group = dead_parts(stage).group[nodes[0]]
        if group not in told:
            circuits.setdefault(group, []).append(device)
    for group, devices in circuits.items():
        yield _never(stage, devices, dead_parts(stage).open_ahead(group))


def _never_fed(stage: Stage) -> Iterator[tuple[Device, list[int]]]:
    """Devices that no mode feeds, with the nodes of their lines."""
    for device in stage.rig.devices.values():
        lines = _lines(stage, device)
        if not lines or not carries(device):
            continue
        strange = any(_strange(stage, device, terminal) for terminal in lines)
        if not strange and not any(_fed(stage, device, terminal) for terminal in lines):
            yield device, [stage.wiring.node(device.name, terminal) for terminal in lines]


def _lines(stage: Stage, device: Device) -> list[str]:
    """The ungrounded terminals it is fed through, in any state."""
    kind, variant = stage.wiring.kinds[device.name], stage.wiring.variants[device.name]
    if kind.acts in ("load", "converter"):
        names = [t for terminals in variant.takes.values() for t in terminals]
    elif device.kind == "socket":
        names = list(variant.terminals)
    else:
        return []
    return [name for name in dict.fromkeys(names) if wanted(name) in UNGROUNDED]


def _strange(stage: Stage, device: Device, terminal: str) -> bool:
    """Whether it is reached by what it is not for: direct current, or neutral on a line (S08),
    or plus and minus turned (S09)."""
    wrong = ("+", "-", "N") if wanted(terminal) in LINES else (*LINES, "N")
    if wanted(terminal) == "+":
        node = stage.wiring.node(device.name, terminal)
        if any(turned(view, device.name, node) is not None for view in stage.modes):
            return True
    return any(
        role in wrong for view in stage.modes for _, role in view.roles_at(device.name, terminal)
    )


def _fed(stage: Stage, device: Device, terminal: str) -> bool:
    right = LINES if wanted(terminal) in LINES else ("+",)
    return any(
        role in right for view in stage.modes for _, role in view.roles_at(device.name, terminal)
    )


def _never(stage: Stage, devices: list[Device], ahead: tuple[str, ...]) -> Hit:
    first, *rest = devices
    bare = () if ahead else bare_ends(stage)
    where = ", ".join(f"{first.name}.{terminal}" for terminal in _lines(stage, first))
    return Hit(
        on=tuple(dict.fromkeys((*(d.name for d in devices), *ahead, *(name for name, _ in bare)))),
        span=first.span,
        message=f"no mode feeds {first.name}: no source's line reaches {where}"
        + (f"; nor {listed(d.name for d in rest)} on the same circuit" if rest else ""),
        fix=f"let some mode close or switch on {', '.join(ahead)}"
        if ahead
        else f"land the line that feeds {first.name}",
        why=(*(f"{name} is open or off in every mode" for name in ahead), *said_bare(bare)),
        related=tuple(Related(device.span, "dead with it") for device in rest),
    )


@rule(
    "S16",
    "source-feeds-nothing",
    WARNING,
    clauses=PRACTICE,
    yields_to=("D01", "D02", "D11", "D13", "S07", "B07"),
)
def source_feeds_nothing(stage: Stage) -> Iterator[Hit]:
    """A source, or a converter's output, whose line reaches nothing that uses it in any mode.

    Why: the lead after its fuse was forgotten.  Another source keeps the bar alive, so that nobody
    misses it until the day it is needed.
    Breaks it: a battery that ends at its fuse, while the charger carries the bar.
    Does not: a charger with a battery on its bar; a battery behind a switch that one mode closes;
    a source for want of which something is dead, which is found by D04 or S06.
    """
    if any(dead_groups(stage)) or any(_never_fed(stage)):
        return  # what is dead for want of it says so
    names = dict.fromkeys(name for view in stage.modes for name in view.live)
    for name in names:
        views = [view for view in stage.modes if name in view.live]
        ends = [_line_ends(view, view.live[name]) for view in views]
        if all(end is not None for end in ends):
            device = stage.rig.devices[name]
            last = tuple(dict.fromkeys(owner for end in ends for owner in end or ()))
            where = f" beyond {', '.join(last)}" if last else ""
            line = "plus" if views[0].live[name].dc else "line"
            yield Hit(
                on=(name, *last),
                span=device.span,
                message=f"nothing uses {name} in any mode: its {line} leads nowhere{where}",
                fix=f"land the conductor that goes on from {last[-1] if last else name}",
            )


def _line_ends(view: ModeView, source: Source) -> tuple[str, ...] | None:
    """The devices at which a source's lines end; None where something uses them."""
    wiring, members = view.wiring, _members(view)
    nets = {view.net[node] for role, node in source.nodes.items() if role in UNGROUNDED}
    ends: dict[str, None] = {}
    for node in sorted(node for net in nets for node in members[net]):
        name = wiring.names[node][0]
        if name == source.name:
            continue
        kind = wiring.kinds[name]
        if kind.acts in ("load", "converter", "source") or kind.name == "socket":
            return None
        if kind.acts in ("protective", "switching", "residual", "outlet"):
            ends[name] = None
    return tuple(ends)


@lru_cache(maxsize=16)
def _members(view: ModeView) -> dict[int, list[int]]:
    """The nodes of every net."""
    found: dict[int, list[int]] = {}
    for node in range(len(view.wiring.names)):
        found.setdefault(view.net[node], []).append(node)
    return found


@rule("S07", "unknown-state", clauses=PRACTICE)
def unknown_state(stage: Stage) -> Iterator[Hit]:
    """A mode puts a device in a state that its kind does not have.

    Why: the device is taken to be in its first state, so the mode checked is not the one meant.
    Breaks it: `mode away { QB=off }`: a switch is `open` or `closed`.
    Does not: a state that the page of kinds lists for it; a device that the mode does not name.
    """
    for view in stage.modes:
        for setting in view.mode.settings:
            kind = stage.wiring.kinds.get(setting.device)
            if kind is None or setting.state in kind.states:
                continue
            hint = did_you_mean(setting.state, kind.states)
            yield Hit(
                on=(setting.device, view.name),
                span=setting.span,
                mode=view.name,
                message=f"{setting.device} is a {kind.name} and has no state {setting.state}"
                + (f"; {hint}" if hint else ""),
                fix=f"one of: {', '.join(kind.states)}"
                if kind.states
                else f"take it out: a {kind.name} has no states",
            )


@rule("S14", "mode-without-source", WARNING, clauses=PRACTICE, yields_to=("D01",))
def mode_without_source(stage: Stage) -> Iterator[Hit]:
    """A mode in which nothing is live.

    Why: nothing can be checked in it; most often the source that feeds it is left off.
    Breaks it: `mode laid_up { SHORE=off GB=off }`.
    Does not: a mode with one source on.
    """
    for view in stage.modes:
        if not view.live:
            off = ", ".join(view.dead) or "none is in the rig"
            gone = dict.fromkeys(end.device for _, end in stage.wiring.unlanded)
            yield Hit(
                on=(view.name, *view.dead, *gone),
                span=view.mode.span,
                mode=view.name,
                message=f"nothing is live in mode {view.name}",
                fix=f"switch the source on that feeds this mode (sources: {off}), or take it out",
            )
