"""What the single-line diagram says beside each symbol and along each run, in the field's words."""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping

from ..dsl.kinds import kinds
from ..dsl.model import Conductor, Device, Quantity
from .single_line_graph import OneLine, Run
from .units import poles_text, spaced, spaced_size

_HEADLINE = ("voltage", "frequency", "rating", "capacity", "power", "apparent", "current")
_MORE = {  # what else the kind says beside its headline: attribute -> pattern
    "limit": "limit {}",
    "transfer": "pass {}",
    "charge": "charge {}",
}
_FAULT = {  # prospective fault current, and what a device can interrupt: as the trade writes them
    True: {"fault": "fault {}", "breaks": "{} IC"},
    False: {"fault": "Ik {}", "breaks": "Icn {}"},
}
_UNSAID = frozenset({"load", "lamp", "motor", "heater"})


def ratings(device: Device, north_american: bool = False) -> list[str]:
    """The ratings of a device as short lines: what it carries, how it trips, what it breaks."""
    lines = []
    quantities = [device.attrs[k] for k in _HEADLINE if isinstance(device.attrs.get(k), Quantity)]
    acts = kinds()[device.kind].acts
    if acts in ("protective", "residual", "switching"):
        lines += _switchgear(device)
    elif quantities:
        lines += _pairs([spaced(q) for q in quantities])
    lines += [
        words.format(spaced(device.attrs[key]))
        for key, words in {**_MORE, **_FAULT[north_american]}.items()
        if key in device.attrs and device.kind not in _UNSAID
    ]
    if device.status != "installed":
        lines.append(device.status)
    return lines


def _pairs(words: list[str]) -> list[str]:
    return [" ".join(words[i : i + 2]) for i in range(0, len(words), 2)]


def _switchgear(device: Device) -> list[str]:
    poles = device.text("poles", "1N" if device.kind == "rcd" else "1")
    curve, cls = device.text("curve"), device.text("class")
    head = [spaced(device.attrs["rating"])] if "rating" in device.attrs else []
    head += [curve] if curve else []
    if device.kind not in ("fuse", "selector") and poles:
        head.append(poles_text(poles))
    lines = [" ".join(head)] if head else []
    lines += [f"class {cls}"] if cls else []
    for key, words in (("gfci", "GFCI {}"), ("rcd", "IΔn {}"), ("type", "type {}")):
        if key in device.attrs:
            lines.append(words.format(spaced(device.attrs[key])))
    return lines


MOST_STROKES = 6


def strokes(graph: OneLine, run: Run) -> tuple[str, ...]:
    """The roles of all conductors of a run's cables and wires: L, N, PE, + and -."""
    rig = graph.rig
    names: list[str] = []
    for statement in run.statements:
        cable = rig.cables.get(statement)
        names += cable.cores if cable and _alone(graph, run, statement) else [
            c for c in run.conductors if rig.conductors[c].statement == statement
        ]
    order = ("L", "+", "-", "N", "PE")
    found = [graph.roles.get(name, "") for name in names]
    kinds_ = [role if role in order else "L" for role in found]
    return tuple(sorted(kinds_, key=order.index)[:MOST_STROKES])


def _alone(graph: OneLine, run: Run, statement: str) -> bool:
    """Whether a cable's ungrounded cores all belong to this run (a switch drop's do not)."""
    cores = graph.rig.cables[statement].cores
    lines = [c for c in cores if graph.roles.get(c, "") not in ("N", "PE", "-")]
    return set(lines) <= set(run.conductors)


def run_lines(graph: OneLine, run: Run) -> list[str]:
    """Name, cores and size, and length of the cables and wires of a run."""
    lines: list[str] = []
    for statement in run.statements:
        cable = graph.rig.cables.get(statement)
        if cable is not None:
            lines.append(f"{statement} {_core_text(len(cable.cores), str(cable.size))}")
            lines.append(_metres(cable.length_m))
            lines += ["cord"] if cable.flag("cord") else []
            continue
        lines += conductor_words(graph.rig.conductors[statement])
    return lines + _line_of(graph, run)


def _line_of(graph: OneLine, run: Run) -> list[str]:
    """The line a run is on, where it taps one of several bars drawn as one."""
    several = max(len(graph.nodes[run.a].devices), len(graph.nodes[run.b].devices)) > 1
    roles = dict.fromkeys(graph.roles[name] for name in run.conductors)
    return ["/".join(roles)] if several and 0 < len(roles) < 3 and "" not in roles else []


def conductor_words(wire: Conductor) -> list[str]:
    """Name and size, and length, of a single conductor; a link has neither size nor length."""
    if wire.size is None:
        return [f"{wire.statement} link"]
    return [f"{wire.statement} {spaced_size(str(wire.size))}", _metres(wire.length_m)]


def _metres(length: float) -> str:
    return f"{length:g} m"


def _core_text(count: int, size: str) -> str:
    return f"{count}×{spaced_size(size)}"


def systems(graph: OneLine) -> Mapping[str, str]:
    """The system a node belongs to in words (``120 V 60 Hz``, ``24 V DC``), from its source.

    A converter's own entry is what feeds it; what it makes is the entry of what it feeds.
    """
    found: dict[str, str] = {}
    queue: deque[str] = deque()
    for key, node in graph.nodes.items():
        if kinds()[node.kind].acts == "source" and node.kind != "solar":
            found[key] = system_of(graph.rig.devices[node.devices[0]])
            queue.append(key)
    while queue:
        key = queue.popleft()
        for run in graph.outs[key]:
            if run.b not in found:
                found[run.b] = made_by(graph.rig.devices[graph.nodes[key].devices[0]], found[key])
                queue.append(run.b)
    return found


def made_by(device: Device, fed: str) -> str:
    """The system behind a device: what feeds it, unless it converts."""
    if kinds()[device.kind].acts != "converter" or "voltage" not in device.attrs:
        return fed
    if device.kind == "transformer":  # another voltage, the same frequency
        return f"{spaced(device.attrs['voltage'])} {fed.partition(' V ')[2]}".strip()
    return system_of(device)


def system_of(device: Device) -> str:
    """The system a source makes, in words: ``120 V 60 Hz``, ``24 V DC``."""
    volts, hertz = device.attrs.get("voltage"), device.attrs.get("frequency")
    words = spaced(volts) if volts is not None else ""
    if device.kind in ("battery", "solar", "alternator", "charger", "dcdc") or device.flag("dc"):
        return f"{words} DC".strip()
    lines = "3-phase " if device.flag("three") else "split " if device.flag("split") else ""
    return f"{lines}{words} {spaced(hertz) if hertz is not None else 'AC'}".strip()
