"""The circuit directory of each panel: what stands on which way, what it feeds, what may be drawn.

    cards(stage)        a card a panel, for its door; one for the fuses of a place in no panel
    schedule(stage)     the same as one table
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from ..checks.tracing.feeds import Supply, behind, feed_of, sources_of, supply_of
from ..checks.tracing.standing import NOTHING, loads, overloads
from ..checks.tracing.trace import Stage
from ..dsl.model import Device, Panel
from ..dsl.records import record
from .schedule import RIGHT, Column, Row, Schedule, Section
from .schedule_devices import overload
from .schedule_loads import figure
from .units import spaced
from .wiring import PLACELESS, natural, place_heading, place_name

DOC = "Circuit directory"
SPARE = "spare"
OPENS = ("protective", "residual")
AT_THE_DOOR = (*OPENS, "switching")
OUTSIDE = "fuses and switches in no panel"
REMARKS = (
    "Feeds: what hangs on a device next behind it, traced over all modes. Residual current: its "
    "own, or that of the device named ahead of it. Limit: the least of the source and of all "
    "devices on the way, A. Load: all loads on, in the mode with the most.",
)


@record
class Circuit:
    """One line of a card.  ``ways`` as printed (``7-8``); ``device`` None: spare ways.

    ``over``: what it carries, A, and in which modes, where that is more than its rating.
    """

    ways: str
    device: Device | None
    feeds: str = ""
    rating: str = ""
    residual: str = ""
    supplies: tuple[Supply | None, ...] = ()
    over: tuple[tuple[float, str], ...] = ()


@record
class Given:
    """What a supply gives to some of the ways in some modes; no ``supply``: dead."""

    modes: str
    supply: Supply | None
    ways: str


@record
class Card:
    """The directory of one panel; ``sources``: all that make it live in any mode.

    ``outside``: of what stands in a place in no panel.
    """

    name: str
    label: str
    place: str
    outside: bool
    circuits: tuple[Circuit, ...]
    given: tuple[Given, ...]
    sources: tuple[str, ...]

    @property
    def overloads(self) -> list[Circuit]:
        """The circuits that carry more than their rating in some mode."""
        return [circuit for circuit in self.circuits if circuit.over]


def cards(stage: Stage) -> list[Card]:
    """A card for every panel that holds something to switch or to reset, and every place likewise.

    A place has one where a fuse, a breaker or a residual-current device stands there in no panel.
    """
    rig = stage.rig
    found = []
    for panel in rig.panels.values():
        place = place_heading(rig, panel.place) if panel.place else ""
        circuits = tuple(_circuits(stage, panel))
        found.append(_card(stage, (panel.name, panel.label, place, False), circuits))
    for spot, devices in _outside(stage).items():
        label = rig.places[spot].label if spot in rig.places else PLACELESS.capitalize()
        circuits = tuple(_circuit(stage, device, []) for device in devices)
        found.append(_card(stage, (spot, label, OUTSIDE, True), circuits))
    return [card for card in found if any(circuit.device for circuit in card.circuits)]


def _card(
    stage: Stage, titles: tuple[str, str, str, bool], circuits: tuple[Circuit, ...]
) -> Card:
    devices = [circuit.device.name for circuit in circuits if circuit.device]
    sources = dict.fromkeys(s for v in stage.modes for d in devices for s in sources_of(v, d))
    return Card(*titles, circuits, tuple(_given(stage, circuits)), tuple(sources))


def _outside(stage: Stage) -> dict[str, list[Device]]:
    """By place, what opens or switches there in no panel."""
    kinds, found = stage.wiring.kinds, dict[str, list[Device]]()
    for device in sorted(stage.rig.devices.values(), key=lambda d: natural(d.name)):
        if device.panel is None and kinds[device.name].acts in AT_THE_DOOR:
            found.setdefault(place_name(stage.rig, device.name), []).append(device)
    return {
        place: devices for place, devices in found.items()
        if any(kinds[device.name].acts in OPENS for device in devices)
    }  # fmt: skip


def _circuits(stage: Stage, panel: Panel) -> Iterator[Circuit]:
    """Ways in their order, spare ones in runs, then what has no way."""
    inside = [d for d in stage.rig.devices.values() if d.panel == panel.name]
    on_rail = {way: device for device in inside for way in device.ways}
    ways = range(1, panel.ways + 1)
    for device, run in groupby(ways, key=on_rail.get):
        taken = list(run)
        yield _circuit(stage, device, taken) if device else Circuit(ranges(taken), None)
    for device in sorted(inside, key=lambda d: natural(d.name)):
        if not device.ways and stage.wiring.kinds[device.name].acts in AT_THE_DOOR:
            yield _circuit(stage, device, [])


def _circuit(stage: Stage, device: Device, ways: Sequence[int]) -> Circuit:
    return Circuit(
        ranges(ways),
        device,
        feeds(stage, device),
        spaced(device.text("rating")),
        residual(stage, device),
        tuple(supply_of(view, device.name) for view in stage.modes),
        overloads(stage, device),
    )


def ranges(ways: Sequence[int]) -> str:
    """Ways as printed.

    >>> ranges([1, 2, 3, 7, 9, 10])
    '1-3, 7, 9-10'
    """
    runs: list[list[int]] = []
    for way in sorted(ways):
        if runs and way == runs[-1][-1] + 1:
            runs[-1].append(way)
        else:
            runs.append([way])
    return ", ".join(f"{run[0]}-{run[-1]}" if len(run) > 1 else str(run[0]) for run in runs)


def feeds(stage: Stage, device: Device) -> str:
    """What hangs on a device: loads and outlets by their labels, further devices by their names."""
    users, devices = behind(stage, device.name)
    said = []
    for name in users:
        label = stage.rig.devices[name].label
        said.append(f"{label} ({name})" if label else name)
    return "; ".join([*said, ", ".join(devices)] if devices else said)


def residual(stage: Stage, device: Device) -> str:
    """The residual current that protects what hangs on a device, and whose it is."""
    own = _sees(device)
    if own:
        return own
    found: dict[str, None] = {}
    for view in stage.modes:
        feed = feed_of(view, device.name)
        ahead = [name for name in (feed.devices if feed else ()) if name != device.name]
        nearest = [name for name in ahead if _sees(stage.rig.devices[name])][-1:]
        found |= dict.fromkeys(nearest)
    return ", ".join(f"{_sees(stage.rig.devices[name])} ({name})" for name in found)


def _sees(device: Device) -> str:
    current = device.text("rcd") or device.text("gfci")
    kind = f", type {device.text('type')}" if "type" in device.attrs else ""
    return f"{spaced(current)}{kind}" if current else ""


def _given(stage: Stage, circuits: Sequence[Circuit]) -> Iterator[Given]:
    """What each supply gives, modes alike told together."""
    alike: dict[tuple[tuple[Supply | None, str], ...], list[str]] = {}
    for index, view in enumerate(stage.modes):
        mode = stage.rig.modes[view.name]
        by: dict[Supply | None, list[str]] = {}
        for circuit in circuits:
            if circuit.device:
                named = circuit.ways or circuit.device.name
                by.setdefault(circuit.supplies[index], []).append(named)
        live_first = sorted(by.items(), key=lambda pair: pair[0] is None)
        rows = tuple((supply, ", ".join(ways)) for supply, ways in live_first)
        alike.setdefault(rows, []).append(mode.label or mode.name)
    for rows, modes in alike.items():
        for index, (supply, ways) in enumerate(rows):
            yield Given("; ".join(modes) if index == 0 else "", supply, joined(ways))


def joined(ways: str) -> str:
    """Ways next to each other told as one run; names stay as they are.

    >>> joined("1-2, 3, 5-6, Q9")
    '1-3, 5-6, Q9'
    """
    numbers: list[int] = []
    names: list[str] = []
    for part in ways.split(", "):
        low, _, high = part.partition("-")
        if low.isdecimal():
            numbers += range(int(low), int(high or low) + 1)
        else:
            names.append(part)
    return ", ".join(filter(None, (ranges(numbers), *names)))


def limit(supply: Supply | None) -> str:
    """What a supply gives, in words: ``32 A``, ``40 A by F13``."""
    if supply is None:
        return "dead"
    if supply.amps is None:
        return "not stated"
    by = "" if supply.by == supply.source else f" by {supply.by}"
    return f"{figure(supply.amps)} A{by}"


def schedule(stage: Stage) -> Schedule:
    """All directories as one table, a section a panel."""
    modes = [Column("Limit", f"in mode {view.name}") for view in stage.modes]
    columns = (
        Column("Way"), Column("Device", bold=True), Column("What it is"), Column("Feeds"),
        Column("Rating", "", RIGHT), Column("Load", "A", RIGHT), Column("Residual current"), *modes,
    )  # fmt: skip
    sections = tuple(
        Section(
            f"{card.name} {card.label}".strip(),
            tuple(_row(stage, circuit) for circuit in card.circuits),
            card.place,
        )
        for card in cards(stage)
    )
    return Schedule("Circuit directory", DOC, columns, sections, REMARKS)


def _row(stage: Stage, circuit: Circuit) -> Row:
    device = circuit.device
    if device is None:
        return Row((circuit.ways, "", SPARE, *[""] * (4 + len(stage.modes))))
    limits = (
        f"{limit(supply)} ({supply.source})" if supply else limit(None)
        for supply in circuit.supplies
    )
    return Row(
        (circuit.ways, device.name, device.label, circuit.feeds, circuit.rating,
         _load(stage, circuit), circuit.residual, *limits),
        f"dev-{device.name}",
        strong=bool(circuit.over),
    )  # fmt: skip


def _load(stage: Stage, circuit: Circuit) -> str:
    """The most that a device carries; where that is too much, the modes and the word."""
    if circuit.over:
        return f"{figure(circuit.over[0][0])} {overload([mode for _, mode in circuit.over])}"
    assert circuit.device is not None
    most = max((amps for amps, _ in loads(stage, circuit.device)), default=0.0)
    return figure(most) if most > NOTHING else ""
